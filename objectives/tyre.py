"""Gap between the tyre and bodywork in the front view.

Bodywork is drawn in the front view and extruded along x, so its gap to the tyre is that of its outline to the
tyre's silhouette along x. With W the wheel centre, s the spin axis, r, w and c the tyre's radius, width and
shoulder radius, the silhouette is convex with support
h(n) = n.W + (w/2 - c)|s.n| + (r - c)|n - (s.n)s| + c for unit n in the front view: a straight piece along the
projected spin axis, widened by an ellipse (the disc seen askew), rounded by the shoulder. A point's signed gap
is the maximum over n of n.p - h(n); it is convex in p, so along a straight piece of outline it has one least
value: at an end, or where n is square to the piece.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from objectives.corner import Tyre
from objectives.roots import least_between
from objectives.vectors import Array

Places: TypeAlias = NDArray[np.intp] | tuple[NDArray[np.intp], ...]


@dataclass(frozen=True)
class Silhouette:
    """The tyre as seen along x, any shape (...): its rounded core in its own axes; mm.

    `along` and `across` are unit vectors of the front view, shape (2, ...): along the projected spin axis and
    square to it. The core is the piece of half-length `flat` along the first, widened by an ellipse with
    semi-axes `thin` along it and `tall` across; the tyre is the core grown by `shoulder`.
    """

    centre: Array
    along: Array
    flat: Array
    thin: Array
    tall: float
    shoulder: float

    @staticmethod
    def of(tyre: Tyre, wheel: Array, spin: Array) -> Silhouette:
        """Silhouette of a tyre with its wheel centre and spin axis given, shape (3, ...) each."""
        size = np.hypot(spin[1], spin[2])
        return Silhouette(
            centre=wheel[1:],
            along=spin[1:] / size,
            flat=(0.5 * tyre.width - tyre.shoulder_radius) * size,
            thin=(tyre.radius - tyre.shoulder_radius) * np.abs(spin[0]),
            tall=tyre.radius - tyre.shoulder_radius,
            shoulder=tyre.shoulder_radius,
        )

    def take(self, index: Places) -> Silhouette:
        """Silhouettes at `index` of the trailing axes."""
        picked: tuple[Any, ...] = index if isinstance(index, tuple) else (index,)
        return Silhouette(
            self.centre[(slice(None), *picked)],
            self.along[(slice(None), *picked)],
            self.flat[picked],
            self.thin[picked],
            self.tall,
            self.shoulder,
        )

    def core_support(self, normal: Array) -> Array:
        """Support of the core about the wheel centre for a unit normal of the front view, shape (2, ...)."""
        cos = normal[0] * self.along[0] + normal[1] * self.along[1]
        sin = normal[1] * self.along[0] - normal[0] * self.along[1]
        reach: Array = self.flat * np.abs(cos) + np.hypot(self.thin * cos, self.tall * sin)
        return reach

    def gap(self, point: Array) -> tuple[Array, Array]:
        """Signed gap of points to the tyre, and the unit normal that shows it.

        Parameters
        ----------
        point
            y and z, shape (2, ...), broadcasting with the silhouettes; mm.

        Returns
        -------
        gap
            Shape (...), mm, negative inside the tyre.
        normal
            Shape (2, ...), pointing from the tyre to the point.
        """
        offset = point - self.centre
        u = offset[0] * self.along[0] + offset[1] * self.along[1]
        v = offset[1] * self.along[0] - offset[0] * self.along[1]
        u, v, flat, thin = np.broadcast_arrays(u, v, self.flat, self.thin)
        gap, cos, sin = _core_gap(np.abs(u) - flat, np.abs(v), thin, self.tall)
        cos, sin = np.copysign(cos, u), np.copysign(sin, v)
        normal = np.stack((cos * self.along[0] - sin * self.along[1], cos * self.along[1] + sin * self.along[0]))
        return gap - self.shoulder, normal


def _core_gap(u: Array, v: Array, thin: Array, tall: float) -> tuple[Array, Array, Array]:
    """Signed gap to the core for a point u beyond the end of the flat and v >= 0 across; and its normal."""
    gap, cos, sin = v - tall, np.zeros(v.shape), np.ones(v.shape)

    def fill(where: NDArray[np.intp], found: tuple[Array, Array, Array]) -> None:
        for whole, part in zip((gap, cos, sin), found, strict=True):
            whole.flat[where] = part

    beyond = u > 0.0
    ends = np.flatnonzero(beyond)
    fill(ends, _ellipse_gap(u.flat[ends], v.flat[ends], thin.flat[ends], tall))
    inside = np.flatnonzero(~beyond & (v < tall))
    if inside.size:
        side = _side_gap(u.flat[inside], v.flat[inside], thin.flat[inside], tall)
        closer = side[0] > gap.flat[inside]
        fill(inside[closer], (side[0][closer], side[1][closer], side[2][closer]))
    return gap, cos, sin


def _ellipse_gap(u: Array, v: Array, thin: Array, tall: float) -> tuple[Array, Array, Array]:
    """Signed gap to the ellipse at the end of the flat, u > 0, shape (n,), and its normal.

    The foot of the point is (thin^2 u/(t + thin^2), tall^2 v/(t + tall^2)), t the root of
    (thin u/(t + thin^2))^2 + (tall v/(t + tall^2))^2 = 1. The reciprocal square root of the left side is almost
    straight in t, so Newton's method takes few steps (Conn, Gould and Toint, Trust-Region Methods, 2000,
    section 7.3, from memory).
    """
    thin = np.maximum(thin, 1e-9 * tall)
    wide, high = thin * thin, tall * tall
    part_u, part_v = thin * u, tall * v
    t = np.maximum(part_u - wide, part_v - high)
    todo = np.arange(t.size)
    for _ in range(12):
        near, in_u = t[todo], t[todo] + wide[todo]
        in_v = near + high
        first, second = (part_u[todo] / in_u) ** 2, (part_v[todo] / in_v) ** 2
        total = first + second
        step = total * (np.sqrt(total) - 1.0) / (first / in_u + second / in_v)
        t[todo] = near + step
        # most points are there after a few steps; the others go on alone
        todo = todo[np.abs(step) > 1e-14 * (t[todo] + wide[todo])]
        if not todo.size:
            break
    cos, sin = u / (t + wide), v / (t + high)
    length = np.hypot(cos, sin)
    cos, sin = cos / length, sin / length
    return u * cos + v * sin - np.hypot(thin * cos, tall * sin), cos, sin


def _side_gap(u: Array, v: Array, thin: Array, tall: float) -> tuple[Array, Array, Array]:
    """Gap of points inside the core to its side, u <= 0, by Newton's method on the ellipse's own angle."""
    angle = np.arcsin(np.minimum(v / tall, 1.0))
    for _ in range(12):
        cos, sin = np.cos(angle), np.sin(angle)
        off = thin * cos - u, tall * sin - v
        slope = tall * cos * off[1] - thin * sin * off[0]
        bend = (tall * cos) ** 2 + (thin * sin) ** 2 - tall * sin * off[1] - thin * cos * off[0]
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.where(bend > 0.0, slope / bend, 0.0)
        angle = np.clip(angle - step, 0.0, 0.5 * np.pi)
    normal = tall * np.cos(angle), thin * np.sin(angle)
    length = np.maximum(np.hypot(*normal), 1e-300)
    cos, sin = normal[0] / length, normal[1] / length
    return u * cos + v * sin - np.hypot(thin * cos, tall * sin), cos, sin


def outline_gap(silhouette: Silhouette, outline: Array) -> Array:
    """Least signed gap between the tyre and one outline, over all its points; shape (...), mm.

    Parameters
    ----------
    silhouette
        Of shape (...).
    outline
        y and z of its corners, shape (points, 2); straight between them.
    """
    gap, normal = silhouette.gap(_point(outline[0], silhouette))
    least = gap
    for begin, end in pairwise(outline):
        end_gap, end_normal = silhouette.gap(_point(end, silhouette))
        least = np.minimum(least, end_gap)
        piece = end - begin
        falls = normal[0] * piece[0] + normal[1] * piece[1] < 0.0
        rises = end_normal[0] * piece[0] + end_normal[1] * piece[1] > 0.0
        within = np.nonzero(falls & rises)
        if within[0].size:
            least[within] = np.minimum(least[within], _face_gap(silhouette.take(within), begin, end))
        normal = end_normal
    return least


def _point(point: Array, silhouette: Silhouette) -> Array:
    return point.reshape((2,) + (1,) * silhouette.flat.ndim)


def _face_gap(silhouette: Silhouette, begin: Array, end: Array) -> Array:
    """Least gap of pieces of outline whose nearest point lies between their ends, shape (n,)."""
    piece = end - begin
    square = np.array([-piece[1], piece[0]]) / np.hypot(*piece)
    offset = _point(begin, silhouette) - silhouette.centre
    height = np.abs(square[0] * offset[0] + square[1] * offset[1])
    gap = height - silhouette.core_support(_point(square, silhouette)) - silhouette.shoulder
    through = np.flatnonzero(gap < -silhouette.shoulder)
    if through.size:
        gap[through] = _deepest(silhouette.take(through), begin, end)
    return gap


def _deepest(silhouette: Silhouette, begin: Array, end: Array) -> Array:
    """Least gap along a piece that cuts the core, by golden section: the gap is convex along it."""

    def gap(t: Array) -> Array:
        return silhouette.gap(_point(begin, silhouette) + t * _point(end - begin, silhouette))[0]

    shape = silhouette.flat.shape
    return least_between(gap, np.zeros(shape), np.ones(shape))[1]
