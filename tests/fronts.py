"""Fronts searched briefly, for tests of what is written about a front."""

from __future__ import annotations

import os
import pickle
import re
from functools import cache, partial
from hashlib import sha256
from pathlib import Path
from unittest.mock import patch

from optimizer import front_search
from optimizer.front_search import Front, search
from optimizer.outputs import write_front
from optimizer.scenario import parse_scenario
from tests.shared import FOLDER, shared

SCENARIOS = Path(__file__).parent.parent / "scenarios"
BUDGET = 2500  # candidates: enough for a front with all the rows that are shown
NASTY = "</title><script>window.struck = 1</script> 'one' \"two\" & {{payload}} $$x$$ \N{WRENCH}"
"""A title that would break out of a page, out of a script or out of a template, were it not kept as text."""


@cache
def brief_front(name: str, *changes: tuple[str, str], budget: int = BUDGET, locks: bool = False) -> Front:
    """`searched`, once for all workers of a test run."""
    again = partial(searched, name, *changes, budget=budget, locks=locks)
    if FOLDER not in os.environ:
        return again()
    key = sha256(repr((name, changes, budget, locks, front_search.ROWS)).encode()).hexdigest()[:16]
    file = shared(f"front-{key}", lambda folder: (folder / "front").write_bytes(pickle.dumps(again()))) / "front"
    front: Front = pickle.loads(file.read_bytes())
    return front


def searched(name: str, *changes: tuple[str, str], budget: int = BUDGET, locks: bool = False) -> Front:
    """Front of a scenario that comes with the package, with its text changed first; without locks unless asked for."""
    text = (SCENARIOS / f"{name}.toml").read_text(encoding="utf-8")
    if not locks:
        text = re.sub(r"(?m)^rack_travel = \S+", "rack_travel = 0.0", text)
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} is not unique in {name}.toml"
        text = text.replace(old, new)
    return search(parse_scenario(text), budget=budget)


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
