"""Curves held by their values at Chebyshev points, one at a time: what `objectives.chebyshev` does for many."""

from __future__ import annotations

import math

import numpy as np

from objectives import chebyshev
from objectives.chebyshev import CLOSE, GRID, OVERSHOOT, TURNS
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import POINTS, WIDTH, Row, whole_vectors

NEAR = 1e-8  # of u: Newton's next step from so short a one is below rounding


def by_columns(matrix: Row) -> Row:
    """Columns of a matrix as rows that fill whole vectors, as `transform` takes it."""
    columns = np.zeros((POINTS, whole_vectors(matrix.shape[0])))
    columns[:, : matrix.shape[0]] = matrix.T
    return columns


EVEN = np.ascontiguousarray(chebyshev.coefficients(np.eye(POINTS))[0::2, POINTS // 2 :].T)
ODD = np.ascontiguousarray(chebyshev.coefficients(np.eye(POINTS))[1::2, POINTS // 2 :].T)
TO_SLOPES = by_columns(chebyshev.slopes(np.eye(POINTS)))
ONTO_GRID = by_columns(chebyshev.sampled(np.eye(POINTS), GRID))
ONTO_TURNS = by_columns(chebyshev.sampled(np.eye(POINTS), TURNS))
GRID_PLACES, TURN_PLACES = chebyshev.points(GRID), chebyshev.points(TURNS)
FINER = (GRID - 1) // (POINTS - 1)  # pieces of the grid between two points of a sweep


@kernel
def copy(source: Row, to: Row) -> None:
    """Copy numbers; to assign all of an array at once makes room for a copy first."""
    for i in range(len(to)):
        to[i] = source[i]


@kernel
def transform(m: Row, values: Row, out: Row) -> None:
    """Product of a matrix, given by its columns, with the values at the points of a sweep, into `out`."""
    v_0, v_1, v_2, v_3, v_4, v_5 = values[0], values[1], values[2], values[3], values[4], values[5]
    v_6, v_7, v_8, v_9, v_10, v_11 = values[6], values[7], values[8], values[9], values[10], values[11]
    v_12, v_13, v_14, v_15, v_16 = values[12], values[13], values[14], values[15], values[16]
    for i in range(out.size):
        first = m[0, i] * v_0 + m[1, i] * v_1 + m[2, i] * v_2 + m[3, i] * v_3 + m[4, i] * v_4
        second = m[5, i] * v_5 + m[6, i] * v_6 + m[7, i] * v_7 + m[8, i] * v_8
        third = m[9, i] * v_9 + m[10, i] * v_10 + m[11, i] * v_11 + m[12, i] * v_12
        fourth = m[13, i] * v_13 + m[14, i] * v_14 + m[15, i] * v_15 + m[16, i] * v_16
        out[i] = (first + second) + (third + fourth)


@kernel
def to_series(v: Row, series: Row) -> None:
    """Chebyshev coefficients of a curve given at the points of a sweep, as `chebyshev.coefficients`.

    Points come in pairs either side of the middle: even coefficients come of a pair's sum, odd ones of its difference.
    """
    s_1, s_2, s_3, s_4 = v[9] + v[7], v[10] + v[6], v[11] + v[5], v[12] + v[4]
    s_5, s_6, s_7, s_8 = v[13] + v[3], v[14] + v[2], v[15] + v[1], v[16] + v[0]
    d_1, d_2, d_3, d_4 = v[9] - v[7], v[10] - v[6], v[11] - v[5], v[12] - v[4]
    d_5, d_6, d_7, d_8 = v[13] - v[3], v[14] - v[2], v[15] - v[1], v[16] - v[0]
    middle = v[8]
    for i in range(POINTS // 2):
        first = EVEN[1, i] * s_1 + EVEN[2, i] * s_2 + EVEN[3, i] * s_3 + EVEN[4, i] * s_4 + EVEN[0, i] * middle
        second = EVEN[5, i] * s_5 + EVEN[6, i] * s_6 + EVEN[7, i] * s_7 + EVEN[8, i] * s_8
        series[2 * i] = first + second
        first = ODD[1, i] * d_1 + ODD[2, i] * d_2 + ODD[3, i] * d_3 + ODD[4, i] * d_4
        second = ODD[5, i] * d_5 + ODD[6, i] * d_6 + ODD[7, i] * d_7 + ODD[8, i] * d_8
        series[2 * i + 1] = first + second
    i = POINTS // 2
    first = EVEN[1, i] * s_1 + EVEN[2, i] * s_2 + EVEN[3, i] * s_3 + EVEN[4, i] * s_4 + EVEN[0, i] * middle
    second = EVEN[5, i] * s_5 + EVEN[6, i] * s_6 + EVEN[7, i] * s_7 + EVEN[8, i] * s_8
    series[2 * i] = first + second


@kernel
def value(series: Row, u: float) -> float:
    """Series at u, by Clenshaw's recurrence for even and for odd terms: both go on by T_2 at u.

    What is known already is added up first, so that each step waits for a single product and sum.
    """
    twice = 4.0 * u * u - 2.0
    even, even_after, odd, odd_after = 0.0, 0.0, 0.0, 0.0
    for k in range(POINTS - 1, 0, -2):
        even, even_after = (series[k] - even_after) + twice * even, even
        odd, odd_after = (series[k - 1] - odd_after) + twice * odd, odd
    return series[0] + 0.5 * twice * even - even_after + u * (odd - odd_after)


@kernel
def value_and_slope(series: Row, u: float) -> tuple[float, float]:
    """Series and its slope at u, as `value`."""
    twice = 4.0 * u * u - 2.0
    even, even_after, odd, odd_after = 0.0, 0.0, 0.0, 0.0
    even_slope, even_slope_after, odd_slope, odd_slope_after = 0.0, 0.0, 0.0, 0.0
    for k in range(POINTS - 1, 0, -2):
        even_slope, even_slope_after = (2.0 * even - even_slope_after) + twice * even_slope, even_slope
        odd_slope, odd_slope_after = (2.0 * odd - odd_slope_after) + twice * odd_slope, odd_slope
        even, even_after = (series[k] - even_after) + twice * even, even
        odd, odd_after = (series[k - 1] - odd_after) + twice * odd, odd
    slope = even + 0.5 * twice * even_slope - even_slope_after + u * (odd_slope - odd_slope_after)
    odd -= odd_after
    return series[0] + 0.5 * twice * even - even_after + u * odd, odd + 4.0 * u * slope


@kernel
def slope_and_bend(series: Row, u: float) -> tuple[float, float]:
    """First and second slope of a series at u."""
    ahead, after, twice = 0.0, 0.0, 2.0 * u
    slope_ahead, slope_after, bend_ahead, bend_after = 0.0, 0.0, 0.0, 0.0
    for k in range(POINTS - 1, 0, -1):
        bend_ahead, bend_after = (4.0 * slope_ahead - bend_after) + twice * bend_ahead, bend_ahead
        slope_ahead, slope_after = (2.0 * ahead - slope_after) + twice * slope_ahead, slope_ahead
        ahead, after = (series[k] - after) + twice * ahead, ahead
    return ahead + u * slope_ahead - slope_after, 2.0 * slope_ahead + u * bend_ahead - bend_after


@kernel
def least_and_most(values: Row) -> tuple[float, float]:
    """Least and greatest of as many values as fill whole vectors, every fourth by itself: four chains for one."""
    least_a, least_b, least_c, least_d = values[0], values[1], values[2], values[3]
    most_a, most_b, most_c, most_d = least_a, least_b, least_c, least_d
    for k in range(4, WIDTH, 4):
        a, b, c, d = values[k], values[k + 1], values[k + 2], values[k + 3]
        least_a, least_b, least_c, least_d = min(least_a, a), min(least_b, b), min(least_c, c), min(least_d, d)
        most_a, most_b, most_c, most_d = max(most_a, a), max(most_b, b), max(most_c, c), max(most_d, d)
    return min(min(least_a, least_b), min(least_c, least_d)), max(max(most_a, most_b), max(most_c, most_d))


@kernel
def room_to_rise(values: Row) -> float:
    """By how much a curve may rise above its values at its points; -1 where even so it stays below zero."""
    least, most = least_and_most(values)
    slack = OVERSHOOT * (most - least)
    return slack if most + slack > 0.0 else -1.0


@kernel
def crossing(values: Row, series: Row, slack: float, start: float, at_start: float, direction: float) -> float:
    """`chebyshev.first_crossing` of one curve, of which series, value at the start and `room_to_rise` are known."""
    if at_start > 0.0:
        return start
    forward = direction > 0.0  # a number with a point, for each whole one would be compiled anew
    here, step, nearer = (0, 1, 0) if forward else (POINTS - 1, -1, -1)
    high = values[here] > -slack
    for _ in range(POINTS - 1):
        following = here + step
        was_high, high = high, values[following] > -slack
        # a piece whose ends lie well below cannot rise above: its inner points need no look
        if (was_high or high) and direction * (GRID_PLACES[following * FINER] - start) > 0.0:
            place = _crossing_in(values, here + nearer, start, at_start, direction, series)
            if not math.isnan(place):
                return place
        here = following
    return math.nan


@kernel
def _crossing_in(values: Row, piece: int, start: float, at_start: float, direction: float, series: Row) -> float:
    """First crossing on the grid's points of one piece between two points of a sweep, on the way; NaN without one."""
    first = piece * FINER
    a, b, c = 0.0, 0.0, 0.0
    for k in range(0, POINTS - 1, 4):  # four products each before they are added up, or every sum would wait for one
        v_0, v_1, v_2, v_3 = values[k], values[k + 1], values[k + 2], values[k + 3]
        row_0, row_1, row_2, row_3 = ONTO_GRID[k], ONTO_GRID[k + 1], ONTO_GRID[k + 2], ONTO_GRID[k + 3]
        a += (row_0[first + 1] * v_0 + row_1[first + 1] * v_1) + (row_2[first + 1] * v_2 + row_3[first + 1] * v_3)
        b += (row_0[first + 2] * v_0 + row_1[first + 2] * v_1) + (row_2[first + 2] * v_2 + row_3[first + 2] * v_3)
        c += (row_0[first + 3] * v_0 + row_1[first + 3] * v_1) + (row_2[first + 3] * v_2 + row_3[first + 3] * v_3)
    end = values[POINTS - 1]
    a += ONTO_GRID[POINTS - 1, first + 1] * end
    b += ONTO_GRID[POINTS - 1, first + 2] * end
    c += ONTO_GRID[POINTS - 1, first + 3] * end
    if direction > 0.0:
        low, last, at, step = values[piece], values[piece + 1], first + 1, 1
    else:
        low, last, at, step = values[piece + 1], values[piece], first + FINER - 1, -1
        a, c = c, a
    for i in range(FINER):
        here = a if i == 0 else b if i == 1 else c if i == 2 else last
        if direction * (GRID_PLACES[at] - start) > 0.0:
            if here > 0.0:
                before = GRID_PLACES[at - step]
                if direction * (start - before) >= 0.0:
                    before, low = start, at_start
                return _root(series, before, low, GRID_PLACES[at], here)
            low = here
        at += step
    return math.nan


@kernel
def _root(series: Row, low: float, at_low: float, high: float, at_high: float) -> float:
    """Where a series rises above zero between `low`, where it is not above, and `high`, within CLOSE."""
    x = low + (high - low) * min(at_low / (at_low - at_high), 1.0)
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
        # from so short a step of Newton's method the next one is far below CLOSE
        settled = abs(following - x) <= (NEAR if inside else CLOSE)
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
        before, place = place, min(max(0.0 if math.isnan(step) else step, low), high)
        if abs(place - before) < NEAR:
            break
    return place


@kernel
def turning_range(values: Row, series: Row, grid: Row) -> tuple[float, float]:
    """Least and greatest value of a curve over its panel, turning points followed; room: a series, `TURNS` places."""
    to_series(values, series)
    transform(ONTO_TURNS, values, grid)
    least, most = min(grid[0], grid[TURNS - 1]), max(grid[0], grid[TURNS - 1])
    for i in range(1, TURNS - 1):
        here = grid[i]
        if (grid[i - 1] - here) * (grid[i + 1] - here) > 0.0:
            here = value(series, turning_place(series, TURN_PLACES[i], TURN_PLACES[i - 1], TURN_PLACES[i + 1]))
        least, most = min(least, here), max(most, here)
    return least, most
