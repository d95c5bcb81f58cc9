"""Camber that steering brings about, from caster and kingpin inclination.

J. C. Dixon, Suspension Geometry and Computation, Wiley, 2009, on steering (recalled from memory, page unverified):
camber = lambda (1 - cos delta) - phi sin delta, lambda the kingpin inclination, phi the caster, delta the steer
angle, here + as toe-in, which is how the wheel outside a bend stands. It is the small-angle form of this: turning
about the kingpin leaves the angle between spin axis and kingpin as it is.

Equal parallel arms keep the kingpin's direction, so the exact form holds to rounding. The short form leaves out, of
the exact one, camber^2 / 2 of each term and camber^3 / 6: its tolerance.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from objectives.corner import Candidates, Corner
from objectives.curves import curves_at
from tests.reference.planar import parallel_arms

EXACT = 1e-12  # rad
RACK = np.linspace(-45.0, 45.0, 13)  # mm


def turned(case: tuple[Corner, Candidates]) -> tuple[np.ndarray, np.ndarray, float, float]:
    """Camber and toe over the rack's travel; caster and kingpin inclination at ride."""
    curves = [curves_at(*case, np.zeros(1), np.array([0.0, rack, 0.0])) for rack in RACK]
    ride = curves_at(*case, np.zeros(1))
    camber, toe, caster, kingpin = (
        np.array([getattr(found, name)[0, 0] for found in curves]) for name in ("camber", "toe", "caster", "kingpin")
    )
    assert caster == pytest.approx(ride.caster[0, 0], abs=EXACT)
    assert kingpin == pytest.approx(ride.kingpin[0, 0], abs=EXACT)
    return camber, toe, float(ride.caster[0, 0]), float(ride.kingpin[0, 0])


@pytest.mark.parametrize("slope", [-12.0, 0.0, 8.0])
@pytest.mark.parametrize("pitch", [-4.0, 0.0, 5.0])
def test_camber_by_steer(pitch: float, slope: float) -> None:
    corner, candidate = parallel_arms(400.0, np.radians(slope))
    pitched = replace(corner, spindle=replace(corner.spindle, pitch=np.radians(pitch)))
    if pitch:
        # the pitched spindle's outer pivots stand elsewhere: the upper arm is put parallel to the lower one again
        ride = curves_at(pitched, candidate, np.zeros(1))
        arm = ride.lower_outer[1:, 0, 0] - pitched.lower_arm.inner_pivot[1:]
        candidate = Candidates(*(ride.upper_outer[1:, 0, 0] - arm), 0.0)
    camber, toe, caster, kingpin = turned((pitched, candidate))
    assert np.ptp(toe) > np.radians(40.0)
    # spin axis on kingpin, both divided by the kingpin's upright part
    on_kingpin = (-np.tan(caster) * np.sin(toe) - np.tan(kingpin) * np.cos(toe)) * np.cos(camber) - np.sin(camber)
    assert on_kingpin == pytest.approx(-np.tan(kingpin), abs=EXACT)
    short = np.tan(kingpin) * (1.0 - np.cos(toe)) - np.tan(caster) * np.sin(toe)
    left_out = (
        0.5 * camber**2 * (np.abs(np.tan(caster) * np.sin(toe)) + np.abs(np.tan(kingpin))) + np.abs(camber) ** 3 / 6
    )
    assert (np.abs(camber - short) <= left_out + EXACT).all()
    assert np.abs(camber).max() > np.radians(1.0)
