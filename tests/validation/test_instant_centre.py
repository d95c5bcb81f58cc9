"""Swing-arm relations of the front view: the wheel turns about the point where the two arms' lines meet.

W. F. and D. L. Milliken, Race Car Vehicle Dynamics, SAE, 1995, chapter 17; J. C. Dixon, Suspension Geometry and
Computation, Wiley, 2009 (relations from memory, pages unverified). With the instant centre inboard of the contact
centre at distance L (the front-view swing arm) and height h, per unit of travel: camber -1/L radian, contact centre
h/L sideways; roll centre where the line from contact centre to instant centre meets the centre plane, so at half the
track times h/L. The relations are exact for axes along x and no steer about an inclined kingpin, so every corner here
has the tie rod that never steers. Per unit travel of the wheel centre L is measured from the wheel centre; on an
upright wheel this is the contact centre's distance too.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from objectives.corner import Candidates, Corner
from objectives.curves import curves_at
from tests.reference.differences import slope
from tests.reference.planar import GROUND, HALF_TRACK, LOWER, SHAPES, UPPER, WHEEL_Z, instant_centre, planar_corner

Figures = Callable[[str, str], None]

# Differences are extrapolated down to rounding of the curves: 1e-13 mm over half a millimetre, and some room.
SLOPE = 1e-11  # rad/mm, or mm/mm
ROLL_CENTRE = 1e-8  # mm: half a track of 780 mm times the slope's tolerance
EXACT = 1e-9  # mm
TRAVEL = np.linspace(-120.0, 100.0, 23)
STEP = 8.0  # mm of travel, and its halves


@pytest.fixture(params=SHAPES.values(), ids=SHAPES.keys())
def case(request: pytest.FixtureRequest) -> tuple[Corner, Candidates]:
    lower, upper, camber = request.param
    return planar_corner(lower, camber=camber), Candidates(*upper, camber)


def slope_of(case: tuple[Corner, Candidates], quantity: str) -> np.ndarray:
    """Derivative by travel of one of the curves at `TRAVEL`; vectors keep their axis first."""
    return slope(lambda h: getattr(curves_at(*case, TRAVEL + np.float64(h)), quantity)[..., 0, :], STEP)


def test_camber_slope(case: tuple[Corner, Candidates], figures: Figures) -> None:
    curves = curves_at(*case, TRAVEL)
    arm = curves.wheel[1, 0] - instant_centre(*case, curves)[0]
    worst = np.abs(slope_of(case, "camber") + 1.0 / arm).max()
    figures(f"camber slope vs swing arms of {np.abs(arm).min():.0f} mm and more", f"{worst:.1e} rad/mm")
    assert worst <= SLOPE


def test_contact_path_slope(case: tuple[Corner, Candidates]) -> None:
    curves = curves_at(*case, TRAVEL)
    arm, height = curves.contact[1:, 0] - instant_centre(*case, curves)
    path = slope_of(case, "contact")
    assert np.abs(path[1] / path[2] + height / arm).max() <= SLOPE


def test_roll_centre_height_is_half_the_track_times_the_path_slope(case: tuple[Corner, Candidates]) -> None:
    """Above the contact centre, with half the track as it is at each position."""
    curves = curves_at(*case, TRAVEL)
    path = slope_of(case, "contact")
    height = curves.contact[1, 0] * path[1] / path[2]
    assert curves.roll_centre_z[0] - curves.contact[2, 0] == pytest.approx(height, abs=ROLL_CENTRE)


def test_roll_centre_lies_on_the_line_from_contact_to_instant_centre(case: tuple[Corner, Candidates]) -> None:
    curves = curves_at(*case, TRAVEL)
    contact = curves.contact[1:, 0]
    arm, height = contact - instant_centre(*case, curves)
    assert curves.roll_centre_z[0] == pytest.approx(contact[1] - contact[0] * height / arm, abs=ROLL_CENTRE)


@pytest.mark.parametrize(
    ("arm", "roll_centre"),
    [(1500.0, 60.0), (2500.0, -20.0), (1000.0, 100.0), (-3000.0, 40.0)],
)
def test_pivots_laid_out_for_a_swing_arm_and_a_roll_centre(arm: float, roll_centre: float) -> None:
    """The layout a designer draws: choose the swing arm's length and the roll centre's height above the ground, mark
    the instant centre on the line from contact centre to roll centre, and put both inner pivots on the lines from it
    to the outer pivots. The corner then has at ride the camber change and the roll centre asked for."""
    centre = np.array([HALF_TRACK - arm, GROUND + arm * roll_centre / HALF_TRACK])
    wheel = np.array([HALF_TRACK, WHEEL_Z])
    inner = []
    for outer, length in ((wheel + LOWER[1:], 440.0), (wheel + UPPER[1:], 330.0)):
        line = centre - outer
        line *= np.sign(-line[0]) / np.hypot(*line)  # inboard, whichever side the instant centre is on
        inner.append(outer + length * line)
    case = planar_corner((inner[0][0], inner[0][1])), Candidates(*inner[1], 0.0)
    curves = curves_at(*case, np.zeros(1))
    assert curves.roll_centre_z[0, 0] == pytest.approx(GROUND + roll_centre, abs=EXACT)
    ride = np.argmin(np.abs(TRAVEL))
    assert TRAVEL[ride] == 0.0
    assert slope_of(case, "camber")[ride] == pytest.approx(-1.0 / arm, abs=SLOPE)
