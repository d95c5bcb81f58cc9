"""Which parts of a corner may meet, and the gap of each pair at any position."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from objectives.corner import Corner
from objectives.distances import point_to_segment, segments_in_plane, segments_in_space
from objectives.linkage import over_positions
from objectives.parts import Obstacle, Tube
from objectives.ride import Circle
from objectives.sweep import Sweep
from objectives.tyre import Silhouette, outline_gap
from objectives.vectors import Array, beside
from objectives.wheel import Solid, rim_solid, tube_gap, tyre_solid


@dataclass(frozen=True)
class Pair:
    """Two parts, in words, and their signed gap (mm, shape (P, N)) over a sweep.

    `rough` is a gap good enough to tell which pairs may be the nearest, where that is cheaper than the gap.
    """

    parts: str
    gap: Callable[[Sweep], Array]
    rough: Callable[[Sweep], Array]


@dataclass(frozen=True)
class _Leg:
    """One tube of an arm: its name, its two ends over a sweep, (3, P, N) and (3, 1, N) or (3, 1, 1), and radius."""

    name: str
    ends: Callable[[Sweep], tuple[Array, Array]]
    radius: float


def pairs_of(corner: Corner) -> tuple[Pair, ...]:
    """Every pair of parts that may meet; none where the corner has no parts with a size."""
    upper, lower = _legs("upper arm", corner.parts.upper_arm), _legs("lower arm", corner.parts.lower_arm)
    return (
        *(_tyre_and(obstacle) for obstacle in corner.parts.obstacles),
        *(_leg_and_obstacle(leg, obstacle) for leg in upper for obstacle in corner.parts.obstacles),
        *_legs_and_wheel(corner, upper),
        *_tie_rod_and_legs(corner, (*upper, *lower)),
    )


def inner_ends(circle: Circle, tube: Tube) -> tuple[Array, ...]:
    """Where an arm's tubes end on its inner axis, shape (3,) or (3, N) each: front and rear, or one square to it."""
    if tube.legs_x is None:
        return (circle.centre,)
    axis = beside(circle.axis, circle.centre.ndim - 1)
    return tuple(circle.centre + (x - circle.centre[0]) / axis[0] * axis for x in tube.legs_x)


def _legs(arm: str, tube: Tube | None) -> tuple[_Leg, ...]:
    if tube is None:
        return ()

    def leg(name: str, number: int) -> _Leg:
        def ends(sweep: Sweep) -> tuple[Array, Array]:
            is_upper = arm == "upper arm"
            outer = sweep.pose.upper_outer if is_upper else sweep.pose.lower_outer
            inner = inner_ends(sweep.placed.upper if is_upper else sweep.placed.lower, tube)[number]
            return outer, over_positions(inner.reshape(3, -1))

        return _Leg(name, ends, tube.radius)

    names = (arm,) if tube.legs_x is None else (f"{arm}'s front leg", f"{arm}'s rear leg")
    return tuple(leg(name, number) for number, name in enumerate(names))


def _tyre_and(obstacle: Obstacle) -> Pair:
    def gap(sweep: Sweep) -> Array:
        silhouette = Silhouette.of(sweep.placed.corner.tyre, sweep.pose.wheel, sweep.pose.spin)
        return outline_gap(silhouette, obstacle.points) - obstacle.radius

    return Pair(f"tyre and {obstacle.name}", gap, gap)


def _leg_and_obstacle(leg: _Leg, obstacle: Obstacle) -> Pair:
    """In the front view: the obstacle runs along x, so its distance from a tube is that of their views along x."""
    corners = [point.reshape(2, 1, 1) for point in obstacle.points]

    def gap(sweep: Sweep) -> Array:
        outer, inner = (end[1:] for end in leg.ends(sweep))
        if len(corners) == 1:
            between = point_to_segment(corners[0], outer, inner)
        else:
            pieces = (segments_in_plane(outer, inner, *piece) for piece in pairwise(corners))
            between = np.minimum.reduce(list(pieces))
        return between - leg.radius - obstacle.radius

    return Pair(f"{leg.name} and {obstacle.name}", gap, gap)


def _legs_and_wheel(corner: Corner, legs: tuple[_Leg, ...]) -> Iterator[Pair]:
    rim = corner.parts.rim
    if rim is not None:
        for leg in legs:
            yield _leg_and_solid(leg, "tyre", tyre_solid(corner.tyre, rim))
            yield _leg_and_solid(leg, "rim", rim_solid(rim))


def _leg_and_solid(leg: _Leg, name: str, solid: Solid) -> Pair:
    def gap(sweep: Sweep, rough: bool = False) -> Array:
        return tube_gap(solid, sweep.pose.wheel, sweep.pose.spin, *leg.ends(sweep), rough) - leg.radius

    return Pair(f"{leg.name} and {name}", gap, lambda sweep: gap(sweep, rough=True))


def _tie_rod_and_legs(corner: Corner, legs: tuple[_Leg, ...]) -> Iterator[Pair]:
    radius = corner.parts.tie_rod_radius
    if radius is not None:
        for leg in legs:
            yield _tie_rod_and(leg, radius)


def _tie_rod_and(leg: _Leg, radius: float) -> Pair:
    def gap(sweep: Sweep) -> Array:
        tie_rod = sweep.pose.inner_joint, sweep.pose.steering_outer
        return segments_in_space(*tie_rod, *leg.ends(sweep)) - radius - leg.radius

    return Pair(f"tie rod and {leg.name}", gap, gap)
