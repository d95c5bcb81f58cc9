"""Corners as they come out of the shop: every bracket a little off, every part as long as it was cut.

What is built is rigid: the arms, the spindle and the tie rod keep their lengths, the brackets stand where they were
welded. Then the vehicle is set down on its springs with the wheel centre at the height in the frame that it was
designed for (springs are adjusted to the ride height), and travel is counted from there. Static camber and static toe
are what the parts make of it. Where an arm or tie rod has a threaded end, it is turned until static camber or toe is
as designed, or to the end of its thread.

An arm sits on its inner axis where it was to sit, measured along the axis from its bracket, and an axis keeps its
direction: both its bushings are off by the same.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.corner import Candidates, Corner
from objectives.inner_joint import assembled
from objectives.linkage import Pose, pose
from objectives.motion import Motion, motion_of
from objectives.objective import Objective
from objectives.pieces import pieces_of
from objectives.ride import Placed
from objectives.vectors import Array, beside, norm

OFFSETS: Mapping[str, slice] = MappingProxyType(
    {
        "pivot": slice(0, 3),
        "lower_pivot": slice(3, 6),
        "spindle_lower": slice(6, 9),
        "spindle_upper": slice(9, 12),
        "spindle_steering": slice(12, 15),
        "inner_joint": slice(15, 18),
        "arm_length": slice(18, 19),
        "tie_rod": slice(19, 20),
    }
)
"""What may be off, and its rows in an array of offsets, shape (20, N), mm.

Points have x, y and z: of the upper and lower inner pivot and the inner tie-rod joint in the frame's axes, of the
spindle's lower and upper outer pivot and outer tie-rod joint in the measured spindle's. Then the lengths of upper arm
and tie rod, + longer.
"""
COUNT = 20  # rows of an array of offsets

_ROUNDS = 8  # of secants; each wins half as many digits again as it has
_STANDS = 1e-6  # mm by which the wheel may miss its height at ride
_THERE = 1e-11  # mm: rounding at a metre is 1e-13
_SLACK = 0.1  # of the required travel, beyond the caps: what a limit has in hand there shows how near it is
_ENDLESS = 1e4  # mm
_NUDGE = 0.01  # mm, for the first slope of a secant


@dataclass(frozen=True)
class Threads:
    """How far arm and tie rod may be lengthened or shortened after welding, mm each way; 0 not at all."""

    arm: float = 0.0
    tie_rod: float = 0.0

    @property
    def rows(self) -> dict[int, float]:
        """Rows of offsets that can be turned, and how far, mm."""
        every = {OFFSETS["arm_length"].start: self.arm, OFFSETS["tie_rod"].start: self.tie_rod}
        return {row: most for row, most in every.items() if most > 0.0}

    @property
    def without_end(self) -> Threads:
        """The same threads, as long as it takes."""
        return Threads(_ENDLESS if self.arm else 0.0, _ENDLESS if self.tie_rod else 0.0)


def designed(corner: Corner, candidates: Candidates) -> Placed:
    """What is to be built of N candidates, to be swept a little past what is counted."""
    travel = corner.travel
    cap, bump = travel.droop_cap + _SLACK * travel.droop, travel.most_bump + _SLACK * travel.bump
    further = replace(corner, travel=replace(travel, droop_cap=cap, bump_cap=bump))
    return replace(assembled(corner, candidates), corner=further)


def built(design: Placed, offsets: Array) -> Placed:
    """Set down N corners as built.

    Parameters
    ----------
    design
        What was to be built, one for each; `designed` makes it.
    offsets
        How far off each is, mm, shape (20, N), rows as in `OFFSETS`.

    Returns
    -------
    The corners at ride, `ride_angle` NaN where one cannot be set down.
    """
    off = {name: offsets[rows] for name, rows in OFFSETS.items()}
    points = {
        name: beside(getattr(design, name), 1) + off[row]
        for name, row in (
            ("lower_pivot", "spindle_lower"),
            ("upper_pivot", "spindle_upper"),
            ("steering_pivot", "spindle_steering"),
        )
    }
    upper, lower = design.upper, design.lower
    loose = replace(
        design,
        lower=replace(lower, centre=beside(lower.centre, 1) + off["lower_pivot"]),
        upper=replace(upper, centre=upper.centre + off["pivot"], radius=upper.radius + off["arm_length"][0]),
        lower_pivot=points["lower_pivot"],
        upper_pivot=points["upper_pivot"],
        steering_pivot=points["steering_pivot"],
        kingpin_length=norm(points["upper_pivot"] - points["lower_pivot"]),
        tie_rod_length=design.tie_rod_length + off["tie_rod"][0],
        inner_joint=design.inner_joint + off["inner_joint"],
        design=design,
    )
    return _set_down(loose)


def _set_down(loose: Placed) -> Placed:
    """Turn the lower arm until the wheel centre is at its height."""

    def stand(angle: Array) -> tuple[Pose, Array]:
        at = pose(loose, angle[None])
        return at, at.wheel[2, 0] - loose.ride_height

    angle = loose.ride_angle
    ahead = angle + 1e-4
    (_, before), (at, after) = stand(angle), stand(ahead)
    for _ in range(_ROUNDS):
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.clip(after * (ahead - angle) / (after - before), -0.2, 0.2)
        # what is there already has no slope left to go by
        step = np.where(np.abs(after) < _THERE, 0.0, np.nan_to_num(step))
        angle, before = ahead, after
        ahead = ahead - step
        at, after = stand(ahead)
        if not (np.abs(after) >= _THERE).any():
            break
    stands = (np.abs(after) < _STANDS) & (at.arm_spare[0] > 0.0) & (at.tie_spare[0] > 0.0)
    return replace(loose, ride_angle=np.where(stands, ahead, np.nan), steering_outer=at.steering_outer[:, 0])


def attitude(placed: Placed) -> tuple[Array, Array]:
    """Static camber and static toe of corners at ride, radians, shape (N,) each; NaN where one does not stand."""
    at: Pose = pose(placed, placed.ride_angle[None])
    spin = at.spin[:, 0]
    return np.arcsin(-spin[2]), np.arctan2(spin[0], spin[1])


def trimmed(design: Placed, offsets: Array, threads: Threads) -> Array:
    """Offsets with arm and tie rod turned on their threads until static camber and toe are as designed.

    The arm sets the camber, the tie rod then the toe; each stops at the end of its thread.

    Parameters
    ----------
    design, offsets
        As for `built`.
    threads
        How far each can be turned.

    Returns
    -------
    Shape (20, N).
    """
    wanted = attitude(design)
    rows = list(threads.rows)
    if not rows:
        return offsets
    which = [0 if row == OFFSETS["arm_length"].start else 1 for row in rows]
    most = np.array(list(threads.rows.values()))[:, None]
    turned = np.zeros((len(rows), offsets.shape[1]))

    def miss(turn: Array) -> Array:
        now = offsets.copy()
        now[rows] += turn
        found = attitude(built(design, now))
        return np.stack([found[number] - wanted[number] for number in which])

    now = miss(turned)
    slopes = np.stack(
        [(miss(turned + nudge) - now) / _NUDGE for nudge in _NUDGE * np.eye(len(rows))[:, :, None]], axis=1
    )
    for _ in range(_ROUNDS):
        before, turned = turned, np.clip(turned - _step(slopes, now, turned, most), -most, most)
        if not (np.abs(turned - before) > _THERE).any():
            break
        now = miss(turned)
    found = offsets.copy()
    found[rows] += np.nan_to_num(turned)
    return found


def _step(slopes: Array, miss: Array, turned: Array, most: Array) -> Array:
    """Newton's step of one or two threads, the second for what the first can do before its end.

    Parameters
    ----------
    slopes
        Of each miss (first axis) by each thread (second), shape (T, T, N).
    miss
        What is left, shape (T, N).
    turned, most
        How far each thread is turned, shape (T, N), and can be, (T, 1).
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        if len(miss) == 1:
            only: Array = miss / slopes[0]
            return only
        size = slopes[0, 0] * slopes[1, 1] - slopes[0, 1] * slopes[1, 0]
        first = (miss[0] * slopes[1, 1] - miss[1] * slopes[0, 1]) / size
        first = turned[0] - np.clip(turned[0] - first, -most[0], most[0])
        return np.stack((first, (miss[1] - slopes[1, 0] * first) / slopes[1, 1]))


STATIC = ("static_camber", "static_toe")
"""Attitude at ride, radians."""
SPARE = ("spare_droop", "spare_bump")
"""How far a corner assembles beyond the required travel, mm, no farther than it is swept; negative where it locks."""

CHUNK = 1024  # corners swept at once, each through all steering positions

Read = Callable[[Motion, Objective], Array]


def values_as_built(design: Placed, offsets: Array, objectives: Sequence[Objective]) -> dict[str, Array]:
    """Measure corners as built.

    Parameters
    ----------
    design, offsets
        As for `built`.
    objectives
        What to measure.

    Returns
    -------
    By name of objective, and of `STATIC` and `SPARE`: shape (N,), mm and radians; NaN where a value does not exist.
    Travels count as far as `designed` sweeps.
    """

    def read(motion: Motion, objective: Objective) -> Array:
        return np.asarray(objective.measure(motion)[0])[None]

    return {name: table.min(axis=0) for name, table in _gathered(design, offsets, objectives, read).items()}


def pieces_as_built(design: Placed, offsets: Array, objectives: Sequence[Objective]) -> dict[str, Array]:
    """Pieces of the same values, shape (P, N) each; those of `STATIC` and `SPARE` are joined by their least."""
    return _gathered(design, offsets, objectives, lambda motion, objective: pieces_of(objective).of(motion))


def _gathered(design: Placed, offsets: Array, objectives: Sequence[Objective], read: Read) -> dict[str, Array]:
    count = offsets.shape[1]
    parts = [slice(start, start + CHUNK) for start in range(0, count, CHUNK)]

    def one(part: slice) -> dict[str, Array]:
        return _chunk(built(design.take(part), offsets[:, part]), objectives, read)

    # numpy lets go of the interpreter while it works, so threads share the cores; chunks do not depend on their number
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        chunks = list(pool.map(one, parts))
    longest = {name: max(len(chunk[name]) for chunk in chunks) for name in chunks[0]}
    return {
        name: np.concatenate([_tall(chunk[name], rows) for chunk in chunks], axis=1) for name, rows in longest.items()
    }


def _tall(table: Array, rows: int) -> Array:
    """A table of a chunk in which nothing stands is one row of NaN: as many rows of it as the others have."""
    return table if len(table) == rows else np.repeat(table[:1], rows, axis=0)


def _chunk(placed: Placed, objectives: Sequence[Objective], read: Read) -> dict[str, Array]:
    stands = np.isfinite(placed.ride_angle)
    names = (*STATIC, *SPARE, *(objective.name for objective in objectives))
    if not stands.any():
        return {name: np.full((1, stands.size), np.nan) for name in names}
    motion = motion_of(placed if stands.all() else placed.take(stands))
    travel = placed.corner.travel
    found = dict(zip(STATIC, (angle[None] for angle in attitude(motion.placed)), strict=True))
    # followed to where the wheel turns back: that may lie between two points of the sweep
    heights = [
        chebyshev.peaked(np.where(steered.reaches, steered.whole.travel, 0.0), (), chebyshev.TURNS)[0]
        for steered in motion.steered
    ]
    found["spare_droop"] = np.stack([-height.min(axis=0) - travel.droop for height in heights])
    found["spare_bump"] = np.stack([height.max(axis=0) - travel.bump for height in heights])
    for objective in objectives:
        values = read(motion, objective)
        found[objective.name] = np.where(motion.complete, values, np.nan) if objective.over_required_travel else values
    return {name: _spread(table, stands) for name, table in found.items()}


def _spread(table: Array, stands: NDArray[np.bool_]) -> Array:
    """Table (P, n) of the corners that stand, with NaN for the others, shape (P, N)."""
    every = np.full((len(table), stands.size), np.nan)
    every[:, stands] = table
    return every
