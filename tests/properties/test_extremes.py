"""One number of a sound scenario replaced by an extreme one: the file is refused by name and line, or it works."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from objectives.evaluate import measure
from optimizer.candidate import candidate_at, shown
from optimizer.errors import NoUsableCandidate, ScenarioError
from optimizer.problem import PivotProblem
from optimizer.scenario import Scenario
from tests.properties.drafts import Case, Draft
from tests.properties.strategies import cases, examples

Path = tuple[str | int, ...]

EXTREMES = [0.0, -0.0, 1e-300, 1e-9, 1e-3, 1.0, -1.0, 45.0, 60.0, 89.999, 1e3, -1e3, 1e5, -1e5, math.inf, math.nan]


def _numbers(table: Any, path: Path = ()) -> Iterator[Path]:
    """Paths of all numbers in nested tables and lists."""
    for key, value in table.items() if isinstance(table, dict) else enumerate(table):
        if isinstance(value, dict | list):
            yield from _numbers(value, (*path, key))
        elif isinstance(value, float):
            yield (*path, key)


def _spoiled(draft: Draft, path: Path, value: float) -> Draft:
    spoiled = draft.changed()
    place: Any = spoiled.tables
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = type(place[path[-1]])(value)
    return spoiled


@examples(2.0)
@given(cases(count=2), st.data())
def test_an_extreme_number_is_measured_or_refused(case: Case, data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(list(_numbers(case.draft.tables))))
    value = data.draw(st.one_of(st.sampled_from(EXTREMES), st.floats(-1e5, 1e5)))
    spoiled = Case(_spoiled(case.draft, path, value), case.picks)
    try:
        scenario = spoiled.scenario
    except ScenarioError as refusal:
        faults = refusal.faults
    else:
        faults = ()
        _works(scenario, spoiled)
    assert all(fault.sentence and (fault.line or not fault.key) for fault in faults)


def _works(scenario: Scenario, spoiled: Case) -> None:
    """Candidates can be measured, judged and shown."""
    candidates = spoiled.candidates()
    measured = measure(scenario.corner, candidates)
    problem = PivotProblem(scenario)
    excess = problem.excess(candidates, measured)
    usable = (excess <= 0.0).all(axis=1)
    for objective in scenario.asked:
        assert np.isfinite(measured[objective.name][usable]).all(), objective.name
    try:
        candidate = candidate_at(scenario, *(float(part[0]) for part in (candidates.pivot_y, candidates.pivot_z)))
    except NoUsableCandidate:
        return
    assert shown(scenario, candidate.measures())
