"""The best of each cost, settled: small models of costs and limits about it, each asked where to go next.

Random steps stall where a best lies at the end of a narrow ridge between limits, for nearly all of them fall over an
edge. A model about the best so far, straight with a bend along each variable, says where the ridge runs. It is trusted
in a box that halves when nothing better comes of it and grows when something does (a trust region; Conn, Gould and
Toint, Trust Region Methods, 2000; recalled from memory). Whatever a model advises is judged before it counts.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Look = Callable[[Array], tuple[Array, Array]]
"""Costs (N, M) and excess (N, C) of points (N, V) of the unit box."""

FIRST_REACH = 0.05  # of a variable's range: how far a model is trusted at first, either way
GROWTH, SHRINKAGE, LARGEST_REACH = 1.5, 0.5, 0.2
SMALLEST_REACH = 1e-5  # below, a best is settled
ADVICE = 512  # points at which a model is asked
CAUTION = (0.0, 0.05, 0.2)  # of what the limits change within reach: how far inside them the advice stays
STARTS = 2  # places to start from in each cost
APART = 0.1  # of a range: how far apart those are, so that another ridge may win


def starts(x: Array, costs: Array) -> tuple[Array, NDArray[np.intp]]:
    """Where to start: the best points of each cost, the second away from the first.

    Parameters
    ----------
    x : (K, V) array
        Usable points of the unit box, K >= 1.
    costs : (K, M) array

    Returns
    -------
    (S, V) array, (S,) array of int
        The points, and which cost each is to better.
    """
    chosen: list[int] = []
    which: list[int] = []
    for m, column in enumerate(costs.T):
        open_rows = np.ones(len(x), dtype=bool)
        for _ in range(STARTS):
            if not open_rows.any():
                break
            row = int(np.where(open_rows, column, np.inf).argmin())
            chosen.append(row)
            which.append(m)
            open_rows &= np.abs(x - x[row]).max(axis=1) > APART
    return x[chosen], np.array(which, dtype=np.intp)


def settle(look: Look, x: Array, costs: Array, budget: int, rng: np.random.Generator) -> None:
    """Look for better bests than those known, by at most `budget` looks.

    Parameters
    ----------
    look : callable
        Judges points of the unit box; what it finds it keeps for itself.
    x : (K, V) array
        Usable points known, in the unit box, K >= 1.
    costs : (K, M) array
    budget : int
    rng : Generator
    """
    at, which = starts(x, costs)
    count, variables = at.shape
    reach = np.full(count, FIRST_REACH)
    around, advised = 1 + 2 * variables, len(CAUTION)
    while budget >= count * (around + advised) and reach.max() > SMALLEST_REACH:
        budget -= count * (around + advised)
        star = _star(at, reach)
        star_costs, star_excess = _shaped(look, star)
        mine = np.take_along_axis(star_costs, which[:, None, None], axis=2)
        known = np.concatenate((mine, star_excess), axis=2)  # the cost to better, then every limit
        advice = np.stack([_advise(*one, rng) for one in zip(star, known, reach, strict=True)])
        new_costs, new_excess = _shaped(look, advice)
        met = np.concatenate((star, advice), axis=1)
        value = np.concatenate((star_costs, new_costs), axis=1)[np.arange(count), :, which]
        usable = (np.concatenate((star_excess, new_excess), axis=1) <= 0.0).all(axis=2)
        best = np.where(usable, value, np.inf).argmin(axis=1)
        bettered = best != 0
        at = met[np.arange(count), best]
        reach = np.where(bettered, np.minimum(reach * GROWTH, LARGEST_REACH), reach * SHRINKAGE)


def _star(at: Array, reach: Array) -> Array:
    """Each point (S, V), then a step either way along each variable, inside the box (S, 1 + 2 V, V)."""
    steps = np.eye(at.shape[1])
    steps = np.concatenate((np.zeros_like(steps[:1]), steps, -steps))
    return np.clip(at[:, None] + reach[:, None, None] * steps, 0.0, 1.0)


def _shaped(look: Look, points: Array) -> tuple[Array, Array]:
    """Look at points (S, P, V) at once."""
    found = look(points.reshape(-1, points.shape[-1]))
    costs, excess = (values.reshape(*points.shape[:2], -1) for values in found)
    return costs, excess


def _advise(star: Array, known: Array, reach: float, rng: np.random.Generator) -> Array:
    """Where a model through a star (1 + 2 V, V) puts the least of the first of its values within the others (A, V)."""
    variables = star.shape[1]
    offered = np.clip(star[0] + reach * rng.uniform(-1.0, 1.0, (ADVICE, variables)), 0.0, 1.0)
    guess = _model(star, known, offered)
    change = np.ptp(known[:, 1:], axis=0)
    picked = []
    for caution in CAUTION:
        broken = np.maximum(guess[:, 1:] + caution * change * (change > 0.0), 0.0).sum(axis=1)
        picked.append(np.lexsort((guess[:, 0], broken))[0])
    return np.asarray(offered[picked], dtype=np.float64)


def _model(star: Array, known: Array, points: Array) -> Array:
    """Values (N, K) at points (N, V) of the parabolas through a star, one along each variable, added up."""
    variables = star.shape[1]
    guess = np.repeat(known[:1], len(points), axis=0)
    for v in range(variables):
        up, down = 1 + v, 1 + variables + v
        ahead, behind = star[up, v] - star[0, v], star[0, v] - star[down, v]
        rise, fall = known[up] - known[0], known[0] - known[down]
        step = (points[:, v] - star[0, v])[:, None]
        if ahead > 0.0 and behind > 0.0:
            bend = (rise / ahead - fall / behind) / (ahead + behind)
            slope = (rise / ahead * behind + fall / behind * ahead) / (ahead + behind)
        else:  # at an edge of the box: straight, from the one side there is
            bend, slope = np.zeros_like(rise), (rise / ahead if ahead > 0.0 else fall / behind)
        guess = guess + slope * step + bend * step**2
    return guess
