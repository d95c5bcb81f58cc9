"""Pictures of a front and of one candidate, each as PNG and SVG: to look at, print and hand over."""

from __future__ import annotations

import textwrap
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

from objectives.corner import Corner
from objectives.motion import steering_positions
from objectives.objective import Column, Objective
from objectives.vectors import Array
from optimizer import frame_view as view
from optimizer.frame_view import BLACK, BLUE, GREY, VERMILION, Look, Marked, Pivot, Table, look, show_in
from optimizer.scenario import Scenario, Target
from optimizer.units import Quantity, Unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_POINTS = 121  # travels of a curve
_CHOSEN = Look(BLUE, "-", "o")
_BASELINE = Look(VERMILION, "--", "s")
_PIVOT_COLUMNS = (
    Column("pivot_y", "Pivot y", "length"),
    Column("pivot_z", "Pivot z", "length"),
    Column("arm_length", "Arm length", "length"),
)


def draw_front(scenario: Scenario, table: Table, marked: Marked, folder: Path) -> list[Path]:
    """Draw a front: "tradeoffs", "parallel" and "pivot_map".

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

    Returns
    -------
    The files written, PNG and SVG of each picture.
    """
    draw = {"tradeoffs": _tradeoffs, "parallel": _parallel, "pivot_map": _pivot_map}
    return _write(scenario, folder, draw, table, marked)


def draw_candidate(scenario: Scenario, pivot: Pivot, folder: Path, baseline: Pivot | None = None) -> list[Path]:
    """Draw one candidate: "camber", "contact_path", "rod_ends", "toe" and "front_view".

    Parameters
    ----------
    scenario
        What is settled.
    pivot, baseline
        The candidate, and one to compare it with: y and z of the upper inner pivot (mm), static camber
        (radians).
    folder
        Made if it is not there.

    Returns
    -------
    The files written, PNG and SVG of each picture. A candidate that locks is drawn as far as it goes.
    """
    candidates = [(pivot, "this candidate", _CHOSEN)]
    if baseline is not None:
        candidates.append((baseline, "baseline", _BASELINE))
    draw = {
        "camber": _camber,
        "contact_path": _contact_path,
        "rod_ends": _rod_ends,
        "toe": _toe,
        "front_view": _front_view,
    }
    return _write(scenario, folder, draw, candidates)


def draw_front_view(scenario: Scenario, pivot: Pivot, file: Path, made_by: str) -> None:
    """Draw the front view alone, as one PNG whose metadata say what made it."""
    with _paper(scenario):
        figure = _front_view(scenario, [(pivot, "this candidate", _CHOSEN)])
        figure.savefig(file, dpi=150, format="png", metadata={"Software": made_by})


_Named = Sequence[tuple[Pivot, str, Look]]


@contextmanager
def _paper(scenario: Scenario) -> Iterator[None]:
    """Settings under which the same input gives the same file and any text is shown as it is written."""
    fixed: dict[Any, Any] = {
        "text.parse_math": False,
        "text.usetex": False,
        "svg.hashsalt": scenario.title,
        "axes.axisbelow": True,
        "axes.grid": True,
        "grid.color": "#DDDDDD",
        "legend.framealpha": 0.9,
        "legend.handlelength": 4.0,
        "font.size": 9,
    }
    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()
        mpl.rcParams.update(fixed)
        # a title may hold characters the font lacks: they show as boxes
        warnings.filterwarnings("ignore", message="Glyph")
        warnings.filterwarnings("ignore", message="Matplotlib currently does not support")
        yield


def _sheet(scenario: Scenario, words: str, width: float, height: float) -> Figure:
    figure = Figure(figsize=(width, height), layout=ConstrainedLayoutEngine(w_pad=0.09, h_pad=0.07))
    FigureCanvasAgg(figure)
    title = textwrap.shorten(scenario.title, 160, placeholder=" …")
    figure.suptitle(textwrap.fill(f"{title}: {words}", int(width * 10)), fontsize=11)
    return figure


def _write(scenario: Scenario, folder: Path, pictures: Mapping[str, Callable[..., Figure]], *shown: Any) -> list[Path]:
    """Draw each picture of what is shown and write it to `folder`; return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, picture in pictures.items():
        with _paper(scenario):
            figure = picture(scenario, *shown)
            figure.savefig(folder / f"{name}.png", dpi=150)
            figure.savefig(folder / f"{name}.svg", metadata={"Date": None})
        written += [folder / f"{name}.png", folder / f"{name}.svg"]
    return written


# A front.


def _tradeoffs(scenario: Scenario, table: Table, marked: Marked) -> Figure:
    traded = [objective for objective in scenario.measured if scenario.targets[objective.name].traded]
    pairs = list(combinations(traded, 2))
    across = min(4, max(1, len(pairs)))
    down = max(1, -(-len(pairs) // across))
    figure = _sheet(scenario, "what is traded against what", max(6.0, 3.3 * across), 3.0 * down + 1.2)
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
        show_in(axes.xaxis, scenario.unit, _quantity(first), _words(first))
        show_in(axes.yaxis, scenario.unit, _quantity(second), _words(second))
    _legend_below(figure)
    return figure


def _quantity(column: Column) -> Quantity:
    assert column.quantity != "text"
    return column.quantity


def _words(objective: Objective) -> str:
    return f"{objective.title}, {objective.better} is better"


def _draw_target(axes: Axes, target: Target, objective: Objective, upright: bool) -> None:
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


def _legend_below(figure: Figure) -> None:
    """Put one legend for all of a figure's axes below them, each entry once."""
    entries: dict[str, Any] = {}
    for axes in figure.axes:
        for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
            entries.setdefault(label, handle)
    labels = [textwrap.shorten(label, 90, placeholder=" …") for label in entries]
    longest = max(map(len, labels), default=1)
    columns = max(1, min(len(labels), int(figure.get_figwidth() * 11 / (longest + 10))))
    figure.legend(list(entries.values()), labels, loc="outside lower center", ncols=columns)


def _parallel(scenario: Scenario, table: Table, marked: Marked) -> Figure:
    columns = [c for c in (*_PIVOT_COLUMNS, *scenario.asked) if np.isfinite(table[c.name]).any()]
    figure = _sheet(scenario, "every row of the front, better end of each objective up", 11.0, 5.6)
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
        _legend_below(figure)
    return figure


def _falls(column: Column) -> bool:
    return isinstance(column, Objective) and column.better == "less"


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
        text = f"{unit.show(value, _quantity(column)) + 0.0:.4g}"
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
    symbol = unit.symbol_of(_quantity(column))
    better = f"\n{column.better} is better" if isinstance(column, Objective) else ""
    return f"{column.title}\n({symbol}){better}"


def _pivot_map(scenario: Scenario, table: Table, marked: Marked) -> Figure:
    figure = _sheet(scenario, "where the upper inner pivots are, front view at ride", 10.0, 8.6)
    view.draw_pivot_map(figure.add_subplot(), scenario, table, marked)
    _legend_below(figure)
    return figure


# One candidate.


def _travel(corner: Corner) -> Array:
    """Travels of a curve: the required droop to the required bump, with ride itself."""
    return np.union1d(np.linspace(-corner.travel.droop, corner.travel.bump, _POINTS), [0.0])


def _draw_curve(axes: Axes, across: Array, up: Array, **style: Any) -> None:
    """Draw a curve, and say at its inner ends that the candidate locks."""
    axes.plot(across, up, **style)
    there = np.flatnonzero(np.isfinite(across) & np.isfinite(up))
    if not there.size:
        return
    for end, last in ((there[0], 0), (there[-1], across.size - 1)):
        if end != last:
            axes.plot(across[end], up[end], marker="X", color=style["color"], markeredgecolor=BLACK, zorder=5)
            axes.annotate(
                "locks here",
                (across[end], up[end]),
                xytext=(0, 9),
                ha="center",
                textcoords="offset points",
                bbox={"facecolor": "white", "edgecolor": style["color"], "pad": 1.5},
                zorder=6,
            )


def _over_travel(scenario: Scenario, words: str, label: str) -> tuple[Figure, Axes, Array]:
    """Start a picture of an angle against travel."""
    figure = _sheet(scenario, words, 7.5, 5.2)
    axes = figure.add_subplot()
    axes.axhline(0.0, color=BLACK, linewidth=0.8)
    axes.axvline(0.0, color=BLACK, linewidth=0.8)
    show_in(axes.xaxis, scenario.unit, "length", "wheel travel, bump +, droop -")
    show_in(axes.yaxis, scenario.unit, "angle", label)
    return figure, axes, _travel(scenario.corner)


def _draw_angles(axes: Axes, scenario: Scenario, candidates: _Named, travel: Array, angle: str) -> None:
    for pivot, name, how in candidates:
        curves = view.read(scenario.corner, pivot, travel)
        if curves is None:
            view.say_not_standing(axes, name, how)
        else:
            _draw_curve(axes, travel, getattr(curves, angle)[0], **how.line(linewidth=2, label=name))


def _camber(scenario: Scenario, candidates: _Named) -> Figure:
    figure, axes, travel = _over_travel(scenario, "camber over travel", "camber, top outboard +")
    target = scenario.corner.camber_curve
    axes.plot(*target.T, color=view.ORANGE, linestyle="-.", marker="D", markersize=5, label="target")
    _draw_angles(axes, scenario, candidates, travel, "camber")
    _legend_below(figure)
    return figure


def _toe(scenario: Scenario, candidates: _Named) -> Figure:
    figure, axes, travel = _over_travel(scenario, "toe over travel, straight ahead", "toe, toe-in +")
    _draw_angles(axes, scenario, candidates, travel, "toe")
    _legend_below(figure)
    return figure


def _rod_ends(scenario: Scenario, candidates: _Named) -> Figure:
    """Draw only the candidate itself: with a baseline the lines would be too many to tell apart."""
    corner = scenario.corner
    figure, axes, travel = _over_travel(scenario, "rod-end angles over travel", "angle to the bolt axis")
    pivot, name, _ = candidates[0]
    for (position, shift), marker in zip(steering_positions(corner), ("", "v", "^"), strict=False):
        curves = view.read(corner, pivot, travel, shift)
        for end, how in _ROD_ENDS.items():
            said = f"{end} rod end, {position}"
            if curves is None:
                view.say_not_standing(axes, name, how)
                continue
            angle = getattr(curves, f"{end}_rod_end")[0]
            style = how.line(linewidth=1.8, marker=marker, markevery=12, label=said)
            _draw_curve(axes, travel, angle, **style)
    for end, how in _ROD_ENDS.items():
        _draw_rod_end_limit(axes, scenario, end, how)
    axes.margins(y=0.1)
    _legend_below(figure)
    return figure


def _draw_rod_end_limit(axes: Axes, scenario: Scenario, end: str, how: Look) -> None:
    """Draw the largest angle of one rod end, its words above ride, where rod ends stand straightest."""
    steering = scenario.corner.steering
    limit = float(getattr(steering, f"{end}_rod_end").max_angle)
    highest = limit >= max(steering.outer_rod_end.max_angle, steering.inner_rod_end.max_angle)
    highest = highest and (end == "inner" or steering.outer_rod_end.max_angle > steering.inner_rod_end.max_angle)
    axes.axhline(limit, color=how.colour, linestyle=how.dashes, linewidth=0.9)
    axes.annotate(
        f"{end} rod end: largest angle {scenario.unit.say(limit, 'angle')}",
        (0.0, limit),
        xytext=(0, 4 if highest else -4),
        textcoords="offset points",
        ha="center",
        va="bottom" if highest else "top",
        color=how.colour,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
    )


_ROD_ENDS = {"outer": Look(BLUE, "-", ""), "inner": Look(VERMILION, "--", "")}


def _contact_path(scenario: Scenario, candidates: _Named) -> Figure:
    corner, travel = scenario.corner, _travel(scenario.corner)
    figure = _sheet(scenario, "path of the contact centre", 5.6, 6.8)
    axes = figure.add_subplot()
    axes.axvline(0.0, color=BLACK, linewidth=1.2, linestyle=":", label="plumb line through ride")
    for pivot, name, how in candidates:
        curves = view.read(corner, pivot, travel)
        if curves is None:
            view.say_not_standing(axes, name, how)
            continue
        ride = int(np.flatnonzero(travel == 0.0)[0])
        sideways, height = (curves.contact[axis, 0] - curves.contact[axis, 0, ride] for axis in (1, 2))
        _draw_curve(axes, sideways, height, **how.line(linewidth=2, label=name))
    axes.margins(0.12)
    show_in(axes.xaxis, scenario.unit, "length", "sideways from ride, outboard +, scale stretched")
    show_in(axes.yaxis, scenario.unit, "length", "height above ride position")
    _legend_below(figure)
    return figure


def _front_view(scenario: Scenario, candidates: _Named) -> Figure:
    words = "front view at full droop, ride and full bump (thin: kingpin, tie rod)"
    figure = _sheet(scenario, words, 10.0, 9.0)
    view.draw_travel(figure.add_subplot(), scenario, candidates[0][0])
    _legend_below(figure)
    return figure
