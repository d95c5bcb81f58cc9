"""Droop limit: how far the wheel droops before a rod end runs out of angle or something locks."""

from __future__ import annotations

from typing import Any

from numpy.typing import NDArray

from objectives.motion import Motion
from objectives.objective import Column, Objective
from objectives.pieces import worst_steering
from objectives.reach import droop_reach


def measure(motion: Motion) -> tuple[NDArray[Any], ...]:
    """Droop limit, mm, and what limits it; shape (N,) each, at the worst steering position."""
    reach = droop_reach(motion)
    return reach.travel, reach.limited_by


OBJECTIVE = Objective(
    name="droop_limit",
    title="Droop limit",
    meaning="droop reached before a rod end runs out of angle or something locks",
    quantity="length",
    better="more",
    measure=measure,
    pieces=worst_steering(measure, lambda travel: travel.droop_cap),
    explains=(Column("limited_by", "Droop limited by", "text"),),
    over_required_travel=False,
    most=("travel.droop_cap", lambda travel: travel.droop_cap),
)
