"""The one equation of the linkage, a point of a circle at a given distance, on published four-bar tables."""

from __future__ import annotations

import numpy as np
import pytest

from objectives.linkage import circle_point

# Half a unit of the last digit printed, degrees, with room for a digit that was cut off, not rounded.
PARK_TOLERANCE = 1e-3
# Angles derived by arithmetic on the stated lengths and kept to three decimals.
NORTON_TOLERANCE = 2e-3

AXIS = np.array([1.0, 0.0, 0.0])


def planar(y: float | np.ndarray, z: float | np.ndarray) -> np.ndarray:
    """Point of the front view, (3,) or (3, positions)."""
    y, z = np.broadcast_arrays(np.asarray(y, dtype=float), np.asarray(z, dtype=float))
    return np.stack([np.zeros_like(y), y, z])


def angle(v: np.ndarray) -> np.ndarray:
    """Direction of a front-view vector from y towards z, degrees in [0, 360)."""
    direction: np.ndarray = np.degrees(np.arctan2(v[2], v[1])) % 360.0
    return direction


def on_circle(centre: np.ndarray, radius: float, target: np.ndarray, distance: float, side: int) -> np.ndarray:
    """Point of a front-view circle, one that is in reach; `target` (3, positions)."""
    found, spare = circle_point(centre[:, None], AXIS[:, None], radius, target, distance, side)
    assert (spare >= 0.0).all()
    return found


class TestPlanarDoubleWishbone:
    """D. Park, mathgroup archive, February 2006, msg00373 (seen).

    Lower arm 13 about (0, 0) at angle a, upper arm 8 about (5, 7) at angle b, upright 7.
    """

    # a, then both roots b. The table sorts them, so from a = 60 on the columns change places.
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

    def test_each_side_follows_its_column(self) -> None:
        a = np.radians(self.TABLE[:, 0])
        lower = planar(13.0 * np.cos(a), 13.0 * np.sin(a))
        centre = planar(5.0, 7.0)
        roots = [angle(on_circle(centre, 8.0, lower, 7.0, side) - centre[:, None]) for side in (1, -1)]
        columns = [self.TABLE[:, 1], self.TABLE[:, 2]]
        if circular(roots[0], columns[0]).max() > 90.0:
            roots.reverse()  # which side is called +1 is a choice, that it is kept is not
        for root, column in zip(roots, columns, strict=True):
            assert circular(root, column).max() < PARK_TOLERANCE

    def test_the_upright_closes_exactly(self) -> None:
        a = np.radians(np.linspace(0.0, 90.0, 91))
        lower = planar(13.0 * np.cos(a), 13.0 * np.sin(a))
        for side in (1, -1):
            upper = on_circle(planar(5.0, 7.0), 8.0, lower, 7.0, side)
            assert np.linalg.norm(upper - lower, axis=0) == pytest.approx(7.0, abs=1e-13)
            assert np.linalg.norm(upper - planar(5.0, 7.0)[:, None], axis=0) == pytest.approx(8.0, abs=1e-13)

    def test_spare_tells_what_is_in_reach(self) -> None:
        """Out of reach: too far for both bars in line, on either side, and too close for the difference."""
        y, z = np.array([20.1, -10.1, 5.0, 5.0]), np.array([7.0, 7.0, 7.5, -8.1])
        inside = np.array([19.9, -9.9, 5.0, 5.0]), np.array([7.0, 7.0, 8.1, -7.9])
        centre = planar(5.0, 7.0)[:, None]
        for side in (1, -1):
            nearest, spare = circle_point(centre, AXIS[:, None], 8.0, planar(y, z), 7.0, side)
            assert (spare < 0.0).all()
            towards = planar(y, z) - centre
            assert nearest - centre == pytest.approx(8.0 * towards / np.linalg.norm(towards, axis=0))
            on_circle(planar(5.0, 7.0), 8.0, planar(*inside), 7.0, side)

    def test_spare_is_the_squared_sine_at_the_arm(self) -> None:
        """By the cosine rule, bars 8 and 7 and 9 between their far ends."""
        cosine = (8.0**2 + 9.0**2 - 7.0**2) / (2.0 * 8.0 * 9.0)
        far = planar(np.array([14.0]), np.array([7.0]))
        spare = circle_point(planar(5.0, 7.0)[:, None], AXIS[:, None], 8.0, far, 7.0, 1)[1]
        assert spare == pytest.approx(1.0 - cosine**2, abs=1e-14)


def circular(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Absolute difference of two angles, degrees."""
    difference: np.ndarray = np.abs((one - other + 180.0) % 360.0 - 180.0)
    return difference


@pytest.mark.parametrize(
    ("crank", "coupler", "rocker", "ground", "theta2", "expected"),
    [
        pytest.param(
            40.0, 120.0, 80.0, 100.0, 40.0, {(20.298, 57.325), (-60.978, -98.005)},
            id="example 4-1: inputs from memory, angles derived",
        ),
        pytest.param(
            2.0, 7.0, 9.0, 6.0, 30.0, {(88.837, 117.286), (-115.211, -143.660)},
            id="table P4-1 row a: inputs seen, angles derived",
        ),
    ],
)  # fmt: skip
def test_norton_open_and_crossed(
    crank: float,
    coupler: float,
    rocker: float,
    ground: float,
    theta2: float,
    expected: set[tuple[float, float]],
) -> None:
    """R. L. Norton, Design of Machinery: coupler and rocker angles (theta3, theta4), open and crossed."""
    t = np.radians([theta2])
    pin = planar(crank * np.cos(t), crank * np.sin(t))
    centre = planar(ground, 0.0)
    found = []
    for side in (1, -1):
        end = on_circle(centre, rocker, pin, coupler, side)
        found.append((angle(end - pin)[0], angle(end - centre[:, None])[0]))
    for pair in expected:
        misses = [max(circular(np.array(pair), np.array(have))) for have in found]
        assert min(misses) < NORTON_TOLERANCE
    assert found[0] != pytest.approx(found[1])


def test_spatial_slider_crank() -> None:
    """IFToMM benchmark library, spatial slider-crank (seen), metres, read from slider to crank.

    Crank 0.08 about x at (0, 0.1, 0.12), rod 0.3, slider on the x axis. With the slider where the rod puts it
    for crank angle t, one of the two crank ends at the rod's length must be that angle's. Published: the
    slider starts at x = 0.2. Rounding only; 1e-12 keeps clear of the dead centres, where the roots meet.
    """
    t = np.linspace(-1.0, 1.0, 41)
    end = np.stack([np.zeros_like(t), 0.1 - 0.08 * np.sin(t), 0.12 + 0.08 * np.cos(t)])
    slider = np.sqrt(0.09 - end[1] ** 2 - end[2] ** 2)
    assert slider[20] == pytest.approx(0.2, abs=1e-15)
    target = np.stack([slider, np.zeros_like(t), np.zeros_like(t)])
    centre = np.array([0.0, 0.1, 0.12])[:, None]
    errors = []
    for side in (1, -1):
        found, spare = circle_point(centre, AXIS[:, None], 0.08, target, 0.3, side)
        assert (spare >= 0.0).all()
        assert np.linalg.norm(found - target, axis=0) == pytest.approx(0.3, abs=1e-14)
        errors.append(np.abs(found - end).max(axis=0))
    # The crank passes a dead centre where it points away from the x axis, at tan t = -0.1 / 0.12.
    dead = np.arctan2(-0.1, 0.12)
    clear = np.abs(t - dead) > 0.05
    before, after = t < dead, t > dead
    one = errors[0] if errors[0][after].max() < errors[1][after].max() else errors[1]
    other = errors[1] if one is errors[0] else errors[0]
    assert one[after & clear].max() < 1e-12
    assert other[before & clear].max() < 1e-12
