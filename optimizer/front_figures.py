"""The live figures of the front's page: what never changes is drawn here, the page's script fills in the rest."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from objectives.vectors import Array
from optimizer.frame_view import BLACK, GREEN, GREY, ORANGE, PURPLE, VERMILION, tyre_outline
from optimizer.front_search import Front
from optimizer.scenario import Scenario

if TYPE_CHECKING:
    from bokeh.models import ColumnDataSource, IndexFilter
    from bokeh.plotting import figure

CURVES = ("camber", "toe", "contact", "rod_ends")
TRADES = ("a", "b")
HIDDEN = "#9A9A9A"


def figures_document(front: Front) -> dict[str, Any]:
    """All figures as one document in JSON: the same front gives the same text, in any process.

    Every figure's name is that of the element it goes into: `view`, `trade_a`, `trade_b`, `curve_camber`, ...
    """
    from bokeh.document import Document
    from bokeh.models import ColumnDataSource, IndexFilter

    rows = ColumnDataSource(name="rows", data={name: [] for name in _ROW_COLUMNS})
    shown = ColumnDataSource(name="shown", data={name: [] for name in _SHOWN_COLUMNS})
    left, hidden = IndexFilter(name="left", indices=[]), IndexFilter(name="hidden", indices=[])
    figures = [_view(front, rows, shown, left, hidden)]
    figures += [_trade(which, rows, shown, left, hidden) for which in TRADES]
    figures += [curve_figure(front.scenario, kind) for kind in CURVES]
    document = Document(title="")
    with document.models.freeze():  # else all models are looked through anew for each
        for each in figures:
            document.add_root(each)
    return _renumbered(document.to_json(deferred=False))


_DOT = ("x", "y", "tip")
_ROW_COLUMNS = ("id", "fill", "size", "view_size", *(f"{where}_{part}" for where in ("view", *TRADES) for part in _DOT))
_RINGS = ("x", "y", "size", "label", "align", "shift")
_SHOWN_COLUMNS = ("colour", "marker", *(f"{where}_{part}" for where in ("view", *TRADES) for part in _RINGS))
LINES: dict[str, list[Any]] = {name: [] for name in ("xs", "ys", "colour", "dash", "width")}
DOTS: dict[str, list[Any]] = {name: [] for name in ("x", "y", "colour", "marker")}


def _renumbered(document: Any) -> dict[str, Any]:
    """The document with its models numbered from 1: their own numbers depend on what the process drew before."""
    import json

    numbers: dict[str, str] = {}

    def renamed(found: re.Match[str]) -> str:
        return numbers.setdefault(found.group(), f'"m{len(numbers) + 1}"')

    renumbered: dict[str, Any] = json.loads(re.sub(r'"p\d+"', renamed, json.dumps(document)))
    return renumbered


def blank_figure(name: str, **options: Any) -> figure:
    """A figure that fills its element, without a toolbar of its own."""
    from bokeh.plotting import figure

    fixed: dict[str, Any] = {
        "name": name,
        "toolbar_location": None,
        "tools": "",
        "sizing_mode": "stretch_both",
        "min_border": 4,
        "output_backend": "canvas",
        "lod_threshold": None,
        "min_width": 60,
        "min_height": 60,
    }
    made = figure(**(fixed | options))
    made.axis.axis_label_text_font_style = "normal"
    made.axis.axis_label_text_font_size = "12px"
    made.axis.major_label_text_font_size = "12px"
    made.axis.axis_label_standoff = 2
    made.axis.minor_tick_line_color = None
    made.grid.grid_line_color = "#DDDDDD"
    return made


def _add_tools(plot: figure) -> None:
    """Dragging marks rows; the wheel alone scrolls the page, with Ctrl it zooms."""
    from bokeh.models import BoxSelectTool, WheelZoomTool

    select, zoom = BoxSelectTool(), WheelZoomTool(modifiers="ctrl")
    plot.add_tools(select, zoom)
    plot.toolbar.active_drag, plot.toolbar.active_scroll = select, zoom


def _draw_rows(
    plot: figure, where: str, rows: ColumnDataSource, shown: ColumnDataSource, left: IndexFilter, hidden: IndexFilter
) -> None:
    """Draw every row, those that a wish hides as grey crosses beneath, and rings around what is shown."""
    from bokeh.models import CDSView, HoverTool, LabelSet, Scatter

    x, y = f"{where}_x", f"{where}_y"
    size = "view_size" if where == "view" else "size"
    grey = plot.scatter(
        x, y, source=rows, view=CDSView(filter=hidden), marker="x", size=5, line_color=HIDDEN, line_alpha=0.7
    )
    grey.selection_glyph = grey.nonselection_glyph = None
    dots = plot.scatter(
        x, y, source=rows, view=CDSView(filter=left), size=size, fill_color="fill", line_color=BLACK, line_width=0.6
    )
    dots.nonselection_glyph = None
    dots.selection_glyph = Scatter(x=x, y=y, size=size, marker="hex", fill_color="fill", line_color=BLACK, line_width=2)
    ring = {"fill_color": None, "line_color": "colour", "line_width": 3, "marker": "marker", "size": f"{where}_size"}
    rings = plot.scatter(x, y, source=shown, level=MOVING, **ring)  # above the names of the others
    rings.selection_glyph = rings.nonselection_glyph = None
    words: dict[str, Any] = {"text_font_size": "13px", "text_font_style": "bold", "text_color": "colour"}
    back: dict[str, Any] = {"background_fill_color": "white", "background_fill_alpha": 0.75}
    beside: dict[str, Any] = {"text_align": f"{where}_align", "x_offset": f"{where}_shift", "y_offset": 6}
    plot.add_layout(LabelSet(x=x, y=y, text=f"{where}_label", source=shown, **beside, **words, **back))
    plot.add_tools(HoverTool(renderers=[grey, dots], tooltips=f"@{where}_tip", point_policy="follow_mouse"))


def _view(
    front: Front, rows: ColumnDataSource, shown: ColumnDataSource, left: IndexFilter, hidden: IndexFilter
) -> figure:
    """The frame's front view with everything that is settled; a tyre where the first row has it at ride."""
    from bokeh.models import ColumnDataSource

    plot = view_figure(front.scenario)
    draw_settled(plot, front.scenario)
    ride = _at_ride(front)
    outline = ColumnDataSource(name="ride_tyre", data={"x": ride[:, 0], "y": ride[:, 1]})
    plot.line("x", "y", source=outline, line_color=GREY, line_width=1.2, line_dash=[2, 3])
    draw_corner(plot)
    _draw_rows(plot, "view", rows, shown, left, hidden)
    _add_tools(plot)
    return plot


def view_figure(scenario: Scenario) -> figure:
    """An empty front view of the frame."""
    from bokeh.models import Range1d

    words = f"({scenario.unit.symbol})"
    plot = blank_figure("view", x_range=Range1d(0, 1), y_range=Range1d(0, 1), background_fill_color="#FCFCFC")
    plot.xaxis.axis_label, plot.yaxis.axis_label = f"y, outboard {words}", f"z, up {words}"
    return plot


MOVING = "overlay"
"""Level of what moves: on a canvas of its own, so that it is drawn without axes, grid and map being drawn again.

The page's script keeps it inside the frame, which this level does not do by itself.
"""


def draw_corner(plot: figure, level: str = "glyph") -> None:
    """Room for lines and joints of the corners that are shown, which the page's script fills."""
    from bokeh.models import ColumnDataSource

    lines = ColumnDataSource(name="corner_lines", data=dict(LINES))
    _draw_lines(plot, lines, level)
    joints = ColumnDataSource(name="corner_joints", data=dict(DOTS))
    looks: dict[str, Any] = {"marker": "marker", "fill_color": "white", "line_color": "colour"}
    plot.scatter("x", "y", source=joints, size=7, level=level, **looks)


def _draw_lines(plot: figure, lines: ColumnDataSource, level: str = "glyph") -> None:
    looks: dict[str, Any] = {"line_color": "colour", "line_dash": "dash", "line_width": "width"}
    plot.multi_line("xs", "ys", source=lines, level=level, **looks)


def draw_settled(plot: figure, scenario: Scenario) -> None:
    """Draw ground, centre plane, bodywork, the room for the pivot and the lower arm's inner pivot."""
    from bokeh.models import Span

    corner, space, unit = scenario.corner, scenario.space, scenario.unit

    def show(points: Array) -> tuple[Array, Array]:
        y, z = unit.show(np.asarray(points, dtype=float), "length").T
        return y, z

    ground = float(unit.show(corner.ground_z, "length"))
    plot.add_layout(Span(location=ground, dimension="width", line_color=BLACK, line_width=2))
    plot.add_layout(Span(location=0.0, dimension="height", line_color=GREY, line_dash=[12, 3, 2, 3]))
    for outline in corner.outlines:
        plot.line(*show(outline), line_color=PURPLE, line_width=3.5, line_dash=[9, 2])
    (left, right), (low, high) = space.pivot_y, space.pivot_z
    box = np.array([[left, low], [right, low], [right, high], [left, high], [left, low]])
    plot.line(*show(box), line_color=BLACK, line_dash=[5, 3])
    if space.region is not None:
        plot.line(*show(np.vstack((space.region, space.region[:1]))), line_color=GREEN, line_width=2)
    for y, z, diameter in space.keep_out:
        hatch: dict[str, Any] = {"hatch_pattern": "right_diagonal_line", "hatch_color": VERMILION, "hatch_alpha": 0.7}
        (x_at,), (y_at,) = show(np.array([[y, z]]))
        radius = float(unit.show(diameter / 2, "length"))
        plot.circle([x_at], [y_at], radius=radius, fill_color=None, line_color=VERMILION, **hatch)
    inner = show(corner.lower_arm.inner_pivot[None, 1:])
    plot.scatter(*inner, marker="circle_dot", size=10, line_color=BLACK, fill_color="white")


def _at_ride(front: Front) -> Array:
    """Outline of the first row's tyre at ride, in the scenario's unit, shape (points, 2)."""
    curves = front.candidate(0).curves(np.zeros(1))
    outline = tyre_outline(front.scenario.corner.tyre, curves.wheel[:, 0, 0], curves.spin[:, 0, 0])
    found: Array = front.scenario.unit.show(np.vstack((outline, outline[:1])), "length")
    return found


def _trade(
    which: str, rows: ColumnDataSource, shown: ColumnDataSource, left: IndexFilter, hidden: IndexFilter
) -> figure:
    """One objective against another; which two is the reader's choice."""
    from bokeh.models import ColumnDataSource, Range1d

    plot = blank_figure(f"trade_{which}", x_range=Range1d(0, 1), y_range=Range1d(0, 1))
    targets = ColumnDataSource(name=f"targets_{which}", data=dict(LINES))
    _draw_lines(plot, targets)
    _draw_rows(plot, which, rows, shown, left, hidden)
    _add_tools(plot)
    return plot


def curve_figure(scenario: Scenario, kind: str) -> figure:
    """One curve of what is shown, with a dot at the travel of the moment, its limits and targets."""
    from bokeh.models import ColumnDataSource, Range1d

    unit, corner = scenario.unit, scenario.corner
    plot = blank_figure(f"curve_{kind}", x_range=Range1d(0, 1), y_range=Range1d(0, 1))
    across, up = _CURVE_WORDS[kind]
    plot.xaxis.axis_label, plot.yaxis.axis_label = (words.format(unit=unit.symbol) for words in (across, up))
    _draw_lines(plot, ColumnDataSource(name=f"bands_{kind}", data=dict(LINES)), MOVING)
    if kind == "camber":
        travel, camber = corner.camber_curve.T
        target = {"line_color": ORANGE, "line_width": 2, "line_dash": [6, 3]}
        x, y = unit.show(travel, "length"), unit.show(camber, "angle")
        target_source = ColumnDataSource(name="camber_target", data={"x": x, "y": y})
        plot.line("x", "y", source=target_source, **target)
        plot.scatter("x", "y", source=target_source, marker="diamond", size=8, color=ORANGE)
    _draw_lines(plot, ColumnDataSource(name=f"lines_{kind}", data=dict(LINES)), MOVING)
    dots = ColumnDataSource(name=f"dots_{kind}", data=dict(DOTS))
    looks: dict[str, Any] = {"marker": "marker", "fill_color": "colour", "line_color": "white"}
    plot.scatter("x", "y", source=dots, size=9, level=MOVING, **looks)
    return plot


_CURVE_WORDS = {
    "camber": ("travel ({unit})", "camber (deg)"),
    "toe": ("travel ({unit})", "toe (deg)"),
    "contact": ("sideways from ride ({unit})", "height ({unit})"),
    "rod_ends": ("travel ({unit})", "angle (deg)"),
}
