"""Many candidates through the compiled functions: what goes in, and columns as `objectives.evaluate` has them."""

from __future__ import annotations

from collections.abc import Collection
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from objectives.compiled.layout import (
    ARGUMENTS,
    ARMS_LOCK,
    BUMP,
    BUMP_STEER,
    CAMBER_ERROR,
    CAP,
    DROOP,
    FENDER,
    FOUND,
    INNER_ROD_END,
    LOWER_JOINT,
    OUTER_ROD_END,
    PLACED,
    POSITIONS,
    ROOM,
    SCRUB,
    SHOCK_CLOSED,
    SHOCK_OPEN,
    SWEEP,
    SWING_ENDS,
    TIE_ROD_LOCKS,
    UPPER_JOINT,
    Record,
    corner_record,
    hole_records,
)
from objectives.compiled.machine_code import entry
from objectives.corner import Candidates, Corner
from objectives.reach import ARMS_LOCKED, TIE_ROD_LOCKED, TURNS_BACK
from objectives.reach import CAP as CAP_NAMES
from objectives.reach import SHOCK_CLOSED as SHOCK_CLOSED_NAME
from objectives.reach import SHOCK_OPEN as SHOCK_OPEN_NAME
from objectives.steering import position_name

WANTED = {
    "camber_error": CAMBER_ERROR,
    "scrub": SCRUB,
    "fender_clearance": FENDER,
    "droop_limit": DROOP,
    "bump_steer": BUMP_STEER,
    "bump_limit": BUMP,
}
"""Objectives that are compiled, and how they are asked for."""

COLUMNS = {"camber_error": ("camber_error", "camber_bump", "camber_droop")}  # of those that have more than one
ALWAYS = ("arm_length", "tie_rod_length", "inner_joint_y", "inner_joint_z", "assembled_droop", "assembled_bump")
STOPS = {
    OUTER_ROD_END: "outer rod end",
    INNER_ROD_END: "inner rod end",
    UPPER_JOINT: "upper outer joint",
    LOWER_JOINT: "lower outer joint",
    SHOCK_OPEN: SHOCK_OPEN_NAME,
    SHOCK_CLOSED: SHOCK_CLOSED_NAME,
    SWING_ENDS: TURNS_BACK,
    ARMS_LOCK: ARMS_LOCKED,
    TIE_ROD_LOCKS: TIE_ROD_LOCKED,
}


def measured(
    corner: Corner, candidates: Candidates, only: Collection[str]
) -> tuple[dict[str, NDArray[Any]], NDArray[np.bool_]]:
    """Measure candidates, those of `WANTED` among the objectives `only` names.

    Returns
    -------
    Columns of shape (N,) as `evaluate.measure` names them, and which candidates, (N,), they hold for.

    Raises
    ------
    GeometryError
        The settled points cannot be assembled.
    IndexError
        A candidate's hole is none of the spindle's.
    """
    found, done = _run(corner, candidates, sum(bit for name, bit in WANTED.items() if name in only))
    names = ALWAYS + tuple(column for name in WANTED if name in only for column in COLUMNS.get(name, (name,)))
    columns: dict[str, NDArray[Any]] = {name: np.ascontiguousarray(found[name]) for name in names}
    columns["complete"] = found["complete"] != 0
    for objective, column, way, cap in (
        ("droop_limit", "limited_by", "droop", CAP_NAMES[-1]),
        ("bump_limit", "bump_limited_by", "bump", CAP_NAMES[1]),
    ):
        if objective in only:
            columns[column] = _stops(found[f"{way}_why"], found[f"{way}_share"], cap, corner.steering.lock != 0.0)
    return columns, done


def _run(corner: Corner, candidates: Candidates, wanted: int) -> tuple[Record, NDArray[np.bool_]]:
    """What is found of candidates, (N,) records, and of which of them."""
    holes, hole = hole_records(corner), np.zeros(candidates.count, np.intp)
    if corner.spindle.upper_holes is not None:
        hole = np.arange(len(holes))[candidates.hole]  # compiled code does not look whether there is such a hole
    found = np.zeros(candidates.count, FOUND)
    for name in FOUND.names or ():
        if FOUND[name].kind == "f":
            found[name] = np.nan
    done = np.zeros(candidates.count, bool)
    numbers = {
        "candidates": candidates.count,
        "hole_count": len(holes),
        "outline_count": len(corner.outlines),
        "bends": len(corner.camber_curve),
        "wanted": wanted,
    }
    arrays = {
        "corner": corner_record(corner),
        "holes": holes,
        "pivots": np.stack((candidates.pivot_y, candidates.pivot_z, candidates.static_camber), axis=1),
        "hole": hole,
        "outlines": np.concatenate([np.zeros((0, 2)), *corner.outlines]),
        "begins": np.cumsum([0, *(len(outline) for outline in corner.outlines)]),
        "target": corner.camber_curve,
        "placed": np.zeros(1, PLACED),
        "sweeps": np.zeros(2 + 2 * POSITIONS, SWEEP),
        "room": np.zeros(1, ROOM),
        "found": found,
        "done": done,
    }
    # as the compiled function reads them, which is told nothing but where they begin
    plain = {name: np.ascontiguousarray(array, ARGUMENTS[name]) for name, array in arrays.items()}
    pointers = {name: array.ctypes.data for name, array in plain.items()}
    entry()(*({**numbers, **pointers}[name] for name in ARGUMENTS))
    return found, done


def _stops(why: NDArray[np.int64], share: NDArray[np.float64], cap: str, steered: bool) -> NDArray[np.str_]:
    """What stops the wheel, in words, and with locks at which steering."""
    share = np.nan_to_num(share)  # of candidates that are left to the arrays
    side = np.sign(share).astype(int) * (1 + (np.abs(share) == 1.0))
    return _words_of_stops(cap, steered)[why, side]


@cache
def _words_of_stops(cap: str, steered: bool) -> NDArray[np.str_]:
    """Words for each reason and each side of the steering: straight ahead, towards left lock, there, and right."""
    sides = [f" {position_name(0.5 * side)}" if steered else "" for side in (0, 1, 2, -2, -1)]
    names = [STOPS.get(reason, "") for reason in range(max(*STOPS, CAP) + 1)]
    words = [[cap if reason == CAP else f"{name}{side}" for side in sides] for reason, name in enumerate(names)]
    return np.array(words)
