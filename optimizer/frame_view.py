"""The front view: y and z of the frame to scale, arms, kingpin, tie rod, tyre, bodywork and ground.

Every line here has its own dash pattern or marker besides its colour, so that it reads in black and white.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.patches import Circle, Polygon, Rectangle
from matplotlib.ticker import FuncFormatter

from objectives.corner import Corner, Tyre
from objectives.curves import Curves
from objectives.tyre import Silhouette
from objectives.vectors import Array
from optimizer.space import PivotSpace
from optimizer.units import Quantity, Unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis

# Okabe and Ito, Color Universal Design, 2008
BLACK, ORANGE, SKY, GREEN = "#000000", "#E69F00", "#56B4E9", "#009E73"
BLUE, VERMILION, PURPLE, GREY = "#0072B2", "#D55E00", "#CC79A7", "#8A8A8A"


@dataclass(frozen=True)
class Look:
    """Colour, dash pattern and marker that belong together, so that any one of them tells lines apart."""

    colour: str
    dashes: Any
    marker: str

    def line(self, **changes: Any) -> dict[str, Any]:
        """Arguments of a line in this look."""
        return {"color": self.colour, "linestyle": self.dashes, **changes}

    def point(self, **changes: Any) -> dict[str, Any]:
        """Arguments of a marker alone in this look."""
        whole = {"color": self.colour, "marker": self.marker, "linestyle": "none"}
        return {**whole, "markeredgecolor": BLACK, "markersize": 8, **changes}


_LOOKS = tuple(
    Look(colour, dashes, marker)
    for colour, dashes, marker in (
        (VERMILION, "-", "s"),
        (BLUE, "--", "^"),
        (GREEN, "-.", "D"),
        (ORANGE, ":", "v"),
        (PURPLE, (0, (5, 1, 1, 1, 1, 1)), "P"),
        (SKY, (0, (8, 3)), "X"),
        (BLACK, (0, (3, 1, 1, 1)), "*"),
    )
)


def look(number: int) -> Look:
    """Return the look of the marked row of that number, counted from 0; they repeat after seven."""
    return _LOOKS[number % len(_LOOKS)]


def show_in(axis: Axis, unit: Unit, quantity: Quantity, words: str) -> None:
    """Label an axis that holds mm or radians with its words, and its ticks, in the scenario's unit or degrees."""
    from matplotlib.ticker import AutoLocator

    class Round(AutoLocator):
        """Ticks at round numbers of the unit shown."""

        def tick_values(self, vmin: float, vmax: float) -> Any:
            size = unit.show(1.0, quantity)
            return np.asarray(super().tick_values(vmin * size, vmax * size)) / size

    axis.set_major_locator(Round())
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{unit.show(float(value), quantity) + 0.0:.6g}"))
    axis.set_label_text(f"{words} ({unit.symbol_of(quantity)})")


def tyre_outline(tyre: Tyre, wheel: Array, spin: Array) -> Array:
    """Outline of one tyre in the front view at its true camber, shape (points, 2); `wheel`, `spin` (3,), mm.

    Each point is where the silhouette touches a line square to a direction: its straight half-length, its
    ellipse's own touching point, and the shoulder along the direction.
    """
    seen = Silhouette.of(tyre, wheel[:, None], spin[:, None])
    turn = (np.arange(360) + 0.5) * (np.pi / 180.0)
    cos, sin = np.cos(turn), np.sin(turn)
    reach = np.hypot(seen.thin * cos, seen.tall * sin)
    along = np.copysign(seen.flat, cos) + seen.thin**2 * cos / reach + seen.shoulder * cos
    across = seen.tall**2 * sin / reach + seen.shoulder * sin
    return np.stack(
        (
            seen.centre[0] + along * seen.along[0] - across * seen.along[1],
            seen.centre[1] + along * seen.along[1] + across * seen.along[0],
        ),
        axis=1,
    )


def draw_surroundings(axes: Axes, corner: Corner, unit: Unit) -> None:
    """Draw ground at ride, the vehicle centre plane and bodywork; set equal scales and both axes' words."""
    axes.axhline(corner.ground_z, color=BLACK, linewidth=1.6, label="ground at ride")
    axes.axvline(0.0, color=GREY, linewidth=1.0, linestyle=(0, (12, 3, 2, 3)), label="vehicle centre plane")
    for number, outline in enumerate(corner.outlines):
        axes.plot(*outline.T, **_BODY, label="" if number else "bodywork")
    axes.set_aspect("equal", adjustable="datalim")
    show_in(axes.xaxis, unit, "length", "y, outboard of the vehicle centre plane")
    show_in(axes.yaxis, unit, "length", "z, above the frame datum")


_BODY: dict[str, Any] = {"color": PURPLE, "linewidth": 2.5, "linestyle": (0, (6, 1.5))}


def draw_space(axes: Axes, space: PivotSpace) -> None:
    """Draw the pivot range, the region for brackets and the keep-outs."""
    (left, right), (low, high) = space.pivot_y, space.pivot_z
    box = {"fill": False, "edgecolor": BLACK, "linestyle": "--", "linewidth": 1.0}
    axes.add_patch(Rectangle((left, low), right - left, high - low, **box, label="range searched"))
    if space.region is not None:
        axes.add_patch(
            Polygon(space.region, fill=False, edgecolor=GREEN, linewidth=1.8, label="region for brackets")
        )
    for number, (y, z, diameter) in enumerate(space.keep_out):
        axes.add_patch(
            Circle(
                (y, z),
                diameter / 2,
                facecolor="none",
                edgecolor=VERMILION,
                hatch="////",
                label="" if number else "keep-out",
            )
        )


def draw_tyre(axes: Axes, corner: Corner, curves: Curves, row: int, **style: Any) -> None:
    """Draw the tyre of the first candidate of `curves` at one travel."""
    outline = tyre_outline(corner.tyre, curves.wheel[:, 0, row], curves.spin[:, 0, row])
    axes.add_patch(Polygon(outline, fill=False, **style))


def draw_lower(axes: Axes, corner: Corner, curves: Curves, row: int, **style: Any) -> None:
    """Draw the lower arm at one travel, from its measured inner pivot to its outer one."""
    _draw_rod(axes, corner.lower_arm.inner_pivot[1:], curves.lower_outer[1:, 0, row], **style)


def draw_upper(axes: Axes, pivot: Sequence[float], curves: Curves, row: int, **style: Any) -> None:
    """Draw the upper arm at one travel from its inner pivot, y and z."""
    _draw_rod(axes, np.asarray(pivot[:2]), curves.upper_outer[1:, 0, row], **style)


def draw_kingpin(axes: Axes, curves: Curves, row: int, **style: Any) -> None:
    """Draw the line between the outer pivots at one travel."""
    _draw_rod(axes, curves.lower_outer[1:, 0, row], curves.upper_outer[1:, 0, row], **style)


def draw_tie_rod(axes: Axes, corner: Corner, curves: Curves, row: int, **style: Any) -> None:
    """Draw the tie rod at one travel, steering straight ahead."""
    _draw_rod(axes, corner.steering.inner_joint[1:], curves.steering_outer[1:, 0, row], **style)


def _draw_rod(axes: Axes, begin: Array, end: Array, **style: Any) -> None:
    axes.plot([begin[0], end[0]], [begin[1], end[1]], **style)


def draw_corner(
    axes: Axes, corner: Corner, pivot: Sequence[float], curves: Curves, row: int, name: str, how: Look
) -> None:
    """Draw arms, kingpin, tie rod and tyre of one candidate at one travel, in one look, one legend entry."""
    parts: tuple[tuple[Callable[..., None], tuple[Any, ...], float, str], ...] = (
        (draw_lower, (corner, curves), 2.2, "o"),
        (draw_upper, (pivot, curves), 2.2, how.marker),
        (draw_kingpin, (curves,), 1.2, ""),
        (draw_tie_rod, (corner, curves), 1.0, "."),
    )
    for number, (draw, given, width, marker) in enumerate(parts):
        label = "" if number else name
        draw(axes, *given, row, **how.line(linewidth=width, marker=marker, markersize=5, label=label))
    draw_tyre(axes, corner, curves, row, edgecolor=how.colour, linestyle=how.dashes, linewidth=1.4)
