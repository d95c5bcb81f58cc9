"""Tie-rod layouts that never steer.

J. Reimpell, H. Stoll and J. W. Betzler, The Automotive Chassis: Engineering Principles, 2nd edition, SAE and
Butterworth-Heinemann, 2001, on the steering linkage (relation from memory, pages unverified): toe stays as it is while
the outer joint moves on the circle it would move on anyway. Exact, so the tolerance is rounding, when both axes lie
along x and both ends of the rod lie on the lower arm's own lines: it then moves as part of the arm.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from objectives.corner import Candidates
from objectives.curves import curves_at
from tests.reference.planar import SHAPES, planar_corner

EXACT = 1e-10  # rad
PLACE = 1e-9  # mm
TRAVEL = np.linspace(-120.0, 100.0, 23)


@pytest.mark.parametrize("steering_x", [-110.0, 95.0], ids=["behind", "in front"])
@pytest.mark.parametrize("inner_x", [0.0, -110.0, 40.0])
@pytest.mark.parametrize("shape", SHAPES)
def test_rod_on_the_lower_arms_axes(shape: str, inner_x: float, steering_x: float) -> None:
    """The inner joint may stand anywhere on the lower inner axis."""
    lower, upper, camber = SHAPES[shape]
    corner = planar_corner(lower, camber=camber, inner_x=inner_x, steering_x=steering_x)
    curves = curves_at(corner, Candidates(*upper, camber), TRAVEL)
    assert np.abs(curves.toe).max() < EXACT
    assert curves.steering_outer - curves.lower_outer == pytest.approx(
        np.broadcast_to(np.array([steering_x, 0.0, 0.0])[:, None, None], curves.wheel.shape), abs=PLACE
    )


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("lift", [15.0, -15.0])
def test_an_inner_joint_too_high_or_too_low_steers_one_way(shape: str, lift: float) -> None:
    """Rod behind the axle, inner joint above the line: in bump the outer joint is pulled in less, its end of the wheel
    goes outboard, the wheel toes in; below the line the other way. In droop the sides change (common practice, no
    source, on rod slopes; the rod as short as the arm)."""
    lower, upper, camber = SHAPES[shape]
    level = planar_corner(lower, camber=camber, inner_x=-110.0)
    joint = level.steering.inner_joint + np.array([0.0, 0.0, lift])
    corner = replace(level, steering=replace(level.steering, inner_joint=joint))
    toe = curves_at(corner, Candidates(*upper, camber), np.array([-40.0, 0.0, 40.0])).toe[0]
    assert toe[1] == pytest.approx(0.0, abs=EXACT)
    assert np.sign(toe[2]) == np.sign(lift)
    assert np.sign(toe[0]) == -np.sign(lift)
