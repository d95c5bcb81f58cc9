"""Least range of a curve that bends with two numbers: the best choice of both inside bounds, many at once.

For curves e + a g + b h read at K places, range is greatest minus least: convex in (a, b), with straight pieces.
Along one number it is followed by tangents: two that fall and rise meet where the next is drawn (Kelley's cutting
plane, The cutting-plane method for solving convex programs, 1960, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from objectives.vectors import Array

INNER, OUTER = 5, 7  # tangents drawn along b for each a, and along a


class Tangent(NamedTuple):
    """Value of N curves at x, their slope along x, and a slope across it; shape (N,) each."""

    x: Array
    value: Array
    slope: Array
    across: Array
    other: Array

    def where(self, mask: NDArray[np.bool_], other: Tangent) -> Tangent:
        """Take this one where `mask` holds, the other elsewhere."""
        return Tangent(*(np.where(mask, mine, theirs) for mine, theirs in zip(self, other, strict=True)))


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
    columns = np.arange(e.shape[1])

    def along_a(a: Array) -> Tangent:
        bent = e + a * g

        def along_b(b: Array) -> Tangent:
            curve = bent + b * h
            top, bottom = np.argmax(curve, axis=0), np.argmin(curve, axis=0)

            def spread(values: Array) -> Array:
                found: Array = values[top, columns] - values[bottom, columns]
                return found

            return Tangent(b, spread(curve), spread(h), spread(g), b)

        best = _lowest(along_b, low[1], high[1], INNER)
        return Tangent(a, best.value, best.across, best.slope, best.x)

    best = _lowest(along_a, low[0], high[0], OUTER)
    return np.stack((best.x, best.other))


def _lowest(tangent: Callable[[Array], Tangent], low: Array, high: Array, count: int) -> Tangent:
    """Lowest point met; its `across` is the slope across the valley there, blended from both its sides."""
    left, right = tangent(low), tangent(high)
    best = left.where(left.value <= right.value, right)
    for _ in range(count):
        fall = left.slope - right.slope
        with np.errstate(divide="ignore", invalid="ignore"):
            x = (right.value - left.value + left.slope * left.x - right.slope * right.x) / fall
        x = np.where(left.slope >= 0.0, left.x, np.where(right.slope <= 0.0, right.x, x))
        here = tangent(np.clip(np.nan_to_num(x), left.x, right.x))
        best = here.where(here.value < best.value, best)
        falls = here.slope < 0.0
        left, right = here.where(falls, left), right.where(falls, here)
    return best._replace(across=_blended(left, right))


def _blended(left: Tangent, right: Tangent) -> Array:
    """Slope across the valley where its two sides meet: of the mixture of both that is level along it."""
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.clip(np.nan_to_num(right.slope / (right.slope - left.slope), nan=0.5), 0.0, 1.0)
    share = np.where(left.slope >= 0.0, 1.0, np.where(right.slope <= 0.0, 0.0, share))
    mixed: Array = share * left.across + (1.0 - share) * right.across
    return mixed
