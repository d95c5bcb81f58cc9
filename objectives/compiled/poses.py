"""One candidate at ride and in motion: what `objectives.ride` and `objectives.linkage` do for many."""

from __future__ import annotations

import math

from objectives.compiled.kernel import kernel
from objectives.compiled.layout import (
    COS,
    INNER,
    JOINT,
    KINGPIN,
    LANES,
    LOWER,
    OUTER,
    ROD,
    SIN,
    SPIN,
    STEER,
    TIE_SPARE,
    TRAVEL,
    TURN_COS,
    TURN_SIN,
    WHEEL,
    Record,
    Row,
)
from objectives.compiled.trig import cos_sin

AIM, AIM_ALONG, AIM_SQUARE = ROD, OUTER, INNER  # rows that are free until the last are filled


@kernel
def _set(out: Row, x: float, y: float, z: float) -> None:
    """Write a vector."""
    out[0], out[1], out[2] = x, y, z


@kernel
def _turned(point: Row, cos: float, sin: float, cos_toe: float, sin_toe: float, out: Row) -> None:
    """A vector of the spindle, pitch as installed, leant by camber and turned by toe."""
    x, y, z = point[0], point[1] * cos + point[2] * sin, point[2] * cos - point[1] * sin
    _set(out, x * cos_toe + y * sin_toe, y * cos_toe - x * sin_toe, z)


@kernel
def place(c: Record, h: Record, p: Record, pivot_y: float, pivot_z: float, camber: float) -> bool:
    """Assemble at ride, as `ride.place`; whether the candidate stands."""
    cos, sin = math.cos(camber), math.sin(camber)
    cos_toe, sin_toe = math.cos(c.static_toe), math.sin(c.static_toe)
    p.along, p.off, p.kingpin_length = h.along, h.off, h.kingpin_length
    for i in range(3):
        p.lower_parts[i], p.spin_parts[i], p.bolt_parts[i] = h.lower_parts[i], h.spin_parts[i], h.bolt_parts[i]
        p.inner_joint[i] = c.inner_joint[i]
    lower, upper, steering = p.lower_outer, p.upper_outer, p.steering_outer
    _turned(h.lower_pivot, cos, sin, cos_toe, sin_toe, lower)
    _turned(h.upper_pivot, cos, sin, cos_toe, sin_toe, upper)
    _turned(h.steering_pivot, cos, sin, cos_toe, sin_toe, steering)
    p.ride_height = c.ground_z + c.loaded_radius * cos
    height = (p.ride_height + lower[2] - c.lower_centre[2]) / c.lower_radius
    if not abs(height) <= c.lower_steepest:
        return False
    p.ride_angle = angle_at_height(c, height)
    cos, sin = math.cos(p.ride_angle), math.sin(p.ride_angle)
    for i in range(3):
        at = c.lower_centre[i] + c.lower_radius * (c.lower_outward[i] * cos + c.lower_upward[i] * sin)
        wheel = at - lower[i]
        lower[i], upper[i], steering[i] = at, wheel + upper[i], wheel + steering[i]
    _place_upper(c, p, pivot_y, pivot_z)
    join_tie_rod(p)
    return True


@kernel
def angle_at_height(c: Record, height: float) -> float:
    """Lower-arm angle at a height above its centre, of a radius of one."""
    return c.lower_steepest_angle - math.acos(height / c.lower_steepest)


@kernel
def _place_upper(c: Record, p: Record, pivot_y: float, pivot_z: float) -> None:
    """Circle of the upper outer pivot, and on which side of it the loop closes."""
    axis, outer = c.upper_axis, p.upper_outer
    x, y, z = outer[0] - c.pivot_x, outer[1] - pivot_y, outer[2] - pivot_z
    along = x * axis[0] + y * axis[1] + z * axis[2]
    _set(p.upper_centre, c.pivot_x + along * axis[0], pivot_y + along * axis[1], pivot_z + along * axis[2])
    x, y, z = outer[0] - p.upper_centre[0], outer[1] - p.upper_centre[1], outer[2] - p.upper_centre[2]
    p.upper_radius = math.sqrt(x * x + y * y + z * z)
    _set(p.upper_outward, x / p.upper_radius, y / p.upper_radius, z / p.upper_radius)
    x, y, z = p.upper_outward[0], p.upper_outward[1], p.upper_outward[2]
    _set(p.upper_upward, axis[1] * z - axis[2] * y, axis[2] * x - axis[0] * z, axis[0] * y - axis[1] * x)
    gap_x, gap_y, gap_z = (
        p.lower_outer[0] - p.upper_centre[0],
        p.lower_outer[1] - p.upper_centre[1],
        p.lower_outer[2] - p.upper_centre[2],
    )
    side = (
        (axis[1] * gap_z - axis[2] * gap_y) * (outer[0] - p.upper_centre[0])
        + (axis[2] * gap_x - axis[0] * gap_z) * (outer[1] - p.upper_centre[1])
        + (axis[0] * gap_y - axis[1] * gap_x) * (outer[2] - p.upper_centre[2])
    )
    p.upper_side = 1.0 if side >= 0.0 else -1.0


@kernel
def join_tie_rod(p: Record) -> None:
    """Length of the tie rod from where the inner joint is, and on which side of the kingpin it closes."""
    lower, upper, outer, inner = p.lower_outer, p.upper_outer, p.steering_outer, p.inner_joint
    k_x, k_y, k_z = upper[0] - lower[0], upper[1] - lower[1], upper[2] - lower[2]
    j_x, j_y, j_z = inner[0] - lower[0], inner[1] - lower[1], inner[2] - lower[2]
    side = (
        (k_y * j_z - k_z * j_y) * (outer[0] - lower[0])
        + (k_z * j_x - k_x * j_z) * (outer[1] - lower[1])
        + (k_x * j_y - k_y * j_x) * (outer[2] - lower[2])
    )
    p.tie_side = 1.0 if side >= 0.0 else -1.0
    p.tie_rod_length = math.sqrt((outer[0] - inner[0]) ** 2 + (outer[1] - inner[1]) ** 2 + (outer[2] - inner[2]) ** 2)


@kernel
def steering_shift(c: Record, share: float, out: Row) -> None:
    """How far the inner joint moves at a share of the way to the left lock, as `corner.Steering.shift`."""
    turned = share * c.input_at_left_lock
    if c.has_pitman:
        cos, sin = math.cos(turned), math.sin(turned)
        for i in range(3):
            arm = c.pitman_arm[i]
            out[i] = arm * cos + c.pitman_across[i] * sin + c.pitman_along[i] * (1.0 - cos) - arm
    else:
        _set(out, 0.0, turned, 0.0)


@kernel
def join(p: Record, at: Record, k: int, shift: Row) -> None:
    """Put the inner joint at one place of `at`, shifted."""
    for i in range(3):
        at.rows[JOINT + i, k] = p.inner_joint[i] + shift[i]


@kernel
def filled(count: int) -> int:
    """As many places as fill whole vectors; not a constant, for each of those would be compiled anew."""
    return (count + LANES - 1) // LANES * LANES


@kernel
def look(c: Record, p: Record, at: Record, count: int) -> None:
    """Poses at the first places of `at`, of which the row of cosines holds the arm angles, `JOINT` the inner joints."""
    rows = at.rows
    for k in range(count):
        rows[COS, k], rows[SIN, k] = cos_sin(rows[COS, k])
    poses(c, p, at, count)


@kernel
def pose_of(c: Record, p: Record, at: Record, angle: float, shift: Row) -> None:
    """The pose at an arm angle, the inner joint shifted, into the first column of `at` and as many as fill a vector."""
    for k in range(LANES):
        at.rows[COS, k] = angle
        join(p, at, k, shift)
    look(c, p, at, filled(1))


@kernel
def poses(c: Record, p: Record, s: Record, count: int) -> None:
    """Fill the first places of a sweep's rows from cosines, sines and inner joints in it, as `linkage.pose`.

    Of what the spindle carries only the travel is there; who needs more asks for it (`carry_wheel`, `carry_rod`).
    What is the same at all places is read before the loops, which call nothing and do not branch: so several places are
    worked out in one vector. The processor works at the next places while it waits for the first ones' square roots,
    the better the shorter a loop is.
    """
    arms(c, p, s, count)
    _aim_at_joint(p, s, count)
    _close_tie_rod(p, s, count)
    _lift(p, s, count)


@kernel
def arms(c: Record, p: Record, s: Record, count: int) -> None:
    """Where both arms are: lower outer pivot, direction of the kingpin, turn of the upper arm."""
    _aim_at_lower(c, p, s, count)
    _close_arms(c, p, s, count)


@kernel
def _across(x: float, y: float, z: float, a: float, b: float, d: float) -> tuple[float, float, float]:
    """Cross product of two vectors."""
    return y * d - z * b, z * a - x * d, x * b - y * a


@kernel
def _closed(along: float, square: float, side: float) -> tuple[float, float, float]:
    """Shares of a way v and of axis x v that make the arm's direction (see `_aim_at_lower`), and the spare of sin^2.

    Where it does not reach, the arm lies along v.
    """
    spare, by_square = square - along * along, 1.0 / square
    reaches = spare > 0.0
    root = math.sqrt(spare if reaches else square)
    cos = by_square * (along if reaches else root if along > 0.0 else -root)
    sin = by_square * (side * root if reaches else 0.0)
    return cos, sin, spare * by_square


@kernel
def _aim_at_lower(c: Record, p: Record, s: Record, count: int) -> None:
    """Lower outer pivot, how it is seen from the upper arm's centre, and how far along that the upper one lies.

    With v the way to the lower pivot in the upper arm's plane and k the product of v and the arm's direction d, which
    follows from the lengths, d = (k v +- sqrt(v^2 - k^2) axis x v) / v^2. That takes one root and one division, where
    unit vectors would take twice as many, and a pose's time goes into these.
    """
    rows, lower_radius = s.rows, c.lower_radius
    lower_x, lower_y, lower_z = c.lower_centre
    ahead_x, ahead_y, ahead_z = c.lower_outward
    above_x, above_y, above_z = c.lower_upward
    axis_x, axis_y, axis_z = c.upper_axis
    centre_x, centre_y, centre_z = p.upper_centre
    square_off, by_radius = p.upper_radius * p.upper_radius - p.kingpin_length * p.kingpin_length, 0.5 / p.upper_radius
    for k in range(count):
        cos, sin = rows[COS, k], rows[SIN, k]
        low_x = lower_x + lower_radius * (ahead_x * cos + above_x * sin)
        low_y = lower_y + lower_radius * (ahead_y * cos + above_y * sin)
        low_z = lower_z + lower_radius * (ahead_z * cos + above_z * sin)
        x, y, z = low_x - centre_x, low_y - centre_y, low_z - centre_z
        level = x * axis_x + y * axis_y + z * axis_z
        x, y, z = x - level * axis_x, y - level * axis_y, z - level * axis_z
        square = x * x + y * y + z * z
        rows[LOWER, k], rows[LOWER + 1, k], rows[LOWER + 2, k] = low_x, low_y, low_z
        rows[AIM, k], rows[AIM + 1, k], rows[AIM + 2, k], rows[AIM_SQUARE, k] = x, y, z, square
        rows[AIM_ALONG, k] = (square_off + square + level * level) * by_radius


@kernel
def _close_arms(c: Record, p: Record, s: Record, count: int) -> None:
    """Upper outer pivot: on its circle, the kingpin's length from the lower one."""
    rows, radius, side, by_kingpin = s.rows, p.upper_radius, p.upper_side, 1.0 / p.kingpin_length
    axis_x, axis_y, axis_z = c.upper_axis
    centre_x, centre_y, centre_z = p.upper_centre
    outward_x, outward_y, outward_z = p.upper_outward
    upward_x, upward_y, upward_z = p.upper_upward
    for k in range(count):
        x, y, z, along, square = (
            rows[AIM, k],
            rows[AIM + 1, k],
            rows[AIM + 2, k],
            rows[AIM_ALONG, k],
            rows[AIM_SQUARE, k],
        )
        cos, sin, _ = _closed(along, square, side)
        out_x = cos * x + sin * (axis_y * z - axis_z * y)
        out_y = cos * y + sin * (axis_z * x - axis_x * z)
        out_z = cos * z + sin * (axis_x * y - axis_y * x)
        rows[KINGPIN, k] = (centre_x + radius * out_x - rows[LOWER, k]) * by_kingpin
        rows[KINGPIN + 1, k] = (centre_y + radius * out_y - rows[LOWER + 1, k]) * by_kingpin
        rows[KINGPIN + 2, k] = (centre_z + radius * out_z - rows[LOWER + 2, k]) * by_kingpin
        rows[TURN_COS, k] = out_x * outward_x + out_y * outward_y + out_z * outward_z
        rows[TURN_SIN, k] = out_x * upward_x + out_y * upward_y + out_z * upward_z


@kernel
def _aim_at_joint(p: Record, s: Record, count: int) -> None:
    """How the inner joint is seen from the kingpin, and how far along that the outer one lies; as `_aim_at_lower`."""
    rows, along = s.rows, p.along
    square_off, by_off = p.off * p.off - p.tie_rod_length * p.tie_rod_length, 0.5 / p.off
    for k in range(count):
        king_x, king_y, king_z = rows[KINGPIN, k], rows[KINGPIN + 1, k], rows[KINGPIN + 2, k]
        x = rows[JOINT, k] - (rows[LOWER, k] + along * king_x)
        y = rows[JOINT + 1, k] - (rows[LOWER + 1, k] + along * king_y)
        z = rows[JOINT + 2, k] - (rows[LOWER + 2, k] + along * king_z)
        level = x * king_x + y * king_y + z * king_z
        x, y, z = x - level * king_x, y - level * king_y, z - level * king_z
        square = x * x + y * y + z * z
        rows[AIM, k], rows[AIM + 1, k], rows[AIM + 2, k], rows[AIM_SQUARE, k] = x, y, z, square
        rows[AIM_ALONG, k] = (square_off + square + level * level) * by_off


@kernel
def _close_tie_rod(p: Record, s: Record, count: int) -> None:
    """Direction from the kingpin to the outer tie-rod joint: on its circle, the rod's length from the inner joint."""
    rows, side = s.rows, p.tie_side
    for k in range(count):
        x, y, z, along, square = (
            rows[AIM, k],
            rows[AIM + 1, k],
            rows[AIM + 2, k],
            rows[AIM_ALONG, k],
            rows[AIM_SQUARE, k],
        )
        king_x, king_y, king_z = rows[KINGPIN, k], rows[KINGPIN + 1, k], rows[KINGPIN + 2, k]
        cos, sin, rows[TIE_SPARE, k] = _closed(along, square, side)
        rows[STEER, k] = cos * x + sin * (king_y * z - king_z * y)
        rows[STEER + 1, k] = cos * y + sin * (king_z * x - king_x * z)
        rows[STEER + 2, k] = cos * z + sin * (king_x * y - king_y * x)


@kernel
def _lift(p: Record, s: Record, count: int) -> None:
    """Height of the wheel centre, and how far that has travelled."""
    rows, ride_height = s.rows, p.ride_height
    lower_a, lower_b, lower_d = p.lower_parts
    for k in range(count):
        king_x, king_y, king_z = rows[KINGPIN, k], rows[KINGPIN + 1, k], rows[KINGPIN + 2, k]
        steer_x, steer_y, steer_z = rows[STEER, k], rows[STEER + 1, k], rows[STEER + 2, k]
        side_z = king_x * steer_y - king_y * steer_x
        wheel_z = rows[LOWER + 2, k] - (lower_a * king_z + lower_b * steer_z + lower_d * side_z)
        rows[WHEEL + 2, k], rows[TRAVEL, k] = wheel_z, wheel_z - ride_height


@kernel
def carry_wheel(p: Record, s: Record, count: int) -> None:
    """The rest of the wheel that the spindle carries: where its centre is, and its spin axis."""
    rows = s.rows
    lower_a, lower_b, lower_d = p.lower_parts
    spin_a, spin_b, spin_d = p.spin_parts
    for k in range(count):
        king_x, king_y, king_z = rows[KINGPIN, k], rows[KINGPIN + 1, k], rows[KINGPIN + 2, k]
        steer_x, steer_y, steer_z = rows[STEER, k], rows[STEER + 1, k], rows[STEER + 2, k]
        side_x, side_y, side_z = _across(king_x, king_y, king_z, steer_x, steer_y, steer_z)
        rows[WHEEL, k] = rows[LOWER, k] - (lower_a * king_x + lower_b * steer_x + lower_d * side_x)
        rows[WHEEL + 1, k] = rows[LOWER + 1, k] - (lower_a * king_y + lower_b * steer_y + lower_d * side_y)
        rows[SPIN, k] = spin_a * king_x + spin_b * steer_x + spin_d * side_x
        rows[SPIN + 1, k] = spin_a * king_y + spin_b * steer_y + spin_d * side_y
        rows[SPIN + 2, k] = spin_a * king_z + spin_b * steer_z + spin_d * side_z


@kernel
def carry_rod(c: Record, p: Record, s: Record, count: int) -> None:
    """Direction of the tie rod, and cosines between it and the bolts of its joints."""
    rows, off, along, by_length = s.rows, p.off, p.along, 1.0 / p.tie_rod_length
    bolt_a, bolt_b, bolt_d = p.bolt_parts
    inner_x, inner_y, inner_z = c.inner_bolt
    for k in range(count):
        king_x, king_y, king_z = rows[KINGPIN, k], rows[KINGPIN + 1, k], rows[KINGPIN + 2, k]
        steer_x, steer_y, steer_z = rows[STEER, k], rows[STEER + 1, k], rows[STEER + 2, k]
        side_x, side_y, side_z = _across(king_x, king_y, king_z, steer_x, steer_y, steer_z)
        x = (rows[LOWER, k] + along * king_x + off * steer_x - rows[JOINT, k]) * by_length
        y = (rows[LOWER + 1, k] + along * king_y + off * steer_y - rows[JOINT + 1, k]) * by_length
        z = (rows[LOWER + 2, k] + along * king_z + off * steer_z - rows[JOINT + 2, k]) * by_length
        rows[OUTER, k] = (
            x * (bolt_a * king_x + bolt_b * steer_x + bolt_d * side_x)
            + y * (bolt_a * king_y + bolt_b * steer_y + bolt_d * side_y)
            + z * (bolt_a * king_z + bolt_b * steer_z + bolt_d * side_z)
        )
        rows[INNER, k] = x * inner_x + y * inner_y + z * inner_z
        rows[ROD, k], rows[ROD + 1, k], rows[ROD + 2, k] = x, y, z
