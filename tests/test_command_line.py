"""The command line as a user runs it: new, check, try, and every way to get them wrong."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.commands import FIRST_COLUMNS, SCENARIOS, assert_same, run, run_apart

CURVES = [
    "travel",
    "camber_deg",
    "toe_deg",
    "caster_deg",
    "kingpin_deg",
    "wheel_x",
    "wheel_y",
    "wheel_z",
    "contact_x",
    "contact_y",
    "contact_z",
    "outer_rod_end_deg",
    "inner_rod_end_deg",
    "fender_clearance",
    "kingpin_offset",
    "roll_centre_z",
]


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands run here leave out a candidate's pictures, which take most of their time."""
    monkeypatch.setattr("optimizer.pictures.draw_candidate", lambda *_: [])


class TestStart:
    def test_new_writes_a_scenario_that_checks(self, tmp_path: Path) -> None:
        for units, typed in (("mm", run_apart), ("inch", run)):
            file = tmp_path / f"{units}.toml"
            typed("new", file, "--units", units)
            done = typed("check", file)
            for words in ("track", "lower arm length", "kingpin inclination", "caster", "kingpin offset"):
                assert words in done.stdout
            assert (" in\n" in done.stdout) == (units == "inch")
            assert (tmp_path / f"{units}-front-view.png").read_bytes().startswith(b"\x89PNG")

    def test_new_never_overwrites(self, tmp_path: Path) -> None:
        file = tmp_path / "mine.toml"
        file.write_text("precious")
        assert "exists already" in run("new", file, code=2).stderr
        assert file.read_text() == "precious"

    def test_check_loads_and_counts_nothing_it_does_not_show(self, tmp_path: Path) -> None:
        heavy = ["scipy", "pandas", "pymoo", "moocore", "bokeh", "numba", "joblib", "rich", "matplotlib.style"]
        code = (
            "import sys; from contextlib import suppress; from unittest.mock import patch\n"
            "from optimizer.cli import main\n"
            "uncounted = patch('optimizer.build_yield.build_yields', side_effect=AssertionError)\n"
            "with suppress(SystemExit), uncounted: main()\n"
            f"print([name for name in {heavy!r} if name in sys.modules])"
        )
        command = [sys.executable, "-c", code, "check", str(SCENARIOS / "buggy.toml"), "--picture", "front.png"]
        run = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path)
        assert run.stdout.splitlines()[-1:] == ["[]"], run.stderr

    def test_check_never_overwrites_another_picture(self, tmp_path: Path) -> None:
        run("new", tmp_path / "a.toml")
        (tmp_path / "a-front-view.png").write_bytes(b"precious")
        assert "--picture" in run("check", tmp_path / "a.toml", code=2).stderr
        assert (tmp_path / "a-front-view.png").read_bytes() == b"precious"
        before = (tmp_path / "a.toml").read_bytes()
        for place in ("a.toml", "a.pdf"):
            assert ".png" in run("check", "a.toml", "--picture", place, cwd=tmp_path, code=2).stderr
        assert (tmp_path / "a.toml").read_bytes() == before

    def test_check_lists_every_fault(self, tmp_path: Path) -> None:
        file = tmp_path / "wrong.toml"
        text = (SCENARIOS / "buggy.toml").read_text(encoding="utf-8")
        file.write_text(text.replace("ride_height", "ride_hight").replace("bump = 180.0", "bump = nan"))
        said = run("check", file, code=2).stderr
        assert "ride_height" in said
        assert "travel.bump" in said

    @pytest.mark.parametrize("command", ["new", "check", "try", "search", "pick"])
    def test_help_says_what_each_does(self, command: str) -> None:
        assert run(command, "--help").stdout.count("\n") > 5

    def test_help_in_a_process_of_its_own(self) -> None:
        apart, here = (typed("new", "--help").stdout.partition("[OPTIONS]") for typed in (run_apart, run))
        assert apart[1:] == here[1:]  # before it stands the program's name, another as a module


class TestTry:
    def test_writes_measures_and_curves(self, tmp_path: Path) -> None:
        out = tmp_path / "one"
        run_apart("try", SCENARIOS / "buggy.toml", "--pivot", 275, 232, "--static-camber", 0.2, "--out", out)
        measures = json.loads((out / "measures.json").read_text())
        assert set(FIRST_COLUMNS[1:]) <= set(measures)
        assert measures["static_camber_deg"] == pytest.approx(0.2, abs=1e-12)
        curves = pd.read_csv(out / "curves.csv")
        assert list(curves.columns) == [*CURVES, "shock_length", "motion_ratio"]
        assert len(curves) >= 41
        assert (curves["travel"] == 0.0).any()
        assert curves["travel"].iloc[[0, -1]].tolist() == [-220.0, 180.0]
        assert curves["camber_deg"].iloc[-1] == pytest.approx(measures["camber_bump_deg"], abs=1e-9)
        toe = curves["toe_deg"]
        assert measures["bump_steer_deg"] >= toe.max() - toe.min() - 1e-9
        assert measures["fender_clearance"] <= curves["fender_clearance"].min() + 1e-9

    @pytest.mark.usefixtures("undrawn")
    def test_arm_length_names_the_same_candidate(self, tmp_path: Path) -> None:
        for name, words in (("a", ("--static-camber", 0.3)), ("b", None)):
            if words is None:
                words = ("--arm-length", json.loads((tmp_path / "a/measures.json").read_text())["arm_length"])
            run("try", SCENARIOS / "buggy.toml", "--pivot", 260, 240, *words, "--out", tmp_path / name)
        one, other = (json.loads((tmp_path / name / "measures.json").read_text()) for name in "ab")
        assert_same(other, one)

    @pytest.mark.usefixtures("undrawn")
    def test_a_candidate_that_locks_is_a_result(self, tmp_path: Path) -> None:
        done = run("try", SCENARIOS / "buggy.toml", "--pivot", 395, 315, "--out", tmp_path / "locks")
        assert "locks inside the required travel" in done.stdout
        curves = pd.read_csv(tmp_path / "locks/curves.csv")
        assert curves["camber_deg"].isna().any()
        assert curves["camber_deg"].notna().any()

    def test_says_what_makes_a_candidate_unusable(self) -> None:
        done = run("try", SCENARIOS / "buggy.toml", "--pivot", 330, 300)
        assert "unusable: the pivot lies in upper_arm.keep_out" in done.stdout

    def test_fractions_of_an_inch(self) -> None:
        whole = run("try", SCENARIOS / "buggy_inch.toml", "--pivot", "10 13/16", "9 1/8").stdout
        assert whole == run("try", SCENARIOS / "buggy_inch.toml", "--pivot", 10.8125, 9.125).stdout

    @pytest.mark.parametrize(
        ("words", "code"),
        [
            (("--pivot", "one", 232), 2),
            (("--pivot", "nan", 232), 2),
            (("--pivot", 275, 232, "--static-camber", 0, "--arm-length", 400), 2),
            (("--pivot", 275, 232, "--static-camber", "inf"), 2),
            (("--pivot", 275, 232, "--arm-length", 4000), 3),
            (("--pivot", 275, 232, "--arm-length", 0), 2),
        ],
    )
    def test_mistakes(self, words: tuple[object, ...], code: int) -> None:
        assert run("try", SCENARIOS / "buggy.toml", *words, code=code).stderr.strip()

    def test_a_mistake_in_a_process_of_its_own(self) -> None:
        words = ("try", SCENARIOS / "buggy.toml", "--pivot", 275, 232, "--arm-length", 4000)
        assert run_apart(*words, code=3).stderr == run(*words, code=3).stderr

    @pytest.mark.usefixtures("undrawn")
    def test_force_replaces_results_and_nothing_else(self, tmp_path: Path) -> None:
        out = tmp_path / "one"
        words = ("try", SCENARIOS / "buggy.toml", "--pivot", 275, 232, "--out", out)
        run(*words)
        run(*words, "--force")
        (out / "notes.txt").write_text("precious")
        assert "notes.txt" in run(*words, "--force", code=2).stderr
        assert (out / "notes.txt").read_text() == "precious"
        (out / "notes.txt").unlink()
        for place in (".", "../one"):
            here = ("try", SCENARIOS / "buggy.toml", "--pivot", 275, 232, "--out", place, "--force")
            assert "folder you are in" in run(*here, cwd=out, code=2).stderr
        assert (out / "measures.json").exists()
        assert list(tmp_path.iterdir()) == [out]


def test_a_title_cannot_inject_into_the_page(tmp_path: Path) -> None:
    from optimizer.page import Heading, as_html, as_markdown

    title = '<script>alert("x")</script> & "quotes"'
    assert "<script>" not in as_html(title, [Heading(title, 1)])
    assert "<script>" not in as_markdown([Heading(title, 1)])
    assert as_markdown([Heading("one\n# two [a](b)", 1)]) == "# one \\# two \\[a\\](b)\n"


def test_interface_for_notebooks() -> None:
    from optimizer import evaluate, load_scenario

    scenario = load_scenario(SCENARIOS / "buggy.toml")
    found = evaluate(scenario, 275.0, 232.0)
    assert np.isfinite([value for value in found.values() if isinstance(value, float)]).all()
    with pytest.raises(ValueError, match="not both"):
        evaluate(scenario, 275.0, 232.0, static_camber_deg=0.0, arm_length=400.0)


def test_words_the_command_line_does_not_know(tmp_path: Path) -> None:
    for words in (
        ("nonsense",),
        ("pick",),
        ("search", "--seed", "-1", "x.toml"),
        ("new", tmp_path / "a", "--units", "feet"),
    ):
        assert run(*words, code=2).stderr.strip()
