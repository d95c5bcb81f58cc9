"""Roots and least values of many curves at once, each between bounds of its own."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from objectives.vectors import Array

GOLDEN = 0.5 * (np.sqrt(5.0) - 1.0)
GOLDEN_STEPS = 40  # bounds close to 4e-9 of their distance; a smooth least value is then exact to rounding


def root_between(
    value_and_slope: Callable[[Array], tuple[Array, Array]],
    low: Array,
    high: Array,
    value_low: Array,
    within: float = 4e-16,
) -> Array:
    """Polish one root for each candidate inside its bracket, by Newton steps kept inside the bracket.

    Parameters
    ----------
    value_and_slope
        Takes x, shape (N,); returns the function's value and slope there.
    low, high
        Brackets, shape (N,); the function changes sign between them.
    value_low
        Sign-carrying value at `low`.
    within
        Last step, of 1 + |x|, at which to stop.
    """
    x = 0.5 * (low + high)
    for _ in range(60):
        value, slope = value_and_slope(x)
        same = np.sign(value) == np.sign(value_low)
        low, high = np.where(same, x, low), np.where(same, high, x)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = x - value / slope
        inside = (step >= np.minimum(low, high)) & (step <= np.maximum(low, high))
        following = np.where(value == 0.0, x, np.where(inside, step, 0.5 * (low + high)))
        settled = np.abs(following - x) <= within * (1.0 + np.abs(x))
        x = following
        if settled.all():
            break
    return x


def least_between(
    curve: Callable[[Array], Array], low: Array, high: Array, steps: int = GOLDEN_STEPS
) -> tuple[Array, Array]:
    """Place and least value of curves with a single valley, each between its own bounds, by golden section.

    Parameters
    ----------
    curve
        Takes places, shape (...); returns values of that shape.
    low, high
        Bounds, shape (...).
    steps
        How often the bounds close in, to 0.618 of their distance each time.
    """
    left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    at_left, at_right = curve(left), curve(right)
    for _ in range(steps):
        lower_left = at_left < at_right
        low, high = np.where(lower_left, low, left), np.where(lower_left, right, high)
        fresh = np.where(lower_left, high - GOLDEN * (high - low), low + GOLDEN * (high - low))
        at_fresh = curve(fresh)
        left, right = np.where(lower_left, fresh, right), np.where(lower_left, left, fresh)
        at_left, at_right = np.where(lower_left, at_fresh, at_right), np.where(lower_left, at_left, at_fresh)
    return np.where(at_left < at_right, left, right), np.minimum(at_left, at_right)
