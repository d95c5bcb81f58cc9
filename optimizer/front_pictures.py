"""Pictures of a front: trade-offs, every row at once, and where the pivots are."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from objectives.objective import Column, Goal
from objectives.vectors import Array
from optimizer import frame_view as view
from optimizer.frame_view import BLACK, GREY, Marked, Table, look, show_in
from optimizer.scenario import Scenario, Target
from optimizer.sheet import legend_below, png_of, quantity_of, sheet, write_pictures
from optimizer.units import Unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_PIVOT_COLUMNS = (
    Column("pivot_y", "Pivot y", "length"),
    Column("pivot_z", "Pivot z", "length"),
    Column("arm_length", "Arm length", "length"),
)
PICTURES = ("tradeoffs", "parallel", "pivot_map")


def draw_front(
    scenario: Scenario, table: Table, marked: Marked, folder: Path, pictures: Iterable[str] = PICTURES
) -> list[Path]:
    """Draw a front.

    Parameters
    ----------
    scenario
        What was asked.
    table
        Columns pivot_y, pivot_z, static_camber, arm_length and every objective by name; (N,), mm and radians.
    marked
        Rows to point out, and what to call each.
    folder
        Made if it is not there.
    pictures
        Which to draw.

    Returns
    -------
    The files written, PNG and SVG of each picture.
    """
    draw = {"tradeoffs": _tradeoffs, "parallel": _parallel, "pivot_map": _pivot_map}
    return write_pictures(scenario, folder, {name: draw[name] for name in pictures}, table, marked)


def tradeoffs_png(scenario: Scenario, table: Table, marked: Marked, dpi: int) -> bytes:
    """Draw every pair of objectives, as `draw_front` does, as a PNG to show."""
    return png_of(scenario, _tradeoffs, table, marked, dpi=dpi)


def _tradeoffs(scenario: Scenario, table: Table, marked: Marked) -> Figure:
    traded = [objective for objective in scenario.measured if scenario.targets[objective.name].traded]
    pairs = list(combinations(traded, 2))
    across = min(4, max(1, len(pairs)))
    down = max(1, -(-len(pairs) // across))
    figure = sheet(scenario, "what is traded against what", max(6.0, 3.3 * across), 3.0 * down + 1.2)
    if not pairs:
        figure.text(0.5, 0.5, "Fewer than two objectives are traded: nothing to draw.", ha="center")
        return figure
    for number, (first, second) in enumerate(pairs, start=1):
        axes = figure.add_subplot(down, across, number)
        axes.plot(table[first.name], table[second.name], **view.DOTS, label="front")
        for rank, (row, name) in enumerate(marked):
            axes.plot(table[first.name][row], table[second.name][row], **look(rank).point(label=name))
        axes.margins(0.08)
        for objective, upright in ((first, True), (second, False)):
            _draw_target(axes, scenario.targets[objective.name], objective, upright)
        show_in(axes.xaxis, scenario.unit, quantity_of(first), _words(first))
        show_in(axes.yaxis, scenario.unit, quantity_of(second), _words(second))
    legend_below(figure)
    return figure


def _words(objective: Goal) -> str:
    return f"{objective.title}, {objective.better} is better"


def _draw_target(axes: Axes, target: Target, objective: Goal, upright: bool) -> None:
    """Draw aim and limit where they fall near the points: a far limit must not squeeze the front to a dot."""
    low, high = axes.get_xlim() if upright else axes.get_ylim()
    reach = 0.6 * (high - low)
    line, shade = (axes.axvline, axes.axvspan) if upright else (axes.axhline, axes.axhspan)
    set_limits = axes.set_xlim if upright else axes.set_ylim
    for value in (target.aim, target.limit):
        if value is not None and low - reach <= value <= high + reach:
            edge = 0.05 * (high - low)
            low, high = min(low, value - edge), max(high, value + edge)
    if target.aim is not None:
        line(target.aim, color=view.GREEN, linestyle="--", linewidth=1.4, label="aim")
    if target.limit is not None:
        line(target.limit, color=BLACK, linewidth=1.4, label="limit; beyond it hatched")
        worse = max(high, target.limit) if objective.better == "less" else min(low, target.limit)
        shade(target.limit, worse, facecolor="none", edgecolor="#BBBBBB", hatch="///", linewidth=0)
    set_limits(low, high)


def _parallel(scenario: Scenario, table: Table, marked: Marked) -> Figure:
    columns = [c for c in (*_PIVOT_COLUMNS, *scenario.asked) if np.isfinite(table[c.name]).any()]
    figure = sheet(scenario, "every row of the front, better end of each objective up", 11.0, 5.6)
    if not columns:
        figure.text(0.5, 0.5, "The front is empty: nothing to draw.", ha="center")
        return figure
    axes = figure.add_subplot()
    axes.grid(visible=False)
    places = np.arange(len(columns))
    heights = np.stack([_height(column, table[column.name]) for column in columns])
    axes.plot(places, heights, color=GREY, linewidth=0.5, alpha=0.5)
    for rank, (row, name) in enumerate(marked):
        how = look(rank)
        axes.plot(places, heights[:, row], **how.line(linewidth=2.4, marker=how.marker, markersize=8, label=name))
    for where, column in zip(places, columns, strict=True):
        axes.plot([where, where], [0.0, 1.0], color=BLACK, linewidth=0.8)
        _say_ends(axes, float(where), column, table[column.name], scenario.unit)
    axes.set_xticks(places, [_axis_words(column, scenario.unit) for column in columns])
    axes.tick_params(axis="x", length=0, pad=18)
    axes.set_yticks([])
    axes.set_ylim(-0.04, 1.08)
    axes.spines[:].set_visible(False)
    if marked:
        legend_below(figure)
    return figure


def _falls(column: Column) -> bool:
    return isinstance(column, Goal) and column.better == "less"


def _height(column: Column, values: Array) -> Array:
    """Place of values between the least (0) and the greatest (1), turned over where less is better."""
    low, high = np.nanmin(values), np.nanmax(values)
    if not high > low:
        return np.where(np.isfinite(values), 0.5, np.nan)
    share: Array = (values - low) / (high - low)
    return 1.0 - share if _falls(column) else share


def _say_ends(axes: Axes, where: float, column: Column, values: Array, unit: Unit) -> None:
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    ends = [(0.0, low), (1.0, high)] if high > low else [(0.5, low)]
    for height, value in ends:
        place = 1.0 - height if _falls(column) else height
        quantity = quantity_of(column)
        text = f"{unit.show(value, quantity) + 0.0:.{unit.digits(quantity)}f}"  # as on screen
        above = place >= 0.5
        axes.annotate(
            text,
            (where, place),
            xytext=(0, 5 if above else -5),
            textcoords="offset points",
            ha="center",
            va="bottom" if above else "top",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
        )


def _axis_words(column: Column, unit: Unit) -> str:
    symbol = unit.symbol_of(quantity_of(column))
    better = f"\n{column.better} is better" if isinstance(column, Goal) else ""
    return f"{column.title}\n({symbol}){better}"


def _pivot_map(scenario: Scenario, table: Table, marked: Marked) -> Figure:
    figure = sheet(scenario, "where the upper inner pivots are, front view at ride", 10.0, 8.6)
    view.draw_pivot_map(figure.add_subplot(), scenario, table, marked)
    legend_below(figure)
    return figure
