"""Where the two arms lock: the lower-arm angles at which the upper outer pivot runs out of reach.

The upper loop closes while D = 4 r^2 k^2 - (r^2 + |X|^2 - g^2)^2 >= 0, with r the upper arm's length, g the
kingpin's, X from the upper circle's centre to the lower outer pivot and k the part of X square to the upper
axis. X is linear in (cos, sin) of the lower-arm angle, so D is a trigonometric polynomial of degree two: five
numbers a candidate.
"""

from __future__ import annotations

import numpy as np

from objectives.ride import Placed
from objectives.roots import root_between
from objectives.vectors import Array, beside, dot, over

_STEPS = np.radians(np.arange(0.0, 181.0, 5.0))


def lock_angles(placed: Placed) -> tuple[Array, Array]:
    """Nearest lower-arm angles below and above ride at which the arms lock, radians, shape (N,) each.

    Where the arms never lock, half a turn from ride stands in: no vehicle's arm gets there.
    """
    terms = _spare_terms(placed)
    return placed.ride_angle - _first_lock(terms, -1.0), placed.ride_angle + _first_lock(terms, 1.0)


def _spare_terms(placed: Placed) -> Array:
    """Coefficients of D on 1, cos d, sin d, cos 2d, sin 2d, with d the angle from ride; shape (5, N)."""
    lower, upper = placed.lower, placed.upper
    gap = beside(lower.centre, 1) - upper.centre
    cos, sin = np.cos(placed.ride_angle), np.sin(placed.ride_angle)
    outward = over(lower.outward, 1) * cos + over(lower.upward, 1) * sin
    upward = over(lower.upward, 1) * cos - over(lower.outward, 1) * sin
    square = (
        dot(gap, gap) + lower.radius**2,
        2.0 * lower.radius * dot(gap, outward),
        2.0 * lower.radius * dot(gap, upward),
    )
    along = (
        dot(gap, upper.axis),
        lower.radius * dot(outward, upper.axis),
        lower.radius * dot(upward, upper.axis),
    )
    loop = (square[0] + upper.radius**2 - placed.kingpin_length**2, square[1], square[2])
    radius = 4.0 * upper.radius**2
    linear = np.zeros((5, *gap.shape[1:]))
    linear[:3] = np.stack(np.broadcast_arrays(*square))
    terms: Array = radius * (linear - _squared(along)) - _squared(loop)
    return terms


def _squared(line: tuple[Array, Array, Array]) -> Array:
    a, b, c = np.broadcast_arrays(*line)
    return np.stack((a * a + 0.5 * (b * b + c * c), 2.0 * a * b, 2.0 * a * c, 0.5 * (b * b - c * c), b * c))


def _waves(d: Array) -> Array:
    return np.stack((np.ones_like(d), np.cos(d), np.sin(d), np.cos(2.0 * d), np.sin(2.0 * d)))


def _first_lock(terms: Array, direction: float) -> Array:
    """Angle travelled from ride before D falls below zero, shape (N,), at most half a turn."""
    spare = _waves(direction * _STEPS).T @ terms
    depth, place = _dips(spare)
    broken = spare < 0.0
    broken[1:-1] |= depth < 0.0
    first = np.argmax(broken, axis=0)
    locks = broken.any(axis=0)
    found = np.full(terms.shape[1], np.pi)
    todo = np.flatnonzero(locks & (first > 0))
    if todo.size:
        column, row = terms[:, todo], first[todo]
        inner = np.clip(row - 1, 0, place.shape[0] - 1)
        dip = (spare[row, todo] >= 0.0) & (row < _STEPS.size - 1)
        high = np.where(dip, place[inner, todo], _STEPS[row])

        def value_and_slope(d: Array) -> tuple[Array, Array]:
            _, cos, sin, cos2, sin2 = _waves(direction * d)
            _, c1, s1, c2, s2 = column
            slope = direction * (s1 * cos - c1 * sin + 2.0 * (s2 * cos2 - c2 * sin2))
            return column[0] + c1 * cos + s1 * sin + c2 * cos2 + s2 * sin2, slope

        found[todo] = root_between(value_and_slope, _STEPS[row - 1], high, np.ones(todo.size))
    found[locks & (first == 0)] = 0.0
    return found


def _dips(spare: Array) -> tuple[Array, Array]:
    """Depth and place of D between the steps where it has a least value there; +inf elsewhere.

    A parabola through three steps is close to D, whose shortest wave is half a turn long.
    """
    left, middle, right = spare[:-2], spare[1:-1], spare[2:]
    bend = left - 2.0 * middle + right
    lowest = (middle <= left) & (middle <= right) & (bend > 0.0)
    bend = np.where(lowest, bend, 1.0)
    shift = 0.5 * (left - right) / bend
    depth = np.where(lowest, middle - 0.125 * (right - left) ** 2 / bend, np.inf)
    return depth, _STEPS[1:-1, None] + shift * (_STEPS[1] - _STEPS[0])
