"""Where the arms lock, against plain distances between a point and a circle, turned step by step.

The upper outer pivot lies on a circle about the upper inner axis and at the kingpin's length from the lower outer
pivot: the arms hold together while that length lies between the point's least and greatest distance from the circle.
The lower arm is turned by rotation vectors (scipy), a tenth of a degree at a time.
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from objectives.corner import Candidates, Corner
from objectives.lockup import lock_angles
from objectives.ride import place
from objectives.sweep import TIE_SLACK, _first_lack
from tests.reference import rigid_body
from tests.reference.corners import random_corners

STEP = np.radians(0.1)  # a lock lies between two steps
MOST = np.radians(170.0)
COARSE = np.radians(5.0)


def room(corner: Corner, candidates: Candidates, index: int, turned: np.ndarray) -> np.ndarray:
    """How far the kingpin's length is inside what the arms reach, mm (P,), the lower arm turned from ride."""
    points = rigid_body.hardpoints(corner, candidates, index)
    inner = points.upper_axis[0]
    axis = points.lower_axis[1] - points.lower_axis[0]
    arm = points.lower_outer - points.lower_axis[0]
    along = axis / np.linalg.norm(axis)
    lower = points.lower_axis[0] + Rotation.from_rotvec(turned[:, None] * along).apply(arm)
    upper_along = (points.upper_axis[1] - inner) / np.linalg.norm(points.upper_axis[1] - inner)
    upper_arm, offset = points.upper_outer - inner, lower - inner
    radius, level = np.linalg.norm(np.cross(upper_along, upper_arm)), upper_arm @ upper_along
    height, square = offset @ upper_along - level, np.linalg.norm(np.cross(upper_along, offset), axis=1)
    kingpin = np.linalg.norm(points.upper_outer - points.lower_outer)
    least, greatest = np.hypot(square - radius, height), np.hypot(square + radius, height)
    return np.minimum(kingpin - least, greatest - kingpin)


def test_locks_of_many_pivots() -> None:
    rng = np.random.default_rng(101)
    turned = np.arange(STEP, MOST, STEP)
    locked = free = grazing = 0
    for corner, drawn in random_corners(6, seed=102):
        y, z = (float(part[0]) for part in (drawn.pivot_y, drawn.pivot_z))
        y, z = rng.uniform(y - 250.0, y + 350.0, 40), rng.uniform(z - 250.0, z + 250.0, 40)
        candidates = Candidates(y, z, drawn.static_camber)
        placed = place(corner, candidates)
        below, above = lock_angles(placed)
        for index in range(candidates.count):
            for way, found in ((-1.0, placed.ride_angle - below), (1.0, above - placed.ride_angle)):
                left = room(corner, candidates, index, way * turned)
                short = np.flatnonzero(left < 0.0)
                if not short.size:
                    free += 1
                    assert found[index] >= MOST - STEP or left.min() < 0.05
                    continue
                first = turned[short[0]]
                locked += 1
                # a lock that parts again before the next of the coarse steps
                again = np.flatnonzero(left[short[0] :] > 0.0)
                grazing += bool(again.size) and again[0] * STEP < COARSE
                # what reaches by a twentieth of a mm to spare between two steps may just as well lock there
                earlier = left[: short[0]]
                near = turned[: short[0]][earlier < 0.05]
                assert first - STEP - 1e-6 <= found[index] <= first + 1e-6 or np.abs(near - found[index]).min() <= STEP
    assert locked > 100
    assert free > 20
    assert grazing > 1


class Told:
    """In place of a sweep: how far the tie rod is from lying in line, as told of any place u."""

    def __init__(self, spare: Callable[[np.ndarray], np.ndarray], ride: np.ndarray) -> None:
        self.spare, self.ride = spare, ride

    def at(self, u: np.ndarray) -> SimpleNamespace:
        return SimpleNamespace(pose=SimpleNamespace(tie_spare=self.spare(u)))

    def take(self, _: np.ndarray) -> Told:
        return self


@pytest.mark.parametrize("way", [1, -1])
def test_the_first_of_several_places_where_the_tie_rod_lies_in_line(way: int) -> None:
    """Dips between two looks that touch, of which the first counts; a lock beside ride; a dip that does not touch."""
    width = 1e-3

    def dips(*at: float) -> Callable[[np.ndarray], np.ndarray]:
        return lambda u: np.min([(way * u - place) ** 2 - width**2 for place in at], axis=0)

    for spare, first in (
        (dips(0.3137, 0.7071), 0.3137 - width),
        (dips(0.7071, 0.3137), 0.3137 - width),
        (lambda u: 0.004 - way * u, 0.004),
        (lambda u: np.where(way * u < 0.5, (way * u - 0.2) ** 2 + 0.01, 0.6 - way * u), 0.6),
    ):
        found = _first_lack(Told(spare, np.zeros(1)), way)  # type: ignore[arg-type]
        assert way * found[0] == pytest.approx(first, abs=2.0 * TIE_SLACK / width)
