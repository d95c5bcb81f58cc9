"""The live page's figures: Python shades the pivot's surroundings in them, the page's script draws what moves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from objectives.objective import Goal
from optimizer.frame_view import BLACK, VERMILION
from optimizer.front_figures import CURVES, MOVING, curve_figure, draw_corner, draw_settled, view_figure
from optimizer.front_payload import shades
from optimizer.live_map import PivotMap
from optimizer.live_numbers import Rows
from optimizer.problem import PivotProblem
from optimizer.scenario import Scenario

if TYPE_CHECKING:
    from bokeh.document import Document
    from bokeh.models import ColumnDataSource
    from bokeh.plotting import figure

ASK, TOLD = "ask", "told"
"""Names of the sources that carry what the page asks and what it is told, as JSON in their one column, `text`."""

_IMAGE: dict[str, list[Any]] = {name: [] for name in ("image", "x", "y", "wide", "high")}
_BARS: dict[str, list[float]] = {name: [] for name in ("left", "right", "bottom", "top")}


def add_figures(document: Document, scenario: Scenario, rows: Rows | None) -> tuple[ColumnDataSource, ColumnDataSource]:
    """Put the figures and the two sources of `ASK` and `TOLD` into a document; return those sources."""
    from bokeh.models import ColumnDataSource

    sources = tuple(ColumnDataSource(name=name, data={"text": [""]}) for name in (ASK, TOLD))
    with document.models.freeze():  # else all models are looked through anew for each
        document.add_root(_view(scenario, rows))
        for kind in CURVES:
            document.add_root(curve_figure(scenario, kind))
        for source in sources:
            document.add_root(source)
    return sources[0], sources[1]


def _view(scenario: Scenario, rows: Rows | None) -> figure:
    from bokeh.models import ColumnDataSource, WheelZoomTool

    plot = view_figure(scenario)
    _draw_map(plot)
    draw_settled(plot, scenario)
    if rows is not None:
        y, z = (scenario.unit.show(part, "length") for part in (rows.candidates.pivot_y, rows.candidates.pivot_z))
        plot.scatter(y, z, size=4, marker="circle", fill_color="white", line_color=BLACK, line_width=0.7)
    draw_corner(plot, MOVING)
    _draw_arrow(plot)
    pivot = ColumnDataSource(name="pivot", data={"x": [], "y": []})
    ring: dict[str, Any] = {"source": pivot, "fill_color": None, "level": MOVING}
    plot.scatter("x", "y", size=22, line_color="white", line_width=6, **ring)
    plot.scatter("x", "y", size=22, line_color=VERMILION, line_width=3, **ring)
    plot.scatter("x", "y", size=30, marker="cross", line_color=VERMILION, line_width=1.5, **ring)
    zoom = WheelZoomTool(modifiers="ctrl")
    plot.add_tools(zoom)
    plot.toolbar.active_scroll = zoom
    return plot


def _draw_map(plot: figure) -> None:
    """Shades of an objective, and hatching over what breaks a limit; empty until a map is there."""
    from bokeh.models import ColumnDataSource, LinearColorMapper

    colours = LinearColorMapper(name="shade", palette=shades(), low=0.0, high=1.0, nan_color="rgba(0, 0, 0, 0)")
    shaded = ColumnDataSource(name="map", data=dict(_IMAGE))
    place: dict[str, Any] = {"x": "x", "y": "y", "dw": "wide", "dh": "high"}
    plot.image("image", source=shaded, color_mapper=colours, global_alpha=0.85, **place)
    bars = ColumnDataSource(name="unusable", data=dict(_BARS))
    hatch: dict[str, Any] = {"hatch_pattern": "right_diagonal_line", "hatch_color": BLACK, "hatch_weight": 0.8}
    hatch |= {"hatch_scale": 9.0, "hatch_alpha": 0.5}
    sides: dict[str, Any] = {name: name for name in _BARS}
    plot.quad(source=bars, fill_color="white", fill_alpha=0.6, line_color=None, **sides, **hatch)


def _draw_arrow(plot: figure) -> None:
    from bokeh.models import Arrow, ColumnDataSource, NormalHead

    ends = ("x_start", "y_start", "x_end", "y_end")
    source = ColumnDataSource(name="arrow", data={name: [] for name in ends})
    along: dict[str, Any] = {name: name for name in ends}
    for colour, width, size in (("white", 5, 12), (BLACK, 2.2, 9)):
        head = NormalHead(size=size, fill_color=colour, line_color=colour)
        plot.add_layout(Arrow(end=head, source=source, line_color=colour, line_width=width, level=MOVING, **along))


def shade_map(
    document: Document, scenario: Scenario, problem: PivotProblem, around: PivotMap | None, by: Goal | None
) -> dict[str, Any]:
    """Shade the surroundings by an objective and hatch what breaks a limit; return what the legend says.

    Returns
    -------
    `usable`, the share of places that keep every limit; `worse` and `better`, the ends of the shades in the
    scenario's unit or degrees, None without an objective.
    """
    image, bars = (document.get_model_by_name(name) for name in ("map", "unusable"))
    if around is None:
        image.data, bars.data = dict(_IMAGE), dict(_BARS)
        return {"usable": None, "worse": None, "better": None}
    usable = around.usable(problem)
    bars.data = _bars(scenario, around, ~usable)
    legend: dict[str, Any] = {"usable": float(usable.mean()), "worse": None, "better": None}
    if by is None:
        image.data = dict(_IMAGE)
        return legend
    values = scenario.unit.show(around.values(by), by.quantity)
    shaded = values[usable & np.isfinite(values)]
    if shaded.size < 2:
        shaded = values[np.isfinite(values)]
    if not shaded.size:
        image.data = dict(_IMAGE)
        return legend
    low, high = float(shaded.min()), float(shaded.max())
    better_first = list(reversed(shades()))
    colours = document.get_model_by_name("shade")
    colours.update(low=low, high=max(high, low + 1e-9), palette=better_first if by.better == "less" else shades())
    (left, bottom), (wide, high_cell) = around.grid.edges, around.grid.cell
    up, across = around.shape
    box = (scenario.unit.show(value, "length") for value in (left, bottom, wide * across, high_cell * up))
    image.data = dict(zip(_IMAGE, ([values], *([part] for part in box)), strict=True))
    worse, better = (high, low) if by.better == "less" else (low, high)
    return legend | {"worse": worse, "better": better}


def _bars(scenario: Scenario, around: PivotMap, unusable: np.ndarray) -> dict[str, Any]:
    """Unusable places of every line of the map, those side by side as one bar."""
    (left, bottom), (wide, high) = around.grid.edges, around.grid.cell
    found: dict[str, list[float]] = {name: [] for name in _BARS}
    for line, cells in enumerate(unusable):
        steps = np.flatnonzero(np.diff(np.concatenate(([0], cells.astype(int), [0]))))
        for first, end in zip(steps[::2], steps[1::2], strict=True):
            ends = (left + first * wide, left + end * wide, bottom + line * high, bottom + (line + 1) * high)
            for name, value in zip(_BARS, ends, strict=True):
                found[name].append(float(scenario.unit.show(value, "length")))
    return found
