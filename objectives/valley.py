"""The least value of a curve over a sweep: the least at its points, then followed into the valley it lies in."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
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
    valley = np.flatnonzero(_may_dip(values, best) & np.isfinite(least))
    if valley.size:
        part = sweep.take(valley)

        def value(at: Array) -> Array:
            return curve(part.at(at[None]))[0]

        low, high = (u[np.clip(best[valley] + side, 0, u.size - 1)] for side in (-1, 1))
        at, found = least_between(value, low, high, steps)
        deeper = found < least[valley]
        least[valley[deeper]], place[valley[deeper]] = found[deeper], at[deeper]
    return least, place


def promised(values: Array) -> Array:
    """How low curves of shape (P, N) at the points of a sweep may dip: the least of a parabola, shape (N,).

    It goes through the least value and its neighbours.
    """
    u = chebyshev.points(values.shape[0])
    middle = np.clip(np.argmin(values, axis=0), 1, u.size - 2)
    at = u[middle + np.array([[-1], [0], [1]])]
    low, mid, high = np.take_along_axis(values, middle + np.array([[-1], [0], [1]]), axis=0)
    first, second = (mid - low) / (at[1] - at[0]), (high - mid) / (at[2] - at[1])
    bend = (second - first) / (at[2] - at[0])
    with np.errstate(divide="ignore", invalid="ignore"):
        turn = np.clip(0.5 * (at[0] + at[1]) - 0.5 * first / bend, at[0], at[2])
    turn = np.where(bend > 0.0, turn, at[1])
    parabola = low + first * (turn - at[0]) + bend * (turn - at[0]) * (turn - at[1])
    least: Array = np.minimum(parabola, values.min(axis=0))
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
