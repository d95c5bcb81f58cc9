"""The demo's measures the plain way: every position solved by scipy's root finder, measures read off the positions.

Six equations a position (`tests/reference/constraint_equations.py`), 33 travels at each of the five steering
positions, and as many more as it takes to follow the droop to where a joint or the shock ends it. The gap to the
bodywork at a position is the package's own formula. Left out, to this way's advantage: the inner joint is not looked
for but taken where the package puts it, and nothing is looked at between two travels or two steering positions.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from scipy.integrate import simpson
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from objectives.corner import Candidates, Corner
from objectives.fender_clearance import gap_at
from objectives.steering import steering_positions
from tests.reference import constraint_equations
from tests.reference.parts import mount_at, nominal_points
from tests.reference.rigid_body import Hardpoints, hardpoints, measured, rack_gear

EACH_SIDE = 17  # travels from ride to full droop and to full bump
STEP = 20.0  # mm, on the way to the droop limit
EXACT = 1e-6  # mm, of that limit


def measures(corner: Corner, one: Candidates, found: Mapping[str, np.ndarray]) -> dict[str, float]:
    """Objectives of one candidate with its inner joint where it was `found`, mm and radians; NaN where it locks.

    Only for a corner with a rack, rod ends and a shock on the lower arm, as the demo has.
    """
    y, z = (float(found[name][0]) for name in ("inner_joint_y", "inner_joint_z"))
    joint = np.array([corner.steering.inner_joint[0], y, z])
    placed = replace(corner, steering=replace(corner.steering, inner_joint=joint))
    points, laid_out = hardpoints(placed, one), nominal_points(placed, one)
    below, above = np.linspace(-corner.travel.droop, 0.0, EACH_SIDE), np.linspace(0.0, corner.travel.bump, EACH_SIDE)
    travel = np.concatenate((below, above[1:]))
    gaps, droops, ahead = [], [], None
    for position in steering_positions(placed):
        gone = float(position.shift[1])
        try:
            swept = constraint_equations.solve(points, travel, gone)
        except ArithmeticError:
            return dict.fromkeys(("camber_error", "scrub", "fender_clearance", "droop_limit", "bump_steer"), np.nan)
        ahead = swept if ahead is None else ahead
        gaps.append(float(gap_at(corner, swept["wheel"], swept["spin"]).min()))
        droops.append(_droop_limit(corner, points, laid_out, gone))
    assert ahead is not None
    miss = (ahead["camber"] - np.interp(travel, corner.camber_curve[:, 0], corner.camber_curve[:, 1])) ** 2
    ride = EACH_SIDE - 1  # where the demo's curve bends
    whole = simpson(miss[: ride + 1], x=below) + simpson(miss[ride:], x=above)
    return {
        "camber_error": float(np.sqrt(whole / np.ptp(travel))),
        "scrub": float(np.ptp(ahead["contact"][1])),
        "fender_clearance": min(gaps),
        "droop_limit": min(droops),
        "bump_steer": float(np.ptp(ahead["toe"])),
    }


def _droop_limit(corner: Corner, points: Hardpoints, laid_out: Hardpoints, gone: float) -> float:
    """Droop at which a rod end runs out of angle, the shock of length or the arms of swing, at most the cap."""
    at, loop = 0.0, constraint_equations.Corner(points, rack_gear)
    loop.go((0.0, 0.0), (0.0, gone))

    def left(droop: float) -> float:
        nonlocal at
        loop.go((at, gone), (-droop, gone))
        at = -droop
        return _left(corner, points, laid_out, loop, gone)

    low = 0.0
    try:
        while low < corner.travel.droop_cap:
            high = min(low + STEP, corner.travel.droop_cap)
            if left(high) < 0.0:
                return float(brentq(left, low, high, xtol=EXACT))
            low = high
    except ArithmeticError:
        return low
    return low


def _left(
    corner: Corner, points: Hardpoints, laid_out: Hardpoints, loop: constraint_equations.Corner, gone: float
) -> float:
    """What the nearest limit leaves, radians or mm; negative past it."""
    axes = constraint_equations.turned(loop.unknowns[3:] / constraint_equations.REACH, np.eye(3))
    turn = Rotation.from_matrix(axes.T)
    here = measured(points, loop.unknowns[:3], turn, rack_gear(gone))
    ends = (corner.steering.outer_rod_end, corner.steering.inner_rod_end)
    angles = (here["outer_rod_end"], here["inner_rod_end"])
    left = [float(end.max_angle - angle) for end, angle in zip(ends, angles, strict=True)]
    if corner.shock is not None:
        link = corner.shock.link
        mount = mount_at(points, laid_out, link.arm, link.arm_point, here["lower_outer"])
        left.append(corner.shock.extended - float(np.linalg.norm(mount - link.frame_point)))
    return min(left)
