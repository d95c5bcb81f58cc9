"""How fast everything moves: velocities of the corner per radian of lower-arm angle, in closed form.

The spindle is a rigid body on three bars. With v the velocity of the lower outer pivot and w the spindle's
angular velocity, the upper outer pivot neither moves along the upper axis nor along its arm, and the steering
pivot does not move along the tie rod: three equations linear in w.
"""

from __future__ import annotations

from dataclasses import dataclass

from objectives.linkage import Pose, over_all, over_positions
from objectives.ride import Placed
from objectives.vectors import Array, cross, dot, over


@dataclass(frozen=True)
class Rates:
    """Per radian of lower-arm angle, shape (3, K, N): wheel centre, contact centre and upper outer pivot, mm."""

    wheel: Array
    contact: Array
    upper_outer: Array

    @property
    def roll_slope(self) -> Array:
        """Sideways over upward movement of the contact centre, shape (K, N)."""
        slope: Array = self.contact[1] / self.contact[2]
        return slope


def rates(placed: Placed, where: Pose) -> Rates:
    """Velocities at given poses; not a number where the arms stand in lock-up."""
    lower = placed.lower
    arm = where.lower_outer - over_all(lower.centre)
    speed = cross(over(lower.axis, 2), arm)
    kingpin = where.upper_outer - where.lower_outer
    steering = where.steering_outer - where.lower_outer
    upper_arm = where.upper_outer - over_positions(placed.upper.centre)
    bars = (
        (over_positions(placed.upper.axis), kingpin),
        (upper_arm, kingpin),
        (where.steering_outer - where.inner_joint, steering),
    )
    rows = [cross(point, along) for along, point in bars]
    sides = [-dot(speed, along) for along, _ in bars]
    turn = _solve(rows, sides)
    hub = where.wheel - where.lower_outer
    wheel = speed + cross(turn, hub)
    contact = wheel + _contact_shift(placed, where, turn)
    return Rates(wheel, contact, speed + cross(turn, kingpin))


def _solve(rows: list[Array], sides: list[Array]) -> Array:
    """Solve rows . x = sides for x, shape (3, ...), by Cramer's rule."""
    a, b, c = rows
    volume = dot(a, cross(b, c))
    found: Array = (sides[0] * cross(b, c) + sides[1] * cross(c, a) + sides[2] * cross(a, b)) / volume
    return found


def _contact_shift(placed: Placed, where: Pose, turn: Array) -> Array:
    """Velocity of the contact centre less that of the wheel centre."""
    spin, spin_rate = where.spin, cross(turn, where.spin)
    level = (1.0 - spin[2] ** 2) ** 0.5
    # contact - wheel = radius (s_z s - e_z) / level, level = cos camber
    tilt = spin[2] * spin_rate[2] / level**2
    shift = (spin_rate[2] * spin + spin[2] * spin_rate) / level + tilt * spin[2] * spin / level
    shift[2] -= tilt / level
    moved: Array = placed.corner.tyre.loaded_radius * shift
    return moved
