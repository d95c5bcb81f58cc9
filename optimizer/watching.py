"""Progress on screen."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from optimizer.seeker import Progress


@contextmanager
def counted(what: str) -> Iterator[Callable[[int, int], None]]:
    """Give a function that shows how many of so many are done."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    columns = (MofNCompleteColumn(), TextColumn(what), BarColumn(), TimeRemainingColumn())
    with Bars(*columns, console=Console(stderr=True)) as bars:
        task = bars.add_task("", total=None)
        yield lambda done, total: bars.update(task, completed=done, total=total)


@contextmanager
def watched() -> Iterator[Callable[[Progress], None]]:
    """Give a function that shows progress: candidates tried, kept, and the dominated share rising."""
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    columns = (
        TextColumn("{task.completed:,.0f} tried"),
        BarColumn(),
        TextColumn("{task.fields[usable]:,} usable, {task.fields[kept]:,} kept, hypervolume {task.fields[volume]:.3f}"),
        TimeRemainingColumn(),
    )
    with Bars(*columns, console=Console(stderr=True)) as bars:
        task = bars.add_task("", total=None, usable=0, kept=0, volume=0.0)

        def show(progress: Progress) -> None:
            bars.update(
                task,
                total=progress.budget,
                completed=progress.evaluated,
                usable=progress.usable,
                kept=progress.kept,
                volume=progress.hypervolume,
            )

        yield show
