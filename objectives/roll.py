"""The body rolled on its wheels: how both then stand to the ground.

Pure roll: one wheel is as far up from ride as the other, its mirror image, is down, and the ground touches both.
It is the frame that stays put here and the ground that slopes, up towards the wheel in bump: the outer one in a
bend.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from objectives import chebyshev
from objectives.corner import Candidates, Corner
from objectives.linkage import Pose
from objectives.motion import move
from objectives.sweep import Sweep
from objectives.vectors import Array, dot

TOUCHING = 1e-6  # mm that both wheels may stand off the ground, or their travels differ; rounding is 1e-10
_STEPS = 20  # five settle what can be reached


@dataclass(frozen=True)
class Rolled:
    """Both wheels with the body rolled, shape (N,) or (N, R); NaN where required travel ends before it.

    Attributes
    ----------
    outer, inner
        Camber to the ground of the wheel in bump and of the one in droop, radians, each + top outboard on its side.
    travel
        How far the one is up and the other down, mm.
    """

    outer: Array
    inner: Array
    travel: Array


def rolled(sweep: Sweep, roll: float) -> Rolled:
    """Camber of both wheels to the ground at a body roll (radians, 0 or more), straight ahead.

    Newton's method on two places of one sweep, the wheel in bump and the wheel in droop: the travels are opposite,
    and both loaded circles reach as far down, square to the ground. Residuals are those of exact poses, slopes
    those of the sweep's polynomials.
    """
    normal = ground_normals(roll)
    ride = sweep.ride
    lift = chebyshev.read(sweep.contact[1], ride) * np.tan(roll) / chebyshev.slope(sweep.travel, ride)
    u = np.clip(np.stack((ride + lift, ride - lift)), -1.0, 1.0)
    heights = [_height(sweep, sweep.pose, normal[:, side : side + 1]) for side in (0, 1)]
    for _ in range(_STEPS):
        uneven, gap, _ = _residuals(sweep, u, normal)
        climb = chebyshev.slope(sweep.travel, u)
        rise = np.stack([chebyshev.slope(height, place) for height, place in zip(heights, u, strict=True)])
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.stack((uneven * rise[1] + gap * climb[1], uneven * rise[0] - gap * climb[0]))
            step = np.nan_to_num(step / (climb[0] * rise[1] + climb[1] * rise[0]), posinf=0.0, neginf=0.0)
        before, u = u, np.clip(u - step, -1.0, 1.0)
        if np.abs(u - before).max() < 1e-12:
            break
    uneven, gap, at = _residuals(sweep, u, normal)
    there = (np.abs(uneven) < TOUCHING) & (np.abs(gap) < TOUCHING) & (at.travel[0] > -TOUCHING)
    camber = np.arcsin(-dot(at.pose.spin, normal))
    outer, inner, travel = (np.where(there, v, np.nan) for v in (camber[0], camber[1], at.travel[0]))
    return Rolled(outer, inner, travel)


def roll_curves(corner: Corner, candidates: Candidates, roll: Array) -> Rolled:
    """Both wheels of N candidates that stand at ride, at body rolls of shape (R,), radians; shape (N, R)."""
    sweep = move(corner, candidates).straight.required
    each = [rolled(sweep, float(angle)) for angle in roll]
    outer, inner, travel = (np.stack([getattr(one, name) for one in each], axis=1) for name in _NAMES)
    return Rolled(outer, inner, travel)


_NAMES = ("outer", "inner", "travel")


def ground_normals(roll: float) -> Array:
    """Up from the ground, in the axes of the left corner: for the wheel in bump, then in droop, shape (3, 2, 1)."""
    across, up = np.sin(roll), np.cos(roll)
    return np.array([[0.0, 0.0], [-across, across], [up, up]])[:, :, None]


def _height(sweep: Sweep, where: Pose, normal: Array) -> Array:
    """How high the lowest point of the loaded circle is, along the ground's normal, shape (K, N), mm."""
    lean = dot(where.spin, normal)
    height: Array = dot(where.wheel, normal) - sweep.placed.corner.tyre.loaded_radius * np.sqrt(1.0 - lean**2)
    return height


def _residuals(sweep: Sweep, u: Array, normal: Array) -> tuple[Array, Array, Sweep]:
    """What the two travels miss of being opposite and the wheels of one ground, mm; and the exact poses."""
    at = sweep.at(u)
    height = _height(at, at.pose, normal)
    return at.travel[0] + at.travel[1], height[0] - height[1], at
