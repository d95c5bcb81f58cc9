"""The moving corner in closed form: lower-arm angle in, every point of the corner out.

Each loop is a point of a circle at a known distance from a known point: the upper outer pivot about the upper
inner axis at the kingpin's length from the lower outer pivot, then the steering pivot about the kingpin at the
tie rod's length from the inner joint. Nothing iterates.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from objectives.frame import Frame, Measured
from objectives.ride import Placed
from objectives.vectors import Array, cross, dot, over, unit, vector

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
class Pose:
    """N candidates at K positions each; vectors (3, K, N), the rest (K, N); mm.

    `arm_spare` and `tie_spare` are `spare` of the two loops: positions where one is negative do not assemble.
    `kingpin` and `steer` are unit vectors, up the kingpin and square to it to the steering pivot.
    """

    measured: Measured
    angle: Array
    lower_outer: Array
    upper_outer: Array
    steering_outer: Array
    inner_joint: Array
    kingpin: Array
    steer: Array
    arm_spare: Array
    tie_spare: Array

    def part(self, part: slice) -> Pose:
        """The candidates of a slice; nothing is copied."""
        columns = {field.name: getattr(self, field.name)[..., part] for field in fields(self)[1:]}
        return Pose(self.measured.take(part), **columns)

    # worked out when first asked for: most poses are asked for one of them only

    @cached_property
    def frame(self) -> Frame:
        """Unit vectors carried by the spindle."""
        return Frame.on(self.kingpin, self.steer)

    @cached_property
    def wheel(self) -> Array:
        """Wheel centre."""
        centre: Array = self.lower_outer - self.frame.carry(self.measured.lower_pivot)
        return centre

    @cached_property
    def spin(self) -> Array:
        """Spin axis, a unit vector pointing outboard."""
        return self.frame.carry(self.measured.spin)

    @cached_property
    def tie_rod(self) -> Array:
        """Direction from the inner joint to the steering pivot."""
        return unit(self.steering_outer - self.inner_joint)


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
    measured, upper = placed.measured, placed.upper
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
    hub = lower_outer + measured.along * kingpin
    steering_outer, tie_spare = circle_point(hub, kingpin, measured.off, inner, placed.tie_rod_length, placed.tie_side)
    return Pose(
        measured=measured,
        angle=angle,
        lower_outer=lower_outer,
        upper_outer=upper_outer,
        steering_outer=steering_outer,
        inner_joint=inner,
        kingpin=kingpin,
        steer=(steering_outer - hub) / measured.off,
        arm_spare=arm_spare,
        tie_spare=tie_spare,
    )


def over_all(v: Array) -> Array:
    """Vectors of shape (3,), (3, N) or (3, K, N), to broadcast over positions and candidates."""
    return over(v, 2) if v.ndim == 1 else over_positions(v) if v.ndim == 2 else v


def over_positions(v: Array) -> Array:
    """Vectors of shape (3, N) or (3, 1) as (3, 1, N), to broadcast over positions."""
    return v[:, None, :]
