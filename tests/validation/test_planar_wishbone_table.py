"""A planar double wishbone by the table of D. Park, mathgroup archive, February 2006, msg00373 (seen).

Lower arm 13 about (0, 0) at angle a, upper arm 8 about (5, 7) at angle b, upright 7; both roots b for ten angles a,
degrees. The table sorts the roots, so from a = 60 on the columns change places; they are put back here. It prints six
figures, some of them cut off and not rounded: hence a tolerance of two units of the coarsest last digit.
"""

from __future__ import annotations

import numpy as np
import pytest

from objectives.linkage import circle_point
from tests.reference.front_view import AXIS, angle, circular, on_circle, planar

PRINTED = 1e-3  # degrees

TABLE = np.array(
    [
        [0.0, 0.0, 277.628],
        [10.0, 16.3816, 281.034],
        [20.0, 33.5778, 287.445],
        [30.0, 52.6316, 298.233],
        [40.0, 75.0545, 315.540],
        [50.0, 102.111, 340.683],
        [60.0, 131.266, 9.92425],
        [70.0, 155.625, 36.4951],
        [80.0, 172.123, 58.473],
        [90.0, 182.348, 77.2632],
    ],
)
CENTRE = planar(5.0, 7.0)


def lower_outer(degrees: np.ndarray) -> np.ndarray:
    a = np.radians(degrees)
    return planar(13.0 * np.cos(a), 13.0 * np.sin(a))


def test_each_side_follows_its_column() -> None:
    lower = lower_outer(TABLE[:, 0])
    roots = [angle(on_circle(CENTRE, 8.0, lower, 7.0, side) - CENTRE[:, None]) for side in (1, -1)]
    columns = [TABLE[:, 1], TABLE[:, 2]]
    if circular(roots[0], columns[0]).max() > 90.0:
        roots.reverse()  # which side is called +1 is a choice, that it is kept is not
    for root, column in zip(roots, columns, strict=True):
        assert circular(root, column).max() < PRINTED


def test_the_upright_closes_exactly() -> None:
    lower = lower_outer(np.linspace(0.0, 90.0, 91))
    for side in (1, -1):
        upper = on_circle(CENTRE, 8.0, lower, 7.0, side)
        assert np.linalg.norm(upper - lower, axis=0) == pytest.approx(7.0, abs=1e-13)
        assert np.linalg.norm(upper - CENTRE[:, None], axis=0) == pytest.approx(8.0, abs=1e-13)


def test_spare_tells_what_is_in_reach() -> None:
    """Out of reach: too far for both bars in line, on either side, and too close for the difference."""
    y, z = np.array([20.1, -10.1, 5.0, 5.0]), np.array([7.0, 7.0, 7.5, -8.1])
    inside = np.array([19.9, -9.9, 5.0, 5.0]), np.array([7.0, 7.0, 8.1, -7.9])
    centre = CENTRE[:, None]
    for side in (1, -1):
        nearest, spare = circle_point(centre, AXIS[:, None], 8.0, planar(y, z), 7.0, side)
        assert (spare < 0.0).all()
        towards = planar(y, z) - centre
        assert nearest - centre == pytest.approx(8.0 * towards / np.linalg.norm(towards, axis=0))
        on_circle(CENTRE, 8.0, planar(*inside), 7.0, side)


def test_spare_is_the_squared_sine_at_the_arm() -> None:
    """By the cosine rule, bars 8 and 7 and 9 between their far ends."""
    cosine = (8.0**2 + 9.0**2 - 7.0**2) / (2.0 * 8.0 * 9.0)
    far = planar(np.array([14.0]), np.array([7.0]))
    spare = circle_point(CENTRE[:, None], AXIS[:, None], 8.0, far, 7.0, 1)[1]
    assert spare == pytest.approx(1.0 - cosine**2, abs=1e-14)
