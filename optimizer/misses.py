"""Why candidates were unusable: which limits they broke, and how near the nearest came."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Counts = NDArray[np.int64]

NEAREST = 32  # unusable candidates to step away from while nothing is usable


@dataclass(frozen=True)
class Misses:
    """Why candidates were unusable.

    Attributes
    ----------
    broke : (C,) array of int
        Candidates that broke each limit.
    broke_only : (C,) array of int
        Candidates that broke that limit and no other: what dropping it alone would have let through.
    nearest : (V,) array or None
        Unusable candidate with the least total excess; None if every candidate was usable.
    nearest_excess : (C,) array or None
        Its excess over each limit.
    """

    broke: Counts
    broke_only: Counts
    nearest: Array | None
    nearest_excess: Array | None


class MissTally:
    """Counts of broken limits, and the few unusable candidates nearest to usable."""

    def __init__(self, variables: int, limits: int) -> None:
        self.broke = np.zeros(limits, dtype=np.int64)
        self.broke_only = np.zeros(limits, dtype=np.int64)
        self.x = np.empty((0, variables))
        self.excess = np.empty((0, limits))

    def add(self, x: Array, excess: Array) -> None:
        """Count a batch of unusable candidates."""
        broken = excess > 0
        self.broke += broken.sum(axis=0)
        self.broke_only += broken[broken.sum(axis=1) == 1].sum(axis=0)
        x, excess = np.concatenate((self.x, x)), np.concatenate((self.excess, excess))
        nearest = np.argsort(total(excess), kind="stable")[:NEAREST]
        self.x, self.excess = x[nearest], excess[nearest]

    def sum_up(self) -> Misses:
        """State the counts and the nearest miss."""
        if len(self.x) == 0:
            return Misses(self.broke, self.broke_only, None, None)
        return Misses(self.broke, self.broke_only, self.x[0], self.excess[0])


def total(excess: Array) -> Array:
    """Sum of what is broken (N,)."""
    return np.asarray(np.maximum(excess, 0.0).sum(axis=1), dtype=np.float64)
