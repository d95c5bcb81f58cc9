"""Fender clearance: least gap between tyre and bodywork over the required travel, at the worst steering."""

from __future__ import annotations

import numpy as np

from objectives import chebyshev
from objectives.corner import Corner
from objectives.motion import Motion
from objectives.objective import Objective
from objectives.roots import least_between
from objectives.sweep import Sweep
from objectives.tyre import Silhouette, outline_gap
from objectives.vectors import Array

WORTH = 1e-3  # mm of clearance that a look between two steering positions must promise


def measure(motion: Motion) -> tuple[Array]:
    """Least signed gap, mm, shape (N,); negative where tyre and bodywork overlap, NaN without bodywork."""
    if not motion.corner.outlines:
        return (np.full(motion.placed.ride_angle.shape, np.nan),)
    return (motion.least_over_steering(lambda steered: _least_gap(motion.corner, steered.required), WORTH)[0],)


def gap_at(corner: Corner, wheel: Array, spin: Array) -> Array:
    """Least signed gap to all outlines at given positions, (3, ...) each; shape (...), mm, +inf without any."""
    silhouette = Silhouette.of(corner.tyre, wheel, spin)
    least = np.full(silhouette.flat.shape, np.inf)
    for outline in corner.outlines:
        least = np.minimum(least, outline_gap(silhouette, outline))
    return least


def _least_gap(corner: Corner, sweep: Sweep) -> Array:
    """Least gap over a sweep: the least at its points, then followed into the valley it lies in."""
    gaps = gap_at(corner, sweep.pose.wheel, sweep.pose.spin)
    least: Array = gaps.min(axis=0)
    count = gaps.shape[0]
    best = np.argmin(gaps, axis=0)
    valley = np.flatnonzero(_may_dip(gaps, best) & np.isfinite(least))
    if valley.size:
        u = chebyshev.points(count)
        low, high = u[np.maximum(best[valley] - 1, 0)], u[np.minimum(best[valley] + 1, count - 1)]
        curves = [part[:, valley] for part in (*sweep.pose.wheel, *sweep.pose.spin)]

        def gap(place: Array) -> Array:
            here = np.stack([chebyshev.read(curve, place) for curve in curves])
            return gap_at(corner, here[:3], here[3:] / np.sqrt((here[3:] ** 2).sum(axis=0)))

        least[valley] = np.minimum(least[valley], least_between(gap, low, high)[1])
    return least


def _may_dip(gaps: Array, best: Array) -> Array:
    """Whether a curve can fall below its least point: that point is inside, or the curve bends back at an end."""
    count = gaps.shape[0]
    inside = (best > 0) & (best < count - 1)
    u = chebyshev.points(count)

    def falls(first: int, second: int, third: int) -> Array:
        near, far = abs(u[second] - u[first]), abs(u[third] - u[first])  # inward from the end
        rise, rise_far = gaps[second] - gaps[first], gaps[third] - gaps[first]
        falling: Array = rise * far * far < rise_far * near * near  # slope, at the end, of a parabola through three
        return falling

    bends = np.where(best == 0, falls(0, 1, 2), falls(-1, -2, -3))
    return inside | bends


OBJECTIVE = Objective(
    name="fender_clearance",
    title="Fender clearance",
    meaning="least gap between tyre and bodywork over the required travel; negative where they overlap",
    quantity="length",
    better="more",
    measure=measure,
    needs=("bodywork.outlines",),
)
