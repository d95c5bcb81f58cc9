"""The shortlist in a terminal: nothing is cut off or lost, whatever the window and the unit."""

from __future__ import annotations

import io
import re
from itertools import takewhile

import pytest
from rich.console import Console

from optimizer.front_search import Front
from optimizer.on_screen import print_shortlist
from optimizer.outputs import shortlist_table, target_rows
from tests.fronts import brief_front

MORE = ("bump_steer_deg = { aim = 0.3 }", "bump_steer_deg = { aim = 0.3 }\nbump_limit = { objective = true }\n")
RULE = re.compile(r"^─+$", re.MULTILINE)


def printed(front: Front, width: int) -> str:
    console = Console(file=io.StringIO(), width=width, markup=False, emoji=False, highlight=False)
    print_shortlist(front, console)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def tables_of(text: str) -> list[list[str]]:
    """Lines of the candidates in each table: from its rule to the empty line before the aims."""
    return [list(takewhile(str.strip, part.strip("\n").splitlines())) for part in RULE.split(text)[1:]]


def target_line(text: str, name: str) -> list[str]:
    """Words of the line of aims or limits in the first table."""
    return next(words for line in text.splitlines() if (words := line.split())[:1] == [name] and len(words) > 1)


@pytest.mark.parametrize("width", [40, 60, 80, 120, 200])
@pytest.mark.parametrize("name", ["buggy", "buggy_inch"])
def test_every_number_stands_whole_in_the_row_of_its_candidate(name: str, width: int) -> None:
    front = brief_front(name)
    text = printed(front, width)
    if width >= 60:
        assert max(map(len, text.splitlines())) <= width
    head, rows = shortlist_table(front)
    for row in rows:
        lines = [line for table in tables_of(text) for line in table if re.match(rf" *{row[0]} ", line)]
        together = " ".join(lines)
        for cell in row[2:]:
            number = cell.rpartition(" ")[0]
            assert re.search(rf"(?<![\d/.]){re.escape(number)}(?![\d/.])", together), (row[0], cell)
    for title in head[5:]:
        for word in title.split():
            assert word in text


@pytest.mark.parametrize("name", ["buggy", "buggy_inch"])
def test_five_objectives_fit_an_ordinary_window(name: str) -> None:
    """80 columns, the width terminals open with; in inches the build yield stands in a table of its own below."""
    front = brief_front(name)
    text, below = printed(front, 80), ["yield"] if name == "buggy" else []
    assert len(RULE.findall(text)) == (1 if below else 2)
    _, rows = shortlist_table(front)
    ids = [line.split()[0] for line in tables_of(text)[0] if re.match(r" *\d+ ", line)]
    assert ids == [row[0] for row in rows]
    units = text.partition("─")[0].splitlines()[-1].split()
    length = front.scenario.unit.symbol
    assert units == ["id", "what", length, length, length, "deg", length, length, length, "deg", *below]
    if length == "in":
        assert re.search(r"\d+/\d+  +\d", text)


def test_what_does_not_fit_goes_into_a_further_table() -> None:
    front = brief_front("buggy_inch", MORE)
    text = printed(front, 80)
    assert len(RULE.findall(text)) == 2
    first, second = (part for part in RULE.split(text)[:2])
    assert "Bump" in second
    assert "pivot" in first
    assert "pivot" not in second.partition("limit")[2]


def test_aims_and_limits_stand_below() -> None:
    front = brief_front("buggy_inch")
    aims, limits = target_rows(front)
    assert aims[5:] == ["0.50 deg", "1.77 in", "1.18 in", "8.66 in", "0.30 deg", "-"]  # 45, 30 and 220 mm
    assert limits[5:] == ["3.00 deg", "3.94 in", "0.39 in", "5.91 in", "-", "-"]  # 100, 10 and 150 mm
    text = printed(front, 120)
    for row, name in ((aims, "aim"), (limits, "limit")):
        assert target_line(text, name)[1:] == [cell.split()[0] for cell in row[5:]]


@pytest.mark.parametrize("name", ["buggy", "buggy_inch"])
def test_every_row_says_why_and_what_it_costs_in_the_scenarios_unit(name: str) -> None:
    front = brief_front(name)
    told = " ".join(printed(front, 80).split())
    unit = front.scenario.unit
    for item in front.shortlist:
        assert f"{item.row + 1} {item.why}" in told
        found = re.search(r"Farthest from its aim in ([a-z ]+): (\S+ \S+), aim (\S+ \S+)\.$", item.why)
        assert found is not None
        objective = next(o for o in front.problem.traded if o.title.lower() == found[1])
        aim = front.scenario.targets[objective.name].aim
        assert aim is not None
        reached = float(front.table[objective.name][item.row])
        assert found[2] == unit.brief(reached, objective.quantity)
        assert found[3] == unit.brief(aim, objective.quantity)
        misses = [
            (front.table[o.name][item.row] - wish) * (1.0 if o.better == "less" else -1.0) / front.problem.difference(o)
            for o in front.problem.traded
            if (wish := front.scenario.targets[o.name].aim) is not None
        ]
        worst = (reached - aim) * (1.0 if objective.better == "less" else -1.0) / front.problem.difference(objective)
        assert worst == pytest.approx(max(misses), rel=1e-12)
