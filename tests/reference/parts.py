"""Joints and arms judged from the points of a rigid-body sweep alone: rotations fitted to them, forces in balance.

Vectors here have x, y, z last, as in `rigid_body`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from objectives.corner import BallJoint, Candidates, Corner
from tests.reference import rigid_body

Array = NDArray[np.float64]


def turn_between(before: Array, after: Array) -> Rotation:
    """Rotation that takes vectors (K, 3) to others, fitted (Kabsch's method, scipy)."""
    return Rotation.align_vectors(after, before)[0]


def arm_turn(axis: Array, ride: Array, now: Array) -> Rotation:
    """Rotation of an arm about its inner axis, two points (2, 3), that takes its outer pivot from `ride` to `now`."""
    along = axis[1] - axis[0]
    return turn_between(np.array([along, ride - axis[0]]), np.array([along, now - axis[0]]))


def nominal_points(corner: Corner, candidates: Candidates) -> rigid_body.Hardpoints:
    """The corner at ride with the nominal static camber: where directions and points of the lower arm are given."""
    return rigid_body.hardpoints(corner, replace(candidates, static_camber=np.array([corner.static_camber])))


def ball_joint_angles(
    corner: Corner, candidates: Candidates, sweep: rigid_body.Sweep, arm: str, joint: BallJoint
) -> Array:
    """Angle between the spindle's and the arm's direction of an outer ball joint, radians (P,); NaN once locked."""
    points = rigid_body.hardpoints(corner, candidates)
    attitude = rigid_body.attitude(corner.spindle.pitch, float(candidates.static_camber[0]), corner.static_toe)
    # the lower arm is laid out at the nominal static camber, the upper one for each candidate
    laid_out = nominal_points(corner, candidates) if arm == "lower" else points
    axis = points.lower_axis if arm == "lower" else points.upper_axis
    outer = f"{arm}_outer"
    to_ride = arm_turn(axis, getattr(laid_out, outer), getattr(points, outer))
    on_spindle = None if joint.spindle_axis is None else attitude.apply(np.array(joint.spindle_axis))
    on_arm = None if joint.arm_axis is None else to_ride.apply(np.array(joint.arm_axis))
    on_spindle = on_arm if on_spindle is None else on_spindle
    on_arm = on_spindle if on_arm is None else on_arm
    names = ("lower_outer", "upper_outer", "steering_outer")
    at_ride = np.array([getattr(points, name) - points.wheel for name in names])
    angles = np.full(sweep.camber.shape, np.nan)
    for p in np.flatnonzero(np.isfinite(sweep.camber)):
        here = np.array([getattr(sweep, name)[:, p] - sweep.wheel[:, p] for name in names])
        stud = turn_between(at_ride, here).apply(on_spindle)
        housing = arm_turn(axis, getattr(points, outer), getattr(sweep, outer)[:, p]).apply(on_arm)
        angles[p] = np.arctan2(np.linalg.norm(np.cross(stud, housing)), stud @ housing)
    return angles


def mount_at(
    points: rigid_body.Hardpoints, laid_out: rigid_body.Hardpoints, arm: str, mount: Array, now: Array
) -> Array:
    """Place of a mount, given with the arm as `laid_out`, when the arm's outer pivot stands at `now`."""
    axis = points.lower_axis if arm == "lower" else points.upper_axis
    turn = arm_turn(axis, getattr(laid_out, f"{arm}_outer"), now)
    place: Array = axis[0] + turn.apply(np.array(mount) - axis[0])
    return place


def wheel_force(
    points: rigid_body.Hardpoints,
    sweep: rigid_body.Sweep,
    p: int,
    inner_joint: Array,
    arm: str,
    mount: Array,
    push: Array,
) -> float:
    """Vertical force at the wheel centre that holds a push on an arm in balance, in the push's unit.

    Unknown: the force of each arm on the spindle (three each), the tie rod's along itself, the wheel's. Balance: the
    spindle's forces and moments (six), each arm's moments about its inner axis (two).
    """
    lower, upper, steering, wheel = (
        getattr(sweep, name)[:, p] for name in ("lower_outer", "upper_outer", "steering_outer", "wheel")
    )
    rod = (steering - inner_joint) / np.linalg.norm(steering - inner_joint)
    balance, load = np.zeros((8, 8)), np.zeros(8)
    for first, at in ((0, lower), (3, upper)):
        balance[:3, first : first + 3] = np.eye(3)
        balance[3:6, first : first + 3] = np.cross(at - wheel, np.eye(3)).T
    balance[:3, 6], balance[3:6, 6] = rod, np.cross(steering - wheel, rod)
    balance[2, 7] = 1.0  # through the wheel centre, about which moments are taken
    for row, first, name, axis, at in (
        (6, 0, "lower", points.lower_axis, lower),
        (7, 3, "upper", points.upper_axis, upper),
    ):
        along = axis[1] - axis[0]
        balance[row, first : first + 3] = np.cross(
            along, at - axis[0]
        )  # the spindle's force on the arm is its opposite
        if name == arm:
            load[row] = along @ np.cross(mount - axis[0], push)
    return float(np.linalg.solve(balance, load)[7])
