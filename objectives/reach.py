"""How far the wheel gets, down or up, before a rod end runs out of angle or something locks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.motion import Motion
from objectives.sweep import ARMS, TIE_ROD, Steered, Sweep
from objectives.vectors import Array

CAP = "droop cap"
BUMP_CAP = "bump cap"
OUTER_ROD_END = "outer rod end"
INNER_ROD_END = "inner rod end"
ARMS_LOCKED = "arms locked"
TIE_ROD_LOCKED = "tie rod locked"
TURNS_BACK = "arms at the end of their swing"


@dataclass(frozen=True)
class Reach:
    """How far N candidates get from ride in one direction, mm, and the name of what stops each; shape (N,)."""

    travel: Array
    limited_by: NDArray[np.str_]


def droop_reach(motion: Motion) -> Reach:
    """Droop reached before the first limit, at the worst steering position, capped at `Travel.droop_cap`."""
    return _worst(motion, -1, motion.corner.travel.droop_cap, CAP)


def bump_reach(motion: Motion) -> Reach:
    """Bump reached before the first limit, at the worst steering position, capped at `Travel.most_bump`."""
    return _worst(motion, 1, motion.corner.travel.most_bump, BUMP_CAP)


def _worst(motion: Motion, direction: int, cap: float, cap_name: str) -> Reach:
    reaches = [_reach(motion, steered, direction, cap, cap_name) for steered in motion.steered]
    travel = np.stack([reach.travel for reach in reaches])
    worst = np.argmin(travel, axis=0)[None]
    named = np.stack([reach.limited_by for reach in reaches])
    return Reach(*(np.take_along_axis(table, worst, axis=0)[0] for table in (travel, named)))


def _reach(motion: Motion, steered: Steered, direction: int, cap: float, cap_name: str) -> Reach:
    whole = steered.whole
    end = np.full(whole.ride.shape, float(direction))
    stops = [(_lock_name(steered, direction), end)]
    for name, curve in _limits(motion, direction, cap, cap_name):
        u = chebyshev.first_crossing(curve(whole), whole.ride, direction)
        stopped = np.isfinite(u)
        moved = stopped & (u != whole.ride)
        u = np.where(moved, whole.settle(curve, np.where(moved, u, end)), u)
        stops.append((np.full(u.shape, name), np.where(stopped, u, np.inf * direction)))
    turn = whole.turning(direction)
    stops.append((np.full(turn.shape, TURNS_BACK), turn))
    places = np.stack([u for _, u in stops]) * direction
    first = np.argmin(places, axis=0)[None]
    place = np.take_along_axis(places, first, axis=0)[0] * direction
    travel = direction * whole.at(place[None]).travel[0]
    name = np.take_along_axis(np.stack([names for names, _ in stops]), first, axis=0)[0]
    capped = (travel >= cap) | (name == cap_name)
    return Reach(np.where(capped, cap, np.where(place == whole.ride, 0.0, travel)), np.where(capped, cap_name, name))


def _limits(motion: Motion, direction: int, cap: float, cap_name: str) -> list[tuple[str, Callable[[Sweep], Array]]]:
    """Names and curves of what may stop the wheel; a limit is kept where its curve is <= 0."""
    steering = motion.corner.steering
    outer, inner = (np.sin(end.max_angle) ** 2 for end in (steering.outer_rod_end, steering.inner_rod_end))
    return [
        (cap_name, lambda sweep: direction * sweep.travel - cap),
        (OUTER_ROD_END, lambda sweep: sweep.outer_rod_end**2 - outer),
        (INNER_ROD_END, lambda sweep: sweep.inner_rod_end**2 - inner),
    ]


def _lock_name(steered: Steered, direction: int) -> NDArray[np.str_]:
    lock = steered.low_lock if direction < 0 else steered.high_lock
    return np.select([lock == ARMS, lock == TIE_ROD], [ARMS_LOCKED, TIE_ROD_LOCKED], TURNS_BACK)
