"""Camber error: RMS over the required travel of camber minus the target camber curve."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from objectives import chebyshev
from objectives.motion import Motion
from objectives.objective import Column, Objective
from objectives.sweep import Sweep
from objectives.vectors import Array

_GAUSS = 12  # points of each straight piece of the target; exact for polynomials of degree 23


def measure(motion: Motion) -> tuple[Array, Array, Array]:
    """RMS of camber minus target over the required travel, then camber at full bump and droop; radians, (N,).

    The mean is over travel, not arm angle. The target bends where its pieces meet, so each piece is
    integrated by itself, by Gauss and Legendre's rule.
    """
    sweep, corner = motion.straight.required, motion.corner
    begin, end = -corner.travel.droop, corner.travel.bump
    bends = [z for z in corner.camber_curve[:, 0] if begin < z < end]
    knots = [-np.ones(sweep.ride.shape), *(_place_at(sweep, z) for z in bends), np.ones(sweep.ride.shape)]
    node, weight = np.polynomial.legendre.leggauss(_GAUSS)
    total = np.zeros(sweep.ride.shape)
    for low, high in pairwise(knots):
        half = 0.5 * (high - low)
        u = 0.5 * (low + high) + half * node[:, None]
        travel = chebyshev.read(sweep.travel, u)
        target = np.interp(travel, corner.camber_curve[:, 0], corner.camber_curve[:, 1])
        off = chebyshev.read(sweep.camber, u) - target
        total += half * np.einsum("k,kn->n", weight, off * off * chebyshev.slope(sweep.travel, u))
    return np.sqrt(np.maximum(total, 0.0) / (end - begin)), sweep.camber[-1], sweep.camber[0]


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
    explains=(
        Column("camber_bump", "Camber at full bump", "angle"),
        Column("camber_droop", "Camber at full droop", "angle"),
    ),
)
