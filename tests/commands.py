"""Pivotfront's commands as a user types them."""

from __future__ import annotations

import io
import subprocess
import sys
from collections.abc import Mapping
from contextlib import chdir, redirect_stderr, redirect_stdout
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from optimizer.build_figures import build_figures
from optimizer.cli import main
from optimizer.scenario import Scenario

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


def run(*words: object, cwd: Path | None = None, code: int = 0) -> subprocess.CompletedProcess[str]:
    """Run pivotfront's own `main` here, which spares a process its imports; what it raises is a test's failure."""
    said, wrong, command = io.StringIO(), io.StringIO(), ["pivotfront", *map(str, words)]
    with patch.object(sys, "argv", command), chdir(cwd or Path.cwd()), redirect_stdout(said), redirect_stderr(wrong):
        try:
            main()
        except SystemExit as end:
            left = int(end.code or 0)
        else:
            left = 0
    return _checked(subprocess.CompletedProcess(command, left, said.getvalue(), wrong.getvalue()), code)


def run_apart(*words: object, code: int = 0) -> subprocess.CompletedProcess[str]:
    """Run pivotfront in a process of its own, as from a shell."""
    command = [sys.executable, "-m", "optimizer.cli", *map(str, words)]
    return _checked(subprocess.run(command, capture_output=True, text=True, timeout=600, check=False), code)


def _checked(done: subprocess.CompletedProcess[str], code: int) -> subprocess.CompletedProcess[str]:
    """A traceback is never right."""
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    return done


def pick_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have a pick leave out pictures and all but a few builds, which take most of its time."""
    monkeypatch.setattr("optimizer.pictures.draw_candidate", lambda *_: [])
    monkeypatch.setattr("optimizer.weld_pictures.draw_weld_region", lambda *_: [])
    monkeypatch.setattr("optimizer.outputs.build_figures", partial(build_figures, builds=64))


def draw_only(monkeypatch: pytest.MonkeyPatch, *names: str) -> None:
    """Have the pictures of a candidate leave out all but some; each of them takes half a second."""
    from optimizer.sheet import write_pictures

    def write(scenario: Scenario, folder: Path, pictures: Mapping[str, Any], *shown: Any) -> list[Path]:
        assert set(names) <= set(pictures)
        return write_pictures(scenario, folder, {name: pictures[name] for name in names}, *shown)

    monkeypatch.setattr("optimizer.pictures.write_pictures", write)


def print_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have a pick leave out templates and build sheet on paper and on screen; its report has the sheet all the same."""
    monkeypatch.setattr("optimizer.shop_files.write_template", lambda *_: 1)
    monkeypatch.setattr("optimizer.shop_files.write_page", lambda *_: None)
    monkeypatch.setattr("optimizer.shop_files.write_previews", lambda *_: [])


def assert_same(one: dict[str, object], other: dict[str, object]) -> None:
    """Measures agree to 1e-9, words to the letter, and what is not measured in one is not in the other."""
    assert set(one) == set(other)
    for name, value in one.items():
        plain = value is None or isinstance(value, str)
        assert other[name] == (value if plain else pytest.approx(value, rel=1e-9, abs=1e-9)), name


_DRAWN = (
    *("camber", "contact_path", "front_view", "joint_angles", "roll_centre", "toe", "weld_region"),
    *("template_arm.png", "template_front.png", "template_spindle.png"),
)
PICKED = frozenset(
    {
        *(name if "." in name else f"{name}.{kind}" for name in _DRAWN for kind in ("png", "svg")),
        *("curves.csv", "pivot.csv", "pivot.json", "rationale.html", "rationale.md", "run.json", "scenario.toml"),
        *("build_sheet_a4.pdf", "build_sheet_letter.pdf", "drawing.dxf", "points.csv", "template_a4.pdf"),
    }
)
"""Files of every pick of a scenario in mm."""
PICKED_WITH_A_SHOCK = frozenset({"shock.png", "shock.svg"})
PICKED_WITH_LOCKS = frozenset({"steering.csv", "steering.png", "steering.svg"})
