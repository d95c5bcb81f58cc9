"""Bump limit: how far the wheel rises before a joint runs out of angle or something locks."""

from __future__ import annotations

from typing import Any

from numpy.typing import NDArray

from objectives.motion import Motion
from objectives.objective import Column, Objective
from objectives.pieces import worst_steering
from objectives.reach import bump_reach


def measure(motion: Motion) -> tuple[NDArray[Any], ...]:
    """Bump limit, mm, and what limits it; shape (N,) each, at the worst steering position."""
    reach = bump_reach(motion)
    return reach.travel, reach.limited_by


OBJECTIVE = Objective(
    name="bump_limit",
    title="Bump limit",
    meaning="bump reached before a joint runs out of angle or something locks",
    quantity="length",
    better="more",
    measure=measure,
    pieces=worst_steering(measure, lambda travel: travel.most_bump),
    explains=(Column("bump_limited_by", "Bump limited by", "text"),),
    over_required_travel=False,
    on_by_default=False,
    most=("travel.bump_cap", lambda travel: travel.most_bump),
    must_reach=lambda travel: travel.bump,
)
