"""What the search may choose: ranges of the pivot and of the static camber, and where no bracket can go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from objectives.vectors import Array

Span = tuple[float, float]


@dataclass(frozen=True)
class PivotSpace:
    """Ranges (min, max), equal when held fixed, and the shape of the room; mm and radians.

    Attributes
    ----------
    pivot_y, pivot_z
        Upper inner pivot at `UpperAxis.pivot_x`.
    static_camber
        Sets the arm length together with the pivot.
    length
        Upper arm lengths that can be built: (0, inf) when the scenario says nothing.
    region
        Corners (n, 2), y and z, of the polygon a bracket can be welded in, or None for anywhere.
    keep_out
        Discs (k, 3): y, z, diameter.
    """

    pivot_y: Span
    pivot_z: Span
    static_camber: Span
    length: Span
    region: Array | None
    keep_out: Array

    def outside_region(self, y: Array, z: Array) -> Array:
        """How far pivots lie outside the region, mm, negative inside; shape of `y` and `z`, broadcast."""
        y, z = np.broadcast_arrays(np.asarray(y, dtype=float), np.asarray(z, dtype=float))
        if self.region is None:
            return np.full(y.shape, -np.inf)
        return signed_distance(self.region, y, z)

    def inside_keep_out(self, y: Array, z: Array) -> Array:
        """How deep pivots lie in the keep-outs, mm, negative outside all; shape of `y` and `z`, broadcast."""
        y, z = np.broadcast_arrays(np.asarray(y, dtype=float), np.asarray(z, dtype=float))
        depth = np.full(y.shape, -np.inf)
        for centre_y, centre_z, diameter in self.keep_out:
            depth = np.maximum(depth, diameter / 2 - np.hypot(y - centre_y, z - centre_z))
        return depth

    def allows(self, y: Array, z: Array) -> np.ndarray:
        """Whether pivots lie in the region and in no keep-out; edges count as allowed."""
        allowed: np.ndarray = (self.outside_region(y, z) <= 0.0) & (self.inside_keep_out(y, z) <= 0.0)
        return allowed

    def grid(self, points: int) -> tuple[Array, Array]:
        """Spread pivots evenly over the ranges, at most `points` each way; flat arrays of y and z.

        With a region, over that part of the ranges that its bounding box shares, if any.
        """
        spans = []
        for column, (low, high) in enumerate((self.pivot_y, self.pivot_z)):
            if self.region is not None:
                low = max(low, float(self.region[:, column].min()))
                high = min(high, float(self.region[:, column].max()))
            spans.append(np.linspace(low, high, points if high > low else int(high == low)))
        y, z = np.meshgrid(*spans, indexing="ij")
        return y.ravel(), z.ravel()


def signed_distance(polygon: Array, y: Array, z: Array) -> Array:
    """Distance from points to the edge of a simple polygon (n, 2), negative inside; shape of `y`."""
    nearest = np.full(y.shape, np.inf)
    inside = np.zeros(y.shape, dtype=bool)
    for (y0, z0), (y1, z1) in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        along_y, along_z = y1 - y0, z1 - z0
        share = ((y - y0) * along_y + (z - z0) * along_z) / (along_y**2 + along_z**2)
        share = np.clip(share, 0.0, 1.0)
        nearest = np.minimum(nearest, np.hypot(y - y0 - share * along_y, z - z0 - share * along_z))
        straddles = (z0 > z) != (z1 > z)
        if along_z:
            inside ^= straddles & (y < y0 + (z - z0) / along_z * along_y)
    return np.where(inside, -nearest, nearest)


def crosses_itself(polygon: Array) -> bool:
    """Whether two edges of a polygon (n, 2) that are not neighbours share a point."""
    count = len(polygon)
    edges = [(polygon[i], polygon[(i + 1) % count]) for i in range(count)]
    return any(_meet(*edges[i], *edges[j]) for i in range(count) for j in range(i + 2, count) if (j + 1) % count != i)


def area(polygon: Array) -> float:
    """Area of a simple polygon (n, 2), mm2."""
    y, z = polygon[:, 0], polygon[:, 1]
    return float(abs(np.dot(y, np.roll(z, -1)) - np.dot(z, np.roll(y, -1))) / 2)


def _turn(a: Array, b: Array, c: Array) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _meet(a: Array, b: Array, c: Array, d: Array) -> bool:
    """Whether the segments a-b and c-d share a point."""
    sides = (_turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b))
    if sides[0] * sides[1] < 0.0 and sides[2] * sides[3] < 0.0:
        return True
    pairs = ((a, b, c), (a, b, d), (c, d, a), (c, d, b))
    return any(side == 0.0 and _in_box(*points) for side, points in zip(sides, pairs, strict=True))


def _in_box(a: Array, b: Array, point: Array) -> bool:
    low, high = np.minimum(a, b), np.maximum(a, b)
    return bool(np.all(low <= point) and np.all(point <= high))
