"""Fronts searched briefly, for tests of what is written about a front."""

from __future__ import annotations

import os
import re
from functools import cache, partial
from hashlib import sha256
from pathlib import Path
from unittest.mock import patch

import numpy as np

from optimizer import front_search
from optimizer.front_search import Front, search
from optimizer.ledger import BY_BUDGET, Start
from optimizer.outputs import write_front
from optimizer.scenario import parse_scenario
from tests.shared import FOLDER, shared

SCENARIOS = Path(__file__).parent.parent / "scenarios"
FILE = "front.npz"
BUDGET = 2500  # candidates: enough for a front with all the rows that are shown
NASTY = "</title><script>window.struck = 1</script> 'one' \"two\" & {{payload}} $$x$$ \N{WRENCH}"
"""A title that would break out of a page, out of a script or out of a template, were it not kept as text."""


@cache
def brief_front(name: str, *changes: tuple[str, str], budget: int = BUDGET, locks: bool = False) -> Front:
    """Front of a scenario with its text changed (see `changed`), searched once for all workers of a test run."""
    again = partial(searched, name, *changes, budget=budget, locks=locks)
    if FOLDER not in os.environ:
        return again()
    text = changed(name, *changes, locks=locks)
    key = sha256(repr((text, budget, front_search.ROWS)).encode()).hexdigest()[:16]
    place = shared(f"front-{key}", lambda folder: _write(again(), folder / FILE))
    return _read(place / FILE, text)


def searched(name: str, *changes: tuple[str, str], budget: int = BUDGET, locks: bool = False) -> Front:
    """The same, searched here and now."""
    return search(parse_scenario(changed(name, *changes, locks=locks)), budget=budget)


def _write(front: Front, file: Path) -> None:
    """Write what a search found, its scenario aside."""
    found = front.found
    assert found is not None, "it was searched"
    table = {f"table {name}": column for name, column in front.table.items()}
    counts = np.array([front.kept, front.evaluated, front.usable])
    history = np.array(front.history)
    np.savez(file, **table, x=found.x, costs=found.costs, counts=counts, share=front.hypervolume_share, history=history)


def _read(file: Path, text: str) -> Front:
    """Read back what `_write` wrote of the scenario of a text."""
    with np.load(file, allow_pickle=False) as held:
        table = {name.removeprefix("table "): held[name] for name in held.files if name.startswith("table ")}
        kept, evaluated, usable = held["counts"].tolist()
        history = tuple((int(done), float(part)) for done, part in held["history"])
        found = Start(held["x"], held["costs"], evaluated, usable, history)
        share = float(held["share"])
    return Front(parse_scenario(text), table, kept, evaluated, usable, share, history, BY_BUDGET, found)


def changed(name: str, *changes: tuple[str, str], locks: bool = False) -> str:
    """Text of a scenario that comes with the package, with something in it changed; without locks unless asked for."""
    text = (SCENARIOS / f"{name}.toml").read_text(encoding="utf-8")
    if not locks:
        text = re.sub(r"(?m)^rack_travel = \S+", "rack_travel = 0.0", text)
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} is not unique in {name}.toml"
        text = text.replace(old, new)
    return text


def steered_front() -> Front:
    """The demo buggy with its rack, under a title that has to be kept as text."""
    quoted = NASTY.replace('"', '\\"')
    return brief_front(
        "buggy",
        ('title = "Two-seat trail buggy, front corner"', f'title = "{quoted}"'),
        locks=True,
    )


def steered_results() -> Path:
    """Results of that search, in a folder with a name that a shell takes apart; nobody changes anything there."""

    def write(folder: Path) -> None:
        (folder / "it's the front").mkdir()
        write_with_page(steered_front(), folder / "it's the front")

    return shared("steered", write) / "it's the front"


def write_with_page(front: Front, folder: Path) -> None:
    """Write a front as a search does, but for its pictures, for tests that look at its table or its page."""
    with patch("optimizer.front_pictures.PICTURES", {}):
        write_front(front, folder, seed=1)
