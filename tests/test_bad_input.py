"""Bad input: mutated and far-fetched scenarios through the commands, and the smallest of those that once struck."""

from __future__ import annotations

import csv
import io
import random
import re
import signal
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from optimizer.csv_text import as_csv
from optimizer.errors import ResultsError, ScenarioError
from optimizer.outputs import write_try
from optimizer.page import Heading, as_html
from optimizer.scenario import load_scenario, parse_scenario
from optimizer.sweeping import cases_of
from optimizer.vary import read_vary, with_value
from tests.bad_input import FORMULA, bounded, looked_into
from tests.fronts import SCENARIOS
from tests.mutations import Case, drawn, mutated
from tests.scenario_cases import BASE, OUTLINES, edited

ROOT = Path(__file__).parent.parent
TITLE = 'title = "Test corner"'
FORMULAS = ('=HYPERLINK("http://x.invalid")', "+1", "-1/16 in", "@SUM(A1)", " =1", "\t=1", "\r\n=1")

pytestmark = pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="the time of a case is bounded by a signal")


@pytest.mark.parametrize("start", range(0, 150, 30))
def test_mutated_scenarios(start: int, tmp_path: Path) -> None:
    for number in range(start, start + 30):
        place = tmp_path / str(number)
        place.mkdir()
        case = mutated(number)
        assert looked_into(case, place, random.Random(number)) == [], f"{number}: {case.done}\n{case.content.decode()}"


@settings(
    max_examples=25,
    derandomize=True,
    database=None,
    deadline=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)
@given(case=drawn())
def test_drawn_scenarios(case: Case, tmp_path_factory: pytest.TempPathFactory) -> None:
    assert looked_into(case, tmp_path_factory.mktemp("drawn"), random.Random(1)) == []


def fault_of(text: str) -> str:
    """What is said of a text, within a few seconds."""
    with bounded(10.0), pytest.raises(ScenarioError) as caught:
        parse_scenario(text)
    assert len(str(caught.value)) < 50_000
    return str(caught.value)


def bump(written: str) -> str:
    return edited(("bump = 180.0", f"bump = {written}"))


class TestBeyondReason:
    @pytest.mark.parametrize(
        ("text", "says"),
        [
            (bump("[" * 100_000), "more than 50 deep"),
            (bump("{a=" * 3000 + "1" + "}" * 3000), "more than 50 deep"),
            (BASE + ".".join("a" * 20_000) + " = 1\n", "more than 50 names"),
            (BASE + "[" + " . ".join(['"a b"'] * 20_000) + "]\n", "more than 50 names"),
            (bump("9" * 100_000), "thousands of digits"),
            (bump("0x" + "f" * 100_000), "far too large"),
            (bump('"' + "9" * 100_000 + '/7"'), "100,002 characters long"),
            (bump("1e-300"), "next to nothing"),
            (BASE.replace("axis = [1.0, 0.0, 0.0]", "axis = [1e300, 0.0, 1e300]"), "far too large for a direction"),
            (edited((TITLE, f'title = "{"x" * 900_000}"')), "200 are the most"),
            (BASE + "".join(f"\n[t{number}]" for number in range(3_000)), "and 2,900 more"),
            (BASE + f"\n[{'k' * 900_000}]\n", "this table is not known"),
            (BASE + '\n[[obstacles]]\nname = "a"\n' * 5_000, "100 times at most"),
            (edited((OUTLINES, f"outlines = [[{'[470.0, 430.0], ' * 10_000}]]")), "at most 1000 points"),
            (edited((OUTLINES, f"outlines = [{'[[1, 2], [3, 4]], ' * 600}]")), "1000 points in all, 1200 given"),
        ],
        ids=range(15),
    )
    def test_is_refused_in_words_and_soon(self, text: str, says: str) -> None:
        assert says in fault_of(text)

    def test_a_long_word_costs_no_more_than_its_length(self) -> None:
        with bounded(10.0):
            assert parse_scenario(BASE + "#" + "a" * 900_000 + "." * 50_000).title == "Test corner"

    def test_a_file_larger_than_any_scenario(self, tmp_path: Path) -> None:
        file = tmp_path / "large.toml"
        file.write_bytes(b"#" * 1_000_001)
        with pytest.raises(ScenarioError, match="larger than 1 MB"):
            load_scenario(file)


@pytest.mark.parametrize("letter", ["\\n", "\\t", "\\u0000", "\\u001b", "\\u007f", "\\u2028", "\\ufffe"])
def test_a_title_is_one_line_that_can_be_shown(letter: str) -> None:
    assert "title" in (said := fault_of(edited((TITLE, f'title = "a{letter}b"'))))
    assert "cannot be shown (U+" in said


def test_a_file_name_that_cannot_be_shown_makes_a_title_that_can(tmp_path: Path) -> None:
    text = edited((TITLE + "\n", ""))
    assert parse_scenario(text, "a\nb\udcff.toml").title == "a?b?"
    for name in ("=1+1.toml", "a\x1bb.toml"):
        (tmp_path / name).write_text(text)
    cases, _ = cases_of([tmp_path / "=1+1.toml", tmp_path / "a\x1bb.toml"], None)
    assert [case.name for case in cases] == ["=1+1", "a?b"]


class TestWordsInFiles:
    @pytest.mark.parametrize("words", FORMULAS)
    def test_no_cell_is_a_formula(self, words: str) -> None:
        rows = list(
            csv.reader(io.StringIO(as_csv({words: [1.5, -2.0], "part": [words, None], "mixed": [words, -3.0]})))
        )
        assert [row[0] for row in rows[1:]] == ["1.5", "-2.0"]
        assert rows[2][1:] == ["", "-3.0"]
        for cell in (rows[0][0], rows[1][1], rows[1][2]):
            assert not cell.startswith(FORMULA)
            assert words.strip() in cell

    def test_a_title_is_no_path_and_no_markup(self, tmp_path: Path) -> None:
        from optimizer.candidate import candidate_at

        title = "/../../x <script>alert(1)</script> --> $\\frac{ %s {0}"
        scenario = parse_scenario(edited((TITLE, f"title = '{title}'")))
        assert scenario.title == title
        assert "<script>" not in as_html(scenario.title, [Heading(scenario.title, 1)])
        (tmp_path / "one").mkdir()
        write_try(candidate_at(scenario, 275.0, 232.0), tmp_path / "one")
        assert [path.name for path in tmp_path.iterdir()] == ["one"]
        for picture in (tmp_path / "one").glob("*.svg"):
            assert ElementTree.fromstring(picture.read_bytes()).tag.endswith("svg")
            assert b"<script" not in picture.read_bytes()


class TestVary:
    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("tyre.radius=1:1e999999:1", "no value of any key"),
            ("tyre.radius=1e-999999999:1:1e-999999999", "no value of any key"),
            ("tyre.radius=" + "1," * 3000 + "1", "3,001 searches"),
            ("x." * 5000 + "x=1", "keys have a few names"),
            ("a[" + "9" * 5000 + "]=1", "is no key"),
        ],
    )
    def test_what_is_beyond_reason(self, text: str, says: str) -> None:
        with pytest.raises(ResultsError) as caught:
            read_vary(text)
        assert says in str(caught.value)
        assert len(str(caught.value)) < 500

    def test_a_table_is_no_key(self) -> None:
        text = (SCENARIOS / "tight.toml").read_text(encoding="utf-8")
        for key in ("tyre", "steering.outer_rod_end", "targets.scrub"):
            with pytest.raises(ResultsError, match="that is a table"):
                with_value(text, read_vary(f"{key}=1"), 1.0)


def test_no_pickle_is_read_anywhere() -> None:
    """A pickle from elsewhere runs what it likes; pools of processes exchange theirs among themselves."""
    reads = re.compile(
        r"\bpickle\b|allow_pickle(?!=False)|read_pickle|joblib\.load|np\.load\((?!.*allow_pickle=False)|\bshelve\b|\bmarshal\b|(?<!\.)\b(?:eval|exec)\("
    )
    files = [file for folder in ("objectives", "optimizer") for file in (ROOT / folder).rglob("*.py")]
    assert len(files) > 50
    assert [file.name for file in files if reads.search(file.read_text(encoding="utf-8"))] == []
