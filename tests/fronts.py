"""Fronts searched briefly, for tests of what is written about a front."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from optimizer.front_search import Front, search
from optimizer.scenario import parse_scenario

SCENARIOS = Path(__file__).parent.parent / "scenarios"
BUDGET = 2500  # candidates: enough for a front with all the rows that are shown
NASTY = "</title><script>window.struck = 1</script> 'one' \"two\" & {{payload}} $$x$$ \N{WRENCH}"
"""A title that would break out of a page, out of a script or out of a template, were it not kept as text."""


@cache
def brief_front(name: str, *changes: tuple[str, str], budget: int = BUDGET, locks: bool = False) -> Front:
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
