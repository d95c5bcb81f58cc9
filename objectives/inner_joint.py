"""The inner tie-rod joint with the least bump steer inside its region, for every candidate.

With toe held, the outer joint runs on a path close to a circle; a joint at the circle's centre would keep the tie
rod's length and so the toe. That is the first guess. From there toe through travel is made linear in the joint's
y and z and its range made least inside the region, a few times over.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.corner import Candidates, Corner
from objectives.linkage import pose
from objectives.lockup import lock_angles
from objectives.minimax import least_range
from objectives.ride import Placed, angle_at_height, place
from objectives.steering import AHEAD
from objectives.sweep import POINTS, Steered, Sweep, resteer, steer
from objectives.vectors import Array, cross, dot, over, unit, vector

TOE_GRID = 25  # places at which toe is read; they crowd towards the ends like a sweep's own points
ROUNDS = (3, 3, 3, 8)  # steps for all candidates, and more for those that have not settled
WORTH_A_STEP = np.radians(1e-5)  # of bump steer: what is not worth another step


def assembled(corner: Corner, candidates: Candidates) -> Placed:
    """Candidates at ride as `place` puts them, each with its own inner joint where the corner has a region for it."""
    placed = place(corner, candidates)
    if corner.steering.inner_region is None:
        return placed
    return placed.with_inner_joint(best_inner_joint(placed))


def best_inner_joint(placed: Placed) -> Array:
    """Inner joint with the least bump steer over the required travel, inside `Steering.inner_region`.

    Parameters
    ----------
    placed
        N candidates; their own inner joints give x.

    Returns
    -------
    Shape (3, N), mm.
    """
    region = placed.corner.steering.inner_region
    assert region is not None
    joint = _first_guess(placed)
    joint[1:] = np.clip(joint[1:], region[:, :1], region[:, 1:])
    reach = np.repeat(region[:, 1:] - region[:, :1], joint.shape[1], axis=1)
    low, high = lock_angles(placed)
    for rounds in ROUNDS:
        # most settle in the first few rounds; the others go on alone
        left = np.flatnonzero((reach > 0.0).any(axis=0))
        if left.size:
            steered = steer(placed.take(left).with_inner_joint(joint[:, left]), AHEAD, locks=(low[left], high[left]))
            joint[:, left], reach[:, left] = _descend(steered, reach[:, left], region, rounds)
    return joint


@np.errstate(over="ignore", invalid="ignore")  # near a lock of the tie rod slopes grow beyond all bounds
def _descend(steered: Steered, reach: Array, region: Array, rounds: int) -> tuple[Array, Array]:
    """Better joints after some rounds, and how far the next may move each: 0 where nothing is left to gain."""
    placed = steered.whole.placed
    best = _Linear.of(placed.inner_joint, steered.required)
    for _ in range(rounds):
        low, high = (
            np.maximum(region[:, :1] - best.joint[1:], -reach),
            np.minimum(region[:, 1:] - best.joint[1:], reach),
        )
        step = least_range(best.toe, best.by_y, best.by_z, low, high)
        gain = best.spread - np.ptp(best.toe + step[0] * best.by_y + step[1] * best.by_z, axis=0)
        joint = best.joint + np.concatenate((np.zeros((1, step.shape[1])), step))
        fresh = _Linear.of(joint, resteer(steered, placed.with_inner_joint(joint)))
        better = fresh.spread < best.spread
        best = fresh.where(better, best)
        # a step that made it worse was too long for a straight line
        reach = np.where(gain > WORTH_A_STEP, reach * np.where(better, 0.5, 0.2), 0.0)
    return best.joint, reach


class _Linear(NamedTuple):
    """Toe read on a grid (K, N) for inner joints (3, N), and its slopes by the joint's y and z."""

    joint: Array
    toe: Array
    by_y: Array
    by_z: Array

    @classmethod
    def of(cls, joint: Array, sweep: Sweep) -> _Linear:
        return cls(joint, *chebyshev.peaked(sweep.toe, _toe_by_joint(sweep), TOE_GRID))

    @property
    def spread(self) -> Array:
        return np.ptp(self.toe, axis=0)

    def where(self, mask: NDArray[np.bool_], other: _Linear) -> _Linear:
        return _Linear(*(np.where(mask, mine, theirs) for mine, theirs in zip(self, other, strict=True)))


def _first_guess(placed: Placed) -> Array:
    """Centre, at the joint's own x, of the circle nearest to the outer joint's path with toe held; shape (3, N)."""
    lower, travel = placed.lower, placed.corner.travel
    ride = lower.at(placed.ride_angle)[2]
    height = chebyshev.points(POINTS)[:, None]
    height = ride + np.where(height < 0.0, travel.droop, travel.bump) * height
    rise = np.clip((height - lower.centre[2]) / lower.radius, -lower.steepest, lower.steepest)
    path = _toe_held(placed, angle_at_height(lower, rise))
    path[0] -= placed.inner_joint[0]
    # |P - J|^2 = const is linear in J: least squares in the two numbers left
    y, z, square = (part - part.mean(axis=0) for part in (path[1], path[2], 0.5 * dot(path, path)))
    yy, zz, yz = (y * y).sum(axis=0), (z * z).sum(axis=0), (y * z).sum(axis=0)
    right_y, right_z = (y * square).sum(axis=0), (z * square).sum(axis=0)
    size = np.maximum(yy * zz - yz * yz, 1e-12 * yy * zz)
    found = (zz * right_y - yz * right_z) / size, (yy * right_z - yz * right_y) / size
    return np.stack((placed.inner_joint[0], *found))


def _toe_held(placed: Placed, angle: Array) -> Array:
    """Path of the outer joint at lower-arm angles (K, N) when the wheel keeps its toe; shape (3, K, N)."""
    measured = placed.measured
    spin = measured.spin
    toe = placed.corner.static_toe
    where = pose(placed, angle)
    kingpin = unit(where.upper_outer - where.lower_outer)
    # the spin axis lies square to the direction in which a wheel with this toe rolls
    roll = over(vector(np.cos(toe), -np.sin(toe), 0.0), 2)
    lean = dot(roll, kingpin)
    forward = unit(roll - lean * kingpin)
    outboard = cross(kingpin, forward)
    cosine = -spin[0] * lean / np.sqrt(1.0 - lean * lean) / np.hypot(spin[1], spin[2])
    turn = np.arccos(np.clip(cosine, -1.0, 1.0)) - np.arctan2(spin[2], spin[1])
    return (
        where.lower_outer + measured.along * kingpin + measured.off * (np.cos(turn) * forward + np.sin(turn) * outboard)
    )


def _toe_by_joint(sweep: Sweep) -> tuple[Array, Array]:
    """Change of toe, at a given travel, by the joint's y and by its z; radians per mm, shape (K, N) each.

    A moved joint moves the ride pose's rod along with it, so only the difference of the rod's directions counts:
    with t the rod's direction and t0 that at ride, the spindle turns about the kingpin by (t - t0).dJ over the
    speed of the outer joint along the rod. That also lifts the wheel, which shifts the travel toe is read at.
    """
    where, frame = sweep.pose, sweep.pose.frame
    rod = where.tie_rod
    at_ride = (sweep.placed.steering_outer - sweep.placed.inner_joint) / sweep.placed.tie_rod_length
    speed = sweep.placed.measured.off * dot(rod, frame.square)
    swing = cross(frame.kingpin, where.spin)
    level = where.spin[0] ** 2 + where.spin[1] ** 2
    toe = (where.spin[1] * swing[0] - where.spin[0] * swing[1]) / level
    lift = cross(frame.kingpin, where.wheel - where.lower_outer)[2]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = chebyshev.slopes(sweep.toe) / chebyshev.slopes(sweep.travel)
        by_turn = np.nan_to_num((toe - slope * lift) / speed, posinf=0.0, neginf=0.0)
    by_y, by_z = (by_turn * (rod[axis] - at_ride[axis]) for axis in (1, 2))
    return by_y, by_z
