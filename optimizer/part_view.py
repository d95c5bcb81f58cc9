"""Obstacles, tubes and rim in the front view, to scale; told apart by hatching and by the lines they follow."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.patches import Polygon

from objectives.corner import Corner
from objectives.curves import Curves
from objectives.pairs import inner_ends
from objectives.parts import Obstacle, Rim, Tube
from objectives.ride import Circle
from objectives.vectors import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_OBSTACLE: dict[str, Any] = {"facecolor": "#FFFFFF", "edgecolor": "#000000", "hatch": "xxxx", "linewidth": 1.2}


def draw_obstacles(axes: Axes, obstacles: tuple[Obstacle, ...]) -> None:
    """Draw obstacles with their names, hatched crosswise; one legend entry."""
    for number, obstacle in enumerate(obstacles):
        pieces = list(pairwise(obstacle.points)) or [(obstacle.points[0], obstacle.points[0])]
        for piece, (begin, end) in enumerate(pieces):
            label = "" if number or piece else "obstacle"
            axes.add_patch(Polygon(tube_outline(begin, end, obstacle.radius), **_OBSTACLE, label=label))
        y, z = obstacle.points[np.argmax(obstacle.points[:, 1])]
        axes.annotate(
            obstacle.name.replace("$", r"\$"),
            (y, z + obstacle.radius),
            xytext=(0, 3),
            textcoords="offset points",
            ha="center",
            fontsize="small",
            bbox={"facecolor": "#FFFFFF", "edgecolor": "none", "alpha": 0.8, "pad": 0.5},
            zorder=6,
        )


def draw_parts(axes: Axes, corner: Corner, on_upper_axis: Array, curves: Curves, row: int, style: Any) -> None:
    """Draw the thickness of arms and tie rod, and the rim, of the first candidate of `curves` at one travel.

    Parameters
    ----------
    on_upper_axis
        Upper inner pivot, mm, shape (3,).
    style
        Colour and dash pattern of the position. Only ride is in the legend, and only its rim is dotted.
    """
    parts, at_ride = corner.parts, curves.travel[0, row] == 0.0
    outlines = _arm_outlines(parts.upper_arm, curves.upper_outer[:, 0, row], on_upper_axis, corner.upper_axis.direction)
    arm = corner.lower_arm
    outlines += _arm_outlines(parts.lower_arm, curves.lower_outer[:, 0, row], arm.inner_pivot, arm.direction)
    if parts.tie_rod_radius is not None:
        rod = curves.inner_joint[1:, 0, row], curves.steering_outer[1:, 0, row]
        outlines.append(tube_outline(*rod, parts.tie_rod_radius))
    for number, outline in enumerate(outlines):
        label = "" if number or not at_ride else "thickness of arms and tie rod"
        axes.plot(*np.vstack((outline, outline[:1])).T, **{**style, "linewidth": 0.7}, label=label)
    if parts.rim is not None:
        _draw_rim(axes, parts.rim, curves.wheel[:, 0, row], curves.spin[:, 0, row], style, at_ride)


def _arm_outlines(tube: Tube | None, outer: Array, on_axis: Array, direction: Array) -> list[Array]:
    if tube is None:
        return []
    circle = Circle.through(outer, on_axis, direction)
    return [tube_outline(outer[1:], inner[1:], tube.radius) for inner in inner_ends(circle, tube)]


def _draw_rim(axes: Axes, rim: Rim, wheel: Array, spin: Array, style: Any, at_ride: bool) -> None:
    """Draw the rim cut through its axis: barrel above and below, and everything outboard of the mounting face."""
    along = spin[1:] / np.hypot(*spin[1:])
    profile = rim_profile(rim)
    outline = wheel[1:] + profile[:, :1] * along + profile[:, 1:] * np.array([-along[1], along[0]])
    dots: dict[str, Any] = {"hatch": "....", "label": "rim, cut through its axis"} if at_ride else {}
    edge = {"edgecolor": style["color"], "linestyle": style["linestyle"], "linewidth": 0.8}
    axes.add_patch(Polygon(outline, fill=False, **edge, **dots))


def rim_profile(rim: Rim) -> Array:
    """Outline of the rim's section, axial and across the axis, closed, shape (9, 2), mm."""
    half, face = 0.5 * rim.width, min(rim.offset, 0.5 * rim.width)
    above = [(-half, rim.radius), (half, rim.radius)]
    below = [(half, -rim.radius), (-half, -rim.radius), (-half, -rim.inner_radius), (face, -rim.inner_radius)]
    inside = [(face, rim.inner_radius), (-half, rim.inner_radius), (-half, rim.radius)]
    return np.array(above + below + inside)


def tube_outline(begin: Array, end: Array, radius: float) -> Array:
    """Outline of a round-ended tube in the front view, shape (points, 2); ends y and z, shape (2,), mm."""
    heading = np.arctan2(end[1] - begin[1], end[0] - begin[0])
    turn = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 19)[:, None]
    half = radius * np.hstack((np.cos(heading + turn), np.sin(heading + turn)))
    return np.vstack((end + half, begin - half))
