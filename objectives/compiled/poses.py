"""One candidate at ride and in motion: what `objectives.ride` and `objectives.linkage` do for many."""

from __future__ import annotations

import math

from objectives.compiled.kernel import kernel
from objectives.compiled.layout import (
    ANGLE,
    INNER,
    KINGPIN,
    LOWER,
    OUTER,
    ROD,
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
    p.lower_parts[:], p.spin_parts[:], p.bolt_parts[:] = h.lower_parts, h.spin_parts, h.bolt_parts
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
    p.inner_joint[:] = c.inner_joint
    join_tie_rod(p)
    return True


@kernel
def angle_at_height(c: Record, height: float) -> float:
    """Lower-arm angle at a height above its centre, of a radius of one."""
    return math.atan2(c.lower_upward[2], c.lower_outward[2]) - math.acos(height / c.lower_steepest)


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
    x, y, z = p.upper_outward
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
def poses(c: Record, p: Record, s: Record, count: int) -> None:
    """Fill the first places of a sweep's rows from the angles in its first row, as `linkage.pose`."""
    rows = s.rows
    lower_radius, upper_radius, kingpin_length = c.lower_radius, p.upper_radius, p.kingpin_length
    axis_x, axis_y, axis_z = c.upper_axis[0], c.upper_axis[1], c.upper_axis[2]
    centre_x, centre_y, centre_z = p.upper_centre[0], p.upper_centre[1], p.upper_centre[2]
    joint_x, joint_y, joint_z = (
        p.inner_joint[0] + s.shift[0],
        p.inner_joint[1] + s.shift[1],
        p.inner_joint[2] + s.shift[2],
    )
    off, along, tie_rod = p.off, p.along, p.tie_rod_length
    for k in range(count):
        cos, sin = math.cos(rows[ANGLE, k]), math.sin(rows[ANGLE, k])
        low_x = c.lower_centre[0] + lower_radius * (c.lower_outward[0] * cos + c.lower_upward[0] * sin)
        low_y = c.lower_centre[1] + lower_radius * (c.lower_outward[1] * cos + c.lower_upward[1] * sin)
        low_z = c.lower_centre[2] + lower_radius * (c.lower_outward[2] * cos + c.lower_upward[2] * sin)

        # upper outer pivot: on its circle, the kingpin's length from the lower one
        x, y, z = low_x - centre_x, low_y - centre_y, low_z - centre_z
        level = x * axis_x + y * axis_y + z * axis_z
        x, y, z = x - level * axis_x, y - level * axis_y, z - level * axis_z
        square = x * x + y * y + z * z
        reach = math.sqrt(square)
        x, y, z = x / reach, y / reach, z / reach
        cos = (upper_radius * upper_radius + square + level * level - kingpin_length * kingpin_length) / (
            2.0 * upper_radius * reach
        )
        sin = p.upper_side * math.sqrt(max((1.0 - cos) * (1.0 + cos), 0.0))
        cos = min(max(cos, -1.0), 1.0)
        out_x = cos * x + sin * (axis_y * z - axis_z * y)
        out_y = cos * y + sin * (axis_z * x - axis_x * z)
        out_z = cos * z + sin * (axis_x * y - axis_y * x)
        king_x = (centre_x + upper_radius * out_x - low_x) / kingpin_length
        king_y = (centre_y + upper_radius * out_y - low_y) / kingpin_length
        king_z = (centre_z + upper_radius * out_z - low_z) / kingpin_length

        # outer tie-rod joint: on its circle about the kingpin, the rod's length from the inner joint
        hub_x, hub_y, hub_z = low_x + along * king_x, low_y + along * king_y, low_z + along * king_z
        x, y, z = joint_x - hub_x, joint_y - hub_y, joint_z - hub_z
        level = x * king_x + y * king_y + z * king_z
        x, y, z = x - level * king_x, y - level * king_y, z - level * king_z
        square = x * x + y * y + z * z
        reach = math.sqrt(square)
        x, y, z = x / reach, y / reach, z / reach
        cos = (off * off + square + level * level - tie_rod * tie_rod) / (2.0 * off * reach)
        spare = (1.0 - cos) * (1.0 + cos)
        sin = p.tie_side * math.sqrt(max(spare, 0.0))
        cos = min(max(cos, -1.0), 1.0)
        steer_x = cos * x + sin * (king_y * z - king_z * y)
        steer_y = cos * y + sin * (king_z * x - king_x * z)
        steer_z = cos * z + sin * (king_x * y - king_y * x)
        side_x = king_y * steer_z - king_z * steer_y
        side_y = king_z * steer_x - king_x * steer_z
        side_z = king_x * steer_y - king_y * steer_x

        x, y, z = hub_x + off * steer_x - joint_x, hub_y + off * steer_y - joint_y, hub_z + off * steer_z - joint_z
        reach = math.sqrt(x * x + y * y + z * z)
        x, y, z = x / reach, y / reach, z / reach
        a, b, d = p.lower_parts[0], p.lower_parts[1], p.lower_parts[2]
        wheel_z = low_z - (a * king_z + b * steer_z + d * side_z)
        rows[WHEEL, k] = low_x - (a * king_x + b * steer_x + d * side_x)
        rows[WHEEL + 1, k] = low_y - (a * king_y + b * steer_y + d * side_y)
        rows[WHEEL + 2, k] = wheel_z
        rows[TRAVEL, k], rows[TIE_SPARE, k] = wheel_z - p.ride_height, spare
        a, b, d = p.spin_parts[0], p.spin_parts[1], p.spin_parts[2]
        rows[SPIN, k] = a * king_x + b * steer_x + d * side_x
        rows[SPIN + 1, k] = a * king_y + b * steer_y + d * side_y
        rows[SPIN + 2, k] = a * king_z + b * steer_z + d * side_z
        a, b, d = p.bolt_parts[0], p.bolt_parts[1], p.bolt_parts[2]
        rows[OUTER, k] = (
            x * (a * king_x + b * steer_x + d * side_x)
            + y * (a * king_y + b * steer_y + d * side_y)
            + z * (a * king_z + b * steer_z + d * side_z)
        )
        rows[INNER, k] = x * c.inner_bolt[0] + y * c.inner_bolt[1] + z * c.inner_bolt[2]
        rows[TURN_COS, k] = out_x * p.upper_outward[0] + out_y * p.upper_outward[1] + out_z * p.upper_outward[2]
        rows[TURN_SIN, k] = out_x * p.upper_upward[0] + out_y * p.upper_upward[1] + out_z * p.upper_upward[2]
        rows[LOWER, k], rows[LOWER + 1, k], rows[LOWER + 2, k] = low_x, low_y, low_z
        rows[KINGPIN, k], rows[KINGPIN + 1, k], rows[KINGPIN + 2, k] = king_x, king_y, king_z
        rows[STEER, k], rows[STEER + 1, k], rows[STEER + 2, k] = steer_x, steer_y, steer_z
        rows[ROD, k], rows[ROD + 1, k], rows[ROD + 2, k] = x, y, z
