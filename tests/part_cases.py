"""A scenario with every further part, and single mistakes put into it with what must be said of each."""

from __future__ import annotations

from tests.scenario_cases import edited

PARTS = """
[joints.upper_outer]
axis = [0.0, 0.1, 1.0]
bearing = { series = "K", bore = 12 }

[joints.lower_outer]
axis = [0.0, 0.0, 1.0]
carried_by = "arm"
housing_axis = [0.0, -0.2, 1.0]
max_angle = 40.0

[shock]
arm = "lower"
lower_mount = [0.0, 520.0, 10.0]
upper_mount = [0.0, 400.0, 420.0]
extended = 560.0
collapsed = 310.0

[strap]
arm_point = [40.0, 540.0, 10.0]
frame_point = [40.0, 420.0, 330.0]

[baseline]"""
HOLES = "upper_pivot = [[-18.0, -112.0, 118.0], [-14.0, -108.0, 140.0]]"
PITMAN = """inner_joint = [-118.0, 239.0, 91.0]
[steering.pitman]
pivot = [-10.0, 239.0, 130.0]
axis = [0.1, 0.0, 1.0]
angle = 16.0"""
FULL = edited(
    ("track = 1580.0", "track = 1580.0\nwheelbase = 2350.0"),
    ("upper_pivot = [-18.0, -112.0, 118.0]", HOLES),
    ("inner_joint = [-118.0, 239.0, 91.0]", "inner_joint = [-118.0, 239.0, 91.0]\nrack_travel = 35.0"),
    ("max_angle = 28.0", "max_angle = 34.0"),
    ("bump_steer_deg = { aim = 0.3 }", "bump_steer_deg = { aim = 0.3 }\nrod_end_margin_deg = 3.0"),
    ("\n[baseline]", PARTS),
    ("pivot_z = 232.0", "pivot_z = 232.0\nupper_hole = 2"),
)
STEERING_BOX = FULL.replace("inner_joint = [-118.0, 239.0, 91.0]\nrack_travel = 35.0", PITMAN)
BEARING = 'bearing = { series = "K", bore = 12 }'
STUD, SHOCK_TOP = "axis = [0.0, 0.1, 1.0]", "upper_mount = [0.0, 400.0, 420.0]"


def changed(old: str, new: str, text: str = FULL) -> str:
    assert text.count(old) == 1, f"{old!r} is not unique"
    return text.replace(old, new)


# what is replaced, by what, key of the one fault, words of its sentence
PART_FAULTS = [
    ("wheelbase = 2350.0", "wheelbase = 0.0", "vehicle.wheelbase", ["more than 0"]),
    # holes
    (
        HOLES,
        "upper_pivot = [[-18.0, -112.0, 118.0], [-14.0, -108.0]]",
        "spindle.upper_pivot[1]",
        ["3 numbers", "2 given"],
    ),
    (HOLES, "upper_pivot = [[-18.0, -112.0, 118.0], [6.0, -88.0, -112.0]]", "spindle.upper_pivot[1]", ["lower_pivot"]),
    (HOLES, "upper_pivot = [[-18, -112, 118], [-14, -108, -140]]", "spindle.upper_pivot[1]", ["not lie above"]),
    (HOLES, "upper_pivot = [[-18, -112, 118], [-18, -112, 118]]", "spindle.upper_pivot[1]", ["listed twice"]),
    (HOLES, "upper_pivot = [[-18, -112, 118], [-14, -108, 118], [nan, 0, 140]]", "spindle.upper_pivot[2][0]", ["nan"]),
    ("upper_hole = 2", "upper_hole = 3", "baseline.upper_hole", ["more than the 2 points", "count from 1"]),
    ("upper_hole = 2", "upper_hole = 0", "baseline.upper_hole", ["whole number", "from 1"]),
    ("upper_hole = 2", "upper_hole = 1.5", "baseline.upper_hole", ["whole number"]),
    ("upper_hole = 2", "upper_hole = true", "baseline.upper_hole", ["whole number"]),
    # joints
    (STUD, "axis = [0.0, 0.0, 0.0]", "joints.upper_outer.axis", ["no direction", "[0, 0, 1]"]),
    (STUD, "axis = [0.0, 1.0]", "joints.upper_outer.axis", ["3 numbers"]),
    (STUD, f'{STUD}\ncarried_by = "frame"', "joints.upper_outer.carried_by", ["must be one of", '"spindle"', '"arm"']),
    (
        "housing_axis = [0.0, -0.2, 1.0]",
        "housing_axis = [0, 0, 0]",
        "joints.lower_outer.housing_axis",
        ["no direction"],
    ),
    (
        "housing_axis = [0.0, -0.2, 1.0]",
        "housing_axis = [1.0, 0.0, 1.0]",
        "joints.lower_outer.housing_axis",
        ["stands 45.0 degrees from axis at ride", "more than the joint's 40.00 deg"],
    ),
    (
        "housing_axis = [0.0, -0.2, 1.0]",
        "housing_axis = [0.0, 0.0, -1.0]",
        "joints.lower_outer.housing_axis",
        ["180.0 degrees", "turn one round"],
    ),
    ("max_angle = 40.0", "max_angle = 90.0", "joints.lower_outer.max_angle", ["between 0 and 90"]),
    ("max_angle = 40.0", "", "joints.lower_outer.max_angle", ["is missing", "series and bore"]),
    ("max_angle = 40.0", f"max_angle = 40.0\n{BEARING}", "joints.lower_outer.max_angle", ["keep one"]),
    ("max_angle = 34.0", f"max_angle = 34.0\n{BEARING}", "steering.outer_rod_end.max_angle", ["keep one"]),
    ("[joints.upper_outer]", "[joints.uper_outer]", "joints.uper_outer", ["did you mean upper_outer?"]),
    (BEARING, 'bearing = { series = "Q", bore = 12 }', "joints.upper_outer.bearing.series", ["known: K, G"]),
    (
        BEARING,
        'bearing = { series = "K", bore = 11 }',
        "joints.upper_outer.bearing.bore",
        ["5, 6, 8, 10, 12", "max_angle"],
    ),
    (BEARING, 'bearing = { series = "K", bore = 12.5 }', "joints.upper_outer.bearing.bore", ["not in series K"]),
    (BEARING, 'bearing = { series = "K" }', "joints.upper_outer.bearing", ["is missing", "the bore in mm"]),
    (
        BEARING,
        'bearing = { series = "K", bore = 12, spacers = false }',
        "joints.upper_outer.bearing.eye_diameter",
        ["is missing", "measure across the eye"],
    ),
    (
        BEARING,
        'bearing = { series = "K", bore = 12, spacers = false, eye_diameter = 22.0 }',
        "joints.upper_outer.bearing.eye_diameter",
        ["more than the ball's diameter of 22.225 mm"],
    ),
    (
        BEARING,
        'bearing = { series = "K", bore = 12, eye_diameter = 32.0 }',
        "joints.upper_outer.bearing.eye_diameter",
        ["only without spacers", "spacers = false"],
    ),
    (
        BEARING,
        'bearing = { series = "K", bore = 12, spacers = 0 }',
        "joints.upper_outer.bearing.spacers",
        ["true or false"],
    ),
    # shock and strap
    ('arm = "lower"', 'arm = "middle"', "shock.arm", ["must be one of", '"lower"', '"upper"']),
    ("collapsed = 310.0", "collapsed = 560.0", "shock.collapsed", ["less than extended, 560 mm", "swap the two?"]),
    (SHOCK_TOP, "upper_mount = [0.0, 400.0, 620.0]", "shock.upper_mount", ["outside the stroke of 310 mm to 560 mm"]),
    (SHOCK_TOP, "", "shock", ["upper_mount", "is missing", "on the frame"]),
    ("extended = 560.0", "extended = -560.0", "shock.extended", ["more than 0"]),
    (
        "frame_point = [40.0, 420.0, 330.0]",
        "frame_point = [40, 540, 10]",
        "strap.frame_point",
        ["is where arm_point is"],
    ),
    ("rod_end_margin_deg = 3.0", "rod_end_margin_deg = -1.0", "targets.rod_end_margin_deg", ["0 or more"]),
]
BOX_FAULTS = [
    ("angle = 16.0", "angle = 90.0", "steering.pitman.angle", ["between 0 and 90", "each way"]),
    ("axis = [0.1, 0.0, 1.0]", "axis = [0, 0, 0]", "steering.pitman.axis", ["no direction", "upright shaft"]),
    (
        "pivot = [-10.0, 239.0, 130.0]",
        "pivot = [-118.0, 239.0, 91.0]",
        "steering.pitman.pivot",
        ["turning it moves nothing"],
    ),
    (
        "inner_joint = [-118.0, 239.0, 91.0]",
        "inner_joint = [-118.0, 239.0, 91.0]\nrack_travel = 20.0",
        "steering.rack_travel",
        ["pitman is given too", "keep one"],
    ),
]
