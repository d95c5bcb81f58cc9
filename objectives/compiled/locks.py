"""Where the two arms of one candidate lock: what `objectives.lockup` does for many."""

from __future__ import annotations

import math

import numpy as np

from objectives.compiled.kernel import kernel
from objectives.compiled.layout import Record, Row

STEP = math.radians(5.0)
WAVES = np.array([[1.0, math.cos(d), math.sin(d), math.cos(2.0 * d), math.sin(2.0 * d)] for d in np.arange(37) * STEP])
LAST = len(WAVES) - 1


@kernel
def find_locks(c: Record, p: Record, room: Record) -> None:
    """Write the nearest lower-arm angles below and above ride at which the arms lock, as `lockup.lock_angles`."""
    terms = room.series
    _spare_terms(c, p, terms)
    p.low_lock = p.ride_angle - _first_lock(terms, -1.0)
    p.high_lock = p.ride_angle + _first_lock(terms, 1.0)


@kernel
def _spare_terms(c: Record, p: Record, terms: Row) -> None:
    """Coefficients of the spare on 1, cos d, sin d, cos 2d, sin 2d, with d the angle from ride."""
    cos, sin = math.cos(p.ride_angle), math.sin(p.ride_angle)
    gap, gap_out, gap_up, along, out_along, up_along = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(3):
        between = c.lower_centre[i] - p.upper_centre[i]
        out = c.lower_outward[i] * cos + c.lower_upward[i] * sin
        up = c.lower_upward[i] * cos - c.lower_outward[i] * sin
        gap, gap_out, gap_up = gap + between * between, gap_out + between * out, gap_up + between * up
        along += between * c.upper_axis[i]
        out_along += out * c.upper_axis[i]
        up_along += up * c.upper_axis[i]
    radius = c.lower_radius
    square = gap + radius * radius
    by_cos, by_sin = 2.0 * radius * gap_out, 2.0 * radius * gap_up
    out_along, up_along = radius * out_along, radius * up_along
    loop = square + p.upper_radius**2 - p.kingpin_length**2
    size = 4.0 * p.upper_radius**2
    terms[0] = size * (square - along * along - 0.5 * (out_along**2 + up_along**2)) - (
        loop * loop + 0.5 * (by_cos**2 + by_sin**2)
    )
    terms[1] = size * (by_cos - 2.0 * along * out_along) - 2.0 * loop * by_cos
    terms[2] = size * (by_sin - 2.0 * along * up_along) - 2.0 * loop * by_sin
    terms[3] = -size * 0.5 * (out_along**2 - up_along**2) - 0.5 * (by_cos**2 - by_sin**2)
    terms[4] = -size * out_along * up_along - by_cos * by_sin


@kernel
def _spare(terms: Row, step: int, direction: float) -> float:
    """Spare after so many steps from ride."""
    even = terms[0] + terms[1] * WAVES[step, 1] + terms[3] * WAVES[step, 3]
    return even + direction * (terms[2] * WAVES[step, 2] + terms[4] * WAVES[step, 4])


@kernel
def _first_lock(terms: Row, direction: float) -> float:
    """Angle travelled from ride before the spare falls below zero, at most half a turn."""
    before, here = 0.0, _spare(terms, 0, direction)
    if here < 0.0:
        return 0.0
    for step in range(1, LAST + 1):
        before, here = here, _spare(terms, step, direction)
        if here < 0.0:
            return _root(terms, direction, (step - 1) * STEP, step * STEP)
        if step < LAST:
            # between two steps it may dip: a parabola through three is close to it
            after = _spare(terms, step + 1, direction)
            bend = before - 2.0 * here + after
            if here <= before and here <= after and bend > 0.0 and here - 0.125 * (after - before) ** 2 / bend < 0.0:
                dip = step * STEP + 0.5 * (before - after) / bend * STEP
                return _root(terms, direction, (step - 1) * STEP, dip)
    return math.pi


@kernel
def _root(terms: Row, direction: float, low: float, high: float) -> float:
    """Where the spare falls below zero between two angles."""
    x = 0.5 * (low + high)
    for _ in range(60):
        cos, sin = math.cos(x), direction * math.sin(x)
        cos_2, sin_2 = cos * cos - sin * sin, 2.0 * cos * sin
        here = terms[0] + terms[1] * cos + terms[2] * sin + terms[3] * cos_2 + terms[4] * sin_2
        slope = direction * (terms[2] * cos - terms[1] * sin + 2.0 * (terms[4] * cos_2 - terms[3] * sin_2))
        if here == 0.0:
            return x
        if here > 0.0:
            low = x
        else:
            high = x
        step = x - here / slope
        following = step if min(low, high) <= step <= max(low, high) else 0.5 * (low + high)
        settled = abs(following - x) <= 1e-15 * (1.0 + abs(x))
        x = following
        if settled:
            break
    return x
