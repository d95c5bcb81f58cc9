"""Fender clearance: least gap between tyre and bodywork over the required travel, at the worst steering."""

from __future__ import annotations

import numpy as np

from objectives.corner import Corner
from objectives.motion import Motion
from objectives.objective import Objective
from objectives.pieces import worst_steering
from objectives.sweep import Sweep
from objectives.tyre import Silhouette, outline_gap
from objectives.valley import least_over
from objectives.vectors import Array

WORTH = 1e-3  # mm of clearance that a look between two steering positions must promise


def measure(motion: Motion) -> tuple[Array]:
    """Least signed gap, mm, shape (N,); negative where tyre and bodywork overlap, NaN without bodywork."""
    if not motion.corner.outlines:
        return (np.full(motion.placed.ride_angle.shape, np.nan),)
    return (motion.least_over_steering(lambda sweep: least_over(sweep, _gap)[0], WORTH)[0],)


def gap_at(corner: Corner, wheel: Array, spin: Array) -> Array:
    """Least signed gap to all outlines at given positions, (3, ...) each; shape (...), mm, +inf without any."""
    silhouette = Silhouette.of(corner.tyre, wheel, spin)
    least = np.full(silhouette.flat.shape, np.inf)
    for outline in corner.outlines:
        least = np.minimum(least, outline_gap(silhouette, outline))
    return least


def _gap(sweep: Sweep) -> Array:
    return gap_at(sweep.placed.corner, sweep.pose.wheel, sweep.pose.spin)


OBJECTIVE = Objective(
    name="fender_clearance",
    title="Fender clearance",
    meaning="least gap between tyre and bodywork over the required travel; negative where they overlap",
    quantity="length",
    better="more",
    measure=measure,
    pieces=worst_steering(measure),
    needs=("bodywork.outlines",),
)
