"""Distances between straight pieces, and from points to sections turned about an axis; closed forms, mm.

Pieces are segments between two points whose first axis holds y, z (in the plane) or x, y, z (in space); every
other axis broadcasts. A section is a shape over (axial, radial): distances of points beside it are those in space.
"""

from __future__ import annotations

import numpy as np

from objectives.vectors import Array, dot

_TINY = 1e-300


def point_to_segment(point: Array, begin: Array, end: Array) -> Array:
    """Distance of points to segments; shapes (D, ...) broadcast."""
    piece, offset = end - begin, point - begin
    share = np.clip((offset * piece).sum(axis=0) / np.maximum((piece * piece).sum(axis=0), _TINY), 0.0, 1.0)
    gap = offset - share * piece
    distance: Array = np.sqrt((gap * gap).sum(axis=0))
    return distance


def segments_in_plane(a: Array, b: Array, c: Array, d: Array) -> Array:
    """Signed distance of the segments ab and cd in the plane, shapes (2, ...) broadcast.

    Apart it is that of the nearest end to the other segment. Where they cross it is minus the least shift that
    parts them: one segment has to leave the other over an end, so it is the least distance of an end to the line of
    the other segment.
    """
    ab, cd = b - a, d - c
    c_off, d_off = _turn(ab, c - a), _turn(ab, d - a)
    a_off, b_off = _turn(cd, a - c), _turn(cd, b - c)
    crossed = (c_off * d_off < 0.0) & (a_off * b_off < 0.0)
    over_ab = np.minimum(np.abs(c_off), np.abs(d_off)) / np.maximum(np.hypot(*ab), _TINY)
    over_cd = np.minimum(np.abs(a_off), np.abs(b_off)) / np.maximum(np.hypot(*cd), _TINY)
    return np.where(crossed, -np.minimum(over_ab, over_cd), _least_from_ends(a, b, c, d))


def segments_in_space(a: Array, b: Array, c: Array, d: Array) -> Array:
    """Distance of the segments ab and cd in space, shapes (3, ...) broadcast.

    The squared distance of two points is a convex quadratic in their places along the segments: it is least where it
    is level, if that lies inside both segments, or else at an end of one of them.
    """
    ab, cd, offset = b - a, d - c, a - c
    along_ab, along_cd, both = dot(ab, ab), dot(cd, cd), dot(ab, cd)
    off_ab, off_cd = dot(ab, offset), dot(cd, offset)
    spread = along_ab * along_cd - both * both
    skew = spread > 1e-12 * along_ab * along_cd
    spread = np.where(skew, spread, 1.0)
    s, t = (both * off_cd - along_cd * off_ab) / spread, (along_ab * off_cd - both * off_ab) / spread
    gap = offset + s * ab - t * cd
    inside = skew & (s > 0.0) & (s < 1.0) & (t > 0.0) & (t < 1.0)
    ends = _least_from_ends(a, b, c, d)
    return np.where(inside, np.minimum(np.sqrt(dot(gap, gap)), ends), ends)


def box(axial: Array, radial: Array, sides: tuple[float, float], rings: tuple[float, float]) -> Array:
    """Signed distance to a section between two axial places and two radii, the inner -inf where it is closed."""
    beside = np.maximum(sides[0] - axial, axial - sides[1])
    above = np.maximum(rings[0] - radial, radial - rings[1])
    outside = np.hypot(np.maximum(beside, 0.0), np.maximum(above, 0.0))
    distance: Array = outside + np.minimum(np.maximum(beside, above), 0.0)
    return distance


def rounded_box(axial: Array, radial: Array, half_width: float, rings: tuple[float, float], corner: float) -> Array:
    """Signed distance to a section about the centre plane whose two outer corners are rounded.

    `corner` is their radius, at most half the width and the height.
    """
    square = box(axial, radial, (-half_width, half_width), rings)
    beside, above = np.abs(axial) - (half_width - corner), radial - (rings[1] - corner)
    shoulder = np.maximum(np.hypot(beside, above) - corner, rings[0] - radial)
    return np.where((beside > 0.0) & (above > 0.0), shoulder, square)


def _turn(u: Array, v: Array) -> Array:
    """Vector product in the plane."""
    product: Array = u[0] * v[1] - u[1] * v[0]
    return product


def _least_from_ends(a: Array, b: Array, c: Array, d: Array) -> Array:
    near_ab = np.minimum(point_to_segment(c, a, b), point_to_segment(d, a, b))
    near_cd = np.minimum(point_to_segment(a, c, d), point_to_segment(b, c, d))
    return np.minimum(near_ab, near_cd)
