"""Parts clearance: least gap between arms, tie rod, wheel and obstacles, and who meets whom where."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.motion import Motion
from objectives.objective import Column, Objective
from objectives.pairs import Pair, pairs_of
from objectives.sweep import Steered, Sweep
from objectives.valley import least_over, promised
from objectives.vectors import Array

SCAN = 9  # points of a sweep at which every pair is looked at
ROUGH = 1.0  # mm: pairs that come within this of the nearest, by their rough gaps, are worked out exactly
STEPS = 24  # of golden section between three points of a sweep: closes 100 mm of travel to a thousandth of a mm


def measure(motion: Motion) -> tuple[NDArray[Any], ...]:
    """Least signed gap, mm, the parts it is between, at which travel and steering position; shape (N,) each."""
    count, pairs = motion.placed.ride_angle.size, pairs_of(motion.corner)
    if not pairs:
        return np.full(count, np.nan), np.full(count, ""), np.full(count, np.nan), np.full(count, "")
    gap, look, travel = nearest(pairs, motion.steered)
    names = [(pair.parts, steered.name) for steered in motion.steered for pair in pairs]
    parts, steering = (np.where(motion.complete, np.array(words)[look], "") for words in zip(*names, strict=True))
    return gap, parts, travel, steering


def gap_at(sweep: Sweep) -> Array:
    """Least signed gap of all pairs at every position, mm, shape (P, N); +inf without any."""
    least = np.full(sweep.travel.shape, np.inf)
    for pair in pairs_of(sweep.placed.corner):
        least = np.minimum(least, pair.gap(sweep))
    return least


def nearest(pairs: tuple[Pair, ...], positions: tuple[Steered, ...]) -> tuple[Array, NDArray[np.intp], Array]:
    """Least gap of N candidates over pairs and steering positions, which look finds it, and at which travel.

    A look is one pair at one position; they count through the pairs of the first position, then of the next. Only
    looks that may hold the least, from rough gaps at a few points of the sweep, are followed into their valleys.
    """
    looks = [(steered.required, pair) for steered in positions for pair in pairs]
    scans = [_scan(steered.required) for steered in positions]
    found = [pair.rough(scan) for scan in scans for pair in pairs]
    least = np.stack([gaps.min(axis=0) for gaps in found])
    dip = least - np.stack([promised(gaps) for gaps in found])
    hopeful = least - 2.0 * dip - ROUGH <= least.min(axis=0)
    gap = np.full(least.shape[1], np.inf)
    chosen, travel = np.zeros(gap.shape, dtype=np.intp), np.zeros(gap.shape)
    for number, (sweep, pair) in enumerate(looks):
        index = np.flatnonzero(hopeful[number])
        if not index.size:
            continue
        part = sweep.take(index)
        lowest, place = least_over(part, pair.gap, STEPS)
        nearer = lowest < gap[index]
        which = index[nearer]
        gap[which], chosen[which] = lowest[nearer], number
        travel[which] = part.at(place[None]).travel[0, nearer]
    return gap, chosen, travel


def _scan(sweep: Sweep) -> Sweep:
    return sweep.at(np.repeat(chebyshev.points(SCAN)[:, None], sweep.ride.size, axis=1))


OBJECTIVE = Objective(
    name="parts_clearance",
    title="Parts clearance",
    meaning="least gap between arms, tie rod, wheel and obstacles; negative where they overlap",
    quantity="length",
    better="more",
    measure=measure,
    explains=(
        Column("closest_parts", "Closest parts", "text"),
        Column("closest_travel", "Travel where parts are closest", "length"),
        Column("closest_steering", "Steering where parts are closest", "text"),
    ),
    on_by_default=False,
    needs=("obstacles", "wheel", "steering.tie_rod_diameter"),
)
