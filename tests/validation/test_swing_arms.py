"""Swing arms of front and side view, in the forms in which a handbook states them.

W. F. and D. L. Milliken, Race Car Vehicle Dynamics, SAE, 1995, chapter 17 (relations recalled from memory, pages
unverified):

* rate of camber change = arctan(1 / fvsa), degrees per unit of travel, fvsa the front-view swing arm's length;
* fvsa = (t / 2) / (1 - roll camber), roll camber = camber to the ground per angle of body roll, t the track;
* jacking: the arms pass a side force on with a vertical part of its size times the roll centre's height over t / 2;
* the upright turns about the instant axis, in which the planes of the two arms meet; in side view that is the swing
  arm by which caster changes.

Nothing is rounded. test_instant_centre.py holds the same swing arm as exact slopes; here statics, whole vehicles in
roll and planes in space stand in for it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from objectives.corner import Candidates, Corner, Travel
from objectives.curves import Curves, curves_at
from objectives.roll import roll_curves
from tests.reference import rigid_body
from tests.reference.corners import assembling_corners
from tests.reference.differences import slope
from tests.reference.planar import HALF_TRACK, SHAPES, instant_centre, planar_corner

Figures = Callable[[str, str], None]

# The handbook's rate is taken over a whole unit of travel, half of it up and half down: what a tangent misses of such a
# chord is the curve's third derivative over 24, some 1e-9 rad/mm^3 for these corners.
OVER_ONE_MM = 3e-9  # rad
# Over an inch the same grows by 25.4^3.
OVER_ONE_INCH = 25.4**3 * OVER_ONE_MM  # rad
# Two rolls a factor of two apart, extrapolated: what is left goes with the fourth power of a hundredth.
IN_ROLL = 1e-6
STATIC = 1e-9  # of a force of 1: three equations of order one
SPATIAL = 1e-9  # rad/mm, as the slopes of test_instant_centre.py with arms that meet at a sharp angle


@pytest.fixture(params=SHAPES.values(), ids=SHAPES.keys())
def case(request: pytest.FixtureRequest) -> tuple[Corner, Candidates]:
    lower, upper, camber = request.param
    corner = replace(planar_corner(lower, camber=camber), travel=Travel(bump=100.0, droop=120.0, droop_cap=120.0))
    return corner, Candidates(*upper, camber)


def swing_arm(case: tuple[Corner, Candidates], end: str) -> float:
    """Length of the front-view swing arm at ride, mm, to the wheel centre or the contact centre."""
    curves = curves_at(*case, np.zeros(1))
    return float(getattr(curves, end)[1, 0, 0] - instant_centre(*case, curves)[0, 0])


@pytest.mark.parametrize(("unit", "tolerance"), [(1.0, OVER_ONE_MM), (25.4, OVER_ONE_INCH)], ids=["mm", "inch"])
def test_rate_of_camber_change(case: tuple[Corner, Candidates], unit: float, tolerance: float) -> None:
    camber = curves_at(*case, np.array([-0.5, 0.5]) * unit).camber[0]
    assert camber[1] - camber[0] == pytest.approx(-np.arctan(unit / swing_arm(case, "wheel")), abs=tolerance)


def test_swing_arm_from_roll_camber(case: tuple[Corner, Candidates], figures: Figures) -> None:
    """Camber to the ground per angle of roll, from both wheels of a body rolled by 0.01 and 0.02 rad."""
    corner, candidate = case
    slopes = []
    for roll in (0.02, 0.01):
        found = roll_curves(corner, candidate, np.array([roll]))
        slopes.append(float(found.outer[0, 0] - found.inner[0, 0]) / (2.0 * roll))
    roll_camber = slopes[1] + (slopes[1] - slopes[0]) / 3.0
    arm = swing_arm(case, "contact")
    half_track = float(curves_at(*case, np.zeros(1)).contact[1, 0, 0])
    figures(f"roll camber vs a swing arm of {arm:.0f} mm", f"{abs(roll_camber - (1.0 - half_track / arm)):.1e}")
    assert roll_camber == pytest.approx(1.0 - half_track / arm, abs=IN_ROLL)


def test_jacking_by_statics(case: tuple[Corner, Candidates]) -> None:
    """Arms as bars that carry nothing but pull and push; the spindle in balance in the front view: three equations."""
    corner, candidate = case
    travel = np.linspace(-corner.travel.droop, corner.travel.bump, 9)
    curves = curves_at(corner, candidate, travel)
    inner = (corner.lower_arm.inner_pivot[1:], np.array([candidate.pivot_y[0], candidate.pivot_z[0]]))
    for p in range(travel.size):
        contact = curves.contact[1:, 0, p]
        columns = []
        for pivot, outer in zip(inner, (curves.lower_outer, curves.upper_outer), strict=True):
            at = outer[1:, 0, p]
            bar = (pivot - at) / np.linalg.norm(pivot - at)
            columns.append([*bar, np.cross([0.0, *(at - contact)], [0.0, *bar])[0]])
        upward = [0.0, 1.0, 0.0]  # at the contact centre, about which moments are taken
        _, _, jacking = np.linalg.solve(np.array([*columns, upward]).T, [-1.0, 0.0, 0.0])
        height = curves.roll_centre_z[0, p] - contact[1]
        assert jacking == pytest.approx(-height / contact[0], abs=STATIC)
    assert curves.contact[1, 0, 0] != pytest.approx(HALF_TRACK, abs=1.0), "positions off ride are among them"


def kingpin_of(curves: Curves) -> np.ndarray:
    return np.asarray((curves.upper_outer - curves.lower_outer)[:, 0])


def test_instant_axis(figures: Figures) -> None:
    """Raked and splayed arms: caster and kingpin inclination per mm that the lower outer pivot rises.

    However it steers, the kingpin goes as a body does that turns about the line in which the arms' planes meet.
    """
    worst, steepest = 0.0, 0.0
    for corner, candidate in assembling_corners(25, seed=81)[0]:
        points = rigid_body.hardpoints(corner, candidate)
        travel = np.array([-0.5 * corner.travel.droop, 0.0, 0.5 * corner.travel.bump])
        curves = curves_at(corner, candidate, travel)

        def rows(shift: Any, c: Corner = corner, k: Candidates = candidate, t: np.ndarray = travel) -> np.ndarray:
            there = curves_at(replace(c, outlines=()), k, t + np.float64(shift))
            return np.stack((there.lower_outer[2, 0], there.caster[0], there.kingpin[0]))

        rise, *found = slope(rows, 8.0)
        for p in range(travel.size):
            lower, upper = curves.lower_outer[:, 0, p], curves.upper_outer[:, 0, p]
            normals = [
                np.cross(axis[1] - axis[0], outer - axis[0])
                for axis, outer in ((points.lower_axis, lower), (points.upper_axis, upper))
            ]
            along = np.cross(*normals)
            places = [normals[0] @ points.lower_axis[0], normals[1] @ points.upper_axis[0], 0.0]
            through = np.linalg.solve(np.array([*normals, along]), places)
            kingpin = upper - lower
            turn = along / np.cross(along, lower - through)[2]  # so that the lower outer pivot rises by 1
            moved = np.cross(turn, kingpin)
            by_caster = (kingpin[0] * moved[2] - moved[0] * kingpin[2]) / (kingpin[0] ** 2 + kingpin[2] ** 2)
            by_kingpin = (kingpin[1] * moved[2] - moved[1] * kingpin[2]) / (kingpin[1] ** 2 + kingpin[2] ** 2)
            for rate, expected in zip(found, (by_caster, by_kingpin), strict=True):
                worst = max(worst, abs(float(rate[p] / rise[p]) - expected))
            steepest = max(steepest, abs(by_caster))
    figures("caster and kingpin rates vs instant axis, 25 corners", f"{worst:.1e} rad/mm of up to {steepest:.1e}")
    assert steepest > 1e-4, "caster must change for the check to say anything"
    assert worst <= SPATIAL
