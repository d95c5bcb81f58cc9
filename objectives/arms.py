"""What an arm carries: directions and points that turn with it about its inner axis."""

from __future__ import annotations

from typing import Literal

import numpy as np

from objectives.corner import turn_about
from objectives.linkage import over_all, over_positions
from objectives.ride import Circle, Placed
from objectives.sweep import Sweep
from objectives.vectors import Array, dot

Arm = Literal["lower", "upper"]


def carried(sweep: Sweep, arm: Arm, v: Array) -> Array:
    """Direction fixed to an arm, given with the arm at ride, shape (3,) or (3, N), at every pose, (3, K, N).

    The lower arm is one part for all candidates and is at ride where the nominal static camber puts it; each
    candidate has an upper arm of its own, at ride where the candidate is, or, as built, where it was to be.
    """
    circle, cos, sin = _turned(sweep, arm)
    return turn_about(over_all(circle.axis), over_all(v), cos, sin)


def carried_point(sweep: Sweep, arm: Arm, point: Array) -> Array:
    """Point fixed to an arm, given with the arm at ride, shape (3,), at every pose, shape (3, K, N).

    On an arm as built it sits where it was to be on the arm as designed, which may itself stand a little elsewhere.
    """
    circle, cos, sin = _turned(sweep, arm)
    designed = _circle(sweep.placed.design or sweep.placed, arm)
    on_arm = over_all(point) - over_all(designed.centre)
    return over_all(circle.centre) + turn_about(over_all(circle.axis), on_arm, cos, sin)


def _circle(placed: Placed, arm: Arm) -> Circle:
    return placed.lower if arm == "lower" else placed.upper


def _turned(sweep: Sweep, arm: Arm) -> tuple[Circle, Array, Array]:
    """Circle of an arm's outer pivot, and cosine and sine of the arm's turn from ride, shape (K, N)."""
    circle, where = _circle(sweep.placed, arm), sweep.pose
    if arm == "lower":
        return circle, np.cos(where.angle), np.sin(where.angle)
    radial = (where.upper_outer - over_positions(circle.centre)) / circle.radius
    return circle, dot(radial, over_positions(circle.outward)), dot(radial, over_positions(circle.upward))
