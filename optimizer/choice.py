"""A handful of candidates to look at first, out of a front of hundreds, and why each is among them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

AUGMENTATION = 1e-3  # weight of the sum beside the maximum; small, it only separates near ties
TIE = 1e-6  # of a difference that matters: costs closer than this are equally good


class Listed(NamedTuple):
    """One candidate of the shortlist: its row in the costs, what it is and why, in sentences."""

    row: int
    kind: str
    why: str


def complete_aims(costs: Array, aims: Array) -> Array:
    """Aims with the missing ones (NaN) put halfway between the best and the worst of the front.

    Halfway, because the best would ask most of just the cost about which nobody said anything, and leaving
    it out could ruin it unseen.

    Parameters
    ----------
    costs : (N, M) array, N >= 1
    aims : (M,) array
        NaN where there is none.

    Returns
    -------
    (M,) array
    """
    halfway = 0.5 * (costs.min(axis=0) + costs.max(axis=0))
    return np.where(np.isnan(aims), halfway, aims)


def achievement(costs: Array, aims: Array, scale: Array) -> Array:
    """How far each row is from the aims: the worst miss, in differences that matter; less is better.

    Augmented Chebyshev achievement function, max_i d_i + 0.001 sum_i d_i with d = (costs - aims) / scale
    (A. P. Wierzbicki, The use of reference objectives in multiobjective optimization, 1980; recalled from
    memory). The sum makes the least value non-dominated. Negative when every aim is bettered: reached aims
    do not end the contest.

    Parameters
    ----------
    costs : (N, M) array
    aims : (M,) array
        NaN where there is none; see `complete_aims`.
    scale : (M,) array, positive

    Returns
    -------
    (N,) array
    """
    if len(costs) == 0:
        return np.empty(0)
    miss = (costs - complete_aims(costs, aims)) / scale
    return np.asarray(miss.max(axis=1) + AUGMENTATION * miss.sum(axis=1), dtype=np.float64)


def knee(costs: Array) -> int:
    """Row where the front bulges most towards the ideal point: leaving it, something gets much worse.

    With every cost scaled to 0 at the front's best and 1 at its worst, the row farthest below the plane
    through the unit points, that is with the least sum (after Das, On characterizing the "knee" of the Pareto
    curve, Structural Optimization 18, 1999, with that plane in place of the one through the ends, which
    may not exist; recalled from memory). A flat cost has no say; on a front that bulges away from the
    ideal point the row lies at an end. Ties go to the first row.

    Parameters
    ----------
    costs : (N, M) array, N >= 1

    Returns
    -------
    int

    Raises
    ------
    ValueError
        If there are no rows.
    """
    if len(costs) == 0:
        raise ValueError("a knee needs at least one row of costs")
    best, extent = costs.min(axis=0), np.ptp(costs, axis=0)
    share = (costs - best) / np.where(extent > 0, extent, 1.0)
    return int(share.sum(axis=1).argmin())


def best_rows(costs: Array, aims: Array, scale: Array) -> list[int]:
    """For each cost the row where it is least; of equally good ones the best for the aims.

    Parameters
    ----------
    costs : (N, M) array, N >= 1
    aims, scale : (M,) arrays
        As in `achievement`.

    Returns
    -------
    list of M int
    """
    missed = achievement(costs, aims, scale)
    rows = []
    for cost, step in zip(costs.T, scale, strict=True):
        equal = np.flatnonzero(cost <= cost.min() + TIE * step)
        rows.append(int(equal[missed[equal].argmin()]))
    return rows


def farthest_aim(costs: Array, aims: Array, scale: Array) -> int | None:
    """Which cost of one row misses its aim by most, in differences that matter; None where no aim is missed.

    Parameters
    ----------
    costs, aims, scale : (M,) arrays
        As in `achievement`; a NaN aim is never missed.
    """
    miss = np.nan_to_num((costs - aims) / scale, nan=-np.inf)
    worst = int(miss.argmax())
    return worst if miss[worst] > TIE else None


def shortlist(
    costs: Array,
    aims: Array,
    scale: Array,
    names: Sequence[str] | None = None,
    tell: Callable[[int, int], str] | None = None,
    yields: Array | None = None,
) -> list[Listed]:
    """The balanced candidate, the best in each cost, the knee and the most forgiving; one entry for each row.

    Parameters
    ----------
    costs : (N, M) array
    aims, scale : (M,) arrays
        As in `achievement`.
    names : sequence of M str, optional
        What the costs are called; "cost 1", "cost 2", ... when absent.
    tell : callable, optional
        Says of a row and a cost, by number, what it reaches and what the aim is.
    yields : (N,) array, optional
        Share of builds of each row that keep every limit.

    Returns
    -------
    list of Listed
        Balanced first; empty when there are no rows. A row that is there for several reasons has them joined; the
        last sentence names the aim it misses most, which is what the row costs.
    """
    if len(costs) == 0:
        return []
    labels = list(names) if names is not None else [f"cost {m + 1}" for m in range(costs.shape[1])]
    missed = achievement(costs, aims, scale)
    balanced = int(missed.argmin())
    reasons = [(balanced, "balanced", _why_balanced(costs, aims, scale, labels, balanced))]
    for row, label in zip(best_rows(costs, aims, scale), labels, strict=True):
        reasons.append((row, f"best {label}", f"No other candidate is better in {label}."))
    reasons.append((knee(costs), "knee", "The front bends most here: a step away gains little and costs much."))
    if yields is not None and yields.max() > 0.0:
        reasons.append(_most_forgiving(yields, missed))
    kinds: dict[int, list[str]] = {}
    whys: dict[int, list[str]] = {}
    for row, kind, why in reasons:
        kinds.setdefault(row, []).append(kind)
        whys.setdefault(row, []).append(why)
    told = tell or (lambda row, m: f"{costs[row, m]:g}, aim {aims[m]:g}")
    found = []
    for row, sentences in whys.items():
        worst = farthest_aim(costs[row], aims, scale)
        if worst is not None:
            sentences.append(f"Farthest from its aim in {labels[worst]}: {told(row, worst)}.")
        elif row != balanced and not np.isnan(aims).all():
            sentences.append("It meets every aim given.")
        found.append(Listed(row, ", ".join(kinds[row]), " ".join(sentences)))
    return found


def _most_forgiving(yields: Array, missed: Array) -> tuple[int, str, str]:
    """The row of which most builds keep every limit; of equally good ones the best for the aims."""
    equal = np.flatnonzero(yields == yields.max())
    row = int(equal[missed[equal].argmin()])
    words = f"Built to your tolerances, {100.0 * yields[row]:.3g} of 100 keep every limit"
    return row, "most forgiving", f"{words}; no other candidate does better, though others may do as well."


def _why_balanced(costs: Array, aims: Array, scale: Array, labels: Sequence[str], row: int) -> str:
    """Say how the balanced row stands to the aims that were given."""
    if np.isnan(aims).all():
        return "With no aims given, its worst cost is the least above the middle of the front."
    missed = [label for label, gap in zip(labels, (costs[row] - aims) / scale, strict=True) if gap > TIE]
    if not missed:
        return "It meets every aim given, with the most in hand where it is tightest."
    return (
        "Its worst miss of an aim, measured against the way from limit to aim, is the smallest there is; "
        f"it misses {', '.join(missed)}."
    )
