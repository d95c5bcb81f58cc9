"""A sound scenario, and single mistakes put into it with what must be said of each."""

from __future__ import annotations

BASE = """\
title = "Test corner"
units = "mm"

[vehicle]
track = 1580.0
ride_height = 270.0

[tyre]
radius = 368.0
width = 236.0

[spindle]
lower_pivot = [6.0, -88.0, -112.0]
upper_pivot = [-18.0, -112.0, 118.0]
steering_pivot = [-118.0, -104.0, -30.0]

[lower_arm]
inner_pivot = [0.0, 225.0, 15.0]

[upper_arm]
pivot_y = [190.0, 400.0]
pivot_z = [160.0, 320.0]
static_camber = [-0.5, 0.5]
length = [260.0, 520.0]

[steering]
inner_joint = [-118.0, 239.0, 91.0]

[steering.outer_rod_end]
axis = [0.0, 0.0, 1.0]
max_angle = 28.0

[steering.inner_rod_end]
axis = [1.0, 0.0, 0.0]
max_angle = 30.0

[travel]
bump = 180.0
droop = 220.0

[bodywork]
outlines = [[[470.0, 430.0], [560.0, 600.0], [930.0, 720.0]]]

[targets]
camber_curve = [[-220.0, -2.0], [0.0, 0.0], [180.0, -1.0]]
camber_error_deg = { aim = 0.5, limit = 3.0 }
scrub = { aim = 45.0, limit = 100.0 }
fender_clearance = { aim = 30.0, limit = 10.0 }
droop_limit = { aim = 220.0, limit = 150.0 }
bump_steer_deg = { aim = 0.3 }

[build]
pivot_tolerance = 1.5
round_to = 1.0

[baseline]
pivot_y = 275.0
pivot_z = 232.0
"""

OUTLINES = "outlines = [[[470.0, 430.0], [560.0, 600.0], [930.0, 720.0]]]"
CURVE = "camber_curve = [[-220.0, -2.0], [0.0, 0.0], [180.0, -1.0]]"


def edited(*changes: tuple[str, str]) -> str:
    text = BASE
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} is not unique in the base scenario"
        text = text.replace(old, new)
    return text


LENGTHS = "[260.0, 520.0]"
WHEEL = "[260.0, 520.0]\ntube_diameter = 25.0\n\n[wheel]\nrim_diameter = 381.0\nrim_width = 178.0\noffset = -20.0\n"


def with_obstacle(entry: str) -> str:
    """The unit, and one obstacle on a line of its own below it."""
    return f'units = "mm"\nobstacles = [{entry}]'


def with_wheel(old: str, new: str) -> str:
    assert old in WHEEL
    return WHEEL.replace(old, new)


# what is replaced, by what, key of the one fault, words of its sentence
ONE_FAULT = [
    # numbers that are none
    ("ride_height = 270.0", "ride_height = nan", "vehicle.ride_height", ["not a number (nan)"]),
    ("ride_height = 270.0", "ride_height = inf", "vehicle.ride_height", ["infinite"]),
    (
        "ride_height = 270.0",
        'ride_height = "270"',
        "vehicle.ride_height",
        ["text in quotes", "take the quotes off"],
    ),
    ("ride_height = 270.0", 'ride_height = "10 5/8"', "vehicle.ride_height", ["only a scenario in inches"]),
    ("ride_height = 270.0", 'ride_height = "tall"', "vehicle.ride_height", ["is not a length"]),
    (
        "ride_height = 270.0",
        "ride_height = true",
        "vehicle.ride_height",
        ["true or false where a number belongs"],
    ),
    (
        "ride_height = 270.0",
        "ride_height = [270.0]",
        "vehicle.ride_height",
        ["a list where a number belongs"],
    ),
    ("ride_height = 270.0", "ride_height = 1979-05-27", "vehicle.ride_height", ["a date or a time"]),
    ("ride_height = 270.0", "ride_height = 1e9", "vehicle.ride_height", ["longer than 100000 mm", "units"]),
    ("ride_height = 270.0", "ride_height = -1.0", "vehicle.ride_height", ["0 or more"]),
    ("track = 1580.0", "track = 0.0", "vehicle.track", ["more than 0"]),
    ("max_angle = 28.0", 'max_angle = "28"', "steering.outer_rod_end.max_angle", ["text in quotes"]),
    # angles out of reason
    ("track = 1580.0", "track = 1580.0\nstatic_camber = 50.0", "vehicle.static_camber", ["45 degrees"]),
    ("track = 1580.0", "track = 1580.0\nstatic_toe = -50.0", "vehicle.static_toe", ["45 degrees"]),
    ("[lower_arm]", "[lower_arm]\nkick_up = 61.0", "lower_arm.kick_up", ["60 degrees"]),
    ("[lower_arm]", "[lower_arm]\nplan_angle = -75.0", "lower_arm.plan_angle", ["60 degrees"]),
    ("[upper_arm]", "[upper_arm]\nkick_up = 61.0", "upper_arm.kick_up", ["60 degrees"]),
    ("[upper_arm]", "[upper_arm]\nplan_angle = 61.0", "upper_arm.plan_angle", ["60 degrees"]),
    ("[spindle]", "[spindle]\npitch = 90.0", "spindle.pitch", ["60 degrees"]),
    ("[-0.5, 0.5]", "[-50.0, 0.5]", "upper_arm.static_camber", ["its min", "45 degrees"]),
    # ranges
    ("[190.0, 400.0]", "[400.0, 190.0]", "upper_arm.pivot_y", ["min above its max", "swap"]),
    ("[190.0, 400.0]", "[190.0, 190.0]", "upper_arm.pivot_y", ["empty", "one number to hold it fixed"]),
    ("[190.0, 400.0]", "[190.0]", "upper_arm.pivot_y", ["[min, max]", "a list of 1"]),
    ("[190.0, 400.0]", "[190.0, nan]", "upper_arm.pivot_y", ["its max is not a number"]),
    ("[190.0, 400.0]", '["a", nan]', "upper_arm.pivot_y", ["its min", "its max"]),
    ("[260.0, 520.0]", "[0.0, 520.0]", "upper_arm.length", ["its min must be more than 0"]),
    # points and lists
    (
        "lower_pivot = [6.0, -88.0, -112.0]",
        "lower_pivot = [6.0, -88.0]",
        "spindle.lower_pivot",
        ["3 numbers", "2 given"],
    ),
    ("lower_pivot = [6.0, -88.0, -112.0]", "lower_pivot = 6.0", "spindle.lower_pivot", ["list of 3 numbers"]),
    (
        "lower_pivot = [6.0, -88.0, -112.0]",
        "lower_pivot = [6.0, inf, 1.0]",
        "spindle.lower_pivot[1]",
        ["infinite"],
    ),
    ("[930.0, 720.0]", "[930.0, 720.0, 3.0]", "bodywork.outlines[0][2]", ["2 numbers, [y, z]; 3 given"]),
    ("[930.0, 720.0]", "[560.0, 600.0]", "bodywork.outlines[0][2]", ["same point as the one before"]),
    (OUTLINES, "outlines = [[[470.0, 430.0]]]", "bodywork.outlines[0]", ["at least 2 points"]),
    (OUTLINES, "outlines = 3", "bodywork.outlines", ["list of outlines"]),
    (
        "axis = [0.0, 0.0, 1.0]",
        "axis = [0.0, 0.0, 0.0]",
        "steering.outer_rod_end.axis",
        ["no direction", "[0, 0, 1]"],
    ),
    ("axis = [1.0, 0.0, 0.0]", "axis = [0, 0, 0]", "steering.inner_rod_end.axis", ["no direction"]),
    # names
    (
        "ride_height = 270.0",
        "ride_height = 270.0\nstatic_cambr = 0",
        "vehicle.static_cambr",
        ["mean static_camber?"],
    ),
    (
        "ride_height = 270.0",
        "ride_height = 270.0\nzzz = 0",
        "vehicle.zzz",
        ["not known", "known here: track, ride_height"],
    ),
    ("[build]", "[biuld]", "biuld", ["did you mean build?"]),
    ("scrub =", "scrubb =", "targets.scrubb", ["did you mean scrub?"]),
    ("aim = 45.0", "amm = 45.0", "targets.scrub.amm", ["did you mean aim?"]),
    # targets
    (
        "{ aim = 45.0, limit = 100.0 }",
        "45.0",
        "targets.scrub",
        ["must be a table with the keys aim, limit, objective"],
    ),
    ("{ aim = 45.0, limit = 100.0 }", "{ objective = 1 }", "targets.scrub.objective", ["true or false"]),
    (
        "aim = 45.0, limit",
        "aim = 145.0, limit",
        "targets.scrub.aim",
        ["worse than the limit", "less is better"],
    ),
    ("aim = 30.0", "aim = 3.0", "targets.fender_clearance.aim", ["worse than the limit", "more is better"]),
    ("aim = 0.3", "aim = -0.3", "targets.bump_steer_deg.aim", ["never be reached", "0 at best"]),
    (
        "aim = 220.0",
        "aim = 331.0",
        "targets.droop_limit.aim",
        ["never be reached", "travel.droop_cap, 330 mm"],
    ),
    (
        "{ aim = 220.0, limit = 150.0 }",
        "{ limit = 331.0 }",
        "targets.droop_limit.limit",
        ["never be reached", "cap"],
    ),
    (CURVE, "camber_curve = [[0.0, 0.0]]", "targets.camber_curve", ["at least 2 points"]),
    (
        CURVE,
        "camber_curve = [[-220, 0], [0, 0], [0, 1], [180, 0]]",
        "targets.camber_curve[2][0]",
        ["not lie above"],
    ),
    (
        CURVE,
        "camber_curve = [[180, 0], [-220, 0]]",
        "targets.camber_curve[1][0]",
        ["from droop", "up to bump"],
    ),
    (CURVE, "camber_curve = [[-219, 0], [180, 0]]", "targets.camber_curve[0]", ["full droop", "-220 mm"]),
    (CURVE, "camber_curve = [[-220, 0], [179, 0]]", "targets.camber_curve[1]", ["full bump", "180 mm"]),
    (
        CURVE,
        "camber_curve = [[-220, 0], [180, 0, 1]]",
        "targets.camber_curve[1]",
        ["travel, degrees", "3 given"],
    ),
    (CURVE, "camber_curve = [[-220, 90], [180, 0]]", "targets.camber_curve[0][1]", ["45 degrees"]),
    # tyre
    (
        "radius = 368.0",
        'size = "235/75"\nradius = 368.0',
        "tyre.size",
        ["not a tyre size", "235/75R15", "31x10.50R15"],
    ),
    ("radius = 368.0", 'size = "000/75R15"\nradius = 368.0', "tyre.size", ["has a zero"]),
    ("radius = 368.0", 'size = "12x5R15"\nradius = 368.0', "tyre.size", ["no larger than its own rim"]),
    ("radius = 368.0", "size = 235\nradius = 368.0", "tyre.size", ["text in double quotes"]),
    (
        "width = 236.0",
        "width = 236.0\nshoulder_radius = 118.5",
        "tyre.shoulder_radius",
        ["at most 118 mm", "half"],
    ),
    (
        "width = 236.0",
        "width = 236.0\nloaded_radius = 369.0",
        "tyre.loaded_radius",
        ["more than the radius of 368 mm"],
    ),
    # spindle
    ("[-18.0, -112.0, 118.0]", "[6.0, -88.5, -112.0]", "spindle.upper_pivot", ["same point as lower_pivot"]),
    ("[-18.0, -112.0, 118.0]", "[-18.0, -112.0, -118.0]", "spindle.upper_pivot", ["not lie above", "swap"]),
    ("[-118.0, -104.0, -30.0]", "[-6.0, -100.0, 3.0]", "spindle.steering_pivot", ["no steering arm"]),
    # arms
    (
        "[lower_arm]",
        "[lower_arm]\nlength = 480.0",
        "lower_arm.length",
        ["vehicle.track is given too", "keep one"],
    ),
    ("[0.0, 225.0, 15.0]", "[0.0, 1225.0, 15.0]", "lower_arm.inner_pivot", ["lower arm stands on end"]),
    ("[0.0, 225.0, 15.0]", "[6.0, 702.0, -14.0]", "lower_arm.inner_pivot", ["lower arm has no length"]),
    ("[260.0, 520.0]", "[600.0, 700.0]", "upper_arm.length", ["cannot be had", "mm to"]),
    ("[260.0, 520.0]", "[10.0, 20.0]", "upper_arm.length", ["cannot be had", "change length"]),
    # room
    (
        "[260.0, 520.0]",
        "[260.0, 520.0]\nregion = [[0, 0], [1, 0]]",
        "upper_arm.region",
        ["at least 3 corners", "2 given"],
    ),
    (
        "[260.0, 520.0]",
        "[260.0, 520.0]\nregion = [[200, 200], [300, 300], [300, 200], [200, 300]]",
        "upper_arm.region",
        ["crosses itself", "in order around the edge"],
    ),
    (
        "[260.0, 520.0]",
        "[260.0, 520.0]\nregion = [[200, 200], [300, 200], [300, 300], [200, 200]]",
        "upper_arm.region",
        ["a corner twice in a row", "joins the first by itself"],
    ),
    (
        "[260.0, 520.0]",
        "[260.0, 520.0]\nregion = [[200, 200], [250, 250], [300, 300]]",
        "upper_arm.region",
        ["no area"],
    ),
    (
        "[260.0, 520.0]",
        "[260.0, 520.0]\nregion = [[20, 200], [100, 200], [100, 300]]",
        "upper_arm.region",
        ["does not overlap the ranges of pivot_y and pivot_z"],
    ),
    (
        "[260.0, 520.0]",
        "[260.0, 520.0]\nkeep_out = [{ y = 295, z = 240, diameter = 300 }]",
        "upper_arm.keep_out",
        ["leaves no place", "40401 places tried"],
    ),
    (
        "[260.0, 520.0]",
        "[260.0, 520.0]\nkeep_out = [[295, 240, 30]]",
        "upper_arm.keep_out[0]",
        ["keys y, z, diameter"],
    ),
    (
        "[260.0, 520.0]",
        "[260.0, 520.0]\nkeep_out = [{ y = 295, z = 240, diameter = 0 }]",
        "upper_arm.keep_out[0].diameter",
        ["more than 0"],
    ),
    (
        "[260.0, 520.0]",
        "[260.0, 520.0]\nkeep_out = [{ y = 295, z = 240, radius = 3, diameter = 9 }]",
        "upper_arm.keep_out[0].radius",
        ["not known"],
    ),
    # steering
    ("max_angle = 28.0", "max_angle = 90.0", "steering.outer_rod_end.max_angle", ["between 0 and 90"]),
    ("max_angle = 30.0", "max_angle = 0.0", "steering.inner_rod_end.max_angle", ["between 0 and 90"]),
    ("[-118.0, 239.0, 91.0]", "[-118.0, 686.0, 68.0]", "steering.inner_joint", ["tie rod has no length"]),
    ("inner_joint", "rack_travel = -1.0\ninner_joint", "steering.rack_travel", ["0 or more"]),
    # travel
    ("bump = 180.0", "bump = -180.0", "travel.bump", ["more than 0"]),
    ("\ndroop = 220.0", "\ndroop = 0", "travel.droop", ["more than 0"]),
    (
        "bump = 180.0",
        "bump = 180.0\ndroop_cap = 219.0",
        "travel.droop_cap",
        ["less than travel.droop", "leave it out"],
    ),
    (
        "bump = 180.0",
        "bump = 180.0\nbump_cap = 100.0",
        "travel.bump_cap",
        ["less than travel.bump", "leave it out"],
    ),
    ("bump = 180.0", "bump = 180.0\nroll = 0.0", "travel.roll", ["more than 0 and at most 20 degrees", "Leave it out"]),
    ("bump = 180.0", "bump = 180.0\nroll = 20.5", "travel.roll", ["more than 0 and at most 20 degrees"]),
    ("bump = 180.0", "bump = 180.0\nroll = -3.0", "travel.roll", ["more than 0 and at most 20 degrees"]),
    (
        "bump = 180.0",
        "bump = 180.0\nroll = 15.0",
        "travel.roll",
        ["about 211.7 mm of wheel travel", "travel.bump of 180 mm", "about 12.8 degrees fit"],
    ),
    ("scrub =", "roll_camber_deg = { aim = 2.0 }\nscrub =", "targets.roll_camber_deg.aim", ["give travel.roll"]),
    (
        "scrub =",
        "roll_centre_migration = { limit = -1.0 }\nscrub =",
        "targets.roll_centre_migration.limit",
        ["never be reached"],
    ),
    ("scrub =", "bump_limit = { aim = 190.0 }\nscrub =", "targets.bump_limit.aim", ["travel.bump_cap, 180 mm"]),
    # obstacles, tubes and rim
    (
        'units = "mm"',
        with_obstacle('{ name = "rail", points = [[300, 400]], diameter = 0 }'),
        "obstacles[0].diameter",
        ["more than 0"],
    ),
    (
        'units = "mm"',
        with_obstacle("{ points = [[300, 400]], diameter = 9 }"),
        "obstacles[0].name",
        ["is missing; it is what you call it"],
    ),
    (
        'units = "mm"',
        with_obstacle('{ name = " ", points = [[300, 400]], diameter = 9 }'),
        "obstacles[0].name",
        ["is empty"],
    ),
    (
        'units = "mm"',
        with_obstacle('{ name = "rail", points = [], diameter = 9 }'),
        "obstacles[0].points",
        ["at least 1 points [y, z]; 0 given"],
    ),
    (
        'units = "mm"',
        with_obstacle('{ name = "rail", points = [[300, 400, 5]], diameter = 9 }'),
        "obstacles[0].points[0]",
        ["2 numbers, [y, z]; 3 given"],
    ),
    (
        'units = "mm"',
        with_obstacle('{ name = "rail", points = [[300, 400], [300, 400]], diameter = 9 }'),
        "obstacles[0].points[1]",
        ["same point as the one before"],
    ),
    (
        'units = "mm"',
        with_obstacle('{ name = "rail", points = [[300, 400]], radius = 3, diameter = 9 }'),
        "obstacles[0].radius",
        ["not known", "points"],
    ),
    (
        'units = "mm"',
        with_obstacle(
            '{ name = "a", points = [[3, 4]], diameter = 9 }, { name = "a", points = [[5, 6]], diameter = 9 }'
        ),
        "obstacles[1].name",
        ["name of another obstacle"],
    ),
    ('units = "mm"', with_obstacle("3"), "obstacles[0]", ["a table with the keys name, points, diameter"]),
    ('units = "mm"', 'units = "mm"\nobstacles = 3', "obstacles", ["[[obstacles]] on a line of its own"]),
    ("[lower_arm]", "[lower_arm]\ntube_diameter = -1.0", "lower_arm.tube_diameter", ["more than 0"]),
    ("[lower_arm]", "[lower_arm]\nlegs_x = [9, -9]", "lower_arm.legs_x", ["give lower_arm.tube_diameter"]),
    (
        "[lower_arm]",
        "[lower_arm]\ntube_diameter = 20.0\nlegs_x = [9]",
        "lower_arm.legs_x",
        ["2 numbers, [front, rear]; 1 given"],
    ),
    (
        LENGTHS,
        f"{LENGTHS}\ntube_diameter = 20.0\nlegs_x = [-9, 9]",
        "upper_arm.legs_x",
        ["front bushing first", "swap the two?"],
    ),
    (
        "inner_joint",
        "tie_rod_diameter = 20.0\ninner_joint",
        "steering.tie_rod_diameter",
        ["give upper_arm.tube_diameter or lower_arm.tube_diameter"],
    ),
    (LENGTHS, with_wheel("tube_diameter = 25.0\n", ""), "wheel", ["give upper_arm.tube_diameter"]),
    (LENGTHS, with_wheel("381.0", "736.0"), "wheel.rim_diameter", ["less than the tyre's own diameter of 736 mm"]),
    (LENGTHS, with_wheel("381.0", "680.0"), "wheel.rim_diameter", ["sidewall of 28 mm", "rounding of 35.4 mm"]),
    (LENGTHS, with_wheel("381.0", "24.0"), "wheel.rim_diameter", ["no inside", "12 mm"]),
    (LENGTHS, with_wheel("-20.0", "-89.5"), "wheel.offset", ["plus or minus 89 mm", "half the rim's width"]),
    (LENGTHS, with_wheel("-20.0", "0\nrim_wall = 191"), "wheel.rim_wall", ["no inside", "190.5 mm"]),
    (LENGTHS, with_wheel("178.0", '"7"'), "wheel.rim_width", ["text in quotes"]),
    (
        "scrub =",
        "parts_clearance = { limit = 3.0 }\nscrub =",
        "targets.parts_clearance.limit",
        ["give obstacles or wheel or steering.tie_rod_diameter"],
    ),
    # build and baseline
    ("round_to = 1.0", "round_to = 0.0", "build.round_to", ["more than 0"]),
    (
        "pivot_tolerance = 1.5",
        'pivot_tolerance = "1/16"',
        "build.pivot_tolerance",
        ["only a scenario in inches"],
    ),
    (
        "pivot_tolerance = 1.5",
        'pivot_tolerance = "ISO 13920-E"',
        "build.pivot_tolerance",
        ["ISO 13920 has not", "A, B, C, D"],
    ),
    (
        "pivot_tolerance = 1.5",
        'pivot_tolerance = "fine"',
        "build.pivot_tolerance",
        ["neither a length nor a tolerance class", '"ISO 13920-B"', '"ISO 2768-m"'],
    ),
    (
        "pivot_tolerance = 1.5",
        'pivot_tolerance = 1.5\narm_length_tolerance = "ISO 2768-x"',
        "build.arm_length_tolerance",
        ["ISO 2768 has not", "f, m, c, v"],
    ),
    (
        "pivot_tolerance = 1.5",
        "pivot_tolerance = 1.5\nspindle_tolerance = -0.5",
        "build.spindle_tolerance",
        ["0 or more"],
    ),
    (
        "pivot_tolerance = 1.5",
        "pivot_tolerance = 1.5\nweld_shrinkage = -0.8",
        "build.weld_shrinkage",
        ["0 or more"],
    ),
    (
        "pivot_tolerance = 1.5",
        "pivot_tolerance = 1.5\narm_adjustment = true",
        "build.arm_adjustment",
        ["where a number belongs"],
    ),
    (
        "pivot_tolerance = 1.5",
        'pivot_tolerance = 1.5\ndistribution = "bell"',
        "build.distribution",
        ["uniform", "normal"],
    ),
    (
        "pivot_tolerance = 1.5",
        "pivot_tolerance = 1.5\nrequired_yield = 95",
        "build.required_yield",
        ["between 0 and 1", "0.95 for 95 %"],
    ),
    (
        "pivot_tolerance = 1.5",
        "pivot_tolerance = 1.5\nrequired_yield = 1.0",
        "build.required_yield",
        ["both excluded"],
    ),
    (
        "pivot_tolerance = 1.5",
        "pivot_tolerance = 1.5\nlower_tolerance = 1.0",
        "build.lower_tolerance",
        ["did you mean"],
    ),
    ("scrub =", "build_yield = { limit = 95 }\nscrub =", "targets.build_yield.limit", ["between 0 and 1"]),
    (
        "scrub =",
        "build_yield = { aim = 0.8, limit = 0.9 }\nscrub =",
        "targets.build_yield.aim",
        ["worse than the limit", "more is better"],
    ),
    (
        "round_to = 1.0",
        'reference = { name = "tube", y = 225.0 }',
        "build.reference.z",
        ["is missing; it is its height above the frame datum"],
    ),
    (
        "round_to = 1.0",
        "reference = { y = 225.0, z = 15.0 }",
        "build.reference.name",
        ["is missing; it is what you call it"],
    ),
    (
        "round_to = 1.0",
        'round_to = 1.0\nreference = { name = " ", y = 225.0, z = 15.0 }',
        "build.reference.name",
        ["is empty; give it a name"],
    ),
    (
        "round_to = 1.0",
        'round_to = 1.0\nreference = { name = "tube", y = "9 1/16", z = 15.0 }',
        "build.reference.y",
        ["only a scenario in inches"],
    ),
    (
        "round_to = 1.0",
        'round_to = 1.0\nreference = { name = "tube", y = 225.0, z = 15.0, w = 1.0 }',
        "build.reference.w",
        ["this key is not known"],
    ),
    ("round_to = 1.0", "round_to = 1.0\nreference = 225.0", "build.reference", ["a table with the keys name, x, y, z"]),
    (
        "round_to = 1.0",
        'round_to = 1.0\nreference = { name = "middle", y = 0.0, z = 0.0 }',
        "build.reference",
        ["where everything is measured from already", "leave it out"],
    ),
    (
        "pivot_z = 232.0",
        "pivot_z = 232.0\nstatic_camber = 0.0\narm_length = 400.0",
        "baseline.arm_length",
        ["static_camber is given too", "keep one"],
    ),
    # top of the file
    ('title = "Test corner"', "title = 3", "title", ["text in double quotes"]),
    ('units = "mm"', 'units = "in"', "units", ["not a unit", 'units = "inch"']),
]
