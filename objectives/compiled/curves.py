"""Curves held by their values at Chebyshev points, one at a time: what `objectives.chebyshev` does for many."""

from __future__ import annotations

import math

import numpy as np

from objectives import chebyshev
from objectives.chebyshev import CLOSE, GRID, OVERSHOOT, TURNS
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import POINTS, Row

TO_SERIES = chebyshev.coefficients(np.eye(POINTS)).T.copy()  # [k, i]: share of the value at point k in coefficient i
TO_SLOPES = chebyshev.slopes(np.eye(POINTS)).T.copy()
ONTO_GRID = chebyshev.sampled(np.eye(POINTS), GRID)
ONTO_TURNS = chebyshev.sampled(np.eye(POINTS), TURNS).T.copy()
GRID_PLACES, TURN_PLACES = chebyshev.points(GRID), chebyshev.points(TURNS)
FINER = (GRID - 1) // (POINTS - 1)  # pieces of the grid between two points of a sweep


@kernel
def transform(matrix: Row, values: Row, out: Row) -> None:
    """Product of a matrix, given by its columns, with values, into `out`."""
    for i in range(out.size):
        out[i] = matrix[0, i] * values[0]
    for k in range(1, POINTS):
        for i in range(out.size):
            out[i] += matrix[k, i] * values[k]


@kernel
def value(series: Row, u: float) -> float:
    """Series at u, by Clenshaw's recurrence."""
    ahead, after, twice = 0.0, 0.0, 2.0 * u
    for k in range(POINTS - 1, 0, -1):
        ahead, after = series[k] + twice * ahead - after, ahead
    return series[0] + u * ahead - after


@kernel
def value_and_slope(series: Row, u: float) -> tuple[float, float]:
    """Series and its slope at u."""
    ahead, after, twice = 0.0, 0.0, 2.0 * u
    slope_ahead, slope_after = 0.0, 0.0
    for k in range(POINTS - 1, 0, -1):
        slope_ahead, slope_after = 2.0 * ahead + twice * slope_ahead - slope_after, slope_ahead
        ahead, after = series[k] + twice * ahead - after, ahead
    return series[0] + u * ahead - after, ahead + u * slope_ahead - slope_after


@kernel
def slope_and_bend(series: Row, u: float) -> tuple[float, float]:
    """First and second slope of a series at u."""
    ahead, after, twice = 0.0, 0.0, 2.0 * u
    slope_ahead, slope_after, bend_ahead, bend_after = 0.0, 0.0, 0.0, 0.0
    for k in range(POINTS - 1, 0, -1):
        bend_ahead, bend_after = 4.0 * slope_ahead + twice * bend_ahead - bend_after, bend_ahead
        slope_ahead, slope_after = 2.0 * ahead + twice * slope_ahead - slope_after, slope_ahead
        ahead, after = series[k] + twice * ahead - after, ahead
    return ahead + u * slope_ahead - slope_after, 2.0 * slope_ahead + u * bend_ahead - bend_after


@kernel
def least_and_most(values: Row) -> tuple[float, float]:
    """Least and greatest value of a curve."""
    least, most = values[0], values[0]
    for k in range(1, POINTS):
        least, most = min(least, values[k]), max(most, values[k])
    return least, most


@kernel
def first_crossing(values: Row, start: float, direction: int, series: Row) -> float:
    """`chebyshev.first_crossing` of one curve; `series` is room for its coefficients, filled where it may cross."""
    least, most = least_and_most(values)
    slack = OVERSHOOT * (most - least)
    if not most + slack > 0.0:
        return math.nan
    transform(TO_SERIES, values, series)
    if value(series, start) > 0.0:
        return start
    piece = 0 if direction > 0 else POINTS - 2
    while 0 <= piece < POINTS - 1:
        ends = max(values[piece], values[piece + 1])
        ahead = direction * (GRID_PLACES[(piece + (direction + 1) // 2) * FINER] - start) > 0.0
        # a piece whose ends lie well below cannot rise above: its inner points need no look
        if ahead and ends + slack > 0.0:
            place = _crossing_in(values, piece, start, direction, series)
            if not math.isnan(place):
                return place
        piece += direction
    return math.nan


@kernel
def _crossing_in(values: Row, piece: int, start: float, direction: int, series: Row) -> float:
    """First crossing on the grid's points of one piece between two points of a sweep, on the way; NaN without one."""
    first = piece * FINER + (1 if direction > 0 else FINER - 1)
    for step in range(FINER):
        at = first + step * direction
        if direction * (GRID_PLACES[at] - start) <= 0.0:
            continue
        here = 0.0
        for k in range(POINTS):
            here += ONTO_GRID[at, k] * values[k]
        if here > 0.0:
            before = GRID_PLACES[at - direction]
            before = max(before, start) if direction > 0 else min(before, start)
            return _root(series, before, GRID_PLACES[at])
    return math.nan


@kernel
def _root(series: Row, low: float, high: float) -> float:
    """Where a series rises above zero between `low`, where it is not above, and `high`, as `roots.root_between`."""
    x = 0.5 * (low + high)
    for _ in range(60):
        here, slope = value_and_slope(series, x)
        if here == 0.0:
            return x
        if here < 0.0:
            low = x
        else:
            high = x
        step = x - here / slope
        inside = min(low, high) <= step <= max(low, high)
        following = step if inside else 0.5 * (low + high)
        settled = abs(following - x) <= CLOSE * (1.0 + abs(x))
        x = following
        if settled:
            break
    return x


@kernel
def turning_place(series: Row, place: float, low: float, high: float) -> float:
    """Where a series is level, near `place` and between the bounds."""
    for _ in range(3):
        slope, bend = slope_and_bend(series, place)
        step = place - slope / bend
        place = min(max(0.0 if math.isnan(step) else step, low), high)
    return place


@kernel
def least_turning(values: Row, sign: float, series: Row, grid: Row) -> float:
    """Least of sign times a curve over its panel, its turning points followed; room: a series, `TURNS` places."""
    transform(TO_SERIES, values, series)
    transform(ONTO_TURNS, values, grid)
    least = min(sign * grid[0], sign * grid[TURNS - 1])
    for i in range(1, TURNS - 1):
        here = sign * grid[i]
        if (grid[i - 1] - grid[i]) * (grid[i + 1] - grid[i]) > 0.0:
            place = turning_place(series, TURN_PLACES[i], TURN_PLACES[i - 1], TURN_PLACES[i + 1])
            here = sign * value(series, place)
        least = min(least, here)
    return least


@kernel
def spread(values: Row, series: Row, grid: Row) -> float:
    """Greatest minus least value of a curve over its panel, as `chebyshev.spread`."""
    return -least_turning(values, -1.0, series, grid) - least_turning(values, 1.0, series, grid)
