"""Motion ratio against statics, by virtual work, and the shock's length against a rigid spindle.

A force F that the ground puts on the wheel and the shock's force S hold each other in balance when F dz = S dl, so the
motion ratio dl/dz is F for S = 1 (principle of virtual work; Milliken & Milliken, Race Car Vehicle Dynamics, 1995,
chapter 16, from memory). F comes from forces and moments on the spindle and both arms, eight linear equations
(tests/reference/parts.py), at positions the rigid-body engine found.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from objectives.corner import Candidates, Corner, Link, Shock
from objectives.curves import curves_at
from objectives.evaluate import measure
from tests.reference import parts, rigid_body
from tests.reference.corners import random_corners

Figures = Callable[[str, str], None]

LENGTH = 1e-9  # mm, as for every point of the linkage
RATIO = 1e-9  # two linear systems of order one at a metre


def mounted(corner: Corner, candidate: Candidates, arm: str, rng: np.random.Generator) -> Corner:
    """A shock from somewhere along an arm, off its plane, to the frame above, long enough to stop nothing."""
    points = rigid_body.hardpoints(corner, candidate) if arm == "upper" else parts.nominal_points(corner, candidate)
    outer, axis = (points.upper_outer, points.upper_axis) if arm == "upper" else (points.lower_outer, points.lower_axis)
    on_arm = axis.mean(axis=0) + rng.uniform(0.4, 0.9) * (outer - axis.mean(axis=0)) + rng.uniform(-40, 40, 3)
    on_frame = on_arm + np.array([rng.uniform(-60, 60), rng.uniform(-200, -40), rng.uniform(250, 400)])
    return replace(corner, shock=Shock(Link(arm, on_arm, on_frame), extended=5000.0, collapsed=1.0))


@pytest.mark.parametrize("arm", ["lower", "upper"])
def test_length_and_motion_ratio(arm: str, figures: Figures) -> None:
    rng = np.random.default_rng(71)
    lengths, ratios, spread = [], [], []
    for number, (bare, candidate) in enumerate(random_corners(9, seed=72)):
        corner = mounted(bare, candidate, arm, rng)
        link = corner.shock.link
        points, laid_out = rigid_body.hardpoints(corner, candidate), parts.nominal_points(corner, candidate)
        if arm == "upper":
            laid_out = points
        shift = (0.0, 0.5, -0.8)[number % 3] * corner.steering.rack_travel
        travel = np.array([-0.8, 0.0, 0.7]) * min(corner.travel.droop, corner.travel.bump)
        sweep = rigid_body.solve(points, travel, shift)
        curves = curves_at(corner, candidate, travel, np.array([0.0, shift, 0.0]))
        for p in np.flatnonzero(np.isfinite(sweep.camber)):
            mount = parts.mount_at(points, laid_out, arm, link.arm_point, getattr(sweep, f"{arm}_outer")[:, p])
            along = mount - link.frame_point
            lengths.append(abs(curves.shock_length[0, p] - np.linalg.norm(along)))
            push = along / np.linalg.norm(along)  # a shock under load pushes the arm away from the frame
            joint = points.inner_joint + np.array([0.0, shift, 0.0])
            force = parts.wheel_force(points, sweep, p, joint, arm, mount, push)
            ratios.append(abs(curves.motion_ratio[0, p] - force))
            spread.append(force)
    figures(
        f"shock on the {arm} arm: length vs rigid body, motion ratio vs statics, {len(lengths)} positions",
        f"{max(lengths):.1e} mm, {max(ratios):.1e} of {min(spread):.2f} to {max(spread):.2f}",
    )
    assert len(lengths) >= 20
    assert max(spread) - min(spread) > 0.2
    assert max(lengths) <= LENGTH
    assert max(ratios) <= RATIO


@pytest.mark.parametrize("arm", ["lower", "upper"])
def test_motion_ratio_is_the_slope_of_length(arm: str) -> None:
    """How much the shock shortens per mm of travel: + when it closes in bump."""
    rng = np.random.default_rng(73)
    step = 0.01
    for bare, candidate in random_corners(4, seed=74):
        corner = mounted(bare, candidate, arm, rng)
        curves = curves_at(corner, candidate, np.array([20.0 - step, 20.0, 20.0 + step]))
        slope = -(curves.shock_length[0, 2] - curves.shock_length[0, 0]) / (2.0 * step)
        # central differences: the error is the third derivative, of the order of 1e-5 per mm^2, times step^2 / 6
        assert curves.motion_ratio[0, 1] == pytest.approx(slope, abs=1e-8)
        assert slope > 0.0


@pytest.mark.parametrize("arm", ["lower", "upper"])
def test_the_stroke_ends_the_travel(arm: str) -> None:
    """Extended and collapsed lengths taken from the rigid body at 60 mm of droop and 50 mm of bump, straight ahead."""
    rng = np.random.default_rng(75)
    checked = 0
    for bare, candidate in random_corners(6, seed=76):
        free = {
            name: replace(getattr(bare.steering, name), max_angle=1.5) for name in ("outer_rod_end", "inner_rod_end")
        }
        corner = mounted(replace(bare, steering=replace(bare.steering, rack_travel=0.0, **free)), candidate, arm, rng)
        points, link = rigid_body.hardpoints(corner, candidate), corner.shock.link
        laid_out = points if arm == "upper" else parts.nominal_points(corner, candidate)
        sweep = rigid_body.solve(points, np.array([-60.0, 50.0]))
        if np.isnan(sweep.camber).any():
            continue
        extended, collapsed = (
            float(np.linalg.norm(parts.mount_at(points, laid_out, arm, link.arm_point, outer) - link.frame_point))
            for outer in getattr(sweep, f"{arm}_outer").T
        )
        measured = measure(replace(corner, shock=Shock(link, extended, collapsed)), candidate)
        assert measured["limited_by"][0] == "shock at full length"
        assert measured["bump_limited_by"][0] == "shock fully closed"
        # a length off by 1e-9 mm, over a motion ratio of a tenth at least
        assert measured["droop_limit"][0] == pytest.approx(60.0, abs=1e-7)
        assert measured["bump_limit"][0] == pytest.approx(50.0, abs=1e-7)
        ends = curves_at(corner, candidate, np.array([-corner.travel.droop, 0.0, corner.travel.bump]))
        if measured["complete"][0]:
            assert measured["shock_full_droop"][0] == pytest.approx(ends.shock_length[0, 0], abs=LENGTH)
            assert measured["shock_full_bump"][0] == pytest.approx(ends.shock_length[0, 2], abs=LENGTH)
        assert measured["motion_ratio"][0] == pytest.approx(ends.motion_ratio[0, 1], abs=RATIO)
        checked += 1
    assert checked >= 4
