"""A candidate in dimensions that a tape can show, as near as the limits allow to the one that was found."""

from __future__ import annotations

from itertools import product

import numpy as np

from objectives.corner import Candidates
from objectives.inverse import static_camber_for
from objectives.ride import place
from objectives.vectors import Array
from optimizer.candidate import Candidate, with_inner_joint
from optimizer.problem import PivotProblem
from optimizer.scenario import Scenario


def rounded(problem: PivotProblem, found: Candidate) -> Candidate:
    """Round pivot and arm length to the tape; static camber follows.

    Among the tape marks around the pivot, each with the arms that bring the wanted static camber nearest, the one is
    taken that keeps every limit and the range of static camber, and whose results move least; where none keeps every
    limit, the one that breaks them least. What the scenario holds fixed is not rounded.
    """
    options = _options(problem, found)
    measured = problem.measure(options)
    broken = problem.broken(options, measured) + _outside(options.static_camber, found)
    wanted = problem.costs(problem.measure(found.as_batch))
    moved = (np.abs(problem.costs(measured) - wanted) / problem.scale).max(axis=1)
    camber = np.abs(options.static_camber - found.static_camber) / np.radians(0.1)
    best = int(np.lexsort((np.maximum(moved, camber), broken))[0])
    y, z, static_camber = (float(part[best]) for part in (options.pivot_y, options.pivot_z, options.static_camber))
    return _with_rounded_joint(Candidate(found.scenario, y, z, static_camber, found.hole))


def _with_rounded_joint(candidate: Candidate) -> Candidate:
    """The candidate with its inner joint fixed at a tape mark nearby: first limits count, then bump steer."""
    scenario, steering = candidate.scenario, candidate.scenario.corner.steering
    if steering.inner_region is None:
        return candidate
    found = candidate.designed_measures()
    marks = (
        _marks(found[name], (float(low), float(high)), scenario)
        for name, (low, high) in zip(("inner_joint_y", "inner_joint_z"), steering.inner_region, strict=True)
    )
    options = [with_inner_joint(candidate, y, z) for y, z in product(*marks)]
    return min(options, key=_broken_and_bump_steer)


def _broken_and_bump_steer(candidate: Candidate) -> tuple[float, float]:
    """By how much a candidate breaks its limits, and its bump steer; the less, the better."""
    problem, batch = PivotProblem(candidate.scenario), candidate.as_batch
    measured = problem.measure(batch, also=("bump_steer",))
    return float(problem.broken(batch, measured)[0]), float(np.nan_to_num(measured["bump_steer"][0], nan=np.inf))


def _outside(camber: Array, found: Candidate) -> Array:
    """How far static camber is outside the range it was searched in, degrees, shape (N,)."""
    low, high = found.scenario.space.static_camber
    low, high = min(low, found.static_camber), max(high, found.static_camber)
    outside: Array = np.degrees(np.maximum(np.maximum(low - camber, camber - high), 0.0))
    return np.where(outside > 1e-9, outside, 0.0)


def _options(problem: PivotProblem, found: Candidate) -> Candidates:
    """Candidates in tape dimensions around the one found."""
    scenario = found.scenario
    space, step = scenario.space, scenario.build.round_to
    marks = [
        [value] if span[0] == span[1] else _marks(value, span, scenario)
        for value, span in ((found.pivot_y, space.pivot_y), (found.pivot_z, space.pivot_z))
    ]
    y, z = (np.array(part) for part in zip(*product(*marks), strict=True))
    hole = np.full(y.shape, found.hole)
    if problem.arm_is_fixed:
        arm = np.full(y.shape, space.length[0])
    else:
        length = place(scenario.corner, Candidates(y, z, np.full(y.shape, found.static_camber), hole)).upper.radius
        nearest = np.asarray(scenario.unit.snap(length, step), dtype=float)
        arm = np.concatenate([nearest + shift * step for shift in (0, -1, 1)])
        y, z, hole = (np.tile(part, 3) for part in (y, z, hole))
    camber = static_camber_for(scenario.corner, y, z, arm, hole)
    stands = np.isfinite(camber)
    return Candidates(y[stands], z[stands], camber[stands], hole[stands]) if stands.any() else found.as_batch


def _marks(value: float, span: tuple[float, float], scenario: Scenario) -> list[float]:
    """Tape marks around a value, inside its range; the value itself where the range holds no mark."""
    step = scenario.build.round_to
    nearest = float(scenario.unit.snap(value, step))
    marks = [nearest + shift * step for shift in (0, -1, 1)]
    slack = 1e-9 * step
    return [mark for mark in marks if span[0] - slack <= mark <= span[1] + slack] or [value]
