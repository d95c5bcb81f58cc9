"""The smooth pieces that values with kinks are made of, and how they are joined again.

A greatest less a least value, a typical size, the worst of several steering positions: each has a kink where another
point, sign or position becomes the one that counts. The pieces themselves are smooth in the corner's points, so they,
and not the values, are what can be followed by slopes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.corner import Travel
from objectives.motion import Motion
from objectives.objective import Objective, Pieces
from objectives.vectors import Array

ReadOff = Callable[[Motion], Array]
Measure = Callable[[Motion], tuple[NDArray[Any], ...]]


def spread_of(curve: ReadOff) -> Pieces:
    """Pieces of the greatest less the least value of a curve given at the points of the required sweep, (K, N)."""
    return Pieces(curve, lambda p, _: chebyshev.spread(p.reshape(len(p), -1)).reshape(p.shape[1:]))


def size_of(parts: ReadOff) -> Pieces:
    """Pieces of a root of summed squares."""
    return Pieces(parts, lambda p, _: np.sqrt((p * p).sum(axis=0)))


def greatest_of(parts: ReadOff) -> Pieces:
    """Pieces of which the greatest by size counts."""
    return Pieces(parts, lambda p, _: np.abs(p).max(axis=0))


def worst_steering(measure: Measure, cap: Callable[[Travel], float] = lambda _: np.inf) -> Pieces:
    """Pieces of what is measured at every steering position, the least of which counts, no farther than a cap."""

    def of(motion: Motion) -> Array:
        return motion.by_position(measure(_in_a_row(motion))[0])

    return Pieces(of, lambda p, travel: np.minimum(p.min(axis=0), cap(travel)))


def _in_a_row(motion: Motion) -> Motion:
    """All candidates at all steering positions as if each were a candidate of its own at the first of them."""
    low, high = (np.tile(lock, len(motion.positions)) for lock in motion.locks)
    return replace(motion, placed=motion.every.whole.placed, locks=(low, high), positions=motion.positions[:1])


def pieces_of(objective: Objective) -> Pieces:
    """Pieces of any objective; of one that is smooth, its value itself."""
    measure = objective.measure
    return objective.pieces or Pieces(lambda motion: measure(motion)[0][None], lambda p, _: p[0])
