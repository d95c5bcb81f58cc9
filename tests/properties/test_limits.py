"""To ask for less, or to take a part away, never loses a candidate."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from objectives.corner import Corner, Travel
from objectives.evaluate import Measures, measure
from objectives.registry import OBJECTIVES
from optimizer.problem import PivotProblem, sign
from optimizer.scenario import Scenario
from tests.properties.drafts import Case
from tests.properties.strategies import cases, examples

SAME = 1e-6  # mm on a corner of a buggy's size: a limit's travel is settled on exact poses
READ = 1e-5  # mm or radians: an extreme read off the polynomial of a sweep of another length
LIMITS = ("droop_limit", "bump_limit")


def usable(scenario: Scenario, case: Case, measured: Measures) -> np.ndarray:
    return (PivotProblem(scenario).excess(case.candidates(), measured) <= 0.0).all(axis=1)


def near(corner: Corner) -> float:
    return SAME * max(1.0, corner.half_track / 700.0)


@st.composite
def relaxed(draw: st.DrawFn, scenario: Scenario) -> Scenario:
    """The scenario with one thing that makes candidates unusable asked for less, or not at all."""
    limited = [name for name, target in scenario.targets.items() if target.limit is not None]
    which = draw(st.sampled_from([*limited, "region", "keep_out", "length", "static_camber"]))
    space = scenario.space
    if which == "region":
        return replace(scenario, space=replace(space, region=None))
    if which == "keep_out":
        return replace(scenario, space=replace(space, keep_out=np.zeros((0, 3))))
    if which == "length":
        low, high = space.length
        return replace(scenario, space=replace(space, length=(0.9 * low, 1.1 * high))) if low < high else scenario
    if which == "static_camber":
        low, high = space.static_camber
        return replace(scenario, space=replace(space, static_camber=(low - 0.01, high + 0.01)))
    target = scenario.targets[which]
    assert target.limit is not None
    objective = next(objective for objective in OBJECTIVES if objective.name == which)
    by = draw(st.sampled_from([1e-9, 0.01, 1.0, 100.0]))
    aim = draw(st.sampled_from([None, target.aim]))
    wider = replace(target, limit=target.limit + sign(objective) * by, aim=aim)
    return replace(scenario, targets={**scenario.targets, which: wider})


@examples()
@given(cases(count=8), st.data())
def test_to_relax_a_limit_loses_no_candidate(case: Case, data: st.DataObject) -> None:
    scenario = case.scenario
    measured = measure(scenario.corner, case.candidates())
    before = usable(scenario, case, measured)
    for _ in range(4):
        after = usable(data.draw(relaxed(scenario)), case, measured)
        assert (after | ~before).all()


def tightened(corner: Corner, joint: str, share: float) -> Corner:
    """The corner with one joint's largest angle made less."""
    if joint in ("outer_rod_end", "inner_rod_end"):
        end = getattr(corner.steering, joint)
        less = replace(end, max_angle=share * end.max_angle)
        return replace(corner, steering=replace(corner.steering, **{joint: less}))
    ball = getattr(corner, joint)
    return replace(corner, **{joint: replace(ball, max_angle=share * ball.max_angle)})


@examples()
@given(cases(placed=False), st.data())
def test_a_joint_of_less_angle_gives_no_more_travel(case: Case, data: st.DataObject) -> None:
    """Droop and bump limit of every candidate, whichever joint it is."""
    corner, candidates = case.scenario.corner, case.candidates()
    balls = [name for name in ("upper_outer_joint", "lower_outer_joint") if getattr(corner, name) is not None]
    joint, share = (
        data.draw(st.sampled_from(["outer_rod_end", "inner_rod_end", *balls])),
        data.draw(st.floats(0.2, 1.0)),
    )
    wide = measure(corner, candidates, only=LIMITS)
    narrow = measure(tightened(corner, joint, share), candidates, only=LIMITS)
    for name in LIMITS:
        assert (narrow[name] <= wide[name] + near(corner)).all(), name


def without(corner: Corner, part: str) -> Corner:
    if part == "locks":
        return replace(corner, steering=replace(corner.steering, rack_travel=0.0, pitman=None))
    return replace(corner, **{part: None})


@examples()
@given(cases(placed=False), st.data())
def test_a_part_taken_away_takes_no_travel_or_clearance(case: Case, data: st.DataObject) -> None:
    corner, candidates = case.scenario.corner, case.candidates()
    held = [name for name in ("upper_outer_joint", "lower_outer_joint", "shock") if getattr(corner, name) is not None]
    part = data.draw(st.sampled_from(["locks", *held]))
    only = (*LIMITS, "fender_clearance", "parts_clearance")
    full, bare = (measure(one, candidates, only=only) for one in (corner, without(corner, part)))
    for name in LIMITS:
        assert (bare[name] >= full[name] - near(corner)).all(), name
    assert (bare["complete"] | ~full["complete"]).all()
    complete = full["complete"]
    if part == "locks":
        for name in ("fender_clearance", "parts_clearance"):
            before, after = full[name][complete], bare[name][complete]
            assert ((after >= before - READ * max(1.0, corner.half_track / 700.0)) | np.isnan(before)).all(), name


@examples()
@given(cases(placed=False), st.floats(0.2, 1.0), st.floats(0.2, 1.0))
def test_less_required_travel_is_no_worse(case: Case, of_bump: float, of_droop: float) -> None:
    """What assembles still does; scrub and bump steer shrink, clearances grow, limits stay where they are."""
    corner, candidates = case.scenario.corner, case.candidates()
    asked = corner.travel
    assume(asked.bump_cap >= asked.bump)
    less = Travel(of_bump * asked.bump, of_droop * asked.droop, asked.droop_cap, asked.bump_cap)
    only = (*LIMITS, "scrub", "bump_steer", "fender_clearance")
    wide, narrow = (measure(replace(corner, travel=travel), candidates, only=only) for travel in (asked, less))
    complete = wide["complete"]
    assert (narrow["complete"] | ~complete).all()
    size = max(1.0, corner.half_track / 700.0)
    for name in ("scrub", "bump_steer"):
        assert (narrow[name] <= wide[name] + READ * size)[complete].all(), name
    if corner.outlines:
        assert (narrow["fender_clearance"] >= wide["fender_clearance"] - READ * size)[complete].all()
    for name in LIMITS:
        assert (np.abs(narrow[name] - wide[name]) <= near(corner)).all(), name
