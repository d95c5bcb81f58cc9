"""Words and signs of ISO 8855:2011, Road vehicles: vehicle dynamics and road-holding ability, vocabulary.

Axes right-handed, x forward, y left, z up; toe about the vertical, toe-in positive (7.1.6); camber positive with the
top outboard; castor angle (7.2.2), castor offset (7.2.3), kingpin inclination (7.2.5), kingpin offset at ground
(7.2.6): clause numbers seen in extracts, the figures not. SAE J670e's axes differ (y right, z down; from memory).

Each sign is tried on a left front corner constructed to have it, from its points alone. A constructed corner stands
exactly, so the tolerance is rounding.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from objectives.corner import Candidates, Corner, Spindle
from objectives.curves import Curves, curves_at
from tests.reference.planar import GROUND, HALF_TRACK, LOADED, planar_corner

EXACT = 1e-9  # mm or rad
LOWER, UPPER = np.array([0.0, -90.0, -110.0]), np.array([0.0, -90.0, 120.0])
STEERING = np.array([-110.0, -90.0, -110.0])


def corner_with(
    lower: np.ndarray = LOWER, upper: np.ndarray = UPPER, camber: float = 0.0, toe: float = 0.0, pitch: float = 0.0
) -> Corner:
    plain = planar_corner((300.0, 0.0), camber=camber)
    return replace(plain, static_toe=toe, spindle=Spindle(lower, upper, STEERING, pitch))


def at_ride(corner: Corner) -> Curves:
    return curves_at(corner, Candidates(340.0, 220.0, corner.static_camber), np.zeros(1))


def test_the_axes_are_right_handed_with_y_to_the_left() -> None:
    """Left wheel at positive y, ground below at negative z, wheel centre above its contact centre."""
    ride = at_ride(corner_with())
    assert ride.contact[:, 0, 0] == pytest.approx([0.0, HALF_TRACK, GROUND], abs=EXACT)
    assert ride.wheel[:, 0, 0] == pytest.approx([0.0, HALF_TRACK, GROUND + LOADED], abs=EXACT)


@pytest.mark.parametrize("degrees", [3.0, -3.0])
def test_camber_is_positive_with_the_top_outboard(degrees: float) -> None:
    """Leaning out at the top, a left wheel has its contact centre inboard of its own, by the radius times the sine."""
    camber = np.radians(degrees)
    ride = at_ride(corner_with(camber=camber))
    assert ride.camber[0, 0] == pytest.approx(camber, abs=EXACT)
    assert ride.wheel[1, 0, 0] - ride.contact[1, 0, 0] == pytest.approx(LOADED * np.sin(camber), abs=EXACT)
    assert ride.wheel[2, 0, 0] - ride.contact[2, 0, 0] == pytest.approx(LOADED * np.cos(camber), abs=EXACT)


@pytest.mark.parametrize("degrees", [2.0, -2.0])
def test_toe_in_is_positive(degrees: float) -> None:
    """Toe-in: the front of a left wheel points right. Ahead along the wheel is spin axis (to the left) cross up."""
    toe = np.radians(degrees)
    ride = at_ride(corner_with(toe=toe))
    ahead = np.cross(ride.spin[:, 0, 0], [0.0, 0.0, 1.0])
    assert ahead == pytest.approx([np.cos(toe), -np.sin(toe), 0.0], abs=EXACT)
    assert ride.toe[0, 0] == pytest.approx(toe, abs=EXACT)


@pytest.mark.parametrize("rearward", [20.0, -20.0])
def test_caster_is_positive_with_the_top_rearward(rearward: float) -> None:
    ride = at_ride(corner_with(upper=UPPER + np.array([-rearward, 0.0, 0.0])))
    assert ride.caster[0, 0] == pytest.approx(np.arctan2(rearward, 230.0), abs=EXACT)
    assert ride.kingpin[0, 0] == pytest.approx(0.0, abs=EXACT)


@pytest.mark.parametrize("degrees", [6.0, -6.0])
def test_pitch_of_the_spindle_adds_to_caster(degrees: float) -> None:
    ride = at_ride(corner_with(pitch=np.radians(degrees)))
    assert ride.caster[0, 0] == pytest.approx(np.radians(degrees), abs=EXACT)


@pytest.mark.parametrize("inboard", [40.0, -25.0])
def test_kingpin_inclination_is_positive_with_the_top_inboard(inboard: float) -> None:
    ride = at_ride(corner_with(upper=UPPER + np.array([0.0, -inboard, 0.0])))
    assert ride.kingpin[0, 0] == pytest.approx(np.arctan2(inboard, 230.0), abs=EXACT)
    assert ride.caster[0, 0] == pytest.approx(0.0, abs=EXACT)


@pytest.mark.parametrize(("inboard", "offset"), [(40.0, None), (0.0, 90.0), (-25.0, None)])
def test_kingpin_offset_is_positive_with_the_axis_inboard(inboard: float, offset: float | None) -> None:
    """Steering axis carried on to the ground: from the lower outer pivot, 250 mm below which the ground lies."""
    ride = at_ride(corner_with(upper=UPPER + np.array([0.0, -inboard, 0.0])))
    below = LOADED - 110.0
    expected = 90.0 - below * inboard / 230.0
    assert ride.kingpin_offset[0, 0] == pytest.approx(expected, abs=EXACT)
    if offset is not None:
        assert expected == offset


@pytest.mark.parametrize("inboard", [40.0, 15.0, -25.0])
def test_kingpin_offset_by_the_offset_at_the_wheel_centre(inboard: float) -> None:
    """Reimpell, Stoll and Betzler, The Automotive Chassis, 2001 (relation from memory, page unverified): offset at the
    ground = offset at the wheel centre's height less the loaded radius times the tangent of the inclination."""
    upper = UPPER + np.array([0.0, -inboard, 0.0])
    ride = at_ride(corner_with(upper=upper))
    at_centre = -(LOWER[1] + (upper - LOWER)[1] * 110.0 / 230.0)
    expected = at_centre - LOADED * np.tan(ride.kingpin[0, 0])
    assert ride.kingpin_offset[0, 0] == pytest.approx(expected, abs=EXACT)


def test_travel_is_positive_in_bump() -> None:
    curves = curves_at(corner_with(), Candidates(340.0, 220.0, 0.0), np.array([-30.0, 0.0, 30.0]))
    assert np.diff(curves.wheel[2, 0]) == pytest.approx([30.0, 30.0], abs=EXACT)


def test_rack_shifted_outboard_toes_a_wheel_out_when_the_rod_is_in_front() -> None:
    """Rod in front of the axle pushed to the left: the front of the left wheel goes left, which is toe-out."""
    for steering_x, sign in ((110.0, -1.0), (-110.0, 1.0)):
        corner = planar_corner((300.0, 0.0), steering_x=steering_x, inner_x=steering_x)
        steered = curves_at(corner, Candidates(340.0, 220.0, 0.0), np.zeros(1), np.array([0.0, 10.0, 0.0]))
        assert np.sign(steered.toe[0, 0]) == sign
        assert abs(steered.toe[0, 0]) == pytest.approx(10.0 / 110.0, rel=0.05)  # the rod's end on an arm of 110 mm
