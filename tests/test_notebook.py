"""What a notebook shows of a front and a candidate, and that the project's own notebooks are run by the tests."""

from __future__ import annotations

import base64
import html
import json
import re
import struct
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from IPython.core.formatters import DisplayFormatter

from optimizer.candidate import Candidate, baseline_of
from optimizer.front_search import Front
from optimizer.notebook import as_html, as_text
from optimizer.outputs import shortlist_table, target_rows
from optimizer.rationale import say
from optimizer.scenario import load_scenario, parse_scenario
from tests.fronts import SCENARIOS, brief_front

ROOT = Path(__file__).parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
LARGEST = 300_000  # bytes of a committed notebook
PICTURE = re.compile(r'<img alt="[^"]+" src="data:image/png;base64,([^"]+)">')


def shown(thing: Front | Candidate) -> dict[str, str]:
    """What IPython makes of it, by kind."""
    return dict(DisplayFormatter().format(thing)[0])


@cache
def first_idea(name: str) -> Candidate:
    candidate = baseline_of(load_scenario(SCENARIOS / f"{name}.toml"))
    assert candidate is not None
    return candidate


@cache
def shown_of(kind: str, name: str) -> dict[str, str]:
    """What IPython makes of a scenario's front or of its first idea."""
    return shown(brief_front(name) if kind == "front" else first_idea(name))


@pytest.fixture
def blank(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave a candidate's picture blank where only words are looked at."""
    monkeypatch.setattr("optimizer.notebook.front_view_png", lambda _candidate, _dpi: b"")


def words_of(page: str) -> str:
    """Text of HTML without its pictures and tags."""
    return html.unescape(re.sub(r"<[^>]+>", " ", PICTURE.sub("", page)))


@pytest.mark.parametrize("name", ["buggy", "buggy_inch"])
def test_a_front_shows_its_shortlist_and_a_picture(name: str) -> None:
    front = brief_front(name)
    found = shown_of("front", name)
    assert set(found) == {"text/html", "text/plain"}
    assert len(PICTURE.findall(found["text/html"])) == 1
    words = " ".join(words_of(found["text/html"]).split())
    assert f"{len(front)} candidates" in words
    head, rows = shortlist_table(front)
    for row in (head, *rows, *target_rows(front)):
        assert " ".join(cell for cell in row if cell) in words
    for item in front.shortlist:
        assert f"{item.row + 1}: {item.why}" in words
    assert found["text/plain"].count("\n") == 0
    assert f"{front.evaluated:,} tried" in found["text/plain"]


@pytest.mark.parametrize("name", ["buggy", "buggy_inch"])
def test_a_candidate_shows_what_it_reaches_and_a_picture(name: str) -> None:
    candidate = first_idea(name)
    scenario, found = candidate.scenario, shown_of("candidate", name)
    assert set(found) == {"text/html", "text/plain"}
    assert len(PICTURE.findall(found["text/html"])) == 1
    words, measures = " ".join(words_of(found["text/html"]).split()), candidate.measures()
    for objective in scenario.measured:
        target = scenario.targets[objective.name]
        cells = (say(scenario, objective, value) for value in (measures[objective.name], target.aim, target.limit))
        assert f"{objective.title} {' '.join(cells)}" in words
    assert f"droop limited by {measures['limited_by']}" in words
    assert found["text/plain"].startswith("pivot y ")
    assert scenario.unit.tape(candidate.pivot_z, scenario.build.round_to) in found["text/plain"]


@pytest.mark.usefixtures("blank")
def test_a_candidate_that_locks_says_so() -> None:
    scenario = load_scenario(SCENARIOS / "buggy.toml")
    words = words_of(as_html(Candidate(scenario, 395.0, 315.0, 0.0)))
    assert "it locks inside the required travel" in words
    assert "unusable: " in words


def test_the_picture_is_a_whole_png_and_small() -> None:
    for kind, least in (("front", 800), ("candidate", 600)):
        picture = PICTURE.search(shown_of(kind, "buggy")["text/html"])
        assert picture is not None
        png = base64.b64decode(picture[1])
        assert png.startswith(b"\x89PNG\r\n\x1a\n")
        assert png.endswith(b"IEND\xaeB`\x82")
        assert struct.unpack(">2I", png[16:24]) >= (least, 500)
        assert len(png) < 100_000


@pytest.mark.usefixtures("blank")
def test_what_the_builder_writes_is_text() -> None:
    obstacle = '\n[[obstacles]]\nname = "<b>rail</b>"\npoints = [[560.0, 250.0]]\ndiameter = 30.0\n'
    scenario = parse_scenario((SCENARIOS / "buggy.toml").read_text(encoding="utf-8") + obstacle)
    candidate = baseline_of(scenario)
    assert candidate is not None
    page = as_html(candidate)
    assert "&lt;b&gt;rail&lt;/b&gt;" in page
    assert "<b>" not in page


def test_what_is_not_known_is_refused() -> None:
    for show in (as_html, as_text):
        with pytest.raises(TypeError, match="a dict"):
            show({})


def test_nothing_is_drawn_with_before_it_is_asked_for() -> None:
    code = (
        "import sys; from optimizer import load_scenario, evaluate; from optimizer.front_search import Front; "
        "evaluate(load_scenario(sys.argv[1]), 275, 232); print('matplotlib' in sys.modules, 'IPython' in sys.modules)"
    )
    command = [sys.executable, "-c", code, str(SCENARIOS / "buggy.toml")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, check=True)
    assert done.stdout.split() == ["False", "False"]


class TestOwnNotebooks:
    def test_there_are_two(self) -> None:
        assert [path.name for path in NOTEBOOKS] == ["tour.ipynb", "validation.ipynb"]

    @pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
    def test_outputs_are_there_small_and_of_this_run(self, path: Path) -> None:
        text = path.read_text(encoding="utf-8")
        assert len(text.encode()) < LARGEST
        cells = [cell for cell in json.loads(text)["cells"] if cell["cell_type"] == "code"]
        assert [cell["execution_count"] for cell in cells] == list(range(1, len(cells) + 1))
        outputs = [output for cell in cells for output in cell["outputs"]]
        assert not [output for output in outputs if output["output_type"] == "error" or output.get("name") == "stderr"]
        assert sum("image/png" in json.dumps(output) for output in outputs) >= 3
        assert re.search(r"(/home|/tmp|/root|/work)/", text) is None

    def test_the_plain_test_command_runs_notebooks_and_fails_with_them(self, tmp_path: Path) -> None:
        (tmp_path / "notebooks").mkdir()
        for name, code in (("right", "assert 1 + 1 == 2"), ("wrong", "assert 1 + 1 == 3")):
            cell = {"cell_type": "code", "id": "a", "metadata": {}, "execution_count": None, "outputs": []}
            kernel = {"kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}}
            notebook = {"cells": [cell | {"source": code}], "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}
            (tmp_path / f"notebooks/{name}.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
        (tmp_path / "tests").mkdir()
        (tmp_path / "pyproject.toml").write_bytes((ROOT / "pyproject.toml").read_bytes())
        command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "--numprocesses=1"]
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False)
        assert done.returncode == 1, done.stdout
        assert "1 failed, 1 passed" in done.stdout
        assert "FAILED notebooks/wrong.ipynb" in done.stdout
