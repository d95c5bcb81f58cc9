"""Whatever a scenario holds, what comes out is a number, a word or a refusal of its own kind: never NaN unsaid.

The suite turns every warning of numpy into an error, so there is none of those either.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import example, given

from objectives.evaluate import measure
from objectives.motion import Motion, move
from objectives.reach import bump_reach, droop_reach, limits_of
from objectives.registry import OBJECTIVES
from optimizer.problem import PivotProblem
from tests.properties import pinned
from tests.properties.drafts import Case
from tests.properties.strategies import cases, examples

IN_LINE_SPARE = 1e-6  # of sin^2: within 1e-3 rad of the line; the end is known to 1e-8 of u, where an arm may turn fast


@examples()
@given(cases(count=6))
@example(pinned.AIM_ALONE)
@example(pinned.PARALLEL)
@example(pinned.IN_LINE)
def test_what_can_be_used_has_been_measured(case: Case) -> None:
    """No candidate passes every limit with a NaN in what is asked for; costs and excess are finite for all."""
    scenario, candidates = case.scenario, case.candidates()
    problem = PivotProblem(scenario)
    measured = measure(scenario.corner, candidates, only=problem.needed)
    excess = problem.excess(candidates, measured)
    assert np.isfinite(excess).all()
    assert np.isfinite(problem.costs(measured)).all()
    usable = (excess <= 0.0).all(axis=1)
    for objective in scenario.asked:
        assert np.isfinite(measured[objective.name][usable]).all(), objective.name


@examples()
@given(cases(count=6))
@example(pinned.LIFTED)
@example(pinned.LOCKED)
@example(pinned.PARALLEL)
def test_measures_are_what_they_are_called(case: Case) -> None:
    """Travels lie between none and their cap, amounts are 0 or more, and NaN means what the docstring says."""
    corner = case.scenario.corner
    measured = measure(corner, case.candidates())
    complete, travel = measured["complete"], corner.travel
    for name, most in (
        ("droop_limit", travel.droop_cap),
        ("bump_limit", travel.most_bump),
        ("assembled_droop", travel.droop * (1 + 1e-9)),
        ("assembled_bump", travel.bump * (1 + 1e-9)),
    ):
        assert (measured[name] >= 0.0).all(), name
        assert (measured[name] <= most).all(), name
    for objective in OBJECTIVES:
        found = measured[objective.name]
        if objective.over_required_travel:
            assert np.isnan(found[~complete]).all(), objective.name
        if objective.better == "less":
            assert (found[np.isfinite(found)] >= 0.0).all(), objective.name
        if case.scenario.targets[objective.name].measured and not objective.missing:
            assert np.isfinite(found[complete]).all() or objective.name == "fender_clearance", objective.name
    for name in ("limited_by", "bump_limited_by"):
        assert all(measured[name])


@examples()
@given(cases(count=6))
@example(pinned.LIFTED)
def test_nothing_stops_the_wheel_where_nothing_is_at_its_limit(case: Case) -> None:
    """A limit of no travel only where, with the steering held somewhere, something is at its limit at ride height."""
    corner, candidates = case.scenario.corner, case.standing()
    motion = move(corner, candidates)
    free = np.ones(candidates.count, dtype=bool)
    for steered in motion.steered:
        at = steered.whole.at(steered.whole.level[None])
        free &= (
            steered.reaches
            & (np.abs(at.travel[0]) < 1e-6)
            & (np.minimum(at.pose.arm_spare, at.pose.tie_spare)[0] > 1e-3)
        )
        for limit in limits_of(corner):
            free &= limit.curve(at)[0] < -1e-6
    for limit in (droop_reach(motion).travel, bump_reach(motion).travel):
        assert (limit[free] > 0.0).all()


@examples()
@given(cases(count=6, placed=False))
@example(pinned.LOCKED)
@example(pinned.PARALLEL)
def test_a_lock_is_called_a_lock(case: Case) -> None:
    """Straight ahead, with joints that tilt as they like: what is said to lock lies in line at the end of the sweep."""
    drawn = case.scenario.corner
    steering, wide = replace(drawn.steering, rack_travel=0.0, pitman=None), np.radians(89.9)
    ends = {name: replace(getattr(steering, name), max_angle=wide) for name in ("outer_rod_end", "inner_rod_end")}
    loose = {"upper_outer_joint": None, "lower_outer_joint": None, "shock": None}
    corner = replace(drawn, steering=replace(steering, **ends), travel=replace(drawn.travel, roll=0.0), **loose)
    motion = move(corner, case.standing())
    at = motion.straight.whole.at(np.repeat([[-1.0], [1.0]], motion.placed.ride_angle.size, axis=1)).pose
    for reach, row, cap in ((droop_reach(motion), 0, "droop cap"), (bump_reach(motion), 1, "bump cap")):
        in_line = {"arms locked": at.arm_spare[row], "tie rod locked": at.tie_spare[row]}
        for number, word in enumerate(reach.limited_by):
            spare = {name: part[number] for name, part in in_line.items()}
            if word in spare:
                assert spare[word] < IN_LINE_SPARE
            elif word == "arms at the end of their swing":
                assert min(spare.values()) > IN_LINE_SPARE or not _ends_there(motion, row, number)
            else:
                assert word in (cap, "outer rod end", "inner rod end")


def _ends_there(motion: Motion, row: int, number: int) -> bool:
    """Whether a candidate's sweep ends before its wheel turns back."""
    return not np.isfinite(motion.straight.whole.turning(-1 if row == 0 else 1)[number])
