"""Camber in roll: how far the wheels lean from upright on the ground when the body rolls."""

from __future__ import annotations

import numpy as np

from objectives.motion import Motion
from objectives.objective import Column, Objective
from objectives.pieces import greatest_of
from objectives.roll import rolled
from objectives.vectors import Array


def measure(motion: Motion) -> tuple[Array, Array, Array, Array]:
    """Greater of both wheels' camber to the ground, outer and inner one's (radians), travel each way (mm), (N,).

    NaN without a body roll to judge at, and where the required travel ends before that roll.
    """
    roll = motion.corner.travel.roll
    if not roll > 0.0:
        nothing = np.full(motion.straight.required.ride.shape, np.nan)
        return nothing, nothing, nothing, nothing
    found = rolled(motion.straight.required, roll)
    return np.maximum(np.abs(found.outer), np.abs(found.inner)), found.outer, found.inner, found.travel


OBJECTIVE = Objective(
    name="roll_camber",
    title="Camber in roll",
    meaning="greater of both wheels' lean from upright on the ground, the body rolled by travel.roll",
    quantity="angle",
    better="less",
    measure=measure,
    pieces=greatest_of(lambda motion: np.stack(measure(motion)[1:3])),
    explains=(
        Column("roll_camber_outer", "Camber in roll, outer wheel", "angle"),
        Column("roll_camber_inner", "Camber in roll, inner wheel", "angle"),
        Column("roll_travel", "Wheel travel in roll, each way", "length"),
    ),
    on_by_default=False,
    needs=("travel.roll",),
    missing="the required travel ends before the body has rolled by travel.roll",
)
