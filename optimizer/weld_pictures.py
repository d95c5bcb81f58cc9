"""Picture of where the upper inner pivot may be welded: in the whole front view, and close up."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from optimizer import frame_view as view
from optimizer.candidate import Candidate
from optimizer.frame_view import BLACK, BLUE, GREEN, GREY, ORANGE, VERMILION, show_in
from optimizer.scenario import Scenario
from optimizer.sheet import legend_below, sheet, write_pictures
from optimizer.weld_region import WeldRegion
from optimizer.weld_words import fine, tape_circle, tape_rectangle

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_PICK: dict[str, Any] = {"marker": "X", "linestyle": "none", "markersize": 10, "color": VERMILION}
_CIRCLE: dict[str, Any] = {"fill": False, "edgecolor": BLUE, "linewidth": 2.2}
_RECTANGLE: dict[str, Any] = {"fill": False, "edgecolor": ORANGE, "linewidth": 2.2, "linestyle": "--"}


def draw_weld_region(candidate: Candidate, region: WeldRegion, folder: Path) -> list[Path]:
    """Draw the weld region of a candidate as PNG and SVG."""
    return write_pictures(candidate.scenario, folder, {"weld_region": _weld_region}, candidate, region)


def _weld_region(scenario: Scenario, candidate: Candidate, region: WeldRegion) -> Figure:
    share = f"{100.0 * scenario.build.required_yield:.3g} of 100 builds"
    figure = sheet(scenario, f"where the upper inner pivot may be welded for {share} to keep every limit", 13.4, 7.2)
    whole, close = figure.subplots(1, 2)
    view.draw_ride(whole, candidate)
    whole.axhline(0.0, color=GREY, linewidth=1.0, linestyle=(0, (2, 3)), label="frame datum")
    _draw_shapes(whole, scenario, region, legend=False)
    _draw_measures(whole, scenario, region)
    _draw_close(close, scenario, candidate, region, share)
    legend_below(figure)
    return figure


def _draw_close(axes: Axes, scenario: Scenario, candidate: Candidate, region: WeldRegion, share: str) -> None:
    """The region close up, with its yields, coordinates read from centre plane and frame datum."""
    unit, required = scenario.unit, scenario.build.required_yield
    levels = np.unique([*np.linspace(0.0, required, 6)[1:], required, 1.0])
    axes.contourf(region.y, region.z, region.share, [0.0, *levels], cmap="Greys_r", vmin=-0.6, vmax=1.0)
    lines = axes.contour(region.y, region.z, region.share, levels[:-2], colors=BLACK, linewidths=0.6)
    axes.clabel(lines, fmt=lambda level: f"{100.0 * level:.0f}", fontsize=8)
    axes.set_title("of 100 builds that keep every limit with the pivot there", fontsize=9)
    if region.inside.any():
        axes.contour(region.y, region.z, region.inside.astype(float), [0.5], colors=GREEN, linewidths=2.4)
        axes.plot([], [], color=GREEN, linewidth=2.4, label=f"{share} keep every limit inside")
    _draw_shapes(axes, scenario, region, legend=True)
    tolerance = float(scenario.build.tolerance_of("pivot").at(np.array(max(candidate.pivot_y, candidate.pivot_z))))
    corner = candidate.pivot_y - tolerance, candidate.pivot_z - tolerance
    held: dict[str, Any] = {"fill": False, "edgecolor": VERMILION, "linestyle": ":", "linewidth": 1.6}
    axes.add_patch(Rectangle(corner, 2.0 * tolerance, 2.0 * tolerance, **held, label="the pick's own tolerance"))
    axes.plot(candidate.pivot_y, candidate.pivot_z, **_PICK, markeredgecolor=BLACK, label="the pick")
    axes.set_aspect("equal", adjustable="box")
    axes.set_xlim(region.y[0], region.y[-1])
    axes.set_ylim(region.z[0], region.z[-1])
    show_in(axes.xaxis, unit, "length", "y, from the vehicle centre plane outboard")
    show_in(axes.yaxis, unit, "length", "z, from the frame datum up")


def _draw_measures(axes: Axes, scenario: Scenario, region: WeldRegion) -> None:
    """How far the middle of the circle is from the two reference lines."""
    circle = tape_circle(scenario, region)
    if circle is None:
        return
    y, z, _ = circle.place
    arrow: dict[str, Any] = {"arrowstyle": "<->", "color": BLUE, "shrinkA": 0, "shrinkB": 0}
    box: dict[str, Any] = {"facecolor": "white", "edgecolor": BLUE, "pad": 1.5}
    for end, words, at, shift in (
        ((0.0, z), fine(scenario, y), (0.5 * y, z), (0, 12)),
        ((y, 0.0), fine(scenario, z), (y, 0.5 * z), (-6, 0)),
    ):
        axes.annotate("", (y, z), xytext=end, arrowprops=arrow)
        side = "center" if shift[1] else "right"
        axes.annotate(words, at, xytext=shift, textcoords="offset points", ha=side, va="center", bbox=box, zorder=7)


def _draw_shapes(axes: Axes, scenario: Scenario, region: WeldRegion, legend: bool) -> None:
    """The circle and the rectangle a builder can mark out, on tape marks."""
    circle, rectangle = tape_circle(scenario, region), tape_rectangle(scenario, region)
    if circle is not None:
        y, z, radius = circle.place
        axes.add_patch(Circle((y, z), radius, **_CIRCLE, label=circle.short if legend else ""))
        axes.plot(y, z, marker="+", color=BLUE, markersize=10, markeredgewidth=1.8)
    if rectangle is not None:
        left, right, low, high = rectangle.place
        box = Rectangle((left, low), right - left, high - low, **_RECTANGLE, label=rectangle.short if legend else "")
        axes.add_patch(box)
