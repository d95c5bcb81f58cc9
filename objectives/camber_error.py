"""Camber error: RMS over the required travel of camber minus the target camber curve."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from objectives import chebyshev
from objectives.motion import Motion
from objectives.objective import Column, Objective
from objectives.pieces import size_of
from objectives.sweep import Sweep
from objectives.vectors import Array

GAUSS_POINTS = 12  # points of each straight piece of the target; exact for polynomials of degree 23


def measure(motion: Motion) -> tuple[Array, Array, Array]:
    """RMS of camber minus target over the required travel, then camber at full bump and droop; radians, (N,).

    The mean is over travel, not arm angle. The target bends where its pieces meet, so each piece is
    integrated by itself, by Gauss and Legendre's rule.
    """
    sweep = motion.straight.required
    return np.sqrt((_misses(motion) ** 2).sum(axis=0)), sweep.camber[-1], sweep.camber[0]


def _misses(motion: Motion) -> Array:
    """Camber minus target at the points of Gauss's rule, each times the root of its weight in the mean, (P, N).

    Where a sweep turns back its weight has no root and counts nothing.
    """
    sweep, corner = motion.straight.required, motion.corner
    begin, end = -corner.travel.droop, corner.travel.bump
    bends = [z for z in corner.camber_curve[:, 0] if begin < z < end]
    knots = [-np.ones(sweep.ride.shape), *(_place_at(sweep, z) for z in bends), np.ones(sweep.ride.shape)]
    node, weight = np.polynomial.legendre.leggauss(GAUSS_POINTS)
    found = []
    for low, high in pairwise(knots):
        half = 0.5 * (high - low)
        u = 0.5 * (low + high) + half * node[:, None]
        travel = chebyshev.read(sweep.travel, u)
        target = np.interp(travel, corner.camber_curve[:, 0], corner.camber_curve[:, 1])
        off = chebyshev.read(sweep.camber, u) - target
        share = half * weight[:, None] * chebyshev.slope(sweep.travel, u) / (end - begin)
        found.append(off * np.sqrt(np.maximum(share, 0.0)))
    return np.concatenate(found)


def _place_at(sweep: Sweep, travel: float) -> Array:
    """Place u of a travel inside the sweep; the end of the sweep where it does not get there."""
    place = chebyshev.first_crossing(sweep.travel - travel, -np.ones(sweep.ride.shape), 1)
    return np.where(np.isnan(place), 1.0, place)


OBJECTIVE = Objective(
    name="camber_error",
    title="Camber error",
    meaning="RMS over the required travel of camber minus the target camber curve",
    quantity="angle",
    better="less",
    measure=measure,
    pieces=size_of(_misses),
    explains=(
        Column("camber_bump", "Camber at full bump", "angle"),
        Column("camber_droop", "Camber at full droop", "angle"),
    ),
)
