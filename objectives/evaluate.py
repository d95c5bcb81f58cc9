"""Everything that is measured of a candidate, for any number of candidates, in chunks of bounded memory."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from objectives.corner import Candidates, Corner
from objectives.motion import Motion, move
from objectives.objective import Column
from objectives.registry import OBJECTIVES
from objectives.ride import place

CHUNK = 2048  # candidates swept at once: enough to outweigh the cost of a call, few enough to bound memory

Measures: TypeAlias = dict[str, NDArray[Any]]

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
DOES_NOT_STAND = "does not stand at ride"


def measure(corner: Corner, candidates: Candidates) -> Measures:
    """Measure N candidates.

    Parameters
    ----------
    corner
        What is settled; mm and radians.
    candidates
        N upper inner pivots with static camber.

    Returns
    -------
    Arrays of shape (N,) by column name, mm and radians: those of `BUILT`, every objective and what explains it,
    those of `REACHED`, and `complete`, whether a candidate assembles over the required travel at every steering
    position. A measure that does not exist for a candidate is NaN; travel of one that does not even stand at
    ride is 0. `assembled_droop` and `assembled_bump` leave rod ends aside and stop at what is required.

    Raises
    ------
    GeometryError
        The settled points themselves cannot be assembled.
    """
    starts = range(0, candidates.count, CHUNK) or (0,)
    parts = [_measure_chunk(corner, candidates.take(slice(start, start + CHUNK))) for start in starts]
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _measure_chunk(corner: Corner, candidates: Candidates) -> Measures:
    stands = np.isfinite(place(corner, candidates).ride_angle)
    blank = _blank(candidates.count)
    if not stands.any():
        return blank
    measured = _measure_standing(move(corner, candidates.take(stands)))
    if stands.all():
        return measured
    for name, column in measured.items():
        blank[name] = blank[name].astype(np.result_type(blank[name], column))
        blank[name][stands] = column
    return blank


def _measure_standing(motion: Motion) -> Measures:
    complete = motion.complete
    found: Measures = {
        "arm_length": motion.placed.upper.radius,
        "tie_rod_length": motion.placed.tie_rod_length,
        "inner_joint_y": motion.placed.inner_joint[1],
        "inner_joint_z": motion.placed.inner_joint[2],
    }
    for objective in OBJECTIVES:
        columns = (objective, *objective.explains)
        for column, values in zip(columns, objective.measure(motion), strict=True):
            needs_all = objective.over_required_travel and column.quantity != "text"
            found[column.name] = np.where(complete, values, np.nan) if needs_all else values
    travel = np.stack([steered.required.travel for steered in motion.steered])
    found["assembled_droop"] = -travel.min(axis=1).max(axis=0)
    found["assembled_bump"] = travel.max(axis=1).min(axis=0)
    found["complete"] = complete
    return found


def _blank(count: int) -> Measures:
    """Measures of candidates that do not stand at ride."""
    found: Measures = {}
    travels = {column.name for column in (*REACHED, *(o for o in OBJECTIVES if not o.over_required_travel))}
    explained = (column for objective in OBJECTIVES for column in (objective, *objective.explains))
    for column in (*BUILT, *explained, *REACHED):
        if column.quantity == "text":
            found[column.name] = np.full(count, DOES_NOT_STAND)
        else:
            found[column.name] = np.full(count, 0.0 if column.name in travels else np.nan)
    found["complete"] = np.zeros(count, dtype=bool)
    return found
