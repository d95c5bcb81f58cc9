"""Gaps between arms, tie rod, wheel and obstacles by brute force, from tables of points alone.

In the front view everything is a shapely shape. A tube beside the wheel is a row of points, each at its axial and
radial place, and tyre and rim are shapely polygons in that plane. The tie rod is a row of points too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from objectives.corner import Candidates, Corner, Tyre
from objectives.curves import Curves, curves_at
from objectives.parts import Rim, Tube
from tests.reference import tyre_gap

Array = NDArray[np.float64]
ROWS, FINER, POINTS = 41, 17, 101
FAR = 17.0  # mm; a wheel moves 10 mm between rows, and no part moves thrice as fast; 2 mm for rough gaps


def least(corner: Corner, candidate: Candidates, shifts: Sequence[Array]) -> dict[str, float]:
    """Least gap over all shifts of the inner joint, mm, of every pair that may be the nearest, by the pair's words.

    A table over the whole required travel for each shift, then three more for each pair, each between the neighbours
    of the least row of the last. Pairs and shifts that stay `FAR` from the nearest of the first tables are left out.
    """
    first = np.linspace(-corner.travel.droop, corner.travel.bump, ROWS)
    whole = [dict(_gaps(corner, candidate, curves_at(corner, candidate, first, shift), None)) for shift in shifts]
    nearest = min(float(gaps.min()) for table in whole for gaps in table.values())
    found: dict[str, float] = {}
    for shift, table in zip(shifts, whole, strict=True):
        near = {words: (first, gaps) for words, gaps in table.items() if gaps.min() <= nearest + FAR}
        for _ in range(3 if near else 0):
            rows = [_finer(*last) for last in near.values()]
            at = curves_at(corner, candidate, np.concatenate(rows), shift)  # of all pairs at once
            parts = (_part(at, slice(FINER * number, FINER * (number + 1))) for number in range(len(rows)))
            gaps = [next(_gaps(corner, candidate, part, words))[1] for words, part in zip(near, parts, strict=True)]
            near = dict(zip(near, zip(rows, gaps, strict=True), strict=True))
        for words, (_, gaps) in near.items():
            found[words] = min(float(gaps.min()), found.get(words, np.inf))
    return found


def _finer(rows: Array, gaps: Array) -> Array:
    """Travels between the neighbours of the least row."""
    best = int(gaps.argmin())
    return np.linspace(rows[max(best - 1, 0)], rows[min(best + 1, rows.size - 1)], FINER)


def _part(at: Curves, rows: slice) -> Any:
    """Some rows of what is read below."""
    names = ("travel", "wheel", "spin", "upper_outer", "lower_outer", "inner_joint", "steering_outer")
    return SimpleNamespace(**{name: getattr(at, name)[..., rows] for name in names})


def _gaps(corner: Corner, candidate: Candidates, at: Curves, only: str | None) -> Iterator[tuple[str, Array]]:
    """Words and gaps, shape (P,), of every pair, or of one alone."""
    parts = corner.parts
    rows = range(at.travel.shape[1])
    upper = _legs("upper arm", parts.upper_arm, at.upper_outer[:, 0], _upper_axis(corner, candidate))
    lower = _legs(
        "lower arm", parts.lower_arm, at.lower_outer[:, 0], (corner.lower_arm.inner_pivot, corner.lower_arm.direction)
    )
    for obstacle in parts.obstacles:
        single = len(obstacle.points) == 1
        words = f"tyre and {obstacle.name}"
        if only in (None, words):
            places = [(at.wheel[:, 0, r], at.spin[:, 0, r]) for r in rows]
            gaps = [_tyre(corner.tyre, obstacle.points, *place, roughly=only is None) for place in places]
            yield words, np.array(gaps) - obstacle.radius
        shape = shapely.Point(obstacle.points[0]) if single else shapely.LineString(obstacle.points)
        for name, ends, radius in upper:
            words = f"{name} and {obstacle.name}"
            if only in (None, words):
                tubes = shapely.linestrings(np.stack([end[1:].T for end in ends], axis=1))
                yield words, shapely.distance(tubes, shape) - radius - obstacle.radius
    solids = () if parts.rim is None else (("tyre", tyre_section(corner)), ("rim", rim_section(parts.rim)))
    for name, ends, radius in upper:
        for solid, section in solids:
            words = f"{name} and {solid}"
            if only in (None, words):
                rounds = 1 if only is None else 3  # 4 mm between points tell who may be the nearest
                yield words, tube_to(section, at.wheel[:, 0], at.spin[:, 0], *ends, rounds) - radius
    rod = np.linspace(at.inner_joint[:, 0], at.steering_outer[:, 0], 501)
    for name, (outer, inner), radius in (*upper, *lower) if parts.tie_rod_radius else ():
        words = f"tie rod and {name}"
        if only in (None, words):
            yield words, _row_to_segments(rod, outer, inner) - radius - parts.tie_rod_radius


def _upper_axis(corner: Corner, candidate: Candidates) -> tuple[Array, Array]:
    axis = corner.upper_axis
    return np.array([axis.pivot_x, candidate.pivot_y[0], candidate.pivot_z[0]]), axis.direction


def _legs(
    arm: str, tube: Tube | None, outer: Array, axis: tuple[Array, Array]
) -> list[tuple[str, tuple[Array, Array], float]]:
    """Name, outer and inner end over the rows, (3, P) each, and radius of every tube."""
    if tube is None:
        return []
    point, way = axis
    if tube.legs_x is None:
        foot = point[:, None] + np.outer(way, way @ (outer - point[:, None])) / (way @ way)
        return [(arm, (outer, foot), tube.radius)]
    ends = (point + way * (x - point[0]) / way[0] for x in tube.legs_x)
    names = (f"{arm}'s front leg", f"{arm}'s rear leg")
    return [
        (name, (outer, np.repeat(end[:, None], outer.shape[1], axis=1)), tube.radius)
        for name, end in zip(names, ends, strict=True)
    ]


def _tyre(tyre: Tyre, points: Array, wheel: Array, spin: Array, roughly: bool) -> float:
    """Gap to the tyre's silhouette; roughly, to 2 mm, that to a hull of points on its surface, 0 where they meet."""
    if roughly:
        surface = tyre_gap.surface_points(tyre, wheel, spin, 60, 5)
        hull = shapely.MultiPoint(surface[1:].T).convex_hull
        line = shapely.Point(points[0]) if len(points) == 1 else shapely.LineString(points)
        return float(hull.distance(line))
    if len(points) == 1:
        return tyre_gap.point_gap(tyre, wheel, spin, points[0])
    return tyre_gap.outline_gap(tyre, wheel, spin, points)


def tyre_section(corner: Corner) -> shapely.Geometry:
    """The tyre over (axial, radial): shapely rounds the corners of a taller box, cut off at the bead seat."""
    tyre, seat = corner.tyre, corner.parts.rim.radius
    c, half = tyre.shoulder_radius, tyre.width / 2
    tall = shapely.box(-half + c, -tyre.radius, half - c, tyre.radius - c).buffer(c, quad_segs=160)
    return tall.intersection(shapely.box(-half, seat, half, tyre.radius))


def rim_section(rim: Rim) -> shapely.Geometry:
    half = rim.width / 2
    barrel = shapely.box(-half, rim.inner_radius, half, rim.radius)
    return barrel.union(shapely.box(rim.offset, -rim.radius, half, rim.radius))


def signed(section: shapely.Geometry, axial: Array, radial: Array) -> Array:
    points = shapely.points(axial, radial)
    shapely.prepare(section)
    away = shapely.distance(section.boundary, points)
    found: Array = np.where(shapely.covers(section, points), -away, away)
    return found


def tube_to(section: shapely.Geometry, wheel: Array, spin: Array, outer: Array, inner: Array, rounds: int = 3) -> Array:
    """Least signed distance of points along centre lines, finer each time around the least; (3, P) each, (P,)."""
    low, high = np.zeros(wheel.shape[1]), np.ones(wheel.shape[1])
    best = np.full(wheel.shape[1], np.inf)
    for _ in range(rounds):
        share = np.linspace(low, high, POINTS)
        rel = (outer - wheel)[:, None] + (inner - outer)[:, None] * share
        axial = (rel * spin[:, None]).sum(axis=0)
        gaps = signed(section, axial, np.linalg.norm(rel - spin[:, None] * axial, axis=0))
        at = gaps.argmin(axis=0)[None]
        best = np.minimum(best, gaps.min(axis=0))
        low, high = (np.take_along_axis(share, np.clip(at + way, 0, POINTS - 1), axis=0)[0] for way in (-1, 1))
    return best


def _row_to_segments(row: Array, begin: Array, end: Array) -> Array:
    """Least distance of rows of points, (S, 3, P), to segments, (3, P) each; shape (P,)."""
    piece = end - begin
    share = np.clip(((row - begin) * piece).sum(axis=1) / (piece * piece).sum(axis=0), 0.0, 1.0)
    found: Array = np.linalg.norm(row - begin - share[:, None] * piece, axis=1).min(axis=0)
    return found
