"""Many candidates through the compiled functions: what goes in, and columns as `objectives.evaluate` has them."""

from __future__ import annotations

from collections.abc import Collection
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from objectives.compiled import measures
from objectives.compiled.kernel import quick_to_compile
from objectives.compiled.layout import (
    CORNER,
    FOUND,
    HOLE,
    INNER_ROD_END,
    LOWER_JOINT,
    OUTER_ROD_END,
    PLACED,
    POSITIONS,
    ROOM,
    SHOCK_CLOSED,
    SHOCK_OPEN,
    SWEEP,
    UPPER_JOINT,
    Record,
    Row,
    corner_record,
    hole_records,
)
from objectives.compiled.reaches import ARMS_LOCK, CAP, SWING_ENDS, TIE_ROD_LOCKS
from objectives.corner import Candidates, Corner
from objectives.reach import ARMS_LOCKED, TIE_ROD_LOCKED, TURNS_BACK
from objectives.reach import CAP as CAP_NAMES
from objectives.reach import SHOCK_CLOSED as SHOCK_CLOSED_NAME
from objectives.reach import SHOCK_OPEN as SHOCK_OPEN_NAME
from objectives.steering import position_name

WANTED = {
    "camber_error": measures.CAMBER_ERROR,
    "scrub": measures.SCRUB,
    "fender_clearance": measures.FENDER,
    "droop_limit": measures.DROOP,
    "bump_steer": measures.BUMP_STEER,
    "bump_limit": measures.BUMP,
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
    outlines = _plain(np.concatenate([np.zeros((0, 2)), *corner.outlines]))
    begins = np.cumsum([0, *(len(outline) for outline in corner.outlines)], dtype=np.int64)
    pivots = _plain(np.stack((candidates.pivot_y, candidates.pivot_z, candidates.static_camber), axis=1))
    wanted = sum(bit for name, bit in WANTED.items() if name in only)
    holes = hole_records(corner)
    # compiled code does not look whether there is such a hole
    hole = np.zeros(candidates.count, np.intp) if corner.spindle.upper_holes is None else candidates.hole
    chosen = np.arange(len(holes))[hole]
    settled = corner_record(corner), holes, outlines, begins, _plain(corner.camber_curve)
    found, done = _run(*settled, pivots, chosen, wanted)
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


def _plain(numbers: Row) -> Row:
    """Numbers as the functions are compiled for: another kind of array would have them compiled again."""
    return np.array(numbers, dtype=np.float64, order="C")


def compile_by_use() -> None:
    """Have everything compiled, on no candidates at all."""
    nothing = np.zeros((0, 2)), np.zeros(1, np.int64), np.zeros((2, 2))
    _run(np.zeros(1, CORNER)[0], np.zeros(1, HOLE), *nothing, np.zeros((0, 3)), np.zeros(0, np.intp), 0)


def _run(
    corner: Record,
    holes: Record,
    outlines: Row,
    begins: NDArray[np.int64],
    target: Row,
    pivots: Row,
    hole: NDArray[np.intp],
    wanted: int,
) -> tuple[Record, NDArray[np.bool_]]:
    """What is found of candidates, (N,) records, and of which of them."""
    found, done = np.zeros(len(pivots), FOUND), np.zeros(len(pivots), dtype=bool)
    for name in FOUND.names or ():
        if FOUND[name].kind == "f":
            found[name] = np.nan
    rooms = np.zeros(1, PLACED), np.zeros(2 + 2 * POSITIONS, SWEEP), np.zeros(1, ROOM)
    with quick_to_compile():
        measures.measure_all(corner, holes, pivots, hole, outlines, begins, target, wanted, *rooms, found, done)
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
