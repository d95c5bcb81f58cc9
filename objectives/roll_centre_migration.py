"""Roll-centre migration: how far the roll centre moves up and down in the frame over the required travel.

The roll centre's height is z + y (dy/dz) of the contact centre: where the line square to its path meets the centre
plane, which for a planar corner is the line to the instant centre (Milliken & Milliken, Race Car Vehicle Dynamics,
1995, ch. 17, from memory). The slopes are those of the swept curves: what `objectives.rates` gives in closed form,
at a fraction of its cost.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.motion import Motion
from objectives.objective import Column, Objective
from objectives.vectors import Array

_GRID = 49  # points among which turning points are looked for


def measure(motion: Motion) -> tuple[Array, Array]:
    """Greatest minus least height of the roll centre, and its height above the ground at ride, mm, (N,).

    Straight ahead, both wheels alike. The migration is NaN where the contact centre somewhere stops rising with the
    wheel: there the roll centre runs off without end.
    """
    sweep = motion.straight.required
    _, side, up = sweep.contact
    across, rise = (chebyshev.sampled(chebyshev.slopes(curve), _GRID) for curve in (side, up))
    with np.errstate(divide="ignore", invalid="ignore"):
        height = chebyshev.sampled(up, _GRID) + chebyshev.sampled(side, _GRID) * across / rise
        at_ride = _above_contact(side, up, sweep.ride)
    steady = motion.complete & (rise > 0.0).all(axis=0)
    height = np.where(steady, height, 0.0)
    rows, columns, place = _turning_points(height)
    side, up = side[:, columns], up[:, columns]
    height[rows, columns] = chebyshev.read(up, place) + _above_contact(side, up, place)
    return np.where(steady, np.ptp(height, axis=0), np.nan), at_ride


def _above_contact(side: Array, up: Array, u: Array) -> Array:
    """Height of the roll centre above the contact centre at u, from the contact centre's curves, shape (N,)."""
    return chebyshev.read(side, u) * chebyshev.slope(side, u) / chebyshev.slope(up, u)


def _turning_points(grid: Array) -> tuple[NDArray[np.intp], NDArray[np.intp], Array]:
    """Rows and columns where curves on the grid turn, and the places u where the parabola through three points does."""
    u = chebyshev.points(_GRID)
    chord = np.diff(grid, axis=0) / np.diff(u)[:, None]
    rows, columns = np.nonzero(chord[:-1] * chord[1:] < 0.0)
    before, behind = chord[rows, columns], chord[rows + 1, columns]
    bend = (behind - before) / (u[rows + 2] - u[rows])
    lean = before + bend * (u[rows + 1] - u[rows])
    return rows + 1, columns, u[rows + 1] - 0.5 * lean / bend


OBJECTIVE = Objective(
    name="roll_centre_migration",
    title="Roll-centre migration",
    meaning="greatest minus least height of the roll centre in the frame over the required travel",
    quantity="length",
    better="less",
    measure=measure,
    explains=(Column("roll_centre_height", "Roll centre above the ground at ride", "length"),),
    on_by_default=False,
    missing="the roll centre runs off without end: the contact centre somewhere stops rising with the wheel",
)
