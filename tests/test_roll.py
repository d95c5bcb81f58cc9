"""Body roll as a user meets it: the key, the columns, the table, the sentences, and candidates it leaves out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from objectives.corner import Candidates
from objectives.evaluate import measure
from optimizer.candidate import Candidate, baseline_of, evaluate
from optimizer.outputs import write_try
from optimizer.page import as_markdown
from optimizer.problem import PivotProblem, broken_limits
from optimizer.roll_advice import roll_centre_words, roll_table, when_rolled
from optimizer.scenario import Scenario, parse_scenario
from optimizer.units import INCH
from tests.commands import draw_only
from tests.scenario_cases import BASE, edited

NAMES = ("roll_camber", "roll_camber_outer", "roll_camber_inner", "roll_travel")
COLUMNS = ["roll_deg", "travel_outer", "travel_inner", "camber_outer_deg", "camber_inner_deg"]


def rolling(roll: str, *changes: tuple[str, str]) -> Scenario:
    return parse_scenario(edited(("bump = 180.0", f"bump = 180.0\nroll = {roll}"), *changes))


def first_idea(scenario: Scenario) -> Candidate:
    found = baseline_of(scenario)
    assert found is not None
    return found


def test_the_roll_is_read_in_degrees_and_left_out_is_none() -> None:
    assert rolling("3").corner.travel.roll == pytest.approx(np.radians(3.0), rel=1e-12)
    assert parse_scenario(BASE).corner.travel.roll == 0.0


def test_without_a_roll_camber_in_roll_has_no_value_and_is_not_asked_for() -> None:
    scenario = parse_scenario(BASE)
    measured = measure(scenario.corner, Candidates(275.0, 232.0, np.zeros(2)))
    assert all(np.isnan(measured[name]).all() for name in NAMES)
    assert np.isfinite(measured["roll_centre_migration"]).all()
    assert "roll_camber" not in {objective.name for objective in scenario.measured}
    assert "roll_centre_migration" in {objective.name for objective in scenario.measured}
    assert not when_rolled(scenario, first_idea(scenario).measures())
    assert roll_table(first_idea(scenario)) == {}


def test_both_can_be_traded_off() -> None:
    scenario = rolling("3.0", ("scrub =", "roll_camber_deg = { objective = true }\nscrub ="))
    assert "roll_camber" in {objective.name for objective in PivotProblem(scenario).traded}
    scenario = parse_scenario(edited(("scrub =", "roll_centre_migration = { objective = true }\nscrub =")))
    assert "roll_centre_migration" in {objective.name for objective in PivotProblem(scenario).traded}


def test_an_aim_alone_is_searched_by_too() -> None:
    scenario = parse_scenario(edited(("scrub =", "roll_centre_migration = { aim = 60.0 }\nscrub =")))
    problem = PivotProblem(scenario)
    judged = problem.judge(np.array([[275.0, 232.0, 0.0]]))
    assert judged.costs.shape == (1, 5)
    asked = [
        limit.objective is not None and limit.objective.name == "roll_centre_migration" for limit in problem.limits
    ]
    assert judged.excess[0, asked] == [-1.0]


def test_a_candidate_that_does_not_roll_so_far_is_left_out_where_it_is_asked_for() -> None:
    """13.2 degrees take some 185 mm at the nominal track, and required bump is 180 mm: only some get there."""
    limit = ("scrub =", "roll_camber_deg = { limit = 40.0 }\nscrub =")
    asked, unasked = rolling("13.2", limit), rolling("13.2")
    y, z = (grid.ravel() for grid in np.meshgrid(np.linspace(190.0, 400.0, 30), np.linspace(160.0, 320.0, 30)))
    candidates = Candidates(y, z, 0.0)
    measured = measure(asked.corner, candidates)
    lacks = measured["complete"] & np.isnan(measured["roll_camber"])
    assert lacks.any()
    assert (measured["complete"] & ~lacks).any()
    words = "the required travel ends before the body has rolled by travel.roll"
    for row in (int(np.flatnonzero(lacks)[0]), int(np.flatnonzero(measured["complete"] & ~lacks)[0])):
        said = broken_limits(Candidate(asked, float(y[row]), float(z[row]), 0.0))
        assert (words in said) == lacks[row]
        assert words not in broken_limits(Candidate(unasked, float(y[row]), float(z[row]), 0.0))


def test_the_table_ends_at_the_roll_and_agrees_with_the_measures(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    draw_only(monkeypatch)
    for unit in ("mm", "inch"):
        scenario = rolling("4.0") if unit == "mm" else replace(rolling("4.0"), unit=INCH)
        candidate = first_idea(scenario)
        (tmp_path / unit).mkdir()
        write_try(candidate, tmp_path / unit)
        table = pd.read_csv(tmp_path / unit / "roll.csv")
        assert list(table.columns) == COLUMNS
        assert table["roll_deg"].iloc[[0, -1]].tolist() == pytest.approx([0.0, 4.0])
        assert table.notna().all(axis=None)
        assert table["travel_inner"].to_numpy() == pytest.approx(-table["travel_outer"].to_numpy())
        last, found = table.iloc[-1], candidate.measures()
        per = 25.4 if unit == "inch" else 1.0
        assert last["travel_outer"] * per == pytest.approx(found["roll_travel"])
        for wheel in ("outer", "inner"):
            assert np.radians(last[f"camber_{wheel}_deg"]) == pytest.approx(found[f"roll_camber_{wheel}"])
            assert table[f"camber_{wheel}_deg"].iloc[0] == pytest.approx(0.0, abs=1e-7)
    assert evaluate(rolling("4.0"), 275.0, 232.0)["roll_camber_deg"] == pytest.approx(last.iloc[3:].abs().max())


def test_sentences_say_which_way_each_wheel_leans() -> None:
    scenario = rolling("3.0")
    found = first_idea(scenario).measures()
    said = as_markdown(when_rolled(scenario, found))
    outer, inner = (np.degrees(found[f"roll_camber_{wheel}"]) for wheel in ("outer", "inner"))
    assert outer > 0.0 > inner
    assert "rolled by 3 deg" in said
    assert f"leans {outer:.2f} deg top outboard" in said
    assert f"inner one {-inner:.2f} deg top inboard" in said
    centre = roll_centre_words(scenario, found)
    assert f"{found['roll_centre_height']:.0f} mm above the ground" in centre
    assert f"moves {found['roll_centre_migration']:.0f} mm up and down" in centre
    assert "runs off without end" in roll_centre_words(scenario, found | {"roll_centre_migration": np.nan})
    assert "5 mm below the ground" in roll_centre_words(scenario, found | {"roll_centre_height": -5.0})
    assert "ends before the body has rolled" in as_markdown(when_rolled(scenario, found | {"roll_camber": np.nan}))
