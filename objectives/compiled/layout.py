"""What compiled functions work on: records of plain numbers, mm and radians, and how a corner is written into them.

Vectors are x, y, z. Names are those of `objectives.corner`, `objectives.ride` and `objectives.frame`.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from objectives.between import ROUNDS
from objectives.chebyshev import TURNS
from objectives.corner import BallJoint, Corner, Shock
from objectives.frame import SPIN as SPIN_AXIS
from objectives.frame import Measured
from objectives.inner_joint import TOE_GRID
from objectives.ride import installed, lower_circle
from objectives.steering import SHARES, left_turn
from objectives.sweep import POINTS as POINTS
from objectives.vectors import cross, dot

Record: TypeAlias = Any
"""One record; compiled functions are handed a pointer to it, and may write into it."""
Row: TypeAlias = NDArray[Any]
"""Numbers in a row."""

OUTER_ROD_END, INNER_ROD_END, UPPER_JOINT, LOWER_JOINT, SHOCK_OPEN, SHOCK_CLOSED = range(6)  # what may stop the wheel
LIMITS = 6
POSITIONS = len(SHARES)
CAP, SWING_ENDS, ARMS_LOCK, TIE_ROD_LOCKS = range(10, 14)  # what else stops it
CAMBER_ERROR, SCRUB, FENDER, DROOP, BUMP_STEER, BUMP = (1 << i for i in range(6))  # what is wanted

# rows of a sweep, a column for each place; the second line are the first of three rows each
COS, SIN, TRAVEL, TIE_SPARE, OUTER, INNER, TURN_COS, TURN_SIN, LIMIT = range(9)
JOINT, LOWER, KINGPIN, STEER, WHEEL, SPIN, ROD = range(9, 30, 3)
ROWS = 30
LANES = 4  # numbers in a vector


def whole_vectors(count: int) -> int:
    """So many numbers, and as many more as fill the processor's vectors, so that none is worked out by itself."""
    return -(-count // LANES) * LANES


WIDTH = whole_vectors(POINTS)  # columns: those beyond the points of a sweep stand at its end once more

CORNER = np.dtype(
    [
        ("lower_centre", "f8", 3),
        ("lower_axis", "f8", 3),
        ("lower_outward", "f8", 3),
        ("lower_upward", "f8", 3),
        ("lower_radius", "f8"),
        ("lower_steepest", "f8"),
        ("lower_steepest_angle", "f8"),
        ("upper_axis", "f8", 3),
        ("pivot_x", "f8"),
        ("static_toe", "f8"),
        ("ground_z", "f8"),
        ("loaded_radius", "f8"),
        ("inner_joint", "f8", 3),
        ("joint_is_placed", "i8"),
        ("region_low", "f8", 2),
        ("region_high", "f8", 2),
        ("has_pitman", "i8"),
        ("input_at_left_lock", "f8"),
        ("pitman_arm", "f8", 3),
        ("pitman_across", "f8", 3),
        ("pitman_along", "f8", 3),
        ("positions", "i8"),
        ("shares", "f8", POSITIONS),
        ("rising", "i8", POSITIONS),  # positions from right lock to left lock
        ("droop", "f8"),
        ("bump", "f8"),
        ("droop_cap", "f8"),
        ("bump_cap", "f8"),
        ("inner_bolt", "f8", 3),
        ("limits", "i8"),
        ("limit_kind", "i8", LIMITS),
        ("limit_bound", "f8", LIMITS),
        ("spindle_side", "i8", 2),  # of the upper and the lower joint: whether each direction is given
        ("arm_side", "i8", 2),
        ("on_arm", "f8", (2, 3)),
        ("shock_is_on_upper", "i8"),
        ("shock_point", "f8", 3),
        ("shock_frame", "f8", 3),
        ("flat", "f8"),
        ("tall", "f8"),
        ("shoulder", "f8"),
    ]
)

HOLE = np.dtype(
    [
        ("lower_pivot", "f8", 3),  # from the wheel centre, pitch as installed; the next two too
        ("upper_pivot", "f8", 3),
        ("steering_pivot", "f8", 3),
        ("along", "f8"),
        ("off", "f8"),
        ("kingpin_length", "f8"),
        ("lower_parts", "f8", 3),
        ("spin_parts", "f8", 3),
        ("bolt_parts", "f8", 3),
        ("on_spindle", "f8", (2, 3)),
    ]
)

PLACED = np.dtype(
    [
        ("upper_centre", "f8", 3),
        ("upper_outward", "f8", 3),
        ("upper_upward", "f8", 3),
        ("upper_radius", "f8"),
        ("upper_side", "f8"),
        ("tie_side", "f8"),
        ("tie_rod_length", "f8"),
        ("ride_angle", "f8"),
        ("ride_height", "f8"),
        ("lower_outer", "f8", 3),
        ("upper_outer", "f8", 3),
        ("steering_outer", "f8", 3),
        ("inner_joint", "f8", 3),
        ("low_lock", "f8"),
        ("high_lock", "f8"),
        ("on_spindle", "f8", (2, 3)),
        ("on_arm", "f8", (2, 3)),
        *((name, HOLE[name]) for name in ("along", "off", "kingpin_length", "lower_parts", "spin_parts", "bolt_parts")),
    ]
)

# A sweep from low to high of the parameter whose sine gives the arm angle, the inner joint shifted by so much.
SWEEP = np.dtype(
    [
        ("middle", "f8"),
        ("half", "f8"),
        ("low", "f8"),
        ("high", "f8"),
        ("shift", "f8", 3),
        ("ride", "f8"),  # places of the ride pose and of the wheel centre at ride height
        ("level", "f8"),
        ("complete", "i8"),
        ("locks", "i8", 2),  # what locks at the lower end and at the upper one; the next two are those ends, too
        ("lock_angles", "f8", 2),
        ("end_angles", "f8", 2),
        ("travel_series", "f8", WIDTH),
        ("rows", "f8", (ROWS, WIDTH)),
    ]
)

# Room for what is worked out on the way.
ROOM = np.dtype(
    [
        *((name, "f8", WIDTH) for name in ("curve", "series", "more", "toe", "by_y", "by_z", "lines")),
        ("grid", "f8", whole_vectors(TURNS)),
        # places looked at side by side, each of a sweep of its own, and how they are settled (`sweeps.settle`)
        *(
            (name, "f8", whole_vectors(2 * POSITIONS))
            for name in ("places", "slopes", "levels", "off", "last", "moved")
        ),
        *((name, "i8", whole_vectors(2 * POSITIONS)) for name in ("of", "left")),
        *((name, "i8") for name in ("count", "row", "number")),  # of places; the row to settle, and of which limit
        ("limit_places", "f8", (2, LIMITS, POSITIONS)),  # downward and upward; the next three too
        ("stop_places", "f8", (2, POSITIONS)),
        ("stop_travel", "f8", (2, POSITIONS)),
        ("stop_why", "i8", (2, POSITIONS)),
        *((name, "f8", 2) for name in ("reach", "low", "high")),
        *((name, "f8", (3, whole_vectors(TOE_GRID))) for name in ("best", "fresh", "curves")),
        ("pair", "f8", 4),
        ("inverse", "f8", (3, 3)),
        ("held", "f8", 3),
        ("angles", "f8", POSITIONS),
        ("around", "f8", (2, 3, 3)),
        *((name, "f8", POSITIONS + ROUNDS) for name in ("at_shares", "depths", "looked_at", "looked")),
        *((name, "f8", 2) for name in ("cuts", "span")),
        ("end_places", "f8", (2, POSITIONS)),
    ]
)

# What is found of a candidate.
FOUND = np.dtype(
    [
        *((name, "f8") for name in ("arm_length", "tie_rod_length", "inner_joint_y", "inner_joint_z")),
        *((name, "f8") for name in ("camber_error", "camber_bump", "camber_droop", "scrub", "fender_clearance")),
        *((name, "f8") for name in ("bump_steer", "assembled_droop", "assembled_bump")),
        *(
            (f"{way}_{name}", kind)
            for way in ("droop", "bump")
            for name, kind in (("limit", "f8"), ("share", "f8"), ("why", "i8"))
        ),
        ("complete", "i8"),
    ]
)


ARGUMENTS: dict[str, np.dtype[Any] | type[int]] = {
    "corner": CORNER,
    "holes": HOLE,
    "pivots": np.dtype("f8"),  # (candidates, 3): pivot y, z and static camber
    "hole": np.dtype("i8"),  # (candidates,)
    "outlines": np.dtype("f8"),  # (corners, 2): all of bodywork
    "begins": np.dtype("i8"),  # (outlines + 1,): where each begins, and the last one's end
    "target": np.dtype("f8"),  # (bends, 2): travel and camber
    "placed": PLACED,
    "sweeps": SWEEP,  # (2 + 2 POSITIONS,)
    "room": ROOM,
    "found": FOUND,  # (candidates,)
    "done": np.dtype("?"),  # (candidates,)
    "candidates": int,
    "hole_count": int,
    "outline_count": int,
    "bends": int,
    "wanted": int,
}
"""What `measures.measure_all` is handed: whole numbers, and pointers to what is said here."""


def corner_record(corner: Corner) -> Record:
    """The corner as one record; every position of the steering and every limit among it.

    Raises
    ------
    GeometryError
        The settled points cannot be assembled.
    """
    record = np.zeros(1, CORNER)[0]
    lower, travel, tyre = lower_circle(corner), corner.travel, corner.tyre
    for name in ("centre", "axis", "outward", "upward", "radius", "steepest"):
        record[f"lower_{name}"] = getattr(lower, name)
    record["lower_steepest_angle"] = np.arctan2(lower.upward[2], lower.outward[2])
    record["upper_axis"], record["pivot_x"] = corner.upper_axis.direction, corner.upper_axis.pivot_x
    record["static_toe"], record["ground_z"] = corner.static_toe, corner.ground_z
    record["loaded_radius"] = tyre.loaded_radius
    record["droop"], record["bump"] = travel.droop, travel.bump
    record["droop_cap"], record["bump_cap"] = travel.droop_cap, travel.most_bump
    record["flat"], record["tall"] = 0.5 * tyre.width - tyre.shoulder_radius, tyre.radius - tyre.shoulder_radius
    record["shoulder"] = tyre.shoulder_radius
    _write_steering(record, corner)
    _write_limits(record, corner)
    return record


def _write_steering(record: Record, corner: Corner) -> None:
    """Write inner joint, its region, and what moves it."""
    steering = corner.steering
    record["inner_joint"] = steering.inner_joint
    if steering.inner_region is not None:
        record["joint_is_placed"] = 1
        record["region_low"], record["region_high"] = steering.inner_region.T
    record["positions"] = POSITIONS if steering.lock != 0.0 else 1
    record["shares"], record["rising"] = SHARES, np.argsort(SHARES)
    record["input_at_left_lock"] = steering.lock * left_turn(corner)
    if steering.pitman is not None:
        axis, arm = steering.pitman.axis, steering.inner_joint - steering.pitman.pivot
        record["has_pitman"], record["pitman_arm"] = 1, arm
        record["pitman_across"], record["pitman_along"] = cross(axis, arm), axis * dot(axis, arm)


def _write_limits(record: Record, corner: Corner) -> None:
    """In the order of `objectives.reach.limits_of`."""
    steering, shock = corner.steering, corner.shock
    found = [(OUTER_ROD_END, steering.outer_rod_end.max_angle, 2), (INNER_ROD_END, steering.inner_rod_end.max_angle, 2)]
    record["inner_bolt"] = steering.inner_rod_end.axis
    for kind, joint in ((UPPER_JOINT, corner.upper_outer_joint), (LOWER_JOINT, corner.lower_outer_joint)):
        if joint is not None:
            found.append((kind, joint.max_angle, 1))
            _write_joint(record, kind - UPPER_JOINT, joint)
    bounds = [(kind, float(np.cos(angle) ** power)) for kind, angle, power in found]
    if shock is not None:
        bounds += [(SHOCK_OPEN, shock.extended), (SHOCK_CLOSED, shock.collapsed)]
        _write_shock(record, shock)
    record["limits"] = len(bounds)
    for number, (kind, bound) in enumerate(bounds):
        record["limit_kind"][number], record["limit_bound"][number] = kind, bound


def _write_joint(record: Record, number: int, joint: BallJoint) -> None:
    """Write which of a ball joint's directions are given, and the arm's."""
    record["spindle_side"][number] = joint.spindle_axis is not None
    if joint.arm_axis is not None:
        record["arm_side"][number], record["on_arm"][number] = 1, joint.arm_axis


def _write_shock(record: Record, shock: Shock) -> None:
    """Write the points of the shock."""
    record["shock_is_on_upper"] = shock.link.arm == "upper"
    record["shock_point"], record["shock_frame"] = shock.link.arm_point, shock.link.frame_point


def hole_records(corner: Corner) -> Record:
    """The spindle with its upper pivot in each of its holes, a record for each."""
    spindle = corner.spindle
    uppers = [spindle.upper_pivot] if spindle.upper_holes is None else list(spindle.upper_holes.T)
    records = np.zeros(len(uppers), HOLE)
    joints = (corner.upper_outer_joint, corner.lower_outer_joint)
    for record, upper in zip(records, uppers, strict=True):
        measured = Measured.of(spindle.lower_pivot, upper, spindle.steering_pivot)
        points = {"lower_pivot": spindle.lower_pivot, "upper_pivot": upper, "steering_pivot": spindle.steering_pivot}
        for name, point in points.items():
            record[name] = installed(point, 0.0, 0.0, spindle.pitch)
        record["along"], record["off"] = measured.along, measured.off
        record["kingpin_length"] = np.sqrt(dot(upper - spindle.lower_pivot, upper - spindle.lower_pivot))
        record["lower_parts"], record["spin_parts"] = measured.lower_pivot, measured.frame.parts(SPIN_AXIS)
        record["bolt_parts"] = measured.frame.parts(corner.steering.outer_rod_end.axis)
        for number, joint in enumerate(joints):
            if joint is not None and joint.spindle_axis is not None:
                record["on_spindle"][number] = measured.frame.parts(joint.spindle_axis)
    return records
