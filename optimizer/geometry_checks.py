"""What cannot be, seen from the corner at ride: an arm out of reach, a bent rod end, no room for a pivot."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from objectives.corner import Candidates, Corner, GeometryError
from objectives.inverse import static_camber_for
from objectives.ride import installed, lower_arm_length, nominal_wheel_centre, place
from objectives.vectors import Array, cross, dot, norm, unit
from optimizer.defaults import Defaults
from optimizer.derive import Baseline, corner_of
from optimizer.faults import FaultList
from optimizer.part_checks import TOUCHING
from optimizer.schema import TABLES, BodyworkTable, JointsTable, TargetsTable, TravelTable
from optimizer.space import PivotSpace, area, crosses_itself
from optimizer.tables import Tables
from optimizer.units import Unit

ROOM_GRID = 201
"""Points each way at which the pivot range is searched for a place a bracket can go."""

ROLL_SLACK = 1.1
"""Of the travel that half the track asks for in roll: scrub and camber change it by a few per cent."""

LENGTH_GRID = 25
"""Points each way at which the arm lengths of the pivot range are computed."""


def at_ride(tables: Tables) -> Tables:
    """Replace the tables that do not bear on the ride pose, so that their faults hide none of it."""
    return dataclasses.replace(
        tables,
        travel=TravelTable.model_construct(bump=1.0, droop=1.0, droop_cap=1.0),
        bodywork=BodyworkTable(),
        joints=JointsTable(),
        shock=None,
        wheel=None,
        obstacles=(),
        targets=_no_targets(),
    )


def _no_targets() -> TargetsTable:
    made = TABLES["targets"]()
    assert isinstance(made, TargetsTable)
    return made


def check_ride(tables: Tables, faults: FaultList) -> Corner | None:
    """Assemble the lower arm; return the corner, or None after noting why it cannot be."""
    try:
        with np.errstate(all="ignore"):
            corner = corner_of(tables, Defaults(tables.unit))
    except GeometryError as error:
        faults.add(("lower_arm", "length"), f"{error}; give a longer arm or check inner_pivot")
        return None
    if tables.lower_arm.length is not None and not corner.half_track > 0.0:
        faults.add(
            ("lower_arm", "length"),
            "puts the wheel on the far side of the vehicle's centre plane; check the length and the sign of "
            "inner_pivot's y, which grows towards the wheel",
        )
        return None
    try:
        with np.errstate(all="ignore"):
            lower_arm_length(corner)
    except GeometryError as error:
        faults.add(("lower_arm", "inner_pivot"), f"{error}; check its y and z, and vehicle.track and ride_height")
        return None
    return corner


def check_roll(corner: Corner, tables: Tables, faults: FaultList) -> None:
    """Note a body roll that takes more wheel travel than is required."""
    travel = tables.travel
    if travel.roll is None:
        return
    way = "bump" if travel.bump <= travel.droop else "droop"
    most, needed = min(travel.bump, travel.droop), corner.half_track * math.tan(travel.roll)
    if needed > ROLL_SLACK * most:
        unit = tables.unit
        faults.add(
            ("travel", "roll"),
            f"takes about {unit.brief(needed)} of wheel travel each way, more than travel.{way} of {unit.say(most)}; "
            f"at most about {math.degrees(math.atan(most / corner.half_track)):.1f} degrees fit",
        )


def check_steering(corner: Corner, faults: FaultList) -> None:
    """Note a tie rod without length or lever, and a rod end that is past its angle before the wheel moves."""
    points = corner.spindle
    wheel = nominal_wheel_centre(corner)
    lower, upper, outer = (
        wheel + _turned(point, corner) for point in (points.lower_pivot, points.upper_pivot, points.steering_pivot)
    )
    tie_rod = outer - corner.steering.inner_joint
    if norm(tie_rod) < TOUCHING:
        faults.add(
            ("steering", "inner_joint"),
            "is where the outer joint is at ride, so the tie rod has no length; measure it from the "
            "vehicle's "
            "centre plane and the frame datum",
        )
        return
    lever = abs(dot(cross(unit(upper - lower), outer - lower), unit(tie_rod)))
    if lever < TOUCHING:
        faults.add(
            ("steering", "inner_joint"),
            "puts the tie rod in line with the steering axis, so it cannot turn the wheel; "
            "check it and spindle.steering_pivot",
        )
    if corner.steering.inner_region is None:  # else every candidate has a joint, and angles, of its own
        _check_rod_end(corner, "outer_rod_end", tie_rod, faults)
        _check_rod_end(corner, "inner_rod_end", tie_rod, faults)


def _turned(v: Array, corner: Corner) -> Array:
    return installed(v, corner.static_camber, corner.static_toe, corner.spindle.pitch)


def _check_rod_end(corner: Corner, name: str, tie_rod: Array, faults: FaultList) -> None:
    outer = name == "outer_rod_end"
    end = corner.steering.outer_rod_end if outer else corner.steering.inner_rod_end
    axis = _turned(end.axis, corner) if outer else end.axis
    angle = math.asin(min(1.0, abs(float(dot(axis, unit(tie_rod))))))
    if angle <= end.max_angle:
        return
    frame = "the measured spindle's frame" if outer else "the frame's axes"
    faults.add(
        ("steering", name, "max_angle"),
        f"the rod end already stands at {math.degrees(angle):.1f} degrees at ride, before the wheel "
        "moves; check "
        f"axis (the bolt's direction in {frame}) and the joints, or turn the bolt square to the tie rod",
    )


def check_ball_joints(corner: Corner, tables: Tables, faults: FaultList) -> None:
    """Note an arm's outer joint that is past its angle before the wheel moves."""
    jointed = corner_of(dataclasses.replace(at_ride(tables), joints=tables.joints), Defaults(tables.unit))
    for name, joint in (("upper_outer", jointed.upper_outer_joint), ("lower_outer", jointed.lower_outer_joint)):
        if joint is None or joint.spindle_axis is None or joint.arm_axis is None:
            continue  # what is left out stands in line at ride
        apart = math.acos(max(-1.0, min(1.0, float(dot(_turned(joint.spindle_axis, corner), joint.arm_axis)))))
        if apart > joint.max_angle:
            faults.add(
                ("joints", name, "housing_axis"),
                f"stands {math.degrees(apart):.1f} degrees from axis at ride, more than the joint's "
                f"{tables.unit.brief(joint.max_angle, 'angle')}, before the wheel moves; both directions leave the "
                "joint on the same side, so turn one round if they are opposite, or check both",
            )


def check_space(space: PivotSpace, faults: FaultList) -> None:
    """Note a region that is no region, and ranges with no place for a bracket."""
    if space.region is not None and not _check_region(space.region, faults):
        return
    y, z = space.grid(ROOM_GRID)
    if y.size == 0 or not np.any(space.outside_region(y, z) <= 0.0):
        faults.add(
            ("upper_arm", "region"),
            "does not overlap the ranges of pivot_y and pivot_z; its corners are [y, z], in that order",
        )
    elif not np.any(space.allows(y, z)):
        faults.add(
            ("upper_arm", "keep_out"),
            f"leaves no place for the pivot (none of {y.size} places tried over pivot_y and pivot_z "
            "is free); "
            "widen a range or shrink a keep-out",
        )


def _check_region(region: Array, faults: FaultList) -> bool:
    closed = bool(np.any(np.all(region == np.roll(region, -1, axis=0), axis=1)))
    if closed:
        faults.add(
            ("upper_arm", "region"),
            "has a corner twice in a row; name each corner once, the last joins the first by itself",
        )
    elif crosses_itself(region):
        faults.add(("upper_arm", "region"), "crosses itself; list the corners in order around the edge")
    elif area(region) < TOUCHING**2:
        faults.add(("upper_arm", "region"), "has no area: its corners lie on a line; list corners around an area")
    else:
        return True
    return False


def check_upper_arm(corner: Corner, space: PivotSpace, unit: Unit, faults: FaultList) -> None:
    """Note a static camber the lower arm cannot stand at, and arm lengths no pivot in the ranges can have."""
    y, z = space.grid(LENGTH_GRID)
    cambers = np.unique(np.linspace(*space.static_camber, 5))
    holes = 1 if corner.spindle.upper_holes is None else corner.spindle.upper_holes.shape[1]
    y, z, camber, hole = (part.ravel() for part in _every(y, z, cambers, np.arange(holes)))
    with np.errstate(all="ignore"):
        placed = place(corner, Candidates(y, z, camber, hole))
        lengths = placed.upper.radius
        standing = np.isfinite(placed.ride_angle) & np.isfinite(lengths)
    if not np.any(standing):
        faults.add(
            ("upper_arm", "static_camber"),
            "no static camber in this range can stand on the ground with the settled lower arm; "
            "bring it nearer to vehicle.static_camber",
        )
        return
    shortest, longest = float(lengths[standing].min()), float(lengths[standing].max())
    between = _spacing(space)
    if longest < TOUCHING:
        faults.add(("upper_arm", "pivot_y"), "leaves the upper arm no length; move the pivot inboard")
    elif space.length[1] < shortest - between or space.length[0] > longest + between:
        step = unit.mm / 16 if unit.name == "inch" else 1.0
        faults.add(
            ("upper_arm", "length"),
            f"cannot be had: pivots in these ranges give arms of {unit.tape(shortest, step)} to "
            f"{unit.tape(longest, step)}; change length, pivot_y or pivot_z",
        )


def _every(y: Array, z: Array, cambers: Array, holes: NDArray[np.intp]) -> tuple[NDArray[Any], ...]:
    """Every pivot with every static camber in every hole, shape (pivots, cambers, holes) each."""
    shape = y.size, cambers.size, holes.size
    apart = (y[:, None, None], z[:, None, None], cambers[:, None], holes)
    return tuple(np.broadcast_to(part, shape) for part in apart)


def _spacing(space: PivotSpace) -> float:
    """Farthest a pivot can lie from a grid point, mm: what the grid may miss of an arm length."""
    spans = (space.pivot_y, space.pivot_z)
    return math.hypot(*((high - low) / (LENGTH_GRID - 1) for low, high in spans))


def check_baseline(corner: Corner, baseline: Baseline, units: Unit, faults: FaultList) -> None:
    """Note a first idea whose arm cannot have the length given for it, or that does not stand at ride."""
    pivot = np.array([baseline.pivot_y]), np.array([baseline.pivot_z])
    hole = np.array([baseline.hole])
    if baseline.arm_length is None:
        camber = np.array([corner.static_camber if baseline.static_camber is None else baseline.static_camber])
        if np.isnan(place(corner, Candidates(*pivot, camber, hole)).ride_angle[0]):
            faults.add(("baseline", "static_camber"), "leaves the lower arm out of reach; give one nearer to vehicle's")
        return
    if np.isnan(static_camber_for(corner, *pivot, np.array([baseline.arm_length]), hole)[0]):
        nominal = Candidates(*pivot, np.array([corner.static_camber]), hole)
        length = float(place(corner, nominal).upper.radius[0])
        faults.add(
            ("baseline", "arm_length"),
            f"cannot reach from this pivot at any sensible camber; at the nominal static camber the arm is "
            f"{units.brief(length)} long: check it and pivot_y, pivot_z",
        )
