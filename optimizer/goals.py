"""What a builder can want less or more of: what the physics measures of a corner, and what the shop makes of it."""

from __future__ import annotations

from objectives.objective import Goal
from objectives.registry import OBJECTIVES

BUILD_YIELD = Goal(
    name="build_yield",
    title="Build yield",
    meaning="share of the corners built to the tolerances of [build] that keep every limit",
    quantity="ratio",
    better="more",
    over_required_travel=False,
    on_by_default=False,
)
GOALS: tuple[Goal, ...] = (*OBJECTIVES, BUILD_YIELD)
"""In the order of every table."""
