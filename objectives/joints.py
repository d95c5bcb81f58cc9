"""Every joint that can run out of angle: the rod ends of the tie rod and the arms' outer ball joints.

Each is followed by a smooth curve that falls as the joint tilts. A rod end is free to turn about its own bolt, so
only the rod's lean out of the square counts: cos^2 of the angle is 1 less the square of the cosine between bolt and
rod. In a ball joint stud and housing part by an angle whose cosine is that between their two directions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from objectives import chebyshev
from objectives.arms import Arm, carried
from objectives.corner import BallJoint, Corner
from objectives.frame import Frame
from objectives.linkage import pose
from objectives.sweep import Sweep
from objectives.vectors import Array, beside, dot, norm


@dataclass(frozen=True)
class Joint:
    """One joint.

    Attributes
    ----------
    column
        Identifier, that of its angle in `Curves`.
    name
        In words.
    max_angle
        Radians.
    straightness
        Smooth curve, shape (K, N): the cosine of the joint's angle to some power.
    power
        That power.
    tilt
        The angle itself, radians, shape (K, N), with all its digits near zero.
    """

    column: str
    name: str
    max_angle: float
    straightness: Callable[[Sweep], Array]
    power: int
    tilt: Callable[[Sweep], Array]

    @property
    def least(self) -> float:
        """Straightness at the largest angle."""
        return float(np.cos(self.max_angle) ** self.power)

    def angle(self, straightness: Array) -> Array:
        """Angle, radians, at a straightness."""
        found: Array = np.arccos(np.clip(straightness, 0.0 if self.power == 2 else -1.0, 1.0) ** (1.0 / self.power))
        return found

    def least_over(self, sweep: Sweep) -> Array:
        """Least straightness over a sweep, shape (N,)."""
        least: Array = chebyshev.peaked(self.straightness(sweep), (), chebyshev.TURNS)[0].min(axis=0)
        return least


def joints_of(corner: Corner) -> tuple[Joint, ...]:
    """The joints of a corner: both rod ends, and the arms' outer joints where they are given."""
    steering = corner.steering
    found = [
        Joint("outer_rod_end", "outer rod end", steering.outer_rod_end.max_angle, _outer_rod_end, 2, _outer_tilt),
        Joint("inner_rod_end", "inner rod end", steering.inner_rod_end.max_angle, _inner_rod_end, 2, _inner_tilt),
    ]
    if corner.upper_outer_joint is not None:
        found.append(_ball_joint("upper", corner.upper_outer_joint))
    if corner.lower_outer_joint is not None:
        found.append(_ball_joint("lower", corner.lower_outer_joint))
    return tuple(found)


def _outer_rod_end(sweep: Sweep) -> Array:
    return 1.0 - sweep.outer_rod_end**2


def _outer_tilt(sweep: Sweep) -> Array:
    return np.arcsin(np.minimum(np.abs(sweep.outer_rod_end), 1.0))


def _inner_tilt(sweep: Sweep) -> Array:
    return np.arcsin(np.minimum(np.abs(sweep.inner_rod_end), 1.0))


def _inner_rod_end(sweep: Sweep) -> Array:
    return 1.0 - sweep.inner_rod_end**2


def _ball_joint(arm: Arm, joint: BallJoint) -> Joint:
    def cosine(sweep: Sweep) -> Array:
        return dot(*_directions(sweep, arm, joint))

    def tilt(sweep: Sweep) -> Array:
        on_spindle, on_arm = _directions(sweep, arm, joint)
        apart: Array = 2.0 * np.arcsin(np.minimum(0.5 * norm(on_spindle - on_arm), 1.0))
        return apart

    return Joint(f"{arm}_outer_joint", f"{arm} outer joint", joint.max_angle, cosine, 1, tilt)


def _directions(sweep: Sweep, arm: Arm, joint: BallJoint) -> tuple[Array, Array]:
    """The spindle's and the arm's direction of a ball joint, shape (3, K, N) each.

    What stands in line with the other at ride does so in the corner as designed; as built it is welded like that.
    """
    designed = sweep.placed.design or sweep.placed
    measured = designed.measured.frame
    on_arm, on_spindle = joint.arm_axis, joint.spindle_axis
    parts = None if on_spindle is None else measured.parts(on_spindle)
    if on_arm is None or parts is None:
        at_ride = pose(designed, designed.ride_angle[None]).frame
        if parts is None:
            assert on_arm is not None, "a ball joint has at least one of its two directions"
            parts = at_ride.parts(on_arm[:, None, None])[:, 0]
        else:
            on_arm = at_ride.carry(parts)[:, 0]
    if sweep.placed.design is not None:
        # the same directions in the frame of a spindle whose pivots are a little elsewhere
        each = Frame(*(beside(axis, 1) for axis in (measured.kingpin, measured.steer, measured.square)))
        parts = sweep.placed.measured.frame.parts(each.carry(parts))
    return sweep.pose.frame.carry(parts), carried(sweep, arm, on_arm)
