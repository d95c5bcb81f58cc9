"""Scrub: how far the contact centre moves sideways over the required travel."""

from __future__ import annotations

from objectives import chebyshev
from objectives.motion import Motion
from objectives.objective import Objective
from objectives.pieces import spread_of
from objectives.vectors import Array


def measure(motion: Motion) -> tuple[Array]:
    """Greatest minus least contact-centre y over the required travel, straight ahead, mm, shape (N,)."""
    return (chebyshev.spread(motion.straight.required.contact[1]),)


OBJECTIVE = Objective(
    name="scrub",
    title="Scrub",
    meaning="sideways movement of the contact centre over the required travel",
    quantity="length",
    better="less",
    measure=measure,
    pieces=spread_of(lambda motion: motion.straight.required.contact[1]),
)
