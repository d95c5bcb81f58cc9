"""Scenarios that once came out wrong."""

from __future__ import annotations

from tests.properties.drafts import Case, Draft, Mm, Tables, point

BUGGY: Tables = {
    "vehicle": {"track": Mm(1580.0), "ride_height": Mm(270.0)},
    "tyre": {"radius": Mm(368.0), "width": Mm(236.0)},
    "spindle": {
        "lower_pivot": point(6.0, -88.0, -112.0),
        "upper_pivot": point(-18.0, -112.0, 118.0),
        "steering_pivot": point(-118.0, -104.0, -30.0),
    },
    "lower_arm": {"inner_pivot": point(0.0, 225.0, 15.0)},
    "upper_arm": {"pivot_y": point(190.0, 400.0), "pivot_z": point(160.0, 320.0)},
    "steering": {
        "inner_joint": point(-118.0, 239.0, 91.0),
        "outer_rod_end": {"axis": [0.0, 0.0, 1.0], "max_angle": 28.0},
        "inner_rod_end": {"axis": [1.0, 0.0, 0.0], "max_angle": 30.0},
    },
    "travel": {"bump": Mm(180.0), "droop": Mm(220.0)},
    "bodywork": {"outlines": [[point(470.0, 430.0), point(560.0, 600.0), point(930.0, 720.0)]]},
    "targets": {},
}
MIDDLE, IN_A_CORNER = (0.4, 0.45, 0.0, 0), (0.98, 0.97, 0.0, 0)


def pinned(*picks: tuple[float, float, float, int], **changes: object) -> Case:
    """Candidates in the buggy with some values changed (`Draft.changed`)."""
    return Case(Draft(BUGGY).changed(**changes), picks or (MIDDLE, IN_A_CORNER))


# Counted from the ride pose's arm angle, where steering has lifted or dropped the wheel a little, a joint that
# reaches its angle in between gave a limit of 0 at once, or of less than 0.
LIFTED = pinned(steering__rack_travel=Mm(55.0), steering__inner_rod_end__max_angle=3.08, spindle__pitch=8.0)
# An arcsine is 1e-8 off so near to 1: what locks was put down to the end of the arms' swing, by the unit of the file.
LOCKED = pinned(
    (0.62, 0.78, 0.0, 0),
    (0.83, 0.89, 0.0, 0),
    travel__droop_cap=Mm(440.0),
    steering__outer_rod_end__max_angle=85.0,
    steering__inner_rod_end__max_angle=85.0,
)
# An objective that is off by default and may have no value, given an aim alone, was measured in no search.
AIM_ALONE = pinned(
    MIDDLE,
    IN_A_CORNER,
    travel__roll=4.0,
    targets={"roll_camber_deg": {"aim": 2.0}, "roll_centre_migration": {"aim": Mm(40.0)}},
)
# Equal parallel arms: the curves that say where arms and tie rod lock are level, or touch and part again.
PARALLEL = pinned(
    (0.0, 0.0, 0.0, 0),
    spindle__upper_pivot=point(6.0, -88.0, 118.0),
    spindle__steering_pivot=point(-112.0, -88.0, -30.0),
    steering__inner_joint=point(-112.0, 225.0, 97.0),
    upper_arm__pivot_y=Mm(225.0),
    upper_arm__pivot_z=Mm(245.0),
    travel__bump=Mm(120.0),
    travel__droop=Mm(120.0),
)
# A tie rod that lies in line while its joint is sought has no speed: toe by the joint ran over to 1e308.
IN_LINE = Case(
    Draft(
        {
            "vehicle": {"track": Mm(1000.0), "ride_height": Mm(0.0)},
            "tyre": {"radius": Mm(424.0), "width": Mm(100.0)},
            "spindle": {
                "lower_pivot": point(43.0, -94.0, -81.0),
                "upper_pivot": point(0.0, -78.0, 221.0),
                "steering_pivot": point(-104.0, -112.0, -2.0),
            },
            "lower_arm": {"inner_pivot": point(43.0, 49.0, 184.0), "kick_up": -8.5, "plan_angle": -10.0},
            "upper_arm": {"kick_up": 8.0, "pivot_y": point(16.0, 59.0), "pivot_z": point(553.0, 593.0)},
            "steering": {
                "inner_joint": point(-104.0, 42.0, 308.0),
                "inner_region": {"y": point(40.0, 59.0), "z": point(290.0, 359.0)},
                "outer_rod_end": {"axis": [-1.0, 0.0, 0.0], "max_angle": 34.0},
                "inner_rod_end": {"axis": [0.0, 0.0, -1.0], "max_angle": 12.0},
            },
            "travel": {"bump": Mm(168.0), "droop": Mm(60.0)},
        }
    ),
    ((0.4, 0.9, -2.1, 0),),
)
# Arms so short that the lower one swings through most of a right angle: the polynomial of its sweep is mm off, and so
# was full bump.
SHORT = Case(
    Draft(
        {
            "vehicle": {"track": Mm(1633.9), "ride_height": Mm(87.9)},
            "tyre": {"radius": Mm(301.4), "width": Mm(303.4)},
            "spindle": {
                "lower_pivot": point(-23.1, -127.1, -50.3),
                "upper_pivot": point(31.9, -54.3, 176.6),
                "steering_pivot": point(-120.5, -71.3, 0.0),
                "pitch": -1.66,
            },
            "lower_arm": {"inner_pivot": point(-23.1, 493.6, 163.2), "plan_angle": 3.97},
            "upper_arm": {
                "pivot_x": Mm(2.45),
                "kick_up": -8.2,
                "plan_angle": 0.0,
                "pivot_y": point(522.6, 605.8),
                "pivot_z": Mm(430.8),
            },
            "steering": {
                "inner_joint": point(-120.5, 524.6, 222.5),
                "outer_rod_end": {"axis": [-0.59, 0.11, 0.8], "max_angle": 59.0},
                "inner_rod_end": {"axis": [0.216, -0.476, -0.853], "max_angle": 52.0},
            },
            "travel": {"bump": Mm(163.39), "droop": Mm(124.96)},
        }
    ),
    ((0.0, 1.0, 0.0, 0), (0.0875, 0.43, -1.877, 0), (0.7, 0.84, 0.0, 0)),
)
# A lorry's wheel that full lock lowers by more than the required droop: its sweep went on from where that leaves it.
LOWERED = Case(
    Draft(
        {
            "vehicle": {"track": Mm(6102.0), "ride_height": Mm(1433.0)},
            "tyre": {"radius": Mm(1470.0), "width": Mm(534.0)},
            "spindle": {
                "lower_pivot": point(202.0, -667.0, -315.0),
                "upper_pivot": point(-64.0, -794.0, 337.0),
                "steering_pivot": point(-292.0, -568.0, 423.0),
            },
            "lower_arm": {"inner_pivot": point(202.0, -214.0, -305.0)},
            "upper_arm": {"pivot_y": point(-657.0, -223.0), "pivot_z": point(-518.0, 20.0)},
            "steering": {
                "inner_joint": point(-193.0, -605.0, -173.0),
                "outer_rod_end": {"axis": [-1.0, 0.0, 0.0], "max_angle": 59.0},
                "inner_rod_end": {"axis": [1.0, 0.0, 0.0], "max_angle": 7.0},
                "rack_travel": Mm(308.0),
            },
            "travel": {"bump": Mm(460.0), "droop": Mm(97.0)},
        }
    ),
    ((0.706, 0.0, 0.0, 0),),
)
