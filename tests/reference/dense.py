"""A design space swept densely, and how far a front falls short of what the sweep holds.

The sweep shares nothing with the search but the judge of single candidates. Everything is in costs, less is better.
Dominance, hypervolume and the additive epsilon are as in Zitzler, Thiele, Laumanns, Fonseca and Grunert da Fonseca,
Performance assessment of multiobjective optimizers, IEEE Trans. Evolutionary Computation 7(2), 2003; recalled from
memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import moocore
import numpy as np
from scipy.stats import qmc

PIECE = 2048  # candidates judged at once
ROWS_AT_ONCE = 2048  # of a front, held against points at once
MARGIN = 0.1  # of the front's extent, from its worst to the corner of the box (common practice, no source)


def sobol(lower: np.ndarray, upper: np.ndarray, start: int, count: int, seed: int) -> np.ndarray:
    """Points `start` to `start + count` of a scrambled Sobol sequence in a box; powers of two keep it even."""
    sequence = qmc.Sobol(len(lower), rng=np.random.default_rng(seed))
    if start:
        sequence.fast_forward(start)
    return lower + (upper - lower) * sequence.random(count)


def usable_of(problem, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows of x (N, V) that keep every limit, and their costs (K, M)."""
    rows, costs = [], []
    for start in range(0, len(x), PIECE):
        judged = problem.judge(x[start : start + PIECE])
        good = (judged.excess <= 0.0).all(axis=1)
        rows.append(start + np.flatnonzero(good))
        costs.append(judged.costs[good])
    return np.concatenate(rows), np.concatenate(costs)


def undominated(costs: np.ndarray) -> np.ndarray:
    """The rows that no other row dominates."""
    return costs[moocore.is_nondominated(costs)] if len(costs) else costs


@dataclass(frozen=True)
class Box:
    """Where dominated volume is compared: points spread evenly between two corners, in several scramblings.

    The scramblings are independent, so the spread of what they say is the error of their mean.
    """

    points: np.ndarray  # (scramblings, points, M)

    @staticmethod
    def around(front: np.ndarray, scale: np.ndarray, scramblings: int = 8, log2: int = 14) -> Box:
        """The box from a front's ideal point to a little beyond its worst in each cost."""
        low, high = front.min(axis=0), front.max(axis=0)
        high = high + np.maximum(MARGIN * (high - low), scale)
        drawn = (qmc.Sobol(len(low), rng=np.random.default_rng(seed)) for seed in range(scramblings))
        return Box(np.stack([low + (high - low) * sequence.random_base2(log2) for sequence in drawn]))

    def share(self, costs: np.ndarray) -> np.ndarray:
        """Share of the box that `costs` (N, M) dominates, by every scrambling (scramblings,)."""
        many, each, _ = self.points.shape
        flat = self.points.reshape(many * each, -1)
        order = np.argsort(costs[:, 0], kind="stable")
        rows = costs[order]
        left = np.arange(len(flat))
        for start in range(0, len(rows), ROWS_AT_ONCE):
            left = left[~_covered(flat[left], rows[start : start + ROWS_AT_ONCE])]
        missed = np.bincount(left // each, minlength=many)
        return 1.0 - missed / each


def _covered(points: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Which points at least one of the rows, sorted by the first cost, dominates."""
    found = np.zeros(len(points), dtype=bool)
    within = np.flatnonzero((points >= rows.min(axis=0)).all(axis=1))
    for start in range(0, len(within), 4096):
        some = within[start : start + 4096]
        covers = np.ones((len(some), len(rows)), dtype=bool)
        for place, column in zip(points[some].T, rows.T, strict=True):
            covers &= column[None] <= place[:, None]
        found[some] = covers.any(axis=1)
    return found


def epsilon(shown: np.ndarray, front: np.ndarray, scale: np.ndarray) -> np.ndarray:
    """By how much, in differences that matter, some row of `front` betters each shown row in every cost at once (N,).

    0 where none betters it in all.
    """
    best = np.zeros(len(shown))
    for row, costs in enumerate(shown):
        best[row] = max(0.0, float(((costs - front) / scale).min(axis=1).max()))
    return best


def free_gain(shown: np.ndarray, front: np.ndarray, scale: np.ndarray) -> np.ndarray:
    """The most any one cost of each shown row could fall, no other rising, in differences that matter (N,)."""
    best = np.zeros(len(shown))
    for row, costs in enumerate(shown):
        dominating = (front <= costs).all(axis=1)
        if dominating.any():
            best[row] = float(((costs - front[dominating]) / scale).max())
    return best
