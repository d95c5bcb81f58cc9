"""Progress on screen."""

from __future__ import annotations

import re
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import TYPE_CHECKING

from optimizer.errors import ResultsError
from optimizer.faults import shorten
from optimizer.ledger import BUDGET, Ending, Progress

if TYPE_CHECKING:
    from rich.table import Table

    from objectives.vectors import Array
    from optimizer.problem import PivotProblem
    from optimizer.scenario import Scenario

LONGEST = 360_000.0  # seconds


@contextmanager
def counted(what: str) -> Iterator[Callable[[int, int], None]]:
    """Give a function that shows how many of so many are done, and how long the others take if they take as long."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, ProgressColumn, Task, TextColumn
    from rich.progress import Progress as Bars
    from rich.text import Text

    class TimeLeft(ProgressColumn):
        """Time left; rich's own goes by the last ones, and those of two cores end together."""

        def render(self, task: Task) -> Text:
            ends = task.fields["ends"]
            left = None if ends is None else timedelta(seconds=max(0, round(ends - time.monotonic())))
            return Text("-:--:--" if left is None else str(left), style="progress.remaining")

    begun = time.monotonic()
    columns = (MofNCompleteColumn(), TextColumn(what), BarColumn(), TimeLeft())
    with Bars(*columns, console=Console(stderr=True)) as bars:
        task = bars.add_task("", total=None, ends=None)

        def show(done: int, total: int) -> None:
            now = time.monotonic()
            ends = now + (now - begun) * (total - done) / done if done else None
            bars.update(task, completed=done, total=total, ends=ends)

        yield show


def ending_of(wanted: str | None, until_quiet: bool) -> Ending:
    """When a search ends: after the usual number of candidates, or as the builder says.

    Raises
    ------
    ResultsError
        The time is not one.
    """
    seconds = None if wanted is None else _seconds(wanted)
    return Ending(BUDGET if seconds is None and not until_quiet else None, seconds, until_quiet)


def _seconds(wanted: str) -> float:
    found = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(s|m|h)", wanted.strip())
    seconds = float(found[1]) * {"s": 1.0, "m": 60.0, "h": 3600.0}[found[2]] if found else 0.0
    if not 0.0 < seconds <= LONGEST:
        raise ResultsError(f"--time {shorten(wanted)}: write it with its unit, such as 90s, 5m or 2h, at most 100h")
    return seconds


def tell(words: str) -> None:
    """Say something on stderr; while a search is shown there, above it."""
    print(words, file=sys.stderr)  # which the live display has taken over, other ways past it spoil the screen


@contextmanager
def stopped_by_hand() -> Iterator[Callable[[], bool]]:
    """Give a function that tells whether Ctrl-C was pressed; pressed again, it raises KeyboardInterrupt as ever."""
    pressed = False

    def press(*_: object) -> None:
        nonlocal pressed
        if pressed:
            raise KeyboardInterrupt
        pressed = True
        tell("stopping; the front so far is kept (Ctrl-C again: nothing is)")

    before = signal.signal(signal.SIGINT, press)
    try:
        yield lambda: pressed
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def watched(scenario: Scenario) -> Iterator[Callable[[Progress], None]]:
    """Give a function that shows a search under way: candidates tried, kept, and the best of each objective so far."""
    from rich.console import Console, Group
    from rich.live import Live
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    from optimizer.problem import PivotProblem

    columns = (
        TextColumn("{task.fields[tried]:,} tried"),
        BarColumn(),
        TextColumn("{task.fields[usable]:,} usable, {task.fields[kept]:,} kept, hypervolume {task.fields[volume]:.3f}"),
        TimeRemainingColumn(),
    )
    console, problem = Console(stderr=True), PivotProblem(scenario)
    bars = Bars(*columns, console=console)
    task = bars.add_task("", total=None, tried=0, usable=0, kept=0, volume=0.0)
    with Live(bars, console=console, refresh_per_second=8) as live:

        def show(progress: Progress) -> None:
            bars.update(
                task,
                total=None if progress.gone is None else 1.0,
                completed=0.0 if progress.gone is None else progress.gone,
                tried=progress.evaluated,
                usable=progress.usable,
                kept=progress.kept,
                volume=progress.hypervolume,
            )
            if len(progress.best) and console.is_terminal:
                live.update(Group(bars, _best_so_far(problem, progress.best)))

        yield show
        live.update(bars)
    if not console.is_terminal:
        console.print()  # into a file goes the last line alone, and without its end


def _best_so_far(problem: PivotProblem, best: Array) -> Table:
    """The front's ends so far: a row for the best of each objective, and what it costs in the others."""
    from rich.table import Table

    from optimizer.problem import sign
    from optimizer.rationale import say

    table = Table(box=None, padding=(0, 2, 0, 0), header_style="")
    words = (word for goal in problem.traded for word in goal.title.split())
    table.add_column("best so far", min_width=max(map(len, words)))  # a narrow window breaks no word
    for goal in problem.traded:
        table.add_column(goal.title.lower(), justify="right")
    for goal, costs in zip(problem.traded, best, strict=True):
        values = (sign(other) * float(cost) for other, cost in zip(problem.traded, costs, strict=True))
        cells = (say(problem.scenario, other, value) for other, value in zip(problem.traded, values, strict=True))
        table.add_row(goal.title.lower(), *cells)
    return table


def prepare(*scenarios: Scenario) -> None:
    """Have the fast measuring of many candidates compiled, where it is wanted and not there yet.

    Without it the first batch of a search would be silent for a minute.
    """
    from objectives import compiled
    from optimizer.problem import PivotProblem

    wanted = any(compiled.suits(BUDGET, PivotProblem(scenario).quick) for scenario in scenarios)
    if not wanted or compiled.is_kept():
        return
    from rich.console import Console

    console = Console(stderr=True)
    console.print("preparing fast measuring, once on this machine; it takes about a minute")
    try:
        with console.status("preparing ..."):
            compiled.entry()
    except compiled.CannotCompileError as error:
        console.print(f"it cannot be prepared ({error}), so measuring goes on more slowly", markup=False)
        compiled.give_up()
    else:
        if not compiled.is_kept():
            console.print("it cannot be kept, so the next run prepares it again")
