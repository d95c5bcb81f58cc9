"""What may stop the wheel of one candidate on its way: what `objectives.joints` and `objectives.shock` do for many."""

from __future__ import annotations

import math

from objectives.compiled.curves import copy
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import (
    COS,
    INNER,
    INNER_ROD_END,
    KINGPIN,
    LIMIT,
    LOWER_JOINT,
    OUTER,
    OUTER_ROD_END,
    SHOCK_OPEN,
    SIN,
    STEER,
    TURN_COS,
    TURN_SIN,
    UPPER_JOINT,
    Record,
    Row,
)
from objectives.compiled.poses import pose_of


@kernel
def limit_curve(c: Record, p: Record, s: Record, number: int, count: int) -> None:
    """Write the row of one limit at the first places of a sweep, above zero where it stops the wheel."""
    kind, bound, rows = c.limit_kind[number], c.limit_bound[number], s.rows
    if kind == OUTER_ROD_END or kind == INNER_ROD_END:
        row = OUTER if kind == OUTER_ROD_END else INNER
        for k in range(count):
            rows[LIMIT, k] = bound - (1.0 - rows[row, k] * rows[row, k])
    elif kind == UPPER_JOINT:
        for k in range(count):
            rows[LIMIT, k] = bound - _joint_cosine(c, p, s, True, k)
    elif kind == LOWER_JOINT:
        for k in range(count):
            rows[LIMIT, k] = bound - _joint_cosine(c, p, s, False, k)
    else:
        _shock_curve(c, p, s, 1.0 if kind == SHOCK_OPEN else -1.0, bound, count)


@kernel
def _arm_turn(s: Record, on_upper: bool, k: int) -> tuple[float, float]:
    """Cosine and sine of an arm's turn from ride."""
    if on_upper:
        return s.rows[TURN_COS, k], s.rows[TURN_SIN, k]
    return s.rows[COS, k], s.rows[SIN, k]


@kernel
def _turn(axis: Row, x: float, y: float, z: float, cos: float, sin: float) -> tuple[float, float, float]:
    """A vector turned about an axis."""
    along = (axis[0] * x + axis[1] * y + axis[2] * z) * (1.0 - cos)
    return (
        x * cos + (axis[1] * z - axis[2] * y) * sin + axis[0] * along,
        y * cos + (axis[2] * x - axis[0] * z) * sin + axis[1] * along,
        z * cos + (axis[0] * y - axis[1] * x) * sin + axis[2] * along,
    )


@kernel
def _on_spindle(s: Record, parts: Row, k: int) -> tuple[float, float, float]:
    """A direction of the spindle's own frame in the frame's axes."""
    rows = s.rows
    king_x, king_y, king_z = rows[KINGPIN, k], rows[KINGPIN + 1, k], rows[KINGPIN + 2, k]
    steer_x, steer_y, steer_z = rows[STEER, k], rows[STEER + 1, k], rows[STEER + 2, k]
    return (
        parts[0] * king_x + parts[1] * steer_x + parts[2] * (king_y * steer_z - king_z * steer_y),
        parts[0] * king_y + parts[1] * steer_y + parts[2] * (king_z * steer_x - king_x * steer_z),
        parts[0] * king_z + parts[1] * steer_z + parts[2] * (king_x * steer_y - king_y * steer_x),
    )


@kernel
def _joint_cosine(c: Record, p: Record, s: Record, on_upper: bool, k: int) -> float:
    """Cosine between the spindle's and the arm's direction of an outer joint, the upper or the lower one."""
    which, axis = (0, c.upper_axis) if on_upper else (1, c.lower_axis)
    on_arm, (cos, sin) = p.on_arm[which], _arm_turn(s, on_upper, k)
    x, y, z = _turn(axis, on_arm[0], on_arm[1], on_arm[2], cos, sin)
    a, b, d = _on_spindle(s, p.on_spindle[which], k)
    return a * x + b * y + d * z


@kernel
def _shock_curve(c: Record, p: Record, s: Record, sign: float, bound: float, count: int) -> None:
    """Write by which share of a bound the shock is longer (sign 1) or shorter (-1) than that."""
    rows, on_upper = s.rows, c.shock_is_on_upper != 0
    cos_row, sin_row = (TURN_COS, TURN_SIN) if on_upper else (COS, SIN)
    axis, centre = (c.upper_axis, p.upper_centre) if on_upper else (c.lower_axis, c.lower_centre)
    axis_x, axis_y, axis_z = axis
    x, y, z = c.shock_point[0] - centre[0], c.shock_point[1] - centre[1], c.shock_point[2] - centre[2]
    off_x, off_y, off_z = centre[0] - c.shock_frame[0], centre[1] - c.shock_frame[1], centre[2] - c.shock_frame[2]
    along = axis_x * x + axis_y * y + axis_z * z
    across_x, across_y, across_z = axis_y * z - axis_z * y, axis_z * x - axis_x * z, axis_x * y - axis_y * x
    off_x, off_y, off_z = off_x + along * axis_x, off_y + along * axis_y, off_z + along * axis_z
    x, y, z = x - along * axis_x, y - along * axis_y, z - along * axis_z
    by_bound = sign / bound
    for k in range(count):
        cos, sin = rows[cos_row, k], rows[sin_row, k]
        a, b, d = x * cos + across_x * sin + off_x, y * cos + across_y * sin + off_y, z * cos + across_z * sin + off_z
        rows[LIMIT, k] = math.sqrt(a * a + b * b + d * d) * by_bound - sign


@kernel
def orient_joints(c: Record, h: Record, p: Record, at: Record) -> None:
    """Directions of the ball joints, as `joints._directions`: one not given stands in line with the other at ride."""
    if c.limit_kind[2] != UPPER_JOINT and c.limit_kind[2] != LOWER_JOINT:
        return
    at.shift[:] = 0.0
    pose_of(c, p, at, p.ride_angle, at.shift)
    for which in range(2):
        copy(h.on_spindle[which], p.on_spindle[which])
        copy(c.on_arm[which], p.on_arm[which])
        if c.spindle_side[which] and not c.arm_side[which]:
            x, y, z = _on_spindle(at, p.on_spindle[which], 0)
            p.on_arm[which, 0], p.on_arm[which, 1], p.on_arm[which, 2] = x, y, z
        elif c.arm_side[which] and not c.spindle_side[which]:
            _parts(at, p.on_arm[which], p.on_spindle[which])


@kernel
def _parts(at: Record, v: Row, out: Row) -> None:
    """Components of a direction in the spindle's own frame at the first place."""
    rows = at.rows
    king_x, king_y, king_z = rows[KINGPIN, 0], rows[KINGPIN + 1, 0], rows[KINGPIN + 2, 0]
    steer_x, steer_y, steer_z = rows[STEER, 0], rows[STEER + 1, 0], rows[STEER + 2, 0]
    out[0] = v[0] * king_x + v[1] * king_y + v[2] * king_z
    out[1] = v[0] * steer_x + v[1] * steer_y + v[2] * steer_z
    out[2] = (
        v[0] * (king_y * steer_z - king_z * steer_y)
        + v[1] * (king_z * steer_x - king_x * steer_z)
        + v[2] * (king_x * steer_y - king_y * steer_x)
    )
