"""Least range of a curve that bends with two numbers: the best choice of both inside bounds, many at once.

For curves e + a g + b h read at K places, range is greatest minus least: the least t with t >= (e_i - e_j) +
a (g_i - g_j) + b (h_i - h_j) for all pairs i, j. That is a linear programme in a, b and t, solved by the dual
simplex method: three constraints hold exactly, and the one broken most takes the place of one of them until none
is broken (Lemke, The dual method of solving the linear programming problem, 1954, from memory). Pairs need no
list: the one broken most is that of the curve's greatest and least value.
"""

from __future__ import annotations

import numpy as np

from objectives.vectors import Array

STEPS = 24  # at most; the median is 5
SMALL = 1e-9  # of the range at the start: what does not count as broken


def least_range(e: Array, g: Array, h: Array, low: Array, high: Array) -> Array:
    """Choose a and b so that e + a g + b h has the least range.

    Parameters
    ----------
    e, g, h
        Shape (K, N).
    low, high
        Bounds of a and b, shape (2, N).

    Returns
    -------
    a and b, shape (2, N).
    """
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    # x in [-1, 1] stands for a and b
    curves = np.stack((e + middle[0] * g + middle[1] * h, half[0] * g, half[1] * h))
    held, x = _Held.at_a_corner(_steepest(curves, np.zeros(half.shape))), np.zeros(half.shape)
    little = SMALL * np.ptp(curves[0], axis=0)
    for _ in range(STEPS):
        x, t = held.corner()
        over = np.abs(x) - 1.0
        side = np.argmax(over, axis=0)
        columns = np.arange(side.size)
        out = over[side, columns] > 1e-9
        pair = _steepest(curves, x)
        broken = out | (pair[0] + (pair[1:3] * x).sum(axis=0) - t > little)
        if not broken.any():
            break
        bound = np.zeros(pair.shape)
        bound[0], bound[1 + side, columns] = -1.0, np.sign(x[side, columns])
        held.take_in(np.where(out, bound, pair), broken)
    found: Array = middle + half * np.clip(x, -1.0, 1.0)
    return found


def _steepest(curves: Array, x: Array) -> Array:
    """The pair that makes the range at x, as a constraint: its e, g and h and the share of t, shape (4, N)."""
    at = curves[0] + x[0] * curves[1] + x[1] * curves[2]
    columns = np.arange(at.shape[1])
    top, bottom = np.argmax(at, axis=0), np.argmin(at, axis=0)
    return np.concatenate((curves[:, top, columns] - curves[:, bottom, columns], np.ones((1, columns.size))))


class _Held:
    """The three constraints that hold exactly, of N programmes: each is p + q . x <= s t, as a column (p, q, s).

    `inverse` is that of the matrix whose columns are their (q, s); its last column is how much each constraint
    resists a smaller t, never negative.
    """

    def __init__(self, p: Array, inverse: Array) -> None:
        self.p, self.inverse = p, inverse

    @staticmethod
    def at_a_corner(pair: Array) -> _Held:
        """The pair, with the two bounds towards which it falls."""
        slope, sign = pair[1:3], np.where(pair[1:3] > 0.0, -1.0, 1.0)
        inverse = np.zeros((3, 3, pair.shape[1]))
        inverse[0, 2] = 1.0
        inverse[1, 0], inverse[2, 1] = sign
        inverse[1:, 2] = -slope * sign
        return _Held(np.stack((pair[0], *np.full(slope.shape, -1.0))), inverse)

    def corner(self) -> tuple[Array, Array]:
        """Where the three meet: x, shape (2, N), and t."""
        found = (self.inverse * self.p[:, None]).sum(axis=0)
        return -found[:2], found[2]

    def take_in(self, fresh: Array, where: Array) -> None:
        """Take a broken constraint in for the one that gives way first."""
        share = (self.inverse * fresh[None, 1:]).sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            give = np.where(share > 1e-12, self.inverse[:, 2] / share, np.inf)
        out, columns = np.argmin(give, axis=0), np.arange(share.shape[1])
        where = where & np.isfinite(give[out, columns])
        out, columns, share = out[where], columns[where], share[:, where]
        row = self.inverse[out, :, columns].T / share[out, np.arange(out.size)]
        self.inverse[:, :, columns] -= share[:, None] * row
        self.inverse[out, :, columns] = row.T
        self.p[out, columns] = fresh[0, columns]
