"""What cannot be of joints, steering, shock and strap, seen from the tables alone."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

import numpy as np

from objectives.vectors import cross, norm
from optimizer.bearings import SERIES
from optimizer.faults import FaultList
from optimizer.schema import BearingTable, JointTable, PitmanTable
from optimizer.tables import Tables, UnreadError
from optimizer.toml_lines import KeyPath

TOUCHING = 1.0
"""Points closer than this, mm, are one point on a real part."""


def _joint_tables(tables: Tables) -> Iterator[tuple[KeyPath, JointTable]]:
    """Every joint that was given and could be read, with its key path."""
    for table, name in (
        ("steering", "outer_rod_end"),
        ("steering", "inner_rod_end"),
        ("joints", "upper_outer"),
        ("joints", "lower_outer"),
    ):
        with suppress(UnreadError):
            joint = getattr(getattr(tables, table), name)
            if joint is not None:
                yield (table, name), joint


def check_joints(tables: Tables, faults: FaultList) -> None:
    """Note a joint with no largest angle or two of them, an unknown bearing, and an axis that is none."""
    for path, joint in _joint_tables(tables):
        for name in ("axis", "housing_axis"):
            axis = getattr(joint, name, None)
            if axis is not None and not any(axis):
                faults.add((*path, name), "has no direction, all three are 0; a bolt standing upright is [0, 0, 1]")
        if joint.max_angle is None and joint.bearing is None:
            faults.add(
                (*path, "max_angle"),
                "is missing; give it from the maker's table, or give the bearing by series and bore instead: "
                'bearing = { series = "K", bore = 12 }',
            )
        elif joint.max_angle is not None and joint.bearing is not None:
            faults.add((*path, "max_angle"), "bearing is given too, and sets the angle; keep one of the two")
        elif joint.bearing is not None:
            _check_bearing((*path, "bearing"), joint.bearing, tables, faults)


def _check_bearing(path: KeyPath, given: BearingTable, tables: Tables, faults: FaultList) -> None:
    series = SERIES.get(given.series)
    if series is None:
        faults.add((*path, "series"), f"is not a series known here; known: {', '.join(SERIES)}")
        return
    bearing = series.get(int(given.bore)) if given.bore == int(given.bore) else None
    if bearing is None:
        bores = ", ".join(str(bore) for bore in series)
        faults.add(
            (*path, "bore"), f"is not in series {given.series}, whose bores are {bores} mm; or give max_angle instead"
        )
    elif not given.spacers and given.eye_diameter is None:
        faults.add(
            (*path, "eye_diameter"),
            "is missing; without spacers the eye meets the cheeks, so measure across the eye's outside",
        )
    elif given.spacers and given.eye_diameter is not None:
        faults.add(
            (*path, "eye_diameter"),
            "counts only without spacers; write spacers = false too, or leave it out",
        )
    elif given.eye_diameter is not None and given.eye_diameter <= bearing.ball_diameter:
        ball = tables.unit.say(bearing.ball_diameter)
        faults.add((*path, "eye_diameter"), f"must be more than the ball's diameter of {ball}; measure across the eye")


def check_steering_gear(tables: Tables, faults: FaultList) -> None:
    """Note a rack beside a steering box, and a pitman arm that cannot swing the joint."""
    steering = tables.steering
    pitman = steering.pitman
    if pitman is None:
        return
    if steering.rack_travel is not None:
        faults.add(("steering", "rack_travel"), "pitman is given too; a vehicle has a rack or a steering box: keep one")
    if not any(pitman.axis):
        faults.add(("steering", "pitman", "axis"), "has no direction, all three are 0; an upright shaft is [0, 0, 1]")
    elif _pitman_radius(pitman, steering.inner_joint) < TOUCHING:
        faults.add(
            ("steering", "pitman", "pivot"),
            "puts the inner joint on the shaft's own line, so turning it moves nothing; measure the shaft again",
        )


def _pitman_radius(pitman: PitmanTable, joint: list[float]) -> float:
    axis, arm = np.array(pitman.axis), np.array(joint) - np.array(pitman.pivot)
    return float(norm(cross(axis, arm)) / norm(axis))


def check_shock(tables: Tables, faults: FaultList) -> None:
    """Note a shock without stroke, and one whose length at ride lies outside its stroke."""
    shock = tables.shock
    if shock is None:
        return
    say = tables.unit.say
    if shock.collapsed >= shock.extended:
        faults.add(
            ("shock", "collapsed"),
            f"must be less than extended, {say(shock.extended)}; both are measured eye to eye: swap the two?",
        )
        return
    at_ride = float(norm(np.array(shock.lower_mount) - np.array(shock.upper_mount)))
    if not shock.collapsed < at_ride < shock.extended:
        faults.add(
            ("shock", "upper_mount"),
            f"stands {say(at_ride)} from lower_mount at ride, outside the stroke of {say(shock.collapsed)} to "
            f"{say(shock.extended)}; check both mounts (axes of the frame) and both lengths",
        )


def check_strap(tables: Tables, faults: FaultList) -> None:
    """Note a limit strap without length."""
    strap = tables.strap
    if strap is not None and norm(np.array(strap.arm_point) - np.array(strap.frame_point)) < TOUCHING:
        faults.add(("strap", "frame_point"), "is where arm_point is; a strap runs from the arm to the frame")


def check_baseline_hole(tables: Tables, faults: FaultList) -> None:
    """Note a first idea in a hole the spindle has not."""
    baseline, count = tables.baseline, len(tables.spindle.upper_pivots)
    if baseline is not None and baseline.upper_hole is not None and baseline.upper_hole > count:
        faults.add(
            ("baseline", "upper_hole"),
            f"is more than the {count} point{'s' if count > 1 else ''} of spindle.upper_pivot; count from 1",
        )


PART_CHECKS = (check_joints, check_steering_gear, check_shock, check_strap, check_baseline_hole)
