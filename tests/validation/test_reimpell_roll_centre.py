"""Height of the roll centre of a double wishbone from angles and distances on a drawing.

J. Reimpell, H. Stoll and J. W. Betzler, The Automotive Chassis: Engineering Principles, 2nd edition, SAE and
Butterworth-Heinemann, 2001, section 3.4 (formula recalled from memory, page unverified; checked here by the sine rule
on the triangle of both outer pivots and the instant centre):

    k = c sin(90 deg + sigma - alpha) / sin(alpha + beta)
    h_p = k sin beta + d
    h_Ro = h_p (b / 2) / (k cos beta + d tan sigma + r_sigma)

c between the outer pivots, sigma the kingpin inclination, alpha the fall of the upper arm inboard, beta the rise of the
lower arm inboard, d the lower outer pivot above the ground, r_sigma the kingpin offset at the ground, b the track. A
front-view drawing: axes along x. Exact, so the tolerance is rounding, grown by a long swing arm.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from objectives.corner import Candidates, Travel
from objectives.curves import curves_at
from objectives.evaluate import measure
from tests.reference.planar import GROUND, HALF_TRACK, SHAPES, planar_corner

EXACT = 1e-8  # mm
AT_RIDE = 1e-5  # mm; the measure reads half a track times the slope of a polynomial through 17 points


@pytest.mark.parametrize("shape", SHAPES)
def test_roll_centre_height(shape: str) -> None:
    lower, upper, camber = SHAPES[shape]
    corner = replace(planar_corner(lower, camber=camber), travel=Travel(bump=100.0, droop=120.0, droop_cap=120.0))
    candidate = Candidates(*upper, camber)
    travel = np.array([-100.0, -40.0, 0.0, 30.0, 90.0])
    curves = curves_at(corner, candidate, travel)
    low, high = curves.lower_outer[1:, 0], curves.upper_outer[1:, 0]
    beta = np.arctan2(lower[1] - low[1], low[0] - lower[0])
    alpha = np.arctan2(high[1] - upper[1], high[0] - upper[0])
    sigma, offset = curves.kingpin[0], curves.kingpin_offset[0]
    d = low[1] - curves.contact[2, 0]
    k = np.hypot(*(high - low)) * np.sin(np.pi / 2.0 + sigma - alpha) / np.sin(alpha + beta)
    pole = k * np.sin(beta) + d
    half_track = curves.contact[1, 0]
    height = pole * half_track / (k * np.cos(beta) + d * np.tan(sigma) + offset)
    assert curves.roll_centre_z[0] - curves.contact[2, 0] == pytest.approx(height, abs=EXACT)
    ride = int(np.flatnonzero(travel == 0.0)[0])
    assert measure(corner, candidate)["roll_centre_height"][0] == pytest.approx(height[ride], abs=AT_RIDE)
    assert half_track[ride] == pytest.approx(HALF_TRACK, abs=EXACT)
    assert curves.contact[2, 0, ride] == pytest.approx(GROUND, abs=EXACT)
