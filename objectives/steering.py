"""Steering positions: straight ahead, both locks and halfway to each, and where they put the inner joint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from objectives.corner import Corner
from objectives.linkage import STRAIGHT
from objectives.ride import installed, nominal_wheel_centre
from objectives.vectors import Array, cross, dot, unit

SHARES = (0.0, 1.0, -1.0, 0.5, -0.5)  # of the way to the left lock; straight ahead comes first


@dataclass(frozen=True)
class Position:
    """The steering held at one place.

    Attributes
    ----------
    name
        "straight ahead", "at left lock", "towards left lock" or the same with right: the way the vehicle turns.
    share
        Of the way from straight ahead to the left lock, negative to the right; shape () or (N,).
    shift
        How far the inner joint moves, mm, shape (3,) or (3, N).
    """

    name: str
    share: Array
    shift: Array


AHEAD = Position("straight ahead", np.zeros(()), STRAIGHT)


def steering_positions(corner: Corner) -> tuple[Position, ...]:
    """Positions to judge, straight ahead first; that alone where the scenario gives no lock.

    The three of them that are needed for clearance do not show every valley of a joint's limit: five do.
    """
    if corner.steering.lock == 0.0:
        return (AHEAD,)
    return tuple(steered_to(corner, np.asarray(share)) for share in SHARES)


def steered_to(corner: Corner, share: Array) -> Position:
    """Position at shares of the way to the left lock, shape () or (N,); it bears the name of the first."""
    shift = corner.steering.shift(share * corner.steering.lock * left_turn(corner))
    return Position(position_name(float(share.flat[0])), share, shift)


def position_name(share: float) -> str:
    """Say where the steering is held."""
    if share == 0.0:
        return AHEAD.name
    side = "left" if share > 0.0 else "right"
    return f"at {side} lock" if abs(share) == 1.0 else f"towards {side} lock"


def left_turn(corner: Corner) -> float:
    """+1 where a rack moving outboard, or a right-handed turn of the pitman arm, steers to the left; else -1.

    The inner joint's speed along the tie rod is that of the outer joint, which turns the spindle about the kingpin.
    """
    spindle, steering = corner.spindle, corner.steering
    wheel = nominal_wheel_centre(corner)
    lower, upper, outer = (
        wheel + installed(point, corner.static_camber, corner.static_toe, spindle.pitch)
        for point in (spindle.lower_pivot, spindle.upper_pivot, spindle.steering_pivot)
    )
    tie_rod = outer - steering.inner_joint
    step = 1e-6 * (steering.lock or 1.0)
    speed = dot(steering.shift(np.asarray(step)) - steering.shift(np.asarray(-step)), tie_rod)
    lever = dot(cross(unit(upper - lower), outer - lower), tie_rod)
    return 1.0 if speed * lever >= 0.0 else -1.0
