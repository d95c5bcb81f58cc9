"""Bump steer: how much the wheel toes in and out over the required travel."""

from __future__ import annotations

from objectives import chebyshev
from objectives.motion import Motion
from objectives.objective import Objective
from objectives.pieces import spread_of
from objectives.vectors import Array


def measure(motion: Motion) -> tuple[Array]:
    """Greatest minus least toe over the required travel, straight ahead, radians, shape (N,)."""
    return (chebyshev.spread(motion.straight.required.toe),)


OBJECTIVE = Objective(
    name="bump_steer",
    title="Bump steer",
    meaning="greatest minus least toe over the required travel",
    quantity="angle",
    better="less",
    measure=measure,
    pieces=spread_of(lambda motion: motion.straight.required.toe),
)
