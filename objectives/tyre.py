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

import numpy as np
from numpy.typing import NDArray

from objectives.corner import Tyre
from objectives.vectors import Array

NEAR_FOOT = 1e-8  # relative, of where the foot of a point on the ellipse is looked for: the gap is level there
STEPS = 20  # of Newton's method on the way to the foot, at most; six do for nearly all, fourteen for 100,000 points
ROOM = 200_000  # gaps of lines worked out at once, for memory's sake
CLOSE = 1e-12  # of the tyre's radius: how near the deepest gap is come to
LOOKS = 60  # at most, on the way into a valley; a few do for nearly all


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

    def flattened(self) -> Silhouette:
        """The same silhouettes, shape (n,)."""
        return Silhouette(
            self.centre.reshape(2, -1),
            self.along.reshape(2, -1),
            self.flat.reshape(-1),
            self.thin.reshape(-1),
            self.tall,
            self.shoulder,
        )

    def take(self, index: NDArray[np.intp]) -> Silhouette:
        """Some of silhouettes of shape (n,)."""
        return Silhouette(
            self.centre[:, index], self.along[:, index], self.flat[index], self.thin[index], self.tall, self.shoulder
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
    ends = np.flatnonzero((u > 0.0) | (v < tall))
    found = _ellipse_gap(u.flat[ends], v.flat[ends], thin.flat[ends], tall)
    # beside the flat the end is one way out, and the flat another
    nearer = (u.flat[ends] > 0.0) | (found[0] > gap.flat[ends])
    for whole, part in zip((gap, cos, sin), found, strict=True):
        whole.flat[ends[nearer]] = part[nearer]
    return gap, cos, sin


def _ellipse_gap(u: Array, v: Array, thin: Array, tall: float) -> tuple[Array, Array, Array]:
    """Signed gap to the half of an ellipse at the end of the flat, shape (n,), and its normal.

    The foot of a point is (thin^2 |u|/t, tall^2 v/(k +- t)) with k = tall^2 - thin^2, + for u > 0, and t > 0 the least
    root of (thin u/t)^2 + (tall v/(k +- t))^2 = 1. The reciprocal square root of the left side is concave in t by
    Cauchy and Schwarz, so Newton's method comes from below and never goes beyond the root; it is almost straight as
    well, so the steps are few (Conn, Gould and Toint, Trust-Region Methods, 2000, section 7.3, from memory). Where
    u < 0 there may be no root: then the flat is nearer.
    """
    thin = np.maximum(thin, 1e-9 * tall)
    side = np.where(u > 0.0, 1.0, -1.0)
    part_u, part_v, k = thin * np.maximum(np.abs(u), 1e-12 * tall), tall * v, tall * tall - thin * thin
    t = np.where(u > 0.0, np.maximum(part_u, part_v - k), part_u)
    todo = np.flatnonzero(k + side * t > 0.0)
    for _ in range(STEPS):
        in_u, in_v = t[todo], k[todo] + side[todo] * t[todo]
        first, second = (part_u[todo] / in_u) ** 2, (part_v[todo] / in_v) ** 2
        total, rate = first + second, first / in_u + side[todo] * second / in_v
        step = total * (np.sqrt(total) - 1.0) / np.where(rate > 0.0, rate, np.inf)
        step = np.where(in_v + side[todo] * step > 0.0, step, 0.0)
        t[todo] = in_u + step
        # most points are there after a few steps; the others go on alone
        todo = todo[np.abs(step) > NEAR_FOOT * in_u]
        if not todo.size:
            break
    cos, sin = part_u / (thin * t), v / np.where(k + side * t > 0.0, k + side * t, np.inf)
    length = np.hypot(cos, sin)
    cos, sin = cos / length, sin / length
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
    one, least = silhouette.flattened(), np.empty(silhouette.flat.size)
    step = max(1, ROOM // len(outline))
    for start in range(0, least.size, step):
        part = np.arange(start, min(start + step, least.size))
        least[part] = _outline_gap(one.take(part), outline)
    return least.reshape(silhouette.flat.shape)


def _outline_gap(silhouette: Silhouette, outline: Array) -> Array:
    """As `outline_gap`, of silhouettes of shape (n,); pieces that cannot hold the least gap are passed over."""
    offset = outline.T[:, :, None] - silhouette.centre[:, None]
    distance = np.hypot(*offset)
    with np.errstate(invalid="ignore"):
        towards = np.where(distance > 0.0, offset / np.maximum(distance, 1e-300), 1.0)
    nearest = np.argmin(distance - silhouette.core_support(towards), axis=0)
    least = silhouette.gap(outline[nearest].T)[0]
    if len(outline) == 1:
        return least
    pieces = _Pieces.of(outline)
    line = pieces.line_gap(silhouette, offset[:, :-1])
    looked_at = line < least
    gap, normal = _corner_gaps(silhouette, outline, looked_at)
    least = np.minimum(least, gap.min(axis=0))
    piece, place = np.nonzero(looked_at & (line < least))
    along = pieces.direction[:, piece]
    falls, rises = ((along * normal[:, piece + end, place]).sum(axis=0) for end in (0, 1))
    within = (falls < 0.0) & (rises > 0.0)
    piece, place, floor = piece[within], place[within], line[piece[within], place[within]]
    through = floor < -silhouette.shoulder
    np.minimum.at(least, place[~through], floor[~through])
    if through.any():
        lowest = (np.zeros_like(floor), gap[piece, place], falls[within])
        highest = (pieces.length[piece], gap[piece + 1, place], rises[within])
        valley = np.stack((*lowest, *highest, floor))[:, through]
        piece, place = piece[through], place[through]
        _deepen(least, place, silhouette, outline[piece].T, pieces.direction[:, piece], valley)
    return least


@dataclass(frozen=True)
class _Pieces:
    """Pieces of an outline: their lengths, shape (m,), and directions, shape (2, m)."""

    length: Array
    direction: Array

    @staticmethod
    def of(outline: Array) -> _Pieces:
        piece = np.diff(outline, axis=0).T
        length = np.hypot(*piece)
        return _Pieces(length, piece / np.maximum(length, 1e-300))  # none between two points that are the same

    def line_gap(self, silhouette: Silhouette, offset: Array) -> Array:
        """Gap of the whole lines to silhouettes (n,), shape (m, n): no point of a piece is nearer.

        `offset` tells the beginnings from the wheel centres, shape (2, m, n).
        """
        square = np.stack((-self.direction[1], self.direction[0]))[:, :, None]
        height = np.abs(square[0] * offset[0] + square[1] * offset[1])
        return height - silhouette.core_support(square) - silhouette.shoulder


def _corner_gaps(silhouette: Silhouette, outline: Array, looked_at: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Gaps (points, n) and normals (2, points, n) at the ends of pieces (points - 1, n) that are looked at."""
    needed = np.zeros((len(outline), looked_at.shape[1]), dtype=bool)
    needed[:-1] |= looked_at
    needed[1:] |= looked_at
    point, place = np.nonzero(needed)
    gap, normal = np.full(needed.shape, np.inf), np.zeros((2, *needed.shape))
    gap[point, place], normal[:, point, place] = silhouette.take(place).gap(outline[point].T)
    return gap, normal


def _deepen(
    least: Array, place: NDArray[np.intp], silhouette: Silhouette, begin: Array, direction: Array, valley: Array
) -> None:
    """Bring least gaps (n,) down to those along m pieces that cut the core, of the silhouettes at `place`.

    The gap is convex along a piece, so tangents at either side of its valley bound it from below where they meet:
    there it is looked at next. Where two sides of the tyre are equally near the valley has an edge, which tangents
    find in a few steps; where it is round, its floor is the line's gap. Kelley, The cutting-plane method, 1960, from
    memory.

    Parameters
    ----------
    valley
        Shape (7, m): place along the piece, gap and slope at the end where it falls, the same at the other, and what
        it cannot fall below.
    """
    close = CLOSE * silhouette.tall
    for look in range(LOOKS):
        low, at_low, falls, high, at_high, rises, floor = valley
        meet = (at_low - at_high + rises * high - falls * low) / (rises - falls)
        keep = np.maximum(at_low + falls * (meet - low), floor) < least[place] - close
        if not keep.any():
            break
        place, begin, direction, valley = place[keep], begin[:, keep], direction[:, keep], valley[:, keep]
        # every third time in the middle, so that neither side is stuck
        at = 0.5 * (valley[0] + valley[3]) if look % 3 == 2 else meet[keep]
        gap, normal = silhouette.take(place).gap(begin + at * direction)
        slope = normal[0] * direction[0] + normal[1] * direction[1]
        np.minimum.at(least, place, gap)
        found = np.stack((at, gap, slope))
        valley[:3] = np.where(slope < 0.0, found, valley[:3])
        valley[3:6] = np.where(slope < 0.0, valley[3:6], found)
