"""The front view: y and z of the frame to scale, arms, kingpin, tie rod, tyre, bodywork and ground.

Every line here has its own dash pattern or marker besides its colour, so that it reads in black and white.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.patches import Circle, Polygon, Rectangle
from matplotlib.ticker import AutoLocator, FuncFormatter

from objectives.corner import Candidates, Corner, Tyre
from objectives.curves import Curves, curves_at
from objectives.joints import joints_of
from objectives.linkage import STRAIGHT
from objectives.ride import place
from objectives.tyre import Silhouette
from objectives.vectors import Array
from optimizer.candidate import Candidate, candidate_in
from optimizer.part_view import draw_obstacles, draw_parts
from optimizer.scenario import Scenario
from optimizer.space import PivotSpace
from optimizer.units import Quantity, Unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis

# Okabe and Ito, Color Universal Design, 2008
BLACK, ORANGE, SKY, GREEN = "#000000", "#E69F00", "#56B4E9", "#009E73"
BLUE, VERMILION, PURPLE, GREY = "#0072B2", "#D55E00", "#CC79A7", "#8A8A8A"


DOTS: dict[str, Any] = {"marker": ".", "linestyle": "none", "color": GREY, "markersize": 4}

Table = dict[str, np.ndarray]
"""Columns (N,) by name, mm and radians."""
Marked = Sequence[tuple[int, str]]
"""Rows to point out, and what to call each."""


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
        (GREY, (0, (1, 1)), "o"),
        (BLUE, (0, (12, 2)), "p"),
    )
)


def look(number: int) -> Look:
    """Return the look of the marked row of that number, counted from 0; they repeat after nine."""
    return _LOOKS[number % len(_LOOKS)]


def show_in(axis: Axis, unit: Unit, quantity: Quantity, words: str) -> None:
    """Label an axis that holds mm or radians with its words, and its ticks, in a unit or degrees."""

    class Round(AutoLocator):
        """Ticks at round numbers of the unit shown."""

        def tick_values(self, vmin: float, vmax: float) -> Any:
            size = unit.show(1.0, quantity)
            return np.asarray(super().tick_values(vmin * size, vmax * size)) / size

    axis.set_major_locator(Round())
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{unit.show(float(value), quantity) + 0.0:.6g}"))
    symbol = unit.symbol_of(quantity)
    axis.set_label_text(f"{words} ({symbol})" if symbol else words)


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
    draw_obstacles(axes, corner.parts.obstacles)
    axes.set_aspect("equal", adjustable="box")
    show_in(axes.xaxis, unit, "length", "y, outboard of the vehicle centre plane")
    show_in(axes.yaxis, unit, "length", "z, above the frame datum")


_BODY: dict[str, Any] = {"color": PURPLE, "linewidth": 2.5, "linestyle": (0, (6, 1.5))}


def draw_space(axes: Axes, space: PivotSpace) -> None:
    """Draw the pivot range, the region for brackets and the keep-outs."""
    (left, right), (low, high) = space.pivot_y, space.pivot_z
    box: dict[str, Any] = {"fill": False, "edgecolor": BLACK, "linestyle": "--", "linewidth": 1.0}
    axes.add_patch(Rectangle((left, low), right - left, high - low, **box, label="range searched"))
    if space.region is not None:
        axes.add_patch(Polygon(space.region, fill=False, edgecolor=GREEN, linewidth=1.8, label="region for brackets"))
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


def draw_fittings(axes: Axes, candidate: Candidate) -> None:
    """Draw what else the scenario gives, as it stands at ride: joint region, spindle holes, shock and strap."""
    scenario, corner = candidate.scenario, candidate.scenario.corner
    region = corner.steering.inner_region
    if region is not None:
        (y, z), (width, height) = region[:, 0], region[:, 1] - region[:, 0]
        box: dict[str, Any] = {"fill": False, "edgecolor": GREEN, "linestyle": ":", "linewidth": 1.4}
        axes.add_patch(Rectangle((y, z), width, height, **box, label="region of the inner tie-rod joint"))
    shock = corner.shock
    if shock is not None:
        style: dict[str, Any] = {"color": GREY, "linewidth": 5.0, "alpha": 0.6, "solid_capstyle": "round"}
        _draw_rod(axes, shock.link.arm_point, shock.link.frame_point, **style, label="shock at ride")
    if scenario.strap is not None:
        strap: dict[str, Any] = {"color": GREY, "linewidth": 1.6, "linestyle": (0, (1, 1)), "marker": "_"}
        _draw_rod(axes, scenario.strap.arm_point, scenario.strap.frame_point, **strap, label="limit strap at ride")
    if corner.spindle.upper_holes is not None:
        holes = place(corner, _in_every_hole(candidate)).upper_outer
        axes.plot(*holes[1:], color=BLACK, marker="x", linestyle="none", label="upper holes of the spindle")


def _in_every_hole(candidate: Candidate) -> Candidates:
    holes = candidate.scenario.corner.spindle.upper_holes
    assert holes is not None, "drawn only where there are several"
    batch, count = candidate.as_batch, holes.shape[1]
    return Candidates(batch.pivot_y, batch.pivot_z, batch.static_camber, np.arange(count))


def read(candidate: Candidate, travel: Array, shift: Array = STRAIGHT) -> Curves | None:
    """Read the curves of one candidate at `travel` (P,), or None where it does not even stand at ride."""
    corner, batch = candidate.scenario.corner, candidate.as_batch
    if not np.isfinite(place(corner, batch).ride_angle).all():
        return None
    return curves_at(corner, batch, travel, shift)


def say_not_standing(axes: Axes, name: str, how: Look) -> None:
    """Keep a candidate that cannot be assembled at ride in the legend, and say so there."""
    axes.plot([], [], **how.line(label=f"{name}: does not stand at ride"))


def draw_pivot_map(axes: Axes, scenario: Scenario, table: Table, marked: Marked) -> None:
    """Draw the pivots of a front, with upper arm and kingpin of the marked rows, at ride.

    Lower arm and tyre are drawn once, as in the first marked row, or the first row when none is marked.
    """
    draw_surroundings(axes, scenario.corner, scenario.unit)
    draw_space(axes, scenario.space)
    axes.plot(table["pivot_y"], table["pivot_z"], **DOTS, label="pivots of the front")
    for rank, (row, name) in enumerate(marked):
        _draw_marked(axes, candidate_in(scenario, table, row), name, look(rank))
    if table["pivot_y"].size:
        curves = read(candidate_in(scenario, table, marked[0][0] if marked else 0), np.zeros(1))
        if curves is not None:
            style: dict[str, Any] = {"color": BLACK, "linewidth": 2.4, "marker": "o", "label": "lower arm"}
            _draw_rod(axes, scenario.corner.lower_arm.inner_pivot, curves.lower_outer[:, 0, 0], **style)
            _draw_tyre(axes, scenario.corner, curves, 0, edgecolor=BLACK, linewidth=1.4, label="tyre")


def _draw_marked(axes: Axes, candidate: Candidate, name: str, how: Look) -> None:
    """Draw upper arm and kingpin of a marked row as one line from its marker at the inner pivot."""
    pivot, curves = (candidate.pivot_y, candidate.pivot_z), read(candidate, np.zeros(1))
    if curves is None:
        axes.plot(*pivot, **how.point(label=f"{name}: does not stand at ride"))
        return
    upper, lower = curves.upper_outer[1:, 0, 0], curves.lower_outer[1:, 0, 0]
    line = how.point(linestyle=how.dashes, linewidth=1.8, markevery=[0], zorder=4)
    axes.plot(*np.stack((pivot, upper, lower)).T, **line, label=f"upper arm and kingpin, {name}")


def draw_travel(axes: Axes, candidate: Candidate) -> None:
    """Draw one candidate at full droop, ride and full bump, steering straight ahead."""
    scenario, corner = candidate.scenario, candidate.scenario.corner
    draw_surroundings(axes, corner, scenario.unit)
    draw_space(axes, scenario.space)
    draw_fittings(axes, candidate)
    travel = np.array([-corner.travel.droop, 0.0, corner.travel.bump])
    unit, step = scenario.unit, scenario.build.round_to
    curves = read(candidate, travel)
    for row, (name, how) in enumerate(_POSITIONS):
        said = f"{name}, {unit.tape(abs(float(travel[row])), step)}" if travel[row] else name
        if curves is not None and _bends_too_far(corner, curves, row):
            said += " (a joint is past its angle)"
        if curves is None:
            say_not_standing(axes, said, how)
        elif np.isnan(curves.camber[0, row]):
            axes.plot([], [], **how.line(label=f"{said}: locks before it gets here"))
        else:
            _draw_corner(axes, candidate, curves, row, said, how)
    if curves is None:
        axes.plot(
            candidate.pivot_y, candidate.pivot_z, color=BLACK, marker="X", linestyle="none", label="upper inner pivot"
        )


def draw_ride(axes: Axes, candidate: Candidate) -> None:
    """Draw one candidate as it stands at ride, steering straight ahead."""
    scenario = candidate.scenario
    draw_surroundings(axes, scenario.corner, scenario.unit)
    draw_space(axes, scenario.space)
    curves = read(candidate, np.zeros(1))
    if curves is not None:
        _draw_corner(axes, candidate, curves, 0, *_POSITIONS[1])


def _bends_too_far(corner: Corner, curves: Curves, row: int) -> bool:
    """Whether a joint has run out of angle at one travel."""
    return any(getattr(curves, joint.column)[0, row] > joint.max_angle for joint in joints_of(corner))


_POSITIONS = (
    ("full droop", Look(BLUE, "--", "v")),
    ("ride", Look(BLACK, "-", "o")),
    ("full bump", Look(VERMILION, "-.", "^")),
)


def _draw_corner(axes: Axes, candidate: Candidate, curves: Curves, row: int, name: str, how: Look) -> None:
    """Draw arms, kingpin, tie rod and tyre of one candidate at one travel, in one look, one legend entry."""
    corner = candidate.scenario.corner
    lower, upper = curves.lower_outer[:, 0, row], curves.upper_outer[:, 0, row]
    inner = np.array([corner.upper_axis.pivot_x, candidate.pivot_y, candidate.pivot_z])
    arm = how.line(linewidth=2.2, marker=how.marker, markersize=5)
    _draw_rod(axes, corner.lower_arm.inner_pivot, lower, **arm, label=name)
    _draw_rod(axes, inner, upper, **arm)
    _draw_rod(axes, lower, upper, **how.line(linewidth=1.2))
    tie_rod = curves.inner_joint[:, 0, row], curves.steering_outer[:, 0, row]
    _draw_rod(axes, *tie_rod, **how.line(linewidth=1.0, marker="."))
    _draw_tyre(axes, corner, curves, row, edgecolor=how.colour, linestyle=how.dashes, linewidth=1.4)
    draw_parts(axes, corner, inner, curves, row, how.line())


def _draw_rod(axes: Axes, begin: Array, end: Array, **style: Any) -> None:
    """Draw a straight line between two points of the frame, shape (3,) each."""
    axes.plot([begin[1], end[1]], [begin[2], end[2]], **style)


def _draw_tyre(axes: Axes, corner: Corner, curves: Curves, row: int, **style: Any) -> None:
    """Draw the tyre of the first candidate of `curves` at one travel."""
    outline = tyre_outline(corner.tyre, curves.wheel[:, 0, row], curves.spin[:, 0, row])
    axes.add_patch(Polygon(outline, fill=False, **style))
