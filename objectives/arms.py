"""What an arm carries: directions and points that turn with it about its inner axis."""

from __future__ import annotations

from typing import Literal

import numpy as np

from objectives.corner import turn_about
from objectives.linkage import over_all, over_positions
from objectives.ride import Circle
from objectives.sweep import Sweep
from objectives.vectors import Array, dot

Arm = Literal["lower", "upper"]


def carried(sweep: Sweep, arm: Arm, v: Array) -> Array:
    """Direction fixed to an arm, given with the arm at ride, shape (3,) or (3, N), at every pose, (3, K, N).

    The lower arm is one part for all candidates and is at ride where the nominal static camber puts it; each
    candidate has an upper arm of its own, at ride where the candidate is.
    """
    circle, cos, sin = _turned(sweep, arm)
    return turn_about(over_all(circle.axis), over_all(v), cos, sin)


def carried_point(sweep: Sweep, arm: Arm, point: Array) -> Array:
    """Point fixed to an arm, given with the arm at ride, shape (3,), at every pose, shape (3, K, N)."""
    circle, cos, sin = _turned(sweep, arm)
    centre = over_all(circle.centre)
    return centre + turn_about(over_all(circle.axis), over_all(point) - centre, cos, sin)


def _turned(sweep: Sweep, arm: Arm) -> tuple[Circle, Array, Array]:
    """Circle of an arm's outer pivot, and cosine and sine of the arm's turn from ride, shape (K, N)."""
    placed, where = sweep.placed, sweep.pose
    if arm == "lower":
        return placed.lower, np.cos(where.angle), np.sin(where.angle)
    upper = placed.upper
    radial = (where.upper_outer - over_positions(upper.centre)) / upper.radius
    return upper, dot(radial, over_positions(upper.outward)), dot(radial, over_positions(upper.upward))
