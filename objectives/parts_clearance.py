"""Parts clearance: least gap between arms, tie rod, wheel and obstacles, and who meets whom where."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.motion import Motion
from objectives.objective import Column, Objective
from objectives.pairs import Pair, pairs_of
from objectives.pieces import worst_steering
from objectives.steering import position_name
from objectives.sweep import Sweep
from objectives.valley import least_over, promised
from objectives.vectors import Array

SCAN = 9  # points of a sweep at which every pair is looked at
ROUGH = 1.0  # mm: pairs that come within this of the nearest, by their rough gaps, are worked out exactly
WORTH = 0.01  # mm that a look between two steering positions must promise
STEPS = 24  # of golden section between three points of a sweep: closes 100 mm of travel to a thousandth of a mm


def measure(motion: Motion) -> tuple[NDArray[Any], ...]:
    """Least signed gap, mm, the parts it is between, at which travel and steering position; shape (N,) each."""
    count, pairs = motion.placed.ride_angle.size, pairs_of(motion.corner)
    if not pairs:
        return np.full(count, np.nan), np.full(count, ""), np.full(count, np.nan), np.full(count, "")
    gap, chosen, travel, by_position = nearest(pairs, tuple(steered.required for steered in motion.steered))
    names = [(pair.parts, steered.position.name) for steered in motion.steered for pair in pairs]
    parts, steering = (np.array(words)[chosen] for words in zip(*names, strict=True))

    def look(index: NDArray[np.intp], share: Array) -> Array:
        there = nearest(pairs, (motion.required_at(index, share),))
        rows = np.flatnonzero(there.gap < gap[index])
        gap[index[rows]], travel[index[rows]] = there.gap[rows], there.travel[rows]
        parts[index[rows]] = [pairs[number].parts for number in there.look[rows]]
        steering[index[rows]] = [position_name(place) for place in share[rows]]
        return there.gap

    motion.least_of(by_position, look, WORTH)
    return gap, np.where(motion.complete, parts, ""), travel, np.where(motion.complete, steering, "")


def gap_at(sweep: Sweep) -> Array:
    """Least signed gap of all pairs at every position, mm, shape (P, N); +inf without any."""
    least = np.full(sweep.travel.shape, np.inf)
    for pair in pairs_of(sweep.placed.corner):
        least = np.minimum(least, pair.gap(sweep))
    return least


class Nearest(NamedTuple):
    """Least gap over pairs and positions, which look finds it, at which travel, (N,); and by position, (S, N)."""

    gap: Array
    look: NDArray[np.intp]
    travel: Array
    by_position: Array


def nearest(pairs: tuple[Pair, ...], positions: tuple[Sweep, ...]) -> Nearest:
    """Least gap of N candidates over pairs and steering positions.

    A look is one pair at one position; they count through the pairs of the first position, then of the next. Only
    looks that may hold the least, from rough gaps at a few points of the sweep, are followed into their valleys.
    """
    looks = [(sweep, pair) for sweep in positions for pair in pairs]
    scans = [_scan(sweep) for sweep in positions]
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
        least[number, index] = lowest
        nearer = lowest < gap[index]
        which = index[nearer]
        gap[which], chosen[which] = lowest[nearer], number
        travel[which] = part.at(place[None]).travel[0, nearer]
    by_position = least.reshape(len(positions), len(pairs), -1).min(axis=1)
    return Nearest(gap, chosen, travel, by_position)


def _scan(sweep: Sweep) -> Sweep:
    return sweep.at(np.repeat(chebyshev.points(SCAN)[:, None], sweep.ride.size, axis=1))


OBJECTIVE = Objective(
    name="parts_clearance",
    title="Parts clearance",
    meaning="least gap between arms, tie rod, wheel and obstacles; negative where they overlap",
    quantity="length",
    better="more",
    measure=measure,
    pieces=worst_steering(measure),
    explains=(
        Column("closest_parts", "Closest parts", "text"),
        Column("closest_travel", "Travel where parts are closest", "length"),
        Column("closest_steering", "Steering where parts are closest", "text"),
    ),
    on_by_default=False,
    needs=("obstacles", "wheel", "steering.tie_rod_diameter"),
)
