"""Smooth curves held by their values at Chebyshev points: one column for each candidate.

A panel is the interval [-1, 1] with `count` Chebyshev points of the second kind, ends included. Values at the
points, shape (count, N), determine the interpolating polynomial of every candidate at once; since all share
the points, interpolation, slopes and crossings are small matrix products. Formulas: Trefethen, Approximation
Theory and Approximation Practice, 2013, chapters 2, 3 and 5 (from memory, pages unverified).
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.polynomial import chebyshev as series
from numpy.typing import NDArray

from objectives.roots import root_between
from objectives.vectors import Array

GRID = 65  # points among which a first crossing is looked for before it is polished
CLOSE = 1e-12  # of u: where a crossing is near enough, for Newton's last step leaves far less
OVERSHOOT = 0.1  # of a curve's range: it does not rise above its greatest value at its points by as much
_FEW = 200  # places below which the calls of a recurrence cost more than cosines
TURNS = 33  # points among which turning points are looked for


@lru_cache(maxsize=32)
def points(count: int) -> Array:
    """Chebyshev points of the second kind on [-1, 1], rising, shape (count,)."""
    found: Array = np.sin(0.5 * np.pi * np.linspace(-1.0, 1.0, count))
    return found


@lru_cache(maxsize=32)
def _to_series(count: int) -> Array:
    return np.asarray(np.linalg.inv(series.chebvander(points(count), count - 1)), dtype=np.float64)


@lru_cache(maxsize=32)
def _onto_grid(count: int, size: int) -> Array:
    spread: Array = series.chebvander(points(size), count - 1) @ _to_series(count)
    return spread


def coefficients(values: Array) -> Array:
    """Chebyshev coefficients, shape (count, N), of curves given at the panel's points."""
    found: Array = _to_series(values.shape[0]) @ values
    return found


def sampled(values: Array, size: int = GRID) -> Array:
    """Curves of shape (count, N) read at `points(size)`, shape (size, N)."""
    read: Array = _onto_grid(values.shape[0], size) @ values
    return read


def peaked(values: Array, others: tuple[Array, ...], size: int) -> tuple[Array, ...]:
    """Curves read on a grid that is moved, where a curve turns between grid points, to where it turns.

    Parameters
    ----------
    values
        Curves whose turning points count, shape (count, N).
    others
        Curves read at the same places.
    size
        Of the grid.

    Returns
    -------
    The values and the others, shape (size, N) each.
    """
    curves = (values, *others)
    grids, u = tuple(sampled(curve, size) for curve in curves), points(size)
    left, right = grids[0][:-2] - grids[0][1:-1], grids[0][2:] - grids[0][1:-1]
    rows, columns = np.nonzero(left * right > 0.0)
    place = _turning_point(coefficients(values)[:, columns], u[rows + 1], u[rows], u[rows + 2])
    for on_grid, curve in zip(grids, curves, strict=True):
        on_grid[rows + 1, columns] = _value(coefficients(curve)[:, columns], place)
    return grids


def _turning_point(coef: Array, place: Array, low: Array, high: Array) -> Array:
    """Places where series of shape (count, n) are level, near `place` and between the bounds, (n,)."""
    slope_part = _derivative(coef)
    bend_part = _derivative(slope_part)
    for _ in range(3):
        first, second = _value(slope_part, place), _value(bend_part, place)
        with np.errstate(divide="ignore", invalid="ignore"):
            place = np.clip(np.nan_to_num(place - first / second), low, high)
    return place


def read(values: Array, u: Array) -> Array:
    """Curves of shape (count, N) read at u, shape (N,) or (P, N), each candidate at places of its own.

    Examples
    --------
    Five points hold any curve of degree four: here u^4 and u^3, read at 0.5 and 0.2.

    >>> held = np.stack((points(5) ** 4, points(5) ** 3), axis=1)
    >>> read(held, np.array([0.5, 0.2])).round(12).tolist()
    [0.0625, 0.008]
    """
    return _value(coefficients(values), u)


def _value(coef: NDArray[np.floating[Any]], u: Array) -> Array:
    """Series of shape (count, N) at u, shape (N,) or (P, N)."""
    if u.size > _FEW:
        return np.asarray(series.chebval(u, coef, tensor=False), dtype=np.float64)
    # T_k(cos a) = cos(k a): a dearer formula in fewer calls
    angle = np.arccos(np.clip(u, -1.0, 1.0))
    found: Array = np.einsum("k...n,kn->...n", np.cos(np.multiply.outer(np.arange(coef.shape[0]), angle)), coef)
    return found


@lru_cache(maxsize=32)
def _to_derivative(count: int) -> Array:
    return np.asarray(series.chebder(np.eye(count), axis=0), dtype=np.float64)


def _derivative(coef: Array) -> Array:
    """Series of the derivatives by u of series, shape (count, N)."""
    found: Array = _to_derivative(coef.shape[0]) @ coef
    return found


def slope(values: Array, u: Array) -> Array:
    """Slope by u of curves of shape (count, N), at u, shape (N,) or (P, N)."""
    return _value(_derivative(coefficients(values)), u)


@lru_cache(maxsize=32)
def _slope_at_points(count: int) -> Array:
    every = np.eye(count)
    return np.stack([slope(every, np.full(count, u)) for u in points(count)])


def slopes(values: Array) -> Array:
    """Slopes by u, at the panel's own points, of curves of shape (count, N)."""
    found: Array = _slope_at_points(values.shape[0]) @ values
    return found


def first_crossing(values: Array, start: Array, direction: int) -> Array:
    """Place where a curve first rises above zero on the way from `start`.

    Parameters
    ----------
    values
        Shape (count, N); a limit is kept where the curve is <= 0.
    start
        Where the way begins, shape (N,), in [-1, 1].
    direction
        +1 towards u = 1, -1 towards u = -1.

    Returns
    -------
    Shape (N,): u of the first crossing; `start` where the curve is above zero there already; NaN where it
    never rises above zero on the way.
    """
    near = np.flatnonzero(values.max(axis=0) + OVERSHOOT * np.ptp(values, axis=0) > 0.0)
    result = np.full(start.shape, np.nan)
    if near.size:
        result[near] = _first_crossing(values[:, near], start[near], direction)
    return result


def _first_crossing(values: Array, start: Array, direction: int) -> Array:
    coef = coefficients(values)
    at_start = _value(coef, start)
    u, on_grid = points(GRID)[:, None], sampled(values)
    ahead = (u > start) if direction > 0 else (u < start)
    broken = ahead & (on_grid > 0.0)
    if direction < 0:
        broken = broken[::-1]
    first = np.argmax(broken, axis=0)
    found = np.take_along_axis(broken, first[None], axis=0)[0]
    if direction < 0:
        first = GRID - 1 - first
    beyond = points(GRID)[first]
    before = points(GRID)[np.clip(first - direction, 0, GRID - 1)]
    before = np.maximum(before, start) if direction > 0 else np.minimum(before, start)
    result = np.full(start.shape, np.nan)
    todo = np.flatnonzero(found & (at_start <= 0.0))
    if todo.size:
        part, slopes = coef[:, todo], _derivative(coef[:, todo])

        def value_and_slope(x: Array) -> tuple[Array, Array]:
            return _value(part, x), _value(slopes, x)

        result[todo] = root_between(value_and_slope, before[todo], beyond[todo], np.full(todo.size, -1.0), CLOSE)
    result[at_start > 0.0] = start[at_start > 0.0]
    return result


def spread(values: Array) -> Array:
    """Greatest minus least value of each curve over its panel, shape (N,)."""
    width: Array = np.ptp(peaked(values, (), TURNS)[0], axis=0)
    return width
