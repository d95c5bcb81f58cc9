"""Slopes by central differences, their error extrapolated away."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.floating[Any]]


def slope(curve: Callable[[Any], Values], step: float, halvings: int = 4) -> Values:
    """Slope of a curve at 0.

    Central differences at `step` and its halves, whose error is a series in the step squared; each column of
    Richardson's table removes a term (Press et al., Numerical Recipes, section 5.7, from memory). With four halvings
    the error is of the order of step^10, or rounding of the curve over the smallest step, 16 / step times.
    Steps are long doubles, so that a curve computed in their precision keeps it.
    """
    steps = [np.longdouble(step) / 2**row for row in range(halvings + 1)]
    return _extrapolated(steps, [curve(h) - curve(-h) for h in steps])


def slope_at_once(curve: Callable[[Values], Values], step: float, halvings: int = 4) -> Values:
    """The same of a curve that takes all places at once, (S,), and has them on its last axis."""
    steps = np.longdouble(step) / 2 ** np.arange(halvings + 1)
    values = curve(np.concatenate((steps, -steps)))
    ahead, behind = values[..., : steps.size], values[..., steps.size :]
    return _extrapolated(list(steps), list(np.moveaxis(ahead - behind, -1, 0)))


def _extrapolated(steps: Sequence[np.longdouble], rises: Sequence[Values]) -> Values:
    """Richardson's table of a curve's rises from a step before 0 to a step after it."""
    table: list[Values] = []
    for h, rise in zip(steps, rises, strict=True):
        fresh = [rise / (2 * h)]
        for column, above in enumerate(table, start=1):
            fresh.append(fresh[-1] + (fresh[-1] - above) / (4**column - 1))
        table = fresh
    return table[-1]
