"""How far the wheel gets, down or up, before a joint runs out of angle, the shock stops it or something locks.

Each steering position is followed on its own. Where a limit's travel, drawn over the steering, has a valley between
two positions, that is settled on exact poses: there the limit's curve is at its bound, and the travel at which it
gets there level in the steering.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.between import valley
from objectives.corner import Corner
from objectives.joints import Joint, joints_of
from objectives.linkage import pose
from objectives.motion import Motion
from objectives.shock import link_length
from objectives.steering import position_name, steered_to
from objectives.sweep import ARMS, TIE_ROD, Steered, Sweep
from objectives.vectors import Array

CAP = {-1: "droop cap", 1: "bump cap"}
SHOCK_OPEN = "shock at full length"
SHOCK_CLOSED = "shock fully closed"
ARMS_LOCKED = "arms locked"
TIE_ROD_LOCKED = "tie rod locked"
TURNS_BACK = "arms at the end of their swing"

PROMISE = 1.0  # mm: parabolas over the steering that stay this far behind the worst position are not followed
STEP = 0.01  # of the way to a lock, and radians of arm angle: for slopes on exact poses
NEWTON_STEPS = 6
EQUAL = 1e-6  # mm: of steering positions that stop the wheel as soon as each other, the first one is named


@dataclass(frozen=True)
class Reach:
    """How far N candidates get from ride in one direction, mm, and the name of what stops each; shape (N,)."""

    travel: Array
    limited_by: NDArray[np.str_]


@dataclass(frozen=True)
class Limit:
    """What may stop the wheel: its name, and a curve that is <= 0 while it does not, shape (K, N)."""

    name: str
    curve: Callable[[Sweep], Array]


def limits_of(corner: Corner) -> tuple[Limit, ...]:
    """Everything but lock-up that may stop the wheel."""
    found = [Limit(joint.name, partial(_tilt, joint)) for joint in joints_of(corner)]
    shock = corner.shock
    if shock is not None:
        found.append(Limit(SHOCK_OPEN, lambda sweep: link_length(sweep, shock.link) / shock.extended - 1.0))
        found.append(Limit(SHOCK_CLOSED, lambda sweep: 1.0 - link_length(sweep, shock.link) / shock.collapsed))
    return tuple(found)


def _tilt(joint: Joint, sweep: Sweep) -> Array:
    return joint.least - joint.straightness(sweep)


def droop_reach(motion: Motion) -> Reach:
    """Droop reached before the first limit, at the worst steering, capped at `Travel.droop_cap`."""
    return _worst(motion, -1, motion.corner.travel.droop_cap)


def bump_reach(motion: Motion) -> Reach:
    """Bump reached before the first limit, at the worst steering, capped at `Travel.most_bump`."""
    return _worst(motion, 1, motion.corner.travel.most_bump)


def _worst(motion: Motion, direction: int, cap: float) -> Reach:
    limits = limits_of(motion.corner)
    first, places = _stops(motion.every, limits, direction, cap)
    travel, named = (motion.by_position(values) for values in (first.travel, first.limited_by))
    least = travel.min(axis=0)
    worst = np.argmax(travel <= least + EQUAL, axis=0)[None]
    reach = Reach(least, np.take_along_axis(named, worst, axis=0)[0])
    if len(motion.positions) > 1:
        held = np.array([position.name for position in motion.positions])[worst[0]]
        reach = Reach(reach.travel, np.char.add(reach.limited_by, np.char.add(" ", held)))
        for place, limit in zip(places, limits, strict=True):
            reach = _between(motion, place, limit, direction, cap, reach)
    capped = reach.travel >= cap
    return Reach(np.where(capped, cap, reach.travel), np.where(capped, CAP[direction], reach.limited_by))


def _stops(steered: Steered, limits: tuple[Limit, ...], direction: int, cap: float) -> tuple[Reach, Array]:
    """The first stop, shape (N,), and the place u (L, N) of every limit, NaN where there is none."""
    whole = steered.whole
    end = np.full(whole.ride.shape, float(direction))
    names, places = [_lock_name(steered, direction)], [end]
    for limit in (*limits, Limit(CAP[direction], lambda sweep: direction * sweep.travel - cap)):
        names.append(np.full(end.shape, limit.name))
        places.append(_first_place(whole, limit.curve, direction))
    turn = whole.turning(direction)
    names.append(np.full(turn.shape, TURNS_BACK))
    places.append(np.where(np.isfinite(turn), turn, np.nan))
    table = np.stack(places)
    first = np.nanargmin(table * direction, axis=0)[None]
    place = np.take_along_axis(table, first, axis=0)[0]
    # what stops the wheel on its way to ride height, with the steering held, leaves it no travel
    travel = np.maximum(direction * whole.at(place[None]).travel[0], 0.0)
    name = np.take_along_axis(np.stack(names), first, axis=0)[0]
    travel = np.where(name == CAP[direction], cap, np.where(place == whole.level, 0.0, travel))
    travel, name = np.where(steered.reaches, travel, 0.0), np.where(steered.reaches, name, TIE_ROD_LOCKED)
    return Reach(travel, name), table[1 : 1 + len(limits)]


def _first_place(whole: Sweep, curve: Callable[[Sweep], Array], direction: int) -> Array:
    """Place u where a limit's curve first rises above zero on the way from ride, settled; NaN where it never does."""
    u = chebyshev.first_crossing(curve(whole), whole.level, direction)
    moved = np.isfinite(u) & (u != whole.level)
    if not moved.any():
        return u
    return np.where(moved, whole.settle(curve, np.where(moved, u, float(direction))), u)


def _lock_name(steered: Steered, direction: int) -> NDArray[np.str_]:
    lock = steered.low_lock if direction < 0 else steered.high_lock
    return np.select([lock == ARMS, lock == TIE_ROD], [ARMS_LOCKED, TIE_ROD_LOCKED], TURNS_BACK)


def _between(motion: Motion, places: Array, limit: Limit, direction: int, cap: float, reach: Reach) -> Reach:
    """The reach with the valley of one limit between two steering positions taken in, where it has one.

    `places` are those at which every position, (S N,), meets the limit.
    """
    if not np.isfinite(places).any():
        return reach
    order, whole, at = np.argsort(motion.shares), motion.every.whole, np.nan_to_num(places)
    shares = motion.shares[order]
    depths = np.where(np.isfinite(places), direction * chebyshev.read(whole.travel, at), cap)
    places, depths, angles = (motion.by_position(values)[order] for values in (places, depths, whole.span.angle(at)))
    share, promise = valley(np.repeat(shares[:, None], depths.shape[1], axis=1), depths)
    todo = np.flatnonzero((promise < reach.travel + PROMISE) & np.isfinite(places).any(axis=0))
    # a parabola whose valley is one of the positions has nothing to add
    todo = todo[np.abs(share[todo, None] - shares).min(axis=1) > 1e-9]
    if not todo.size:
        return reach
    least = np.argmin(depths[:, todo], axis=0)
    share, travel = _settled(motion, limit, todo, angles[least, todo], share[todo], direction)
    better = (travel < reach.travel[todo]) & (travel > 0.0)
    found, names = reach.travel.copy(), reach.limited_by.astype(object)
    found[todo[better]] = travel[better]
    names[todo[better]] = [f"{limit.name} {position_name(value)}" for value in share[better]]
    return Reach(found, names.astype(str))


class _Slopes(NamedTuple):
    """A quantity and its first and second slopes by arm angle (turn) and steering (steer), shape (n,) each."""

    value: Array
    turn: Array
    steer: Array
    turn_turn: Array
    turn_steer: Array
    steer_steer: Array

    @classmethod
    def of(cls, around: Array) -> _Slopes:
        """Central differences from its values at three angles by three steering places, shape (9, n)."""
        at = around.reshape(3, 3, -1)
        return cls(
            at[1, 1],
            (at[2, 1] - at[0, 1]) / (2.0 * STEP),
            (at[1, 2] - at[1, 0]) / (2.0 * STEP),
            (at[2, 1] - 2.0 * at[1, 1] + at[0, 1]) / STEP**2,
            (at[2, 2] - at[2, 0] - at[0, 2] + at[0, 0]) / (4.0 * STEP**2),
            (at[1, 2] - 2.0 * at[1, 1] + at[1, 0]) / STEP**2,
        )


def _settled(
    motion: Motion, limit: Limit, index: NDArray[np.intp], angle: Array, share: Array, direction: int
) -> tuple[Array, Array]:
    """Share of the way to the left lock and travel where a limit at its bound is met soonest, (n,).

    With g the limit's curve and T the travel, both of arm angle a and steering s: g = 0, and T is level along g = 0,
    which is g_s T_a - g_a T_s = 0. Newton's method for both at once, slopes from exact poses around; infinite travel
    where it does not settle on a bound that is met soonest between the locks.
    """
    placed = motion.placed.take(index)
    span = motion.straight.whole.span.take(index)

    def look(angles: Array, shares: Array) -> Sweep:
        shift = steered_to(motion.corner, shares).shift
        return Sweep(placed, span, shift, pose(placed, angles, shift))

    turn, steer = (part.reshape(9, 1) * STEP for part in np.mgrid[-1:2, -1:2])
    for _ in range(NEWTON_STEPS):
        around = look(angle + turn, share + steer)
        with np.errstate(divide="ignore", invalid="ignore"):
            g, t = _Slopes.of(limit.curve(around)), _Slopes.of(around.travel)
            level = g.steer * t.turn - g.turn * t.steer
            by_turn = g.turn_steer * t.turn + g.steer * t.turn_turn - g.turn_turn * t.steer - g.turn * t.turn_steer
            by_steer = g.steer_steer * t.turn + g.steer * t.turn_steer - g.turn_steer * t.steer - g.turn * t.steer_steer
            size = g.turn * by_steer - g.steer * by_turn
            angle_step = (g.steer * level - g.value * by_steer) / size
            share_step = (g.value * by_turn - g.turn * level) / size
            # dT/ds along g = 0 is -level / g_a
            bend = -direction * size / g.turn**2
        angle = angle + np.clip(np.nan_to_num(angle_step), -0.1, 0.1)
        share = np.clip(share + np.clip(np.nan_to_num(share_step), -0.25, 0.25), -1.0, 1.0)
    at = look(angle[None], share[None])
    settled = (np.abs(limit.curve(at)[0]) < 1e-9) & (np.abs(share) < 1.0) & (bend > 0.0)
    return share, np.where(settled, direction * at.travel[0], np.inf)
