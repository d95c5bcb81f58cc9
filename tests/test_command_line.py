"""The command line as a user runs it: new, check, try, search, pick, and every way to get them wrong."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

SCENARIOS = Path(__file__).parent.parent / "scenarios"
FIRST_COLUMNS = [
    "id",
    "pivot_y",
    "pivot_z",
    "arm_length",
    "static_camber_deg",
    "camber_error_deg",
    "scrub",
    "fender_clearance",
    "droop_limit",
    "bump_steer_deg",
    "camber_bump_deg",
    "camber_droop_deg",
    "limited_by",
]
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


def run(*words: object, cwd: Path | None = None, code: int = 0) -> subprocess.CompletedProcess[str]:
    """Run pivotfront in a process of its own; a traceback is never right."""
    command = [sys.executable, "-m", "optimizer.cli", *map(str, words)]
    done = subprocess.run(command, cwd=cwd, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    return done


def assert_same(one: dict[str, object], other: dict[str, object]) -> None:
    """Measures agree to 1e-9, words to the letter, and what is not measured in one is not in the other."""
    assert set(one) == set(other)
    for name, value in one.items():
        plain = value is None or isinstance(value, str)
        assert other[name] == (value if plain else pytest.approx(value, rel=1e-9, abs=1e-9)), name


@pytest.fixture(scope="module")
def front(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("front") / "buggy"
    done = run("search", SCENARIOS / "buggy.toml", "--out", folder)
    assert "Look at these first" in done.stdout
    rows = len(pd.read_csv(folder / "front.csv"))
    assert f"open {folder / 'front.html'} in a browser to look at all {rows} rows" in done.stdout
    assert f"pivotfront pick {folder}, or with --id N for another row than 1" in done.stdout
    return folder


class TestStart:
    def test_new_writes_a_scenario_that_checks(self, tmp_path: Path) -> None:
        for units in ("mm", "inch"):
            file = tmp_path / f"{units}.toml"
            run("new", file, "--units", units)
            done = run("check", file)
            for words in ("track", "lower arm length", "kingpin inclination", "caster", "kingpin offset"):
                assert words in done.stdout
            assert (" in\n" in done.stdout) == (units == "inch")
            assert (tmp_path / f"{units}-front-view.png").read_bytes().startswith(b"\x89PNG")

    def test_new_never_overwrites(self, tmp_path: Path) -> None:
        file = tmp_path / "mine.toml"
        file.write_text("precious")
        assert "exists already" in run("new", file, code=2).stderr
        assert file.read_text() == "precious"

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


class TestTry:
    def test_writes_measures_and_curves(self, tmp_path: Path) -> None:
        out = tmp_path / "one"
        run("try", SCENARIOS / "buggy.toml", "--pivot", 275, 232, "--static-camber", 0.2, "--out", out)
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

    def test_arm_length_names_the_same_candidate(self, tmp_path: Path) -> None:
        for name, words in (("a", ("--static-camber", 0.3)), ("b", None)):
            if words is None:
                words = ("--arm-length", json.loads((tmp_path / "a/measures.json").read_text())["arm_length"])
            run("try", SCENARIOS / "buggy.toml", "--pivot", 260, 240, *words, "--out", tmp_path / name)
        one, other = (json.loads((tmp_path / name / "measures.json").read_text()) for name in "ab")
        assert_same(other, one)

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


class TestSearch:
    def test_columns_and_files(self, front: Path) -> None:
        table = pd.read_csv(front / "front.csv")
        assert list(table.columns[: len(FIRST_COLUMNS)]) == FIRST_COLUMNS
        assert 100 < len(table) <= 300
        assert not table.isna().any().any()
        assert (front / "scenario.toml").read_bytes() == (SCENARIOS / "buggy.toml").read_bytes()
        for picture in ("tradeoffs", "parallel", "pivot_map"):
            assert (front / f"{picture}.png").exists()
            assert (front / f"{picture}.svg").exists()

    def test_page_needs_nothing_from_outside(self, front: Path) -> None:
        page = (front / "front.html").read_text(encoding="utf-8")
        assert "default-src 'none'" in page
        assert re.search(r'<(script|link|img|iframe)[^>]*\b(src|href)="http', page) is None

    def test_nothing_is_overwritten_without_force(self, front: Path, tmp_path: Path) -> None:
        before = (front / "front.csv").read_bytes()
        assert "--force" in run("search", SCENARIOS / "buggy.toml", "--out", front, code=2).stderr
        assert (front / "front.csv").read_bytes() == before
        (tmp_path / "photos").mkdir()
        (tmp_path / "photos/car.jpg").write_bytes(b"precious")
        run("search", SCENARIOS / "buggy.toml", "--out", tmp_path / "photos", "--force", code=2)
        assert (tmp_path / "photos/car.jpg").read_bytes() == b"precious"

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

    def test_nothing_usable_says_which_limit(self, tmp_path: Path) -> None:
        text = (SCENARIOS / "buggy.toml").read_text(encoding="utf-8")
        text = re.sub(r"(?m)^(inner_region|rack_travel) .*$", "", text)  # straight ahead only, which is quick
        strict = text.replace("scrub = { aim = 45.0, limit = 100.0 }", "scrub = { aim = 0.5, limit = 1.0 }")
        assert strict != text
        (tmp_path / "strict.toml").write_text(strict, encoding="utf-8")
        said = run("search", tmp_path / "strict.toml", "--out", tmp_path / "a/b/none", code=3).stderr
        assert "scrub above its limit of 1 mm" in said
        assert "nearest miss" in said
        assert list(tmp_path.iterdir()) == [tmp_path / "strict.toml"]


_JOINT_KEYS = ("inner_region", "inner_joint")


class TestPick:
    def test_what_is_printed_is_what_was_measured(self, front: Path, tmp_path: Path) -> None:
        out = tmp_path / "pick"
        run("pick", front, "--id", 5, "--out", out)
        pivot = json.loads((out / "pivot.json").read_text())
        built = pivot["as_built"]
        for name in ("pivot_y", "pivot_z", "arm_length"):
            assert built[name] == pytest.approx(round(built[name]), abs=1e-9)
            assert pivot["tape"][name] == f"{round(built[name])} mm"
        again = tmp_path / "again"
        words = ("--pivot", built["pivot_y"], built["pivot_z"], "--arm-length", built["arm_length"])
        text = (SCENARIOS / "buggy.toml").read_text(encoding="utf-8")
        region, joint = (next(line for line in text.splitlines() if line.startswith(key)) for key in _JOINT_KEYS)
        y, z = built["inner_joint_y"], built["inner_joint_z"]
        fixed = tmp_path / "fixed.toml"
        fixed.write_text(text.replace(region, "").replace(joint, f"inner_joint = [-118.0, {y}, {z}]"), encoding="utf-8")
        run("try", fixed, *words, "--out", again)
        assert_same(json.loads((again / "measures.json").read_text()), built)
        row = pd.read_csv(front / "front.csv").iloc[4]
        for name in FIRST_COLUMNS[1:-1]:
            assert pivot["before_rounding"][name] == pytest.approx(row[name], rel=1e-12, abs=1e-12)

    def test_proposes_a_shortlist_and_gives_reasons(self, front: Path, tmp_path: Path) -> None:
        done = run("pick", front, "--out", tmp_path / "pick")
        for words in ("balanced", "best scrub", "knee", "strength check", f"pick {front} --id N"):
            assert words in done.stdout
        told = " ".join(done.stdout.split())
        for item in json.loads((front / "run.json").read_text())["shortlist"]:
            assert f"{item['id']} {item['why']}" in told
        text = (tmp_path / "pick/rationale.md").read_text(encoding="utf-8")
        page = (tmp_path / "pick/rationale.html").read_text(encoding="utf-8")
        for words in ("What it reaches", "What stops the wheel", "neighbours", "How exact", "baseline", "Cautions"):
            assert words in text
            assert words in page
        for picture in ("front_view", "camber", "contact_path", "joint_angles"):
            assert f"({picture}.png)" in text

    def test_default_place_is_beside_the_front(self, front: Path, tmp_path: Path) -> None:
        shutil.copytree(front, tmp_path / "front")
        run("pick", "front", "--id", 2, cwd=tmp_path)
        assert (tmp_path / "front-pick-2/rationale.html").exists()

    @pytest.mark.parametrize("number", [0, 301, -3])
    def test_id_outside_the_front(self, front: Path, number: int) -> None:
        assert "rows 1 to" in run("pick", front, f"--id={number}", code=2).stderr

    def test_a_directory_that_is_no_front(self, tmp_path: Path) -> None:
        assert "search" in run("pick", tmp_path, code=2).stderr
        assert "search" in run("pick", tmp_path / "missing", code=2).stderr

    def test_a_changed_front_is_refused(self, front: Path, tmp_path: Path) -> None:
        copy = tmp_path / "copy"
        copy.mkdir()
        for name in ("run.json", "scenario.toml", "front.csv"):
            (copy / name).write_bytes((front / name).read_bytes())
        table = (copy / "front.csv").read_text().splitlines(keepends=True)
        (copy / "front.csv").write_text("".join([*table[:3], *table[4:]]))
        assert "run the search again" in run("pick", copy, code=2).stderr
        (copy / "front.csv").write_text("".join(table))
        record = json.loads((copy / "run.json").read_text())
        for change, words in (
            ({"format": 99}, "newer"),
            ({"format": "1"}, "undo the change"),
            ({"history": "x"}, "undo the change"),
            ({"kept": None}, "undo the change"),
            ({"sha256": None}, "undo the change"),
        ):
            (copy / "run.json").write_text(json.dumps({**record, **change}))
            assert words in run("pick", copy, code=2).stderr
        (copy / "run.json").write_text("[")
        assert "no results" in run("pick", copy, code=2).stderr

    def test_another_scenario_under_an_old_front_is_refused(self, front: Path, tmp_path: Path) -> None:
        copy = tmp_path / "copy"
        copy.mkdir()
        for name in ("run.json", "scenario.toml", "front.csv"):
            (copy / name).write_bytes((front / name).read_bytes())
        (copy / "scenario.toml").write_bytes((SCENARIOS / "buggy_inch.toml").read_bytes())
        assert "scenario.toml was changed" in run("pick", copy, code=2).stderr


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
