"""Steer angles that roll true, from wheelbase and the distance of the steering axes.

T. D. Gillespie, Fundamentals of Vehicle Dynamics, SAE, 1992, chapters 6 and 8 (recalled from memory, pages
unverified): outside angle = L / (R + t/2), inside angle = L / (R - t/2) for small angles, R from the rear axle's
middle; exactly the tangents are these ratios, so cot outside - cot inside = t / L, whatever R. Here t is between the
steering axes at the ground, as the wheels turn about those. What an angle is short of its tangent is its cube over 3:
the tolerance where the small-angle form is meant.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from objectives.corner import Candidates
from objectives.curves import curves_at
from objectives.turning import true_rolling, turning_of
from tests.reference.planar import planar_corner

EXACT = 1e-12  # rad
WHEELBASE, KINGPINS = 2350.0, 1360.0  # mm
RADII = np.array([3000.0, 4500.0, 10e3, 50e3])


def test_angles_of_a_turn() -> None:
    inside, outside = (np.arctan(WHEELBASE / (RADII - side * 0.5 * KINGPINS)) for side in (1.0, -1.0))
    assert true_rolling(inside, KINGPINS, WHEELBASE) == pytest.approx(outside, abs=EXACT)
    assert true_rolling(outside, -KINGPINS, WHEELBASE) == pytest.approx(inside, abs=EXACT)


def test_small_angles() -> None:
    wide = RADII >= 10e3
    inside, outside = (WHEELBASE / (RADII[wide] - side * 0.5 * KINGPINS) for side in (1.0, -1.0))
    off = np.abs(true_rolling(inside, KINGPINS, WHEELBASE) - outside)
    assert (off <= inside**3 / 3.0).all()
    assert (np.abs(true_rolling(inside, 0.0, WHEELBASE) - outside) > inside**3 / 3.0).all(), "the width must tell"


@pytest.mark.parametrize("steering_x", [-110.0, 110.0])
def test_error_of_a_corner_by_cotangents(steering_x: float) -> None:
    """Whole corner: what its outside wheel lacks of cot outside = cot inside + t / L is its Ackermann error."""
    corner = planar_corner((300.0, 0.0), steering_x=steering_x, inner_x=steering_x)
    corner = replace(corner, steering=replace(corner.steering, rack_travel=45.0))
    candidate, shares = Candidates(340.0, 220.0, 0.0), np.array([-1.0, -0.4, 0.3, 1.0])
    turning = turning_of(corner, candidate, shares, WHEELBASE)
    ride = curves_at(corner, candidate, np.zeros(1))
    kingpins = 2.0 * (ride.contact[1, 0, 0] - ride.kingpin_offset[0, 0])
    inside, outside = (
        np.where(shares > 0.0, *pair) for pair in ((turning.left, turning.right), (turning.right, turning.left))
    )
    true = np.arctan(1.0 / (1.0 / np.tan(np.abs(inside)) + kingpins / WHEELBASE))
    assert turning.ackermann_error == pytest.approx(np.abs(outside) - true, abs=EXACT)
    assert np.abs(turning.ackermann_error).max() > np.radians(0.5)
