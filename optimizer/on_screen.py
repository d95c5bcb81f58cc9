"""What the screen shows: the shortlist as wide as the window, and what is said of one candidate."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from optimizer.candidate import Candidate
from optimizer.closest_parts import say_closest
from optimizer.front_search import Front
from optimizer.outputs import shortlist_table, target_rows
from optimizer.problem import broken_limits
from optimizer.rationale import say

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

PIPED = 120  # columns where nothing says how wide the window is
NAMED = 5  # columns of the shortlist's table before its objectives
NARROWEST = 11  # columns that the words of a reason get at least


def print_shortlist(front: Front, console: Console) -> None:
    """Print the shortlist of a front, what is asked, and why each row is on the list.

    Objectives that do not fit beside each other go into a further table below.
    """
    from rich.table import Table

    console.print("Look at these first")
    head, rows = shortlist_table(front)
    columns = [_unit_on_top(title, cells) for title, *cells in zip(head, *rows, *target_rows(front), strict=True)]
    for table in _tables(columns, len(rows), console):
        console.print(table, crop=False)
    reasons = Table.grid(padding=(0, 1))
    reasons.add_column(justify="right", no_wrap=True)
    for item in front.shortlist:
        reasons.add_row(str(item.row + 1), item.why)
    console.print()
    console.print(reasons)


def against_targets(candidate: Candidate) -> list[tuple[str, str, str, str]]:
    """Title, value, aim and limit of everything measured of one candidate."""
    scenario, found = candidate.scenario, candidate.measures()
    return [
        (
            objective.title,
            say(scenario, objective, found[objective.name]),
            say(scenario, objective, scenario.targets[objective.name].aim),
            say(scenario, objective, scenario.targets[objective.name].limit),
        )
        for objective in scenario.measured
    ]


def remarks_on(candidate: Candidate) -> list[str]:
    """What limits one candidate, which parts come closest, what makes it unusable; a sentence each."""
    scenario, found = candidate.scenario, candidate.measures()
    remarks = [f"droop limited by {found['limited_by']}, bump by {found['bump_limited_by']}"]
    if closest := say_closest(scenario, found):
        remarks.append(closest)
    remarks += [f"unusable: {words}" for words in broken_limits(candidate)]
    if not found["complete"]:
        unit, step = scenario.unit, scenario.build.round_to
        remarks.append(
            f"it locks inside the required travel: droop {unit.tape(found['assembled_droop'], step)}, "
            f"bump {unit.tape(found['assembled_bump'], step)} reached"
        )
    return remarks


def _unit_on_top(title: str, cells: Sequence[str]) -> list[str]:
    """Title and cells of a column whose unit, where all share one, stands in the title."""
    units = {cell.rpartition(" ")[2] for cell in cells if cell not in ("", "-")}
    if len(units) != 1 or not units <= {"mm", "in", "deg"}:
        return [title, *cells]
    unit = units.pop()
    return [f"{title} {unit}", *(cell.removesuffix(f" {unit}") for cell in cells)]


def _tables(columns: Sequence[Sequence[str]], rows: int, console: Console) -> Iterator[Table]:
    """Tables of as many objectives as the window takes, one at least."""
    named, left = columns[:NAMED], columns[NAMED:]
    while left:
        counts = range(len(left), 1, -1)
        fits = (n for n in counts if _width(_table([*named, *left[:n]], rows), console) <= console.width)
        count = next(fits, 1)
        table = _table([*named, *left[:count]], rows)
        if (least := _width(table, console)) > console.width:
            table.width = least  # a window too narrow even so breaks lines, but loses no number
        yield table
        named, left = columns[:2], left[count:]


def _table(columns: Sequence[Sequence[str]], rows: int) -> Table:
    """Columns of title and cells, the second of words; a line below so many rows."""
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE, padding=0, show_edge=False)
    for number, (title, *cells) in enumerate(columns):
        if number == 1:
            table.add_column(title, min_width=NARROWEST)
            continue
        words = title.replace(" ", "\n")
        fractions = any(" " in cell for cell in cells)  # set apart, so that none is read with its neighbour
        width = max(len(line) for text in (words, *cells) for line in text.split("\n")) + fractions
        table.add_column(words, justify="right", width=width)
    for number, row in enumerate(zip(*(cells for _, *cells in columns), strict=True), start=1):
        table.add_row(*row, end_section=number == rows)
    return table


def _width(table: Table, console: Console) -> int:
    """Fewest columns of the window that show a table whole."""
    return int(console.measure(table, options=console.options.update(width=10_000)).minimum)
