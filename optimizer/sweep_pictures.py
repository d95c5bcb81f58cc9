"""How the best trade-off moves through a sweep, as one picture."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from objectives.objective import Column, Goal
from objectives.vectors import Array
from optimizer.candidate import PIVOT
from optimizer.frame_view import BLACK, GREEN, GREY, look, show_in
from optimizer.scenario import Scenario
from optimizer.sheet import legend_below, quantity_of, sheet, write_pictures
from optimizer.sweeping import Swept

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ACROSS = 3  # axes side by side
_ARM = Column("arm_length", "Arm length", "length")


def draw_sweep(swept: Swept, folder: Path) -> list[Path]:
    """Draw "sweep": every objective asked for and the balanced pivot against what was varied, PNG and SVG."""
    return write_pictures(swept.scenario, folder, {"sweep": _moves}, swept)


def _moves(scenario: Scenario, swept: Swept) -> Figure:
    columns: tuple[Column, ...] = (*swept.asked, *PIVOT, _ARM)
    down = -(-len(columns) // ACROSS)
    words = "scenarios side by side" if swept.key is None else f"how the best trade-off moves with {swept.key}"
    figure = sheet(scenario, words, 3.9 * ACROSS, 2.9 * down + 1.0)
    for number, column in enumerate(columns, start=1):
        _draw(figure.add_subplot(down, ACROSS, number), swept, column)
    legend_below(figure)
    return figure


def _draw(axes: Axes, swept: Swept, column: Column) -> None:
    places = np.array([outcome.case.place for outcome in swept.outcomes])
    balanced = np.array([outcome.balanced.get(column.name, np.nan) for outcome in swept.outcomes], dtype=float)
    # scenarios have nothing between them for a line to tell of, nor one aim for all
    draw = [look(number).point if swept.key is None else look(number).line for number in (0, 1)]
    marks = [{"marker": look(number).marker, "markersize": 6} for number in (0, 1)]
    axes.plot(places, balanced, **draw[0](**marks[0], label="balanced candidate"))
    if isinstance(column, Goal):
        found = np.array([outcome.best(column) for outcome in swept.outcomes])
        axes.plot(places, found, **draw[1](**marks[1], label="best of this objective alone"))
        if swept.key is not None:
            _draw_wish(axes, swept.scenario, column)
    _mark_none(axes, places, np.array([outcome.front is None and outcome.searched for outcome in swept.outcomes]))
    words = f"{column.title}\n{column.better} is better" if isinstance(column, Goal) else column.title
    show_in(axes.yaxis, swept.scenario.unit, quantity_of(column), words)
    if swept.key is not None:
        axes.set_xlabel(swept.key)
    else:
        axes.set_xticks(places, [outcome.case.name for outcome in swept.outcomes], rotation=25, ha="right")
        axes.set_xlim(-0.5, len(places) - 0.5)


def _draw_wish(axes: Axes, scenario: Scenario, objective: Goal) -> None:
    """Aim and limit of the first scenario, where they are near enough not to squeeze the curves."""
    target = scenario.targets[objective.name]
    low, high = axes.get_ylim()
    for value, words, style in ((target.aim, "aim", ("--", GREEN)), (target.limit, "limit", ("-", BLACK))):
        if value is not None and low - (high - low) <= value <= high + (high - low):
            axes.axhline(value, linestyle=style[0], color=style[1], linewidth=1.2, label=words)


def _mark_none(axes: Axes, places: Array, missing: Array) -> None:
    for place in places[missing]:
        axes.axvline(place, color=GREY, linestyle=":", linewidth=2.5, label="no front; sweep.csv says why")
