"""The least value of a curve over a sweep: the least at its points, then followed into the valley it lies in."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.between import valley
from objectives.roots import GOLDEN_STEPS, least_between
from objectives.sweep import Sweep
from objectives.vectors import Array


def least_over(sweep: Sweep, curve: Callable[[Sweep], Array], steps: int = GOLDEN_STEPS) -> tuple[Array, Array]:
    """Least value of a curve over a sweep, and its place u; shape (N,) each.

    Parameters
    ----------
    sweep
        N candidates.
    curve
        Takes a sweep of any places, shape (P, n), and returns its values there.
    steps
        Of golden section in the valley.
    """
    values = curve(sweep)
    u = chebyshev.points(values.shape[0])
    best = np.argmin(values, axis=0)
    least, place = values.min(axis=0), u[best]
    dips = np.flatnonzero(_may_dip(values, best) & np.isfinite(least))
    if dips.size:
        part = sweep.take(dips)

        def value(at: Array) -> Array:
            return curve(part.at(at[None]))[0]

        low, high = (u[np.clip(best[dips] + side, 0, u.size - 1)] for side in (-1, 1))
        at, found = least_between(value, low, high, steps)
        deeper = found < least[dips]
        least[dips[deeper]], place[dips[deeper]] = found[deeper], at[deeper]
    return least, place


def promised(values: Array) -> Array:
    """How low curves of shape (P, N) at the points of a sweep may dip: the least value or a parabola's, shape (N,)."""
    u = chebyshev.points(values.shape[0])[:, None]
    least: Array = np.minimum(valley(np.broadcast_to(u, values.shape), values)[1], values.min(axis=0))
    return least


def _may_dip(values: Array, best: NDArray[np.intp]) -> Array:
    """Whether a curve can fall below its least point: that point is inside, or the curve bends back at an end."""
    count = values.shape[0]
    inside = (best > 0) & (best < count - 1)
    u = chebyshev.points(count)

    def falls(first: int, second: int, third: int) -> Array:
        near, far = abs(u[second] - u[first]), abs(u[third] - u[first])  # inward from the end
        rise, rise_far = values[second] - values[first], values[third] - values[first]
        falling: Array = rise * far * far < rise_far * near * near  # slope, at the end, of a parabola through three
        return falling

    bends = np.where(best == 0, falls(0, 1, 2), falls(-1, -2, -3))
    return inside | bends
