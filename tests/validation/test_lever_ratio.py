"""Motion ratio of a shock on an arm by levers. Common practice, no source.

How far up the arm the shock sits, as a share of the arm's length, times the sine of the angle between arm and shock,
over the cosine of the arm's slope, which is what the wheel rises for the arm's outer end. Exact for equal parallel
arms with axes along x and the shock in the plane of the front view: there the wheel rises as the arm's outer end
does.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from objectives.corner import Link, Shock, Travel
from objectives.curves import curves_at
from objectives.evaluate import measure
from tests.reference.planar import parallel_arms

EXACT = 1e-10
RADIUS = 400.0
TRAVEL = np.linspace(-100.0, 100.0, 9)


@pytest.mark.parametrize("arm", ["lower", "upper"])
@pytest.mark.parametrize(("share", "frame"), [(0.55, (-90.0, 330.0)), (0.8, (-200.0, 280.0)), (0.95, (-20.0, 350.0))])
def test_levers(arm: str, share: float, frame: tuple[float, float]) -> None:
    ride_angle = np.radians(-9.0)
    corner, candidate = parallel_arms(RADIUS, ride_angle)
    inner = corner.lower_arm.inner_pivot[1:]
    if arm == "upper":
        inner = np.array([candidate.pivot_y[0], candidate.pivot_z[0]])

    def mount(angle: np.ndarray) -> np.ndarray:
        return inner[:, None] + share * RADIUS * np.stack((np.cos(angle), np.sin(angle)))

    at_ride = mount(np.array([ride_angle]))[:, 0]
    top = at_ride + frame
    link = Link(arm, np.array([0.0, *at_ride]), np.array([0.0, *top]))
    corner = replace(corner, shock=Shock(link, extended=5000.0, collapsed=1.0))
    angle = np.arcsin(np.sin(ride_angle) + TRAVEL / RADIUS)
    shock = top[:, None] - mount(angle)
    between = np.arctan2(shock[1], shock[0]) - angle
    expected = share * np.sin(between) / np.cos(angle)
    curves = curves_at(corner, candidate, TRAVEL)
    assert curves.motion_ratio[0] == pytest.approx(expected, abs=EXACT)
    assert curves.shock_length[0] == pytest.approx(np.hypot(*shock), abs=1e-9)
    short = replace(corner, travel=Travel(bump=100.0, droop=100.0, droop_cap=100.0))
    assert measure(short, candidate)["motion_ratio"][0] == pytest.approx(expected[4], abs=EXACT)
