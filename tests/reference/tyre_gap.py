"""Gap between a tyre's front-view silhouette and a polyline by brute force, and the tyre as points.

The gap of a point p is the largest n.p - h(n) over unit normals n in the front view, h the silhouette's
support function; the gap of a polyline is the least gap of its points. Both searches sample densely, then
refine around the best samples.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from objectives.corner import Tyre

Array = NDArray[np.float64]

NORMALS = np.linspace(0.0, 2.0 * np.pi, 1440, endpoint=False)
STEP = NORMALS[1]


def support(tyre: Tyre, wheel: Array, spin: Array, angle: Array) -> Array:
    """Support function of the silhouette for front-view normals (0, cos angle, sin angle)."""
    normal = np.stack([np.zeros_like(angle), np.cos(angle), np.sin(angle)])
    axial = spin @ normal
    across = np.linalg.norm(normal - np.multiply.outer(spin, axial), axis=0)
    c = tyre.shoulder_radius
    reach: Array = wheel @ normal + (tyre.width / 2 - c) * np.abs(axial) + (tyre.radius - c) * across + c
    return reach


def point_gap(tyre: Tyre, wheel: Array, spin: Array, point: Array) -> float:
    """Signed gap of one front-view point (2,), mm; negative inside the tyre."""

    def against(angle: Array) -> Array:
        at = point[0] * np.cos(angle) + point[1] * np.sin(angle)
        beyond: Array = support(tyre, wheel, spin, angle) - at
        return beyond

    sampled = against(NORMALS)
    dips = (sampled <= np.roll(sampled, 1)) & (sampled <= np.roll(sampled, -1))
    promising = np.flatnonzero(dips & (sampled < sampled.min() + 2.0))
    least = min(
        minimize_scalar(
            lambda angle: float(against(np.asarray(angle))),
            bounds=(NORMALS[i] - STEP, NORMALS[i] + STEP),
            method="bounded",
            options={"xatol": 1e-11},
        ).fun
        for i in promising
    )
    return -float(min(least, sampled.min()))


def outline_gap(tyre: Tyre, wheel: Array, spin: Array, outline: Array, samples: int = 200) -> float:
    """Least signed gap over a polyline (points, 2), mm, good to about 1e-6 mm."""
    share = np.linspace(0.0, 1.0, samples)
    reach = support(tyre, wheel, spin, NORMALS)
    directions = np.stack([np.cos(NORMALS), np.sin(NORMALS)])
    least = np.inf
    for start, end in pairwise(outline):
        coarse = ((start + share[:, None] * (end - start)) @ directions - reach).max(axis=1)
        if coarse.min() > least + 1.0:
            continue
        best = share[coarse.argmin()]
        bounds = (max(best - 2.0 / samples, 0.0), min(best + 2.0 / samples, 1.0))
        refined = minimize_scalar(
            lambda t, a=start, b=end: point_gap(tyre, wheel, spin, a + t * (b - a)),
            bounds=bounds,
            method="bounded",
            options={"xatol": 1e-10},
        ).fun
        least = min(least, refined, *(point_gap(tyre, wheel, spin, end_) for end_ in (start, end)))
    return float(least)


def surface_points(tyre: Tyre, wheel: Array, spin: Array, around: int, across: int) -> Array:
    """Points on the rounded cylinder itself, (3, points): tread, both shoulders, both side walls.

    `around` points on every circle about the spin axis; `across` circles over each shoulder.
    """
    c, half = tyre.shoulder_radius, tyre.width / 2
    bend = np.linspace(0.0, np.pi / 2, across)
    axial = half - c + c * np.sin(bend)
    radial = tyre.radius - c + c * np.cos(bend)
    axial, radial = np.concatenate([axial, -axial]), np.concatenate([radial, radial])
    first = np.cross(spin, [1.0, 0.0, 0.3])
    first /= np.linalg.norm(first)
    second = np.cross(spin, first)
    turn = np.linspace(0.0, 2.0 * np.pi, around, endpoint=False)
    rim = np.multiply.outer(first, np.cos(turn)) + np.multiply.outer(second, np.sin(turn))
    circles = rim[:, None, :] * radial[:, None] + np.multiply.outer(spin, axial)[:, :, None]
    points: Array = wheel[:, None] + circles.reshape(3, -1)
    return points
