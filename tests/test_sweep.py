"""One key varied, or several scenarios side by side: how the best trade-off moves."""

from __future__ import annotations

import json
import signal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from optimizer.errors import NoUsableCandidate, ResultsError
from optimizer.front_search import search
from optimizer.outputs import write_sweep
from optimizer.scenario import load_scenario, parse_scenario
from optimizer.sweeping import NOT_SEARCHED, Case, Swept, cases_of, run_sweep
from optimizer.vary import read_vary, with_value

SCENARIOS = Path(__file__).parent.parent / "scenarios"
TIGHT = SCENARIOS / "tight.toml"
BUDGET = 600


@pytest.fixture(scope="module")
def swept() -> Swept:
    """Two tyres that fit and one that does not."""
    cases, key = cases_of([TIGHT], "tyre.radius=256,259,268")
    return run_sweep(cases, key, budget=BUDGET)


def test_a_range_holds_both_ends_without_rounding() -> None:
    assert read_vary("tyre.radius=350:390:5").values == tuple(350.0 + 5.0 * n for n in range(9))
    assert read_vary("a.b=0.1:0.3:0.1").values == (0.1, 0.2, 0.3)
    assert read_vary("a.b=3:1:-1").values == (3.0, 2.0, 1.0)
    assert read_vary("lower_arm.inner_pivot[2]= 15, 10.5").path == ("lower_arm", "inner_pivot", 2)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("tyre.radius", "key=first:last:step"),
        ("=1:2:1", "key=first:last:step"),
        ("tyre radius=1:2:1", "tyre radius is no key"),
        ("tyre.radius=350:390", "key=first:last:step"),
        ("tyre.radius=350:x:5", "x is no plain number"),
        ("tyre.radius=350,,360", "nothing is no plain number"),
        ("tyre.radius=350:inf:5", "inf is no plain number"),
        ("tyre.radius=350:390:-5", "does not lead from 350 to 390"),
        ("tyre.radius=350:390:0", "does not lead from 350 to 390"),
        ("tyre.radius=0:1e9:1", "1,000,000,001 searches"),
        ("tyre.radius=14:15:1/0", "1/0 is no plain number"),
        ("tyre.radius=14:15:-1/8", "a step of -1/8 does not lead from 14 to 15"),
    ],
)
def test_what_cannot_be_varied_is_said(text: str, says: str) -> None:
    with pytest.raises(ResultsError, match="--vary") as raised:
        read_vary(text)
    assert says in str(raised.value)


def test_fractions_are_for_inches() -> None:
    cases, _ = cases_of([SCENARIOS / "buggy_inch.toml"], "tyre.radius=14 3/8:14 1/2:1/16")
    assert [case.place for case in cases] == [14.375, 14.4375, 14.5]
    with pytest.raises(ResultsError, match="only a scenario in inches takes fractions"):
        cases_of([TIGHT], "tyre.radius=255 1/2:257:1")


def test_a_count_stays_whole() -> None:
    text = TIGHT.read_text(encoding="utf-8").replace("[baseline]", "[baseline]\nupper_hole = 1")
    assert "upper_hole = 2\n" in with_value(text, read_vary("baseline.upper_hole=1,2"), 2.0)
    assert "\nradius = 256.0\n" in with_value(text, read_vary("tyre.radius=256,257"), 256.0)


class Hand:
    """Shows a sweep's progress, and presses Ctrl-C once so many searches are done."""

    def __init__(self, after: int) -> None:
        self.after, self.told = after, list[tuple[int, int]]()

    def show(self, done: int, total: int) -> None:
        self.told.append((done, total))
        if done == self.after:
            raise KeyboardInterrupt


def three_cases() -> tuple[list[Case], str | None]:
    return cases_of([TIGHT], "tyre.radius=256:258:1")


def test_stopped_by_hand_keeps_what_is_done(tmp_path: Path) -> None:
    hand = Hand(after=1)
    stopped = run_sweep(*three_cases(), budget=BUDGET, show=hand.show)
    assert hand.told == [(0, 3), (1, 3)]
    assert [outcome.front is not None for outcome in stopped.outcomes].count(True) == 1
    assert [outcome.searched for outcome in stopped.outcomes].count(False) == 2
    write_sweep(stopped, tmp_path, seed=1)
    assert pd.read_csv(tmp_path / "sweep.csv")["why_none"].value_counts().to_dict() == {NOT_SEARCHED: 2}


def test_stopped_before_the_first_front_keeps_nothing() -> None:
    with pytest.raises(KeyboardInterrupt):
        run_sweep(*three_cases(), budget=BUDGET, show=Hand(after=0).show)


def test_on_one_core_a_sweep_can_be_stopped_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """There the searches run in the process that hears Ctrl-C."""
    monkeypatch.setattr("optimizer.sweeping.cores", lambda: 1)
    monkeypatch.setenv("LOKY_MAX_CPU_COUNT", "1")  # put back afterwards
    before = signal.getsignal(signal.SIGINT)
    stopped = run_sweep(*three_cases(), budget=BUDGET, show=Hand(after=1).show)
    assert signal.getsignal(signal.SIGINT) is before
    assert [outcome.searched for outcome in stopped.outcomes] == [True, False, False]


def test_the_rest_of_the_file_stays_as_it_was() -> None:
    text = TIGHT.read_text(encoding="utf-8")
    changed = with_value(text, read_vary("lower_arm.inner_pivot[2]=52:52:1"), 61.5)
    assert changed == text.replace("inner_pivot = [0.0, 205.0, 52.0]", "inner_pivot = [0.0, 205.0, 61.5]")
    assert parse_scenario(changed).corner.lower_arm.inner_pivot[2] == 61.5


@pytest.mark.parametrize("key", ["tyres.radius", "lower_arm.inner_pivot[3]", "title.radius", "tyre[0]"])
def test_a_key_the_file_has_not(key: str) -> None:
    with pytest.raises(ResultsError, match="no such key"):
        with_value(TIGHT.read_text(encoding="utf-8"), read_vary(f"{key}=1:2:1"), 1.0)


def test_each_case_is_the_search_of_its_scenario(swept: Swept) -> None:
    fits, tight, none = swept.outcomes
    assert none.front is None
    assert "fender clearance below its limit" in none.why_none
    assert fits.front is not None
    assert tight.front is not None
    text = with_value(TIGHT.read_text(encoding="utf-8"), read_vary("tyre.radius=1:1:1"), 256.0)
    alone = search(parse_scenario(text), budget=BUDGET)
    assert fits.front.frame.equals(alone.frame)
    for objective in swept.asked:
        values = alone.frame[objective.column]
        best = values.min() if objective.better == "less" else values.max()
        assert fits.front.scenario.unit.show(fits.best(objective), objective.quantity) == pytest.approx(best, rel=1e-12)


def test_a_bigger_tyre_leaves_less_room(swept: Swept) -> None:
    clearance = [outcome.balanced.get("fender_clearance", np.nan) for outcome in swept.outcomes]
    assert clearance[0] > clearance[1]


def test_table_picture_and_scenarios_are_written(swept: Swept, tmp_path: Path) -> None:
    write_sweep(swept, tmp_path, seed=1)
    table = pd.read_csv(tmp_path / "sweep.csv")
    assert table["tyre.radius"].tolist() == [256.0, 259.0, 268.0]
    assert table["usable"].notna().tolist() == [True, True, False]
    lines = (tmp_path / "sweep.csv").read_text().splitlines()
    heads = lines[0].split(",")
    assert heads[-1] == "why_none"
    for name in ("tried", "usable", "kept"):  # counts are whole, with a case beside them that has none
        assert [line.split(",")[heads.index(name)].isdigit() for line in lines[1:]] == [True, True, False]
    assert table["why_none"].isna().tolist() == [True, True, False]
    assert (tmp_path / "sweep.png").stat().st_size > 10_000
    assert load_scenario(tmp_path / "scenario-3.toml").corner.tyre.radius == 268.0
    assert json.loads((tmp_path / "run.json").read_text())["kind"] == "sweep"


def test_several_scenarios_side_by_side() -> None:
    cases, key = cases_of([TIGHT, SCENARIOS / "published_corner.toml"], None)
    assert key is None
    assert [case.name for case in cases] == ["tight", "published_corner"]
    with pytest.raises(ResultsError, match="different units"):
        cases_of([TIGHT, SCENARIOS / "buggy_inch.toml"], None)
    with pytest.raises(ResultsError, match="no sweep"):
        cases_of([TIGHT], None)
    with pytest.raises(ResultsError, match="one FILE"):
        cases_of([TIGHT, TIGHT], "tyre.radius=1:2:1")


def test_nothing_usable_anywhere_says_why_of_each() -> None:
    text = with_value(TIGHT.read_text(encoding="utf-8"), read_vary("tyre.radius=1:1:1"), 270.0)
    with pytest.raises(NoUsableCandidate, match=r"270: none of 600 candidates"):
        run_sweep([Case("270", text, 270.0)], "tyre.radius", budget=BUDGET)
