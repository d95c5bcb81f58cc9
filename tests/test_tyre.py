"""The tyre's silhouette against bodywork that runs through it: brute force, and shapely's distances to its outline."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
import shapely

from objectives.corner import Tyre
from objectives.tyre import Silhouette, outline_gap
from objectives.vectors import Array
from tests.reference import tyre_gap

# The brute force stops at 1e-11 rad of a normal, at edges of the gap; the tyre's disc is never thinner than 1e-9 of it.
BRUTE = 3e-5  # mm
CORNERS = 2_000  # of the polygon that stands for the silhouette
WHEEL = np.array([0.0, 700.0, 100.0])


def drawn(count: int, seed: int) -> Iterator[tuple[Tyre, Array, np.random.Generator]]:
    """Tyres from a tube's width to wider than tall, with their spin axes: straight ahead, steered far, cambered."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        radius = rng.uniform(100.0, 500.0)
        width = rng.uniform(40.0, 300.0 if number % 3 else 2.0 * radius)
        shoulder = rng.uniform(0.0, 0.98 * min(radius, 0.5 * width)) if number % 7 else 0.0
        steer = np.radians(rng.choice([0.0, 1e-4, rng.uniform(-1.0, 1.0), 30.0, rng.uniform(-60.0, 60.0)]))
        camber = np.radians(rng.uniform(-30.0, 30.0) if number % 5 else 0.0)
        spin = np.array([-np.sin(steer) * np.cos(camber), np.cos(steer) * np.cos(camber), np.sin(camber)])
        yield Tyre(radius, width, shoulder, 0.95 * radius), spin, rng


def around(tyre: Tyre, spin: Array, share: Array) -> Array:
    """Points in the front view at shares of the tyre's half width and radius, shape (n, 2)."""
    points: Array = WHEEL[1:] + share * [max(0.5 * tyre.width, tyre.radius * abs(spin[0])), tyre.radius]
    return points


def silhouette(tyre: Tyre, spin: Array) -> Silhouette:
    return Silhouette.of(tyre, WHEEL[:, None], spin[:, None])


def test_gap_of_points_in_and_about_the_tyre() -> None:
    worst = 0.0
    for tyre, spin, rng in drawn(400, seed=5):
        for point in around(tyre, spin, rng.uniform(-1.1, 1.1, (3, 2))):
            gap = silhouette(tyre, spin).gap(point[:, None])[0][0]
            worst = max(worst, abs(gap - tyre_gap.point_gap(tyre, WHEEL, spin, point)))
    assert worst < BRUTE


def test_gap_of_points_where_two_sides_are_nearly_as_near() -> None:
    """On the tyre's own axes, a hair beside them, and where the flat of the tread ends."""
    worst = 0.0
    for tyre, spin, rng in drawn(300, seed=6):
        seen = silhouette(tyre, spin)
        along, flat = seen.along[:, 0], seen.flat[0]
        u = rng.choice([0.0, 1e-9, 1e-3, flat, -flat, flat + 1e-7, flat - 1e-7])
        point = WHEEL[1:] + u * along + rng.uniform(-1.0, 1.0) * tyre.radius * np.array([-along[1], along[0]])
        worst = max(worst, abs(seen.gap(point[:, None])[0][0] - tyre_gap.point_gap(tyre, WHEEL, spin, point)))
    assert worst < BRUTE


def test_outlines_through_the_tyre_against_brute_force() -> None:
    worst, deep = 0.0, 0
    for tyre, spin, rng in drawn(60, seed=7):
        outline = around(tyre, spin, rng.uniform(-1.3, 1.3, (int(rng.integers(2, 6)), 2)))
        gap = outline_gap(silhouette(tyre, spin), outline)[0]
        worst = max(worst, abs(gap - tyre_gap.outline_gap(tyre, WHEEL, spin, outline)))
        deep += gap < -tyre.shoulder_radius
    assert worst < BRUTE
    assert deep > 40


def test_outlines_through_the_tyre_against_shapely() -> None:
    """The deepest of many points of the outline, by their distance to a polygon on the tyre's own surface."""
    for tyre, spin, rng in drawn(30, seed=8):
        outline = around(tyre, spin, rng.uniform(-0.9, 0.9, (4, 2)))
        turn = np.linspace(0.0, 2.0 * np.pi, CORNERS, endpoint=False)
        seen = silhouette(tyre, spin)
        cos, sin = np.cos(turn), np.sin(turn)
        # the support's own point for each normal: flat, ellipse and shoulder added up
        edge = np.hypot(seen.thin * cos, seen.tall * sin)
        edge = np.where(edge > 0.0, edge, 1.0)
        u = seen.flat * np.sign(cos) + seen.thin**2 * cos / edge + seen.shoulder * cos
        v = seen.tall**2 * sin / edge + seen.shoulder * sin
        along = seen.along[:, 0]
        ring = WHEEL[1:] + np.outer(u, along) + np.outer(v, [-along[1], along[0]])
        tyre_seen = shapely.convex_hull(shapely.MultiPoint(ring))
        line = shapely.LineString(outline)
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(line, line.length / 500.0)))
        inside = shapely.contains(tyre_seen, points)
        depth = np.where(inside, -1.0, 1.0) * shapely.distance(points, tyre_seen.exterior)
        gap = outline_gap(seen, outline)[0]
        # sampling misses at most half a step of the line, the polygon a sliver of the tyre
        assert gap == pytest.approx(depth.min(), abs=line.length / 1000.0 + 0.05)
        assert gap < 0.0


def test_many_pieces_are_as_one() -> None:
    """Points added on straight pieces change nothing, and every silhouette of many is measured as it is alone."""
    for tyre, spin, draws in drawn(20, seed=9):
        outline = around(tyre, spin, draws.uniform(-1.3, 1.3, (3, 2)))
        steps = np.linspace(0.0, 2.0, 801)
        finer = np.stack([np.interp(steps, np.arange(3.0), outline[:, axis]) for axis in (0, 1)], axis=1)
        wheels = WHEEL[:, None, None] + np.concatenate((np.zeros((1, 5, 3)), draws.uniform(-80.0, 80.0, (2, 5, 3))))
        seen = Silhouette.of(tyre, wheels, np.broadcast_to(spin[:, None, None], wheels.shape))
        gaps = outline_gap(seen, outline)
        np.testing.assert_allclose(outline_gap(seen, finer), gaps, rtol=0.0, atol=1e-9 * tyre.radius)
        alone = Silhouette.of(tyre, wheels[:, 3, 1, None], spin[:, None])
        assert outline_gap(alone, outline)[0] == gaps[3, 1]
