"""The moving corner in closed form: lower-arm angle in, every point of the corner out.

Each loop is a point of a circle at a known distance from a known point: the upper outer pivot about the upper
inner axis at the kingpin's length from the lower outer pivot, then the steering pivot about the kingpin at the
tie rod's length from the inner joint. Nothing iterates.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from objectives.ride import Placed
from objectives.vectors import Array, beside, cross, dot, norm, over, unit, vector

SPIN = vector(0.0, 1.0, 0.0)  # spin axis in the measured spindle, pointing outboard
STRAIGHT = vector(0.0, 0.0, 0.0)  # no shift of the inner joint


def circle_point(
    centre: Array,
    axis: Array,
    radius: Array | float,
    target: Array,
    distance: Array | float,
    side: Array | float,
) -> tuple[Array, Array]:
    """Point of a circle at a given distance from a target.

    With p towards the target square to the axis and q = axis x p, the point is centre + radius (p cos t +
    q sin t), and |point - target| = distance leaves one equation, linear in cos t.

    Parameters
    ----------
    centre, axis, target
        Shape (3, ...), `axis` of length one; they broadcast.
    radius, distance
        Of the circle, and from the point to the target, mm.
    side
        +1 or -1: the sign of sin t.

    Returns
    -------
    point
        Shape (3, ...). Where out of reach it is the nearest the circle comes, and `spare` is negative.
    spare
        sin^2 t: 1 when the two bars stand square, 0 where they lie in line and lock, negative out of reach.
    """
    gap = target - centre
    along = dot(gap, axis)
    across = gap - along * axis
    reach = np.sqrt(dot(across, across))
    towards = across / reach
    cosine = (radius**2 + reach**2 + along**2 - distance**2) / (2.0 * radius * reach)
    spare = (1.0 - cosine) * (1.0 + cosine)
    sine = side * np.sqrt(np.maximum(spare, 0.0))
    cosine = np.clip(cosine, -1.0, 1.0)
    return centre + radius * (cosine * towards + sine * cross(axis, towards)), spare


@dataclass(frozen=True)
class Frame:
    """Three unit vectors carried by the spindle: up the kingpin, to the steering pivot, and square to both."""

    kingpin: Array
    steer: Array
    square: Array

    def carry(self, parts: Array) -> Array:
        """Vector with these three components, shape (3,) or (3, N), in the frame's axes, shape (3, ...)."""
        return parts[0] * self.kingpin + parts[1] * self.steer + parts[2] * self.square

    def parts(self, v: Array) -> Array:
        """Components of a vector, shape (3,) or broadcasting with the frame's own."""
        return np.stack((dot(v, self.kingpin), dot(v, self.steer), dot(v, self.square)))


@dataclass(frozen=True)
class Pose:
    """N candidates at K positions each; vectors (3, K, N), the rest (K, N); mm.

    `arm_spare` and `tie_spare` are `spare` of the two loops: positions where one is negative do not assemble.
    """

    angle: Array
    lower_outer: Array
    upper_outer: Array
    steering_outer: Array
    inner_joint: Array
    wheel: Array
    spin: Array
    frame: Frame
    arm_spare: Array
    tie_spare: Array

    @property
    def tie_rod(self) -> Array:
        """Direction from the inner joint to the steering pivot, shape (3, K, N)."""
        return unit(self.steering_outer - self.inner_joint)


def measured_frame(placed: Placed) -> tuple[Frame, Array, Array]:
    """The spindle's own frame in measured attitude, and the steering pivot's place along and off the kingpin.

    Where candidates choose a hole, or are as built, each has its own: vectors (3, N) and places (N,), else (3,) and ().
    """
    axes = placed.upper_pivot.ndim - 1
    lower, steering = beside(placed.lower_pivot, axes), beside(placed.steering_pivot, axes)
    kingpin = unit(placed.upper_pivot - lower)
    arm = steering - lower
    along = np.asarray(dot(arm, kingpin))
    off = arm - along * kingpin
    steer = unit(off)
    return Frame(kingpin, steer, cross(kingpin, steer)), along, np.asarray(norm(off))


def pose(placed: Placed, angle: Array, shift: Array = STRAIGHT) -> Pose:
    """Every point of the corner at given lower-arm angles.

    Parameters
    ----------
    placed
        N candidates.
    angle
        Lower-arm angle, radians, shape (K, N).
    shift
        How far steering has moved the inner joint from straight ahead, mm, shape (3,), (3, N) or (3, K, N).
    """
    measured, along, off = measured_frame(placed)
    upper = placed.upper
    lower_outer = placed.lower.at(angle)
    upper_outer, arm_spare = circle_point(
        over_positions(upper.centre),
        over_positions(upper.axis),
        upper.radius,
        lower_outer,
        placed.kingpin_length,
        placed.upper_side,
    )
    kingpin = (upper_outer - lower_outer) / placed.kingpin_length
    inner = over_positions(placed.inner_joint) + over_all(shift)
    hub = lower_outer + along * kingpin
    steering_outer, tie_spare = circle_point(hub, kingpin, off, inner, placed.tie_rod_length, placed.tie_side)
    steer = (steering_outer - hub) / off
    frame = Frame(kingpin, steer, cross(kingpin, steer))
    return Pose(
        angle=angle,
        lower_outer=lower_outer,
        upper_outer=upper_outer,
        steering_outer=steering_outer,
        inner_joint=inner,
        wheel=lower_outer - frame.carry(measured.parts(placed.lower_pivot)),
        spin=frame.carry(measured.parts(SPIN)),
        frame=frame,
        arm_spare=arm_spare,
        tie_spare=tie_spare,
    )


def over_all(v: Array) -> Array:
    """Vectors of shape (3,), (3, N) or (3, K, N), to broadcast over positions and candidates."""
    return over(v, 2) if v.ndim == 1 else over_positions(v) if v.ndim == 2 else v


def over_positions(v: Array) -> Array:
    """Vectors of shape (3, N) or (3, 1) as (3, 1, N), to broadcast over positions."""
    return v[:, None, :]
