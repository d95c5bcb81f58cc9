"""Search and pick as a user runs them, and every way to get them wrong."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

from optimizer.ledger import BUDGET, Ending
from tests.commands import (
    FIRST_COLUMNS,
    PICKED,
    PICKED_WITH_A_SHOCK,
    SCENARIOS,
    assert_same,
    pick_in_words,
    print_nothing,
    run,
    run_apart,
)
from tests.conftest import ALL_ROWS


@pytest.fixture(scope="module", autouse=True)
def brief() -> Iterator[None]:
    """Search a fifth of what a search judges by itself: enough for all rows, and soon done where arrays measure it."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("optimizer.watching.ending_of", lambda *_: Ending(budget=BUDGET // 5))
        yield


@pytest.fixture(scope="module")
def quick(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo straight ahead only and with its joint fixed, which is searched in a fraction of the time."""
    text = (SCENARIOS / "buggy.toml").read_text(encoding="utf-8")
    file = tmp_path_factory.mktemp("quick") / "buggy.toml"
    file.write_text(re.sub(r"(?m)^(inner_region|rack_travel) .*$", "", text), encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def front(quick: Path) -> Path:
    folder = quick.with_name("front")
    done = run("search", quick, "--out", folder)
    assert "Look at these first" in done.stdout
    rows = len(pd.read_csv(folder / "front.csv"))
    assert f"open {folder / 'front.html'} in a browser to look at all {rows} rows" in done.stdout
    assert f"pivotfront pick {folder}, or with --id N for another row than 1" in done.stdout
    return folder


@pytest.fixture(scope="module")
def picked(front: Path) -> tuple[Path, str]:
    """The balanced row picked, on two papers of which one is named twice, and what the screen said."""
    out = front.with_name("pick")
    return out, run("pick", front, "--out", out, "--paper", "a3", "--paper", "roll", "--paper", "a3").stdout


@pytest.fixture(scope="module")
def fifth(front: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Row 5 picked to where a pick goes by itself."""
    place = tmp_path_factory.mktemp("fifth")
    shutil.copytree(front, place / "front")
    with pytest.MonkeyPatch.context() as patched:
        pick_in_words(patched)
        print_nothing(patched)
        run("pick", "front", "--id", 5, cwd=place)
    (made,) = place.glob("front-pick-*")
    return made


class TestSearch:
    def test_columns_and_files(self, front: Path, quick: Path) -> None:
        table = pd.read_csv(front / "front.csv")
        assert list(table.columns[: len(FIRST_COLUMNS)]) == FIRST_COLUMNS
        assert 100 < len(table) <= ALL_ROWS
        assert not table[FIRST_COLUMNS].isna().any().any()  # a roll centre need not be anywhere
        assert (front / "scenario.toml").read_bytes() == quick.read_bytes()
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

    def test_nothing_usable_says_which_limit(self, quick: Path, tmp_path: Path) -> None:
        text = quick.read_text(encoding="utf-8")
        strict = text.replace("scrub = { aim = 45.0, limit = 100.0 }", "scrub = { aim = 0.5, limit = 1.0 }")
        assert strict != text
        (tmp_path / "strict.toml").write_text(strict, encoding="utf-8")
        said = run("search", tmp_path / "strict.toml", "--out", tmp_path / "a/b/none", code=3).stderr
        assert "scrub above its limit of 1 mm" in said
        assert "nearest miss" in said
        assert list(tmp_path.iterdir()) == [tmp_path / "strict.toml"]


class TestPick:
    def test_what_is_printed_is_what_was_measured(
        self, front: Path, fifth: Path, quick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("optimizer.pictures.draw_candidate", lambda *_: [])
        pivot = json.loads((fifth / "pivot.json").read_text())
        built = pivot["as_built"]
        for name in ("pivot_y", "pivot_z", "arm_length"):
            assert built[name] == pytest.approx(round(built[name]), abs=1e-9)
            assert pivot["tape"][name] == f"{round(built[name])} mm"
        again = tmp_path / "again"
        words = ("--pivot", built["pivot_y"], built["pivot_z"], "--arm-length", built["arm_length"])
        run("try", quick, *words, "--out", again)
        assert_same(json.loads((again / "measures.json").read_text()), built)
        row = pd.read_csv(front / "front.csv").iloc[4]
        for name in FIRST_COLUMNS[1:-1]:
            assert pivot["before_rounding"][name] == pytest.approx(row[name], rel=1e-12, abs=1e-12)

    def test_proposes_a_shortlist_and_gives_reasons(self, front: Path, picked: tuple[Path, str]) -> None:
        out, said = picked
        asked_for = {"template_a3.pdf", "template_roll.pdf"}
        expected = (PICKED | PICKED_WITH_A_SHOCK | asked_for) - {"template_a4.pdf"}
        assert {path.name for path in out.iterdir()} == expected
        for words in ("balanced", "best scrub", "knee", "strength check", f"pick {front} --id N"):
            assert words in said
        told = " ".join(said.split())
        for item in json.loads((front / "run.json").read_text())["shortlist"]:
            assert f"{item['id']} {item['why']}" in told
        text = (out / "rationale.md").read_text(encoding="utf-8")
        page = (out / "rationale.html").read_text(encoding="utf-8")
        for words in ("What it reaches", "What stops the wheel", "neighbours", "How exact", "baseline", "Cautions"):
            assert words in text
            assert words in page
        for picture in ("front_view", "camber", "contact_path", "joint_angles"):
            assert f"({picture}.png)" in text
        assert page.count("data:image/png;base64") == len(list(out.glob("*.png")))

    def test_papers_and_files_for_the_shop(self, front: Path, picked: tuple[Path, str]) -> None:
        out, _ = picked
        files = {"template_a3.pdf", "template_roll.pdf", "build_sheet_a4.pdf", "build_sheet_letter.pdf"}
        files |= {"drawing.dxf", "points.csv"}
        assert files <= {path.name for path in out.iterdir()}
        assert not (out / "template_a4.pdf").exists()
        text = (out / "rationale.md").read_text(encoding="utf-8")
        page = (out / "rationale.html").read_text(encoding="utf-8")
        for file in files:
            assert f"({file})" in text
            assert f'<a href="{file}">{file}</a>' in page
        for words in ("For the shop", "Build sheet", "Where the brackets go", "Measure the tacked car before you weld"):
            assert words in text
            assert words in page
        points = pd.read_csv(out / "points.csv")
        built = json.loads((out / "pivot.json").read_text())["as_built"]
        pivot = points[points["point"] == "upper inner pivot"].iloc[0]
        assert [pivot["y"], pivot["z"]] == [built["pivot_y"], built["pivot_z"]]
        assert "a4, a3" in run_apart("pick", front, "--paper", "a5", code=2).stderr.replace("'", "")

    def test_default_place_is_beside_the_front(self, fifth: Path) -> None:
        assert fifth.name == "front-pick-5"
        assert (fifth / "rationale.html").exists()

    def test_ctrl_c_leaves_nothing_and_says_so(
        self, front: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def stopped(*_: object) -> None:
            raise KeyboardInterrupt

        pick_in_words(monkeypatch)
        monkeypatch.setattr("optimizer.outputs.weld_region", stopped)
        done = run("pick", front, "--out", tmp_path / "pick", code=130)
        assert done.stderr.endswith("stopped; nothing was written\n")
        assert list(tmp_path.iterdir()) == []

    @pytest.mark.parametrize("number", [0, ALL_ROWS + 1, -3])
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
