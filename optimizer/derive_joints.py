"""From tables to steering, joints, shock and strap."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from objectives.corner import BallJoint, Corner, Link, Pitman, RodEnd, Shock, Steering
from objectives.ride import installed
from objectives.vectors import Array, read_only, unit, vector
from optimizer.bearings import SERIES, SOURCE
from optimizer.defaults import Defaults
from optimizer.schema import BallJointTable, JointTable, PitmanTable, RodEndTable, ShockTable, SteeringTable
from optimizer.tables import Tables

FAULTY_ANGLE = 0.1
"""Radians; stands in for a joint's angle that is missing, a fault noted elsewhere, so that it hides no other."""


def steering_of(tables: Tables, defaults: Defaults) -> Steering:
    """Build the steering: joint, rod ends, and rack or pitman arm."""
    steering = tables.steering
    region = steering.inner_region
    return Steering(
        inner_joint=vector(*steering.inner_joint),
        outer_rod_end=_rod_end_of("steering.outer_rod_end", steering.outer_rod_end, defaults),
        inner_rod_end=_rod_end_of("steering.inner_rod_end", steering.inner_rod_end, defaults),
        rack_travel=_rack_travel_of(steering, defaults),
        inner_region=None if region is None else np.array([region.y, region.z]),
        pitman=_pitman_of(steering.pitman),
    )


def _rack_travel_of(steering: SteeringTable, defaults: Defaults) -> float:
    if steering.pitman is not None:
        return 0.0
    return defaults.fill("steering.rack_travel", steering.rack_travel, 0.0, "length", "checked straight ahead only")


def _pitman_of(table: PitmanTable | None) -> Pitman | None:
    if table is None:
        return None
    return Pitman(pivot=vector(*table.pivot), axis=_direction(table.axis), angle=table.angle)


def _rod_end_of(key: str, table: RodEndTable, defaults: Defaults) -> RodEnd:
    return RodEnd(axis=_direction(table.axis), max_angle=_max_angle_of(key, table, defaults))


def _direction(written: Sequence[float]) -> Array:
    axis = np.array(written, dtype=float)
    scale = float(np.abs(axis).max()) or 1.0
    with np.errstate(invalid="ignore"):  # an axis of three zeros is refused by name
        return vector(*unit(axis / scale))


def _max_angle_of(key: str, table: JointTable, defaults: Defaults) -> float:
    """Return a joint's largest tilt, radians: as given, or that of its bearing."""
    if table.max_angle is not None:
        return table.max_angle
    given = table.bearing
    bearing = None if given is None else SERIES.get(given.series, {}).get(int(given.bore))
    if given is None or bearing is None:
        return FAULTY_ANGLE
    why = f"series {given.series}, bore {given.bore:g} mm: {SOURCE}"
    tilt = bearing.tilt
    if not given.spacers and given.eye_diameter is not None:
        tilt = bearing.tilt_between_cheeks(given.eye_diameter)
        full = defaults.unit.brief(bearing.tilt, "angle")
        why += f"; without spacers the eye meets the cheeks, with spacers it would be {full}"
    return defaults.fill(f"{key}.max_angle", None, tilt, "angle", why)


def ball_joint_of(name: str, table: BallJointTable | None, corner: Corner, defaults: Defaults) -> BallJoint | None:
    """Build an arm's outer joint; where nothing else is said, its housing is square to the stud at ride."""
    if table is None:
        return None
    stud = _direction(table.axis)
    housing = None if table.housing_axis is None else _direction(table.housing_axis)
    if housing is None:
        why = f"the {'arm' if table.carried_by == 'spindle' else 'spindle'}'s side is set in line with the stud at ride"
        defaults.note(f"joints.{name}.housing_axis", "as axis at ride", why)
    on_spindle, on_arm = (stud, housing) if table.carried_by == "spindle" else (housing, stud)
    if name == "lower_outer":  # the lower arm is one part for all candidates
        on_spindle, on_arm = _both_directions(on_spindle, on_arm, corner)
    return BallJoint(on_spindle, on_arm, _max_angle_of(f"joints.{name}", table, defaults))


def _both_directions(on_spindle: Array | None, on_arm: Array | None, corner: Corner) -> tuple[Array, Array]:
    """The spindle's and the arm's direction of a joint, the one left out in line with the other at nominal ride."""
    axes = [installed(e, corner.static_camber, corner.static_toe, corner.spindle.pitch) for e in np.eye(3)]
    if on_spindle is None:
        assert on_arm is not None, "a joint's stud is always given"
        on_spindle = np.array([float(e @ on_arm) for e in axes])
    if on_arm is None:
        on_arm = on_spindle[0] * axes[0] + on_spindle[1] * axes[1] + on_spindle[2] * axes[2]
    return read_only(on_spindle), read_only(on_arm)


def shock_of(table: ShockTable | None) -> Shock | None:
    """Build the shock, if the scenario has one."""
    if table is None:
        return None
    link = Link(table.arm, vector(*table.lower_mount), vector(*table.upper_mount))
    return Shock(link, extended=table.extended, collapsed=table.collapsed)


def bores_of(tables: Tables) -> dict[str, float]:
    """Return the bore (mm) of every joint whose bearing is given, by the joint's name."""
    joints: dict[str, JointTable | None] = {
        "outer rod end": tables.steering.outer_rod_end,
        "inner rod end": tables.steering.inner_rod_end,
        "upper outer joint": tables.joints.upper_outer,
        "lower outer joint": tables.joints.lower_outer,
    }
    return {name: joint.bearing.bore for name, joint in joints.items() if joint is not None and joint.bearing}


def strap_of(tables: Tables) -> Link | None:
    """Build the limit strap's two ends, if the scenario has one."""
    strap = tables.strap
    return None if strap is None else Link(strap.arm, vector(*strap.arm_point), vector(*strap.frame_point))
