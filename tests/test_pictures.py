"""Pictures: the files are there, say the right units, are the same twice, survive what cannot be drawn."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.path import Path as Outline

from objectives.corner import Candidates, Tyre
from objectives.evaluate import measure
from objectives.tyre import Silhouette
from optimizer.candidate import Candidate, with_pivots
from optimizer.frame_view import tyre_outline
from optimizer.front_pictures import draw_front
from optimizer.pictures import draw_candidate
from optimizer.scenario import Scenario, load_scenario, parse_scenario
from optimizer.sheet import even_lines
from optimizer.units import INCH
from tests.commands import draw_only
from tests.scenario_cases import BASE

BUGGY_IN_INCHES = Path(__file__).parent.parent / "scenarios" / "buggy_inch.toml"
FRONT = {"tradeoffs", "parallel", "pivot_map"}
CANDIDATE = {"camber", "contact_path", "joint_angles", "toe", "front_view", "roll_centre"}
FURTHER = {"steering", "shock"}
PNG = b"\x89PNG\r\n\x1a\n"
MARKED = [(0, "first"), (2, "cheap at $5 & <good> \N{WRENCH}")]


def sound(asked: Scenario) -> Candidate:
    return Candidate(asked, 275.0, 232.0, 0.0)


@cache
def scenario() -> Scenario:
    return parse_scenario(BASE)


def table(asked: Scenario) -> dict[str, np.ndarray]:
    candidates = Candidates(np.linspace(230.0, 290.0, 12), np.linspace(200.0, 240.0, 12), np.zeros(12))
    measured = measure(asked.corner, candidates)
    assert measured["complete"].all()
    return with_pivots(candidates, measured)


def locking() -> Candidate:
    """A candidate that stands at ride and locks on the way to the required droop."""
    y, z = (grid.ravel() for grid in np.meshgrid(np.linspace(300.0, 400.0, 9), np.linspace(200.0, 320.0, 9)))
    droop = measure(scenario().corner, Candidates(y, z, np.zeros(y.size)))["assembled_droop"]
    found = np.flatnonzero((droop > 50.0) & (droop < 200.0))
    assert found.size
    return Candidate(scenario(), float(y[found[0]]), float(z[found[0]]), 0.0)


def words(svg: Path) -> str:
    """All text of an SVG: each is kept beside its outlines as a comment."""
    return unescape(svg.read_text(encoding="utf-8"))


@contextmanager
def words_alone() -> Iterator[None]:
    """Have pictures laid out and drawn as SVG; of the PNG, with no words to read, only how it begins."""
    with patch.object(FigureCanvasAgg, "print_png", lambda _canvas, file, **_more: file.write_bytes(PNG)):
        yield


@pytest.fixture
def as_words() -> Iterator[None]:
    with words_alone():
        yield


def check_files(written: list[Path], folder: Path, names: set[str]) -> None:
    assert set(written) == {folder / f"{name}.{kind}" for name in names for kind in ("png", "svg")}
    assert set(folder.iterdir()) == set(written)
    for path in written:
        begins = PNG if path.suffix == ".png" else b"<?xml"
        assert path.read_bytes().startswith(begins)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with all pictures of the sound scenario, in mm."""
    folder = tmp_path_factory.mktemp("drawn")
    draw_front(scenario(), table(scenario()), MARKED, folder / "front")
    draw_candidate(sound(scenario()), folder / "candidate")
    return folder


@pytest.fixture(scope="module")
def in_inches(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with all pictures of the demo in inches, which has locks and a shock."""
    folder, asked = tmp_path_factory.mktemp("inches"), load_scenario(BUGGY_IN_INCHES)
    with words_alone():
        draw_front(asked, table(asked), MARKED, folder / "front")
        check_files(draw_candidate(sound(asked), folder / "candidate"), folder / "candidate", CANDIDATE | FURTHER)
    return folder


def svgs(folder: Path) -> list[Path]:
    found = sorted(folder.rglob("*.svg"))
    assert len(found) in (len(FRONT), len(CANDIDATE), len(FRONT | CANDIDATE), len(FRONT | CANDIDATE | FURTHER))
    return found


def test_same_input_writes_the_same_files_in_a_new_folder(drawn: Path, tmp_path: Path) -> None:
    front, candidate = tmp_path / "not" / "front", tmp_path / "there" / "candidate"
    check_files(draw_front(scenario(), table(scenario()), MARKED, front), front, FRONT)
    check_files(draw_candidate(sound(scenario()), candidate), candidate, CANDIDATE)
    for path in (*front.iterdir(), *candidate.iterdir()):
        assert path.read_bytes() == (drawn / path.parent.name / path.name).read_bytes(), path.name


def test_labels_and_ticks_are_in_mm_or_inches(drawn: Path, in_inches: Path) -> None:
    for folder, ours, other in ((drawn, "(mm)", "(in)"), (in_inches, "(in)", "(mm)")):
        for path in svgs(folder):
            assert ours in words(path), path
            assert other not in words(path), path
    # 220 mm of droop is 8.66 in: whole inches are marked, millimetres are not
    for name in ("camber", "toe", "joint_angles", "roll_centre"):
        assert "<!-- -8 -->" in words(in_inches / "candidate" / f"{name}.svg")
        assert "<!-- -200 -->" not in words(in_inches / "candidate" / f"{name}.svg")
        assert "<!-- -200 -->" in words(drawn / "candidate" / f"{name}.svg")


def test_body_roll_is_drawn_where_it_is_given(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = {"roll_camber", "roll_centre"}  # those that the roll is for; it changes no other
    draw_only(monkeypatch, *drawn)
    for unit, degrees in ((scenario().unit, 4.0), (INCH, 14.0)):
        travel = replace(scenario().corner.travel, roll=np.radians(degrees))
        asked = replace(scenario(), unit=unit, corner=replace(scenario().corner, travel=travel))
        folder = tmp_path / unit.name
        check_files(draw_candidate(sound(asked), folder, sound(asked)), folder, drawn)
        said = words(folder / "roll_camber.svg")
        for line in (
            "this candidate, outer wheel",
            "this candidate, inner wheel",
            "baseline, inner wheel",
            "body roll",
        ):
            assert line in said
        # the first fits into the required travel, the second takes more than its 180 mm of bump
        assert ("travel ends here" in said) == (degrees > 12.0)


def test_travel_reads_as_on_the_tape(drawn: Path, in_inches: Path) -> None:
    for place, droop, bump in (
        (drawn, "full droop, 220 mm", "full bump, 180 mm"),
        (in_inches, "full droop, 8 11/16 in", "full bump, 7 1/16 in"),
    ):
        said = words(place / "candidate" / "front_view.svg")
        assert droop in said
        assert bump in said


def test_sound_candidate_is_not_said_to_lock(drawn: Path) -> None:
    for path in svgs(drawn / "candidate"):
        assert "locks" not in words(path), path


@pytest.mark.usefixtures("as_words")
def test_locking_candidate_is_drawn_as_far_as_it_goes(tmp_path: Path) -> None:
    check_files(draw_candidate(locking(), tmp_path, sound(scenario())), tmp_path, CANDIDATE)
    for name in ("camber", "toe", "joint_angles", "contact_path"):
        assert "locks here" in words(tmp_path / f"{name}.svg"), name
    assert "locks before it gets here" in words(tmp_path / "front_view.svg")


@pytest.mark.usefixtures("as_words")
def test_candidate_that_does_not_stand_is_said_so(tmp_path: Path) -> None:
    # a lower arm of some 30 mm cannot follow a spindle that leans by half a radian
    corner, fallen = scenario().corner, (275.0, 232.0, -0.5)
    arm = replace(corner.lower_arm, inner_pivot=np.array([0.0, 690.0, 15.0]))
    asked = replace(scenario(), corner=replace(corner, lower_arm=arm))
    check_files(draw_candidate(Candidate(asked, *fallen), tmp_path / "it"), tmp_path / "it", CANDIDATE)
    for path in svgs(tmp_path / "it"):
        assert "does not stand at ride" in words(path), path
    rows = table(scenario()) | {"static_camber": np.full(12, fallen[2])}
    draw_front(asked, rows, MARKED, tmp_path / "front", ["pivot_map"])  # the others show numbers of a table
    assert "first: does not stand at ride" in words(tmp_path / "front" / "pivot_map.svg")


@pytest.mark.usefixtures("as_words")
def test_any_title_is_shown_as_written_and_a_long_one_cut(tmp_path: Path) -> None:
    # read as a formula, what stands between the dollars is a mistake
    title = "costs $5_{x$ and 6, a < b & c \N{WRENCH} " + "long " * 200
    draw_candidate(sound(replace(scenario(), title=title)), tmp_path)
    for path in svgs(tmp_path):
        said = " ".join(re.findall("<!-- (.*?) -->", words(path), re.DOTALL))
        assert "costs $5_{x$ and" in said, path
        assert "a < b & c" in said, path
        assert 10 < said.count("long") < 40, path


def test_marked_names_are_shown_as_written(drawn: Path) -> None:
    for path in svgs(drawn / "front"):
        assert MARKED[1][1] in words(path), path


@pytest.mark.usefixtures("as_words")
def test_front_without_bodywork_marks_or_rows(tmp_path: Path) -> None:
    rows = table(scenario()) | {"fender_clearance": np.full(12, np.nan)}
    asked = replace(scenario(), corner=replace(scenario().corner, outlines=()))
    check_files(draw_front(asked, rows, [], tmp_path / "rows"), tmp_path / "rows", FRONT)
    assert "Fender" not in words(tmp_path / "rows" / "parallel.svg")
    none = {name: column[:0] for name, column in rows.items()}
    check_files(draw_front(asked, none, [], tmp_path / "none"), tmp_path / "none", FRONT)
    assert "The front is empty" in words(tmp_path / "none" / "parallel.svg")


@pytest.mark.parametrize("camber", [-0.2, 0.0, 0.1])
@pytest.mark.parametrize("toe", [-0.15, 0.0, 0.25])
def test_tyre_outline_lies_on_the_silhouette_and_goes_round_it(camber: float, toe: float) -> None:
    tyre, wheel = Tyre(368.0, 236.0, 35.0, 368.0), np.array([3.0, 790.0, 98.0])
    spin = np.array([np.sin(toe) * np.cos(camber), np.cos(toe) * np.cos(camber), -np.sin(camber)])
    outline = tyre_outline(tyre, wheel, spin)
    seen = Silhouette.of(tyre, wheel[:, None], spin[:, None])
    assert np.abs(seen.gap(outline.T)[0]).max() < 1e-6
    assert Outline(outline).contains_point((790.0, 98.0))
    normal = np.stack((np.cos(turn := np.linspace(0.0, 6.2, 25)), np.sin(turn)))
    reach = (normal.T @ (outline - wheel[1:]).T).max(axis=1)
    assert reach == pytest.approx(seen.core_support(normal) + tyre.shoulder_radius, abs=0.2)


def test_a_title_has_no_word_alone_on_its_last_line() -> None:
    text = "A buggy with quite a long name for a title: arms and tyre at full droop, ride and bump"
    assert even_lines(text, 200) == text
    lines = even_lines(text, 80).splitlines()
    assert " ".join(lines) == text
    assert len(lines) == 2
    assert abs(len(lines[0]) - len(lines[1])) < 12
    assert even_lines("", 10) == ""
    assert even_lines("x" * 30, 12) == "\n".join(["x" * 10] * 3)
