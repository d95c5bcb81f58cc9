"""Everything that is measured of a candidate, for any number of candidates, in chunks of bounded memory."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from objectives import compiled
from objectives.corner import Candidates, Corner
from objectives.joints import joints_of
from objectives.motion import Motion, move
from objectives.objective import Column, Objective
from objectives.registry import OBJECTIVES
from objectives.ride import place
from objectives.shock import link_length, motion_ratio

CHUNK = 2048  # candidates swept at once: enough to outweigh the cost of a call, few enough to bound memory

Measures: TypeAlias = dict[str, NDArray[Any]]

DEGREE = 1e-4  # of straightness: what a look between two steering positions must promise to be taken

BUILT = (
    Column("arm_length", "Arm length", "length"),
    Column("tie_rod_length", "Tie-rod length", "length"),
    Column("inner_joint_y", "Inner joint y", "length"),
    Column("inner_joint_z", "Inner joint z", "length"),
)
REACHED = (
    Column("assembled_droop", "Droop before something locks", "length"),
    Column("assembled_bump", "Bump before something locks", "length"),
)
SHOCK = (
    Column("shock_full_droop", "Shock length at full droop", "length"),
    Column("shock_full_bump", "Shock length at full bump", "length"),
    Column("motion_ratio", "Motion ratio at ride", "ratio"),
)
DOES_NOT_STAND = "does not stand at ride"


def measure(corner: Corner, candidates: Candidates, only: Collection[str] | None = None) -> Measures:
    """Measure N candidates.

    Parameters
    ----------
    corner
        What is settled; mm and radians.
    candidates
        N upper inner pivots with static camber.
    only
        Names of the objectives wanted; the other ones and `part_columns` are then left out. None: everything.

    Returns
    -------
    Arrays of shape (N,) by column name, mm and radians: those of `BUILT`, every objective and what explains it,
    those of `REACHED` and of `part_columns`, and `complete`, whether a candidate assembles over the required travel
    at every steering position. A measure that does not exist for a candidate is NaN; travel of one that does not
    even stand at ride is 0. `assembled_droop` and `assembled_bump` leave rod ends aside and stop at what is required.

    Raises
    ------
    GeometryError
        The settled points themselves cannot be assembled.
    """
    if only is not None and compiled.suits(candidates.count, only):
        return measure_compiled(corner, candidates, only)
    return _measure_arrays(corner, candidates, only)


def measure_compiled(corner: Corner, candidates: Candidates, only: Collection[str]) -> Measures:
    """As `measure`, of objectives that `compiled.suits`: what is ordinary compiled, the rest by arrays."""
    from objectives.compiled.batch import measured

    try:
        found, done = measured(corner, candidates, only)
    except compiled.CannotCompileError:
        compiled.give_up()
        return _measure_arrays(corner, candidates, only)
    rest = np.flatnonzero(~done)
    if rest.size:
        for name, column in _measure_arrays(corner, candidates.take(rest), only).items():
            found[name] = found[name].astype(np.result_type(found[name], column))
            found[name][rest] = column
    return found


def _measure_arrays(corner: Corner, candidates: Candidates, only: Collection[str] | None) -> Measures:
    chunks = [candidates.take(slice(start, start + CHUNK)) for start in range(0, candidates.count, CHUNK) or (0,)]
    if len(chunks) == 1:
        return _measure_chunk(corner, chunks[0], only)
    parts = [_measure_chunk(corner, chunk, only) for chunk in chunks]
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _measure_chunk(corner: Corner, candidates: Candidates, only: Collection[str] | None) -> Measures:
    stands = np.isfinite(place(corner, candidates).ride_angle)
    if not stands.any():
        return _blank(candidates.count, corner, only)
    measured = _measure_standing(move(corner, candidates.take(stands)), only)
    if stands.all():
        return measured
    blank = _blank(candidates.count, corner, only)
    for name, column in measured.items():
        blank[name] = blank[name].astype(np.result_type(blank[name], column))
        blank[name][stands] = column
    return blank


def _measure_standing(motion: Motion, only: Collection[str] | None) -> Measures:
    complete = motion.complete
    found: Measures = {
        "arm_length": motion.placed.upper.radius,
        "tie_rod_length": motion.placed.tie_rod_length,
        "inner_joint_y": motion.placed.inner_joint[1],
        "inner_joint_z": motion.placed.inner_joint[2],
    }
    for objective in _objectives(only):
        columns = (objective, *objective.explains)
        for column, values in zip(columns, objective.measure(motion), strict=True):
            needs_all = objective.over_required_travel and column.quantity != "text"
            found[column.name] = np.where(complete, values, np.nan) if needs_all else values
    if only is None:
        found |= _joint_angles(motion) | _shock(motion)
    travel = motion.by_position(np.where(motion.every.reaches, motion.every.required.travel, 0.0))
    found["assembled_droop"] = -travel.min(axis=0).max(axis=0)
    found["assembled_bump"] = travel.max(axis=0).min(axis=0)
    found["complete"] = complete
    return found


def part_columns(corner: Corner) -> tuple[Column, ...]:
    """Columns of the parts a corner has: the greatest angle of every joint, and the shock's."""
    joints = (Column(f"{j.column}_worst", f"{j.name.capitalize()}, worst", "angle") for j in joints_of(corner))
    return (*joints, *(SHOCK if corner.shock is not None else ()))


def _joint_angles(motion: Motion) -> Measures:
    """Greatest angle of every joint over the required travel and all steering, radians."""
    found: Measures = {}
    for joint in joints_of(motion.corner):
        angle = joint.angle(motion.least_over_steering(joint.least_over, DEGREE)[0])
        found[f"{joint.column}_worst"] = np.where(motion.complete, angle, np.nan)
    return found


def _shock(motion: Motion) -> Measures:
    """Shock at the ends of the required travel, straight ahead, and its motion ratio at ride."""
    shock, sweep = motion.corner.shock, motion.straight.required
    if shock is None:
        return {}
    ends = sweep.at(np.repeat([[-1.0], [1.0]], motion.placed.ride_angle.size, axis=1))
    length = np.where(motion.straight.complete, link_length(ends, shock.link), np.nan)
    whole = motion.straight.whole
    ratio = motion_ratio(whole.at(whole.ride[None]), shock.link)[0]
    return dict(zip((column.name for column in SHOCK), (*length, ratio), strict=True))


def _objectives(only: Collection[str] | None) -> list[Objective]:
    return [objective for objective in OBJECTIVES if only is None or objective.name in only]


def _blank(count: int, corner: Corner, only: Collection[str] | None) -> Measures:
    """Measures of candidates that do not stand at ride."""
    found: Measures = {}
    travels = {column.name for column in (*REACHED, *(o for o in OBJECTIVES if not o.over_required_travel))}
    explained = (column for objective in _objectives(only) for column in (objective, *objective.explains))
    for column in (*BUILT, *explained, *REACHED, *(part_columns(corner) if only is None else ())):
        if column.quantity == "text":
            found[column.name] = np.full(count, DOES_NOT_STAND)
        else:
            found[column.name] = np.full(count, 0.0 if column.name in travels else np.nan)
    found["complete"] = np.zeros(count, dtype=bool)
    return found
