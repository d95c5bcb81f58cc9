"""Runs a scenario file through the commands in this process, and says what is wrong with what comes of it."""

from __future__ import annotations

import csv
import io
import json
import random
import re
import signal
import tomllib
import traceback
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest import mock

from optimizer import cli
from optimizer.errors import PivotfrontError, ScenarioError
from optimizer.faults import key_text
from optimizer.front_search import Front, search
from optimizer.ledger import Ending
from optimizer.scenario import load_scenario
from optimizer.vary import read_vary, with_value
from tests.mutations import Case, places

SECONDS = 30.0  # of this process's own work for one case; a sound one takes one or two
BUDGET, ROWS = 300, 30  # candidates of a search, and rows of its front, each of which is built 512 times
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # beginnings of a spreadsheet's formulas; common practice, no source
NO_NUMBER = re.compile(r"(?<![\w.])-?(?:nan|inf(?:inity)?)(?![\w.-])", re.IGNORECASE)


class TookTooLongError(BaseException):
    """A case went beyond its time."""


@contextmanager
def bounded(seconds: float, wall: bool = False) -> Iterator[None]:
    """Raise where the work inside takes too long: of this process's own time, or of the time on the wall."""
    timer, number = (signal.ITIMER_REAL, signal.SIGALRM) if wall else (signal.ITIMER_PROF, signal.SIGPROF)

    def stop(_number: int, _frame: object) -> None:
        raise TookTooLongError

    before = signal.signal(number, stop)
    signal.setitimer(timer, seconds)
    try:
        yield
    finally:
        signal.setitimer(timer, 0.0)
        signal.signal(number, before)


def looked_into(case: Case, folder: Path, rng: random.Random) -> list[str]:
    """Everything that is wrong with what the commands do with a case; the drawings are made for a few only."""
    file = folder / "case.toml"
    file.write_bytes(case.content)
    try:
        with bounded(SECONDS), warnings.catch_warnings():
            warnings.simplefilter("error")
            return _looked_into(case, file, folder, rng)
    except TookTooLongError:
        return [f"took more than {SECONDS:g} s"]
    except Exception:
        return [traceback.format_exc()]


def _looked_into(case: Case, file: Path, folder: Path, rng: random.Random) -> list[str]:
    try:
        scenario = load_scenario(file)
    except ScenarioError as error:
        return [*_wrong_message(error), *_wrong_key(error, case)]
    wrong = []
    drawing = rng.random() < 0.005
    with _no_drawing(not drawing):
        wrong += ran(cli.check, file, folder / "view.png")
        wrong += _varied(scenario.text, rng)
        space, unit = scenario.space, scenario.unit
        pivot = [f"{unit.from_mm(rng.uniform(*span)):.12g}" for span in (space.pivot_y, space.pivot_z)]
        out = folder / "try" if rng.random() < 0.1 else None
        wrong += ran(cli.try_one, file, tuple(pivot), None, None, 1, out)
        if rng.random() < 0.12:
            with _brief_search():
                wrong += ran(cli.search, file, folder / "front")
            if (folder / "front").exists() and rng.random() < 0.3:
                wrong += ran(cli.pick, folder / "front", None, folder / "pick")
    wrong += [words for path in folder.rglob("*") if path.is_file() for words in _wrong_file(path)]
    return wrong


def _varied(text: str, rng: random.Random) -> list[str]:
    """What is wrong with the text once one of its keys has another value: nothing else may change."""
    tables = tomllib.loads(text)
    path = rng.choice([path for path in places(tables) if all(isinstance(part, int) or _BARE(part) for part in path)])
    if rng.random() < 0.2 and isinstance(path[-1], str):
        path = (*path[:-1], "new")
    key = key_text(path)
    try:
        found = tomllib.loads(with_value(text, read_vary(f"{key}=12.5"), 12.5))
    except PivotfrontError as error:
        return _wrong_message(error)
    holder: Any = tables
    for step in path[:-1]:
        holder = holder[step]
    holder[path[-1]] = 12.5
    return [] if repr(found) == repr(tables) else [f"with {key} changed, {tables} became {found}"]


_BARE = re.compile(r"[A-Za-z0-9_-]+").fullmatch


@contextmanager
def _brief_search() -> Iterator[None]:
    """Have the command search only a little."""

    def brief(*words: Any, ending: Ending, **more: Any) -> Front:
        front = search(*words, ending=replace(ending, budget=BUDGET), **more)
        assert front.evaluated == BUDGET
        return front

    with mock.patch("optimizer.front_search.search", brief), mock.patch("optimizer.front_search.ROWS", ROWS):
        yield


@contextmanager
def _no_drawing(off: bool) -> Iterator[None]:
    """Write empty pictures and pages where drawing is off."""
    if not off:
        yield
        return

    def plain(_scenario: Any, folder: Path, pictures: dict[str, Any], *_shown: Any) -> list[Path]:
        files = [folder / f"{name}.{kind}" for name in pictures for kind in ("png", "svg")]
        for file in files:
            file.write_bytes(b"")
        return files

    with (
        mock.patch("optimizer.pictures.write_pictures", plain),
        mock.patch("optimizer.front_pictures.write_pictures", plain),
        mock.patch("optimizer.pictures.draw_front_view", lambda _one, file, made_by: file.write_text(made_by)),
        mock.patch("optimizer.front_page.front_page", return_value=""),
    ):
        yield


def ran(command: Any, *words: Any) -> list[str]:
    """Run a command; what is wrong with its words. A sentence for a mistake is never wrong."""
    out, err = io.StringIO(), io.StringIO()
    try:
        with redirect_stdout(out), redirect_stderr(err):
            command(*words)
    except PivotfrontError as error:
        return _wrong_message(error)
    text = "\n".join(line for line in out.getvalue().splitlines() if "case.toml" not in line)
    return [f"{command.__name__} says {found[0]!r}: {text}" for found in [NO_NUMBER.search(text)] if found]


def _wrong_message(error: PivotfrontError) -> list[str]:
    said = str(error)
    wrong = [] if len(said) < 20_000 else [f"a message of {len(said)} characters"]
    if not said.strip():
        wrong.append("an empty message")
    if any(not letter.isprintable() and letter != "\n" for letter in said):
        wrong.append(f"a message that holds what cannot be printed: {said!r}")
    return wrong


def _wrong_key(error: ScenarioError, case: Case) -> list[str]:
    """Where one value is of a wrong kind, the message has to name its key, or the table it holds."""
    if not case.wrong:
        return []
    key = key_text(case.wrong[:2])
    named = any(fault.key.startswith(key) or key.startswith(fault.key) for fault in error.faults if fault.key)
    return [] if named else [f"{key} is not named: {error}"]


def _wrong_file(path: Path) -> list[str]:
    if path.suffix == ".csv":
        cells = [cell for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"))) for cell in row]
        return [f"{path.name} holds {cell!r}" for cell in cells if _no_cell(cell)]
    if path.suffix == ".json":
        json.loads(path.read_text(encoding="utf-8"), parse_constant=_refuse)
    if path.suffix == ".svg" and path.stat().st_size:
        import xml.etree.ElementTree as ElementTree

        ElementTree.fromstring(path.read_bytes())
    if path.suffix == ".html" and "<script>alert(1)" in path.read_text(encoding="utf-8"):
        return [f"{path.name} holds a script of the title's"]
    return []


def _no_cell(cell: str) -> bool:
    """Whether a cell is a formula, or a number that is none."""
    try:
        float(cell)
    except ValueError:
        return cell.startswith(FORMULA)
    return NO_NUMBER.fullmatch(cell) is not None


def _refuse(constant: str) -> None:
    raise ValueError(f"JSON holds {constant}")
