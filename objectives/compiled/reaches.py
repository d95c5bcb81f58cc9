"""How far one candidate gets before something stops the wheel: what `objectives.reach` does for many."""

from __future__ import annotations

import math

from objectives.compiled.curves import TO_SLOPES, first_crossing, transform, value, value_and_slope
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import (
    ANGLE,
    INNER,
    INNER_ROD_END,
    KINGPIN,
    LOWER_JOINT,
    OUTER,
    OUTER_ROD_END,
    POINTS,
    POSITIONS,
    SHOCK_OPEN,
    STEER,
    TRAVEL,
    TURN_COS,
    TURN_SIN,
    UPPER_JOINT,
    Record,
    Row,
)
from objectives.compiled.poses import poses, steering_shift
from objectives.compiled.sweeps import angle_at, pose_at
from objectives.reach import NEWTON_STEPS, PROMISE, STEP
from objectives.sweep import SETTLED, SETTLING_STEPS

NEGLIGIBLE = 1e-10  # of radians and of the way to a lock: the next step of Newton's method is below rounding
CAP, SWING_ENDS, ARMS_LOCK, TIE_ROD_LOCKS = range(10, 14)  # what stops the wheel, beside the limits of `layout`


@kernel
def limit_curve(c: Record, p: Record, s: Record, number: int, count: int, out: Row) -> None:
    """Curve of one limit at the first places of a sweep, above zero where it stops the wheel."""
    kind, bound, rows = c.limit_kind[number], c.limit_bound[number], s.rows
    if kind == OUTER_ROD_END or kind == INNER_ROD_END:
        row = OUTER if kind == OUTER_ROD_END else INNER
        for k in range(count):
            out[k] = bound - (1.0 - rows[row, k] * rows[row, k])
    elif kind == UPPER_JOINT or kind == LOWER_JOINT:
        for k in range(count):
            out[k] = bound - _joint_cosine(c, p, s, kind - UPPER_JOINT, k)
    else:
        for k in range(count):
            out[k] = (
                _shock_length(c, p, s, k) / bound - 1.0
                if kind == SHOCK_OPEN
                else 1.0 - _shock_length(c, p, s, k) / bound
            )


@kernel
def _arm_turn(s: Record, on_upper: bool, k: int) -> tuple[float, float]:
    """Cosine and sine of an arm's turn from ride."""
    if on_upper:
        return s.rows[TURN_COS, k], s.rows[TURN_SIN, k]
    return math.cos(s.rows[ANGLE, k]), math.sin(s.rows[ANGLE, k])


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
def _joint_cosine(c: Record, p: Record, s: Record, which: int, k: int) -> float:
    """Cosine between the spindle's and the arm's direction of the upper (0) or lower (1) outer joint."""
    on_arm, cos_sin = p.on_arm[which], _arm_turn(s, which == 0, k)
    axis = c.upper_axis if which == 0 else c.lower_axis
    x, y, z = _turn(axis, on_arm[0], on_arm[1], on_arm[2], cos_sin[0], cos_sin[1])
    a, b, d = _on_spindle(s, p.on_spindle[which], k)
    return a * x + b * y + d * z


@kernel
def _shock_length(c: Record, p: Record, s: Record, k: int) -> float:
    """Length of the shock."""
    upper = c.shock_is_on_upper != 0
    cos, sin = _arm_turn(s, upper, k)
    axis, centre = (c.upper_axis, p.upper_centre) if upper else (c.lower_axis, c.lower_centre)
    point, end = c.shock_point, c.shock_frame
    x, y, z = _turn(axis, point[0] - centre[0], point[1] - centre[1], point[2] - centre[2], cos, sin)
    x, y, z = x + centre[0] - end[0], y + centre[1] - end[1], z + centre[2] - end[2]
    return math.sqrt(x * x + y * y + z * z)


@kernel
def orient_joints(c: Record, h: Record, p: Record, at: Record) -> None:
    """Directions of the ball joints, as `joints._directions`: one not given stands in line with the other at ride."""
    if c.limit_kind[2] != UPPER_JOINT and c.limit_kind[2] != LOWER_JOINT:
        return
    at.shift[:] = 0.0
    at.rows[ANGLE, 0] = p.ride_angle
    poses(c, p, at, 1)
    for which in range(2):
        p.on_spindle[which] = h.on_spindle[which]
        p.on_arm[which] = c.on_arm[which]
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


@kernel
def _settle_limit(
    c: Record, p: Record, s: Record, at: Record, number: int, u: float, slope: float, room: Record
) -> float:
    """Place u where a limit is at its bound, from a place and slope that are near, on exact poses."""
    pose_at(c, p, s, at, u)
    limit_curve(c, p, at, number, 1, room.curve)
    off = room.curve[0]
    for _ in range(SETTLING_STEPS):
        step = off / slope
        if not abs(step) < 0.1:
            step = 0.0
        before, last = u, off
        u = min(max(u - step, -1.0), 1.0)
        if abs(step) < SETTLED:
            break
        pose_at(c, p, s, at, u)
        limit_curve(c, p, at, number, 1, room.curve)
        off = room.curve[0]
        if abs(u - before) > SETTLED:
            chord = (off - last) / (u - before)
            slope = chord if chord * slope > 0.0 else slope
    return u


@kernel
def _first_place(c: Record, p: Record, s: Record, at: Record, number: int, direction: int, room: Record) -> float:
    """Place where a limit first stops the wheel on the way from ride, settled; NaN where it never does."""
    limit_curve(c, p, s, number, POINTS, room.curve)
    u = first_crossing(room.curve, s.level, direction, room.series)
    if math.isnan(u) or u == s.level:
        return u
    return _settle_limit(c, p, s, at, number, u, value_and_slope(room.series, u)[1], room)


@kernel
def _stop(
    c: Record, p: Record, s: Record, at: Record, direction: int, position: int, room: Record
) -> tuple[float, int]:
    """Travel at which one sweep first stops, and what stops it; every limit's own place into `room.places`."""
    cap = c.droop_cap if direction < 0 else c.bump_cap
    place = float(direction)
    why = SWING_ENDS + (s.low_lock if direction < 0 else s.high_lock)
    for number in range(c.limits):
        u = _first_place(c, p, s, at, number, direction, room)
        room.places[number, position] = u
        if direction * u < direction * place:
            place, why = u, c.limit_kind[number]
    for k in range(POINTS):
        room.curve[k] = direction * s.rows[TRAVEL, k] - cap
    u = first_crossing(room.curve, s.level, direction, room.series)
    if direction * u < direction * place:
        place, why = u, CAP
    transform(TO_SLOPES, s.rows[TRAVEL], room.curve)
    for k in range(POINTS):
        room.curve[k] = -room.curve[k]
    u = first_crossing(room.curve, s.ride, direction, room.series)
    if direction * u < direction * place:
        place, why = u, SWING_ENDS
    if why == CAP:
        return cap, why
    if place == s.level:
        return 0.0, why
    pose_at(c, p, s, at, place)
    return max(direction * at.rows[TRAVEL, 0], 0.0), why


@kernel
def reach(c: Record, p: Record, wholes: Row, at: Record, direction: int, room: Record) -> tuple[float, int, float]:
    """Travel before the first stop at the worst steering, what stops it, at which share of the way to the left lock."""
    cap = c.droop_cap if direction < 0 else c.bump_cap
    travel, why, share = math.inf, 0, 0.0
    for position in range(c.positions):
        found, reason = _stop(c, p, wholes[position], at, direction, position, room)
        if found < travel:
            travel, why, share = found, reason, c.shares[position]
    if c.positions > 1:
        for number in range(c.limits):
            found, between = _between(c, p, wholes, at, number, direction, cap, travel, room)
            if 0.0 < found < travel:
                travel, why, share = found, c.limit_kind[number], between
    if travel >= cap:
        return cap, CAP, share
    return travel, why, share


@kernel
def _between(
    c: Record, p: Record, wholes: Row, at: Record, number: int, direction: int, cap: float, travel: float, room: Record
) -> tuple[float, float]:
    """Travel and share of the valley of one limit between two steering positions; infinite where it has none."""
    shares, depths, angles = room.at_shares, room.depths, room.angles
    some, least = False, 0
    for rank in range(POSITIONS):
        position = c.rising[rank]
        u, s = room.places[number, position], wholes[position]
        shares[rank] = c.shares[position]
        depths[rank] = cap
        if not math.isnan(u):
            some = True
            depths[rank] = direction * value(s.travel_series, u)
        angles[rank] = angle_at(s, 0.0 if math.isnan(u) else u)
        if depths[rank] < depths[least]:
            least = rank
    if not some:
        return math.inf, 0.0
    share, promise = valley(shares, depths, POSITIONS)
    if not promise < travel + PROMISE:
        return math.inf, 0.0
    for rank in range(POSITIONS):
        if abs(share - shares[rank]) <= 1e-9:
            return math.inf, 0.0
    return _settled(c, p, at, number, angles[least], share, direction, room)


@kernel
def valley(places: Row, values: Row, count: int) -> tuple[float, float]:
    """Place and depth of the valley of a parabola through three neighbours around the least, as `between.valley`."""
    least = 0
    for i in range(1, count):
        if values[i] < values[least]:
            least = i
    middle = min(max(least, 1), count - 2)
    x0, x1, x2 = places[middle - 1], places[middle], places[middle + 1]
    first, second = (values[middle] - values[middle - 1]) / (x1 - x0), (values[middle + 1] - values[middle]) / (x2 - x1)
    bend = (second - first) / (x2 - x0)
    place = 0.5 * (x0 + x1 - first / bend)
    depth = values[middle - 1] + (place - x0) * (first + bend * (place - x1))
    if bend > 0.0 and x0 < place < x2 and math.isfinite(depth):
        return place, depth
    return math.inf, math.inf


@kernel
def _look(c: Record, p: Record, at: Record, number: int, angle: float, share: float, room: Record) -> None:
    """Limit and travel at three arm angles by three steering places around a point, into `room.around`."""
    for j in range(3):
        steering_shift(c, share + (j - 1) * STEP, at.shift)
        for i in range(3):
            at.rows[ANGLE, i] = angle + (i - 1) * STEP
        poses(c, p, at, 3)
        limit_curve(c, p, at, number, 3, room.curve)
        for i in range(3):
            room.around[0, i, j], room.around[1, i, j] = room.curve[i], at.rows[TRAVEL, i]


@kernel
def _slopes(v: Row) -> tuple[float, float, float, float, float, float]:
    """A quantity and its first and second slopes by arm angle and steering, by central differences."""
    return (
        v[1, 1],
        (v[2, 1] - v[0, 1]) / (2.0 * STEP),
        (v[1, 2] - v[1, 0]) / (2.0 * STEP),
        (v[2, 1] - 2.0 * v[1, 1] + v[0, 1]) / STEP**2,
        (v[2, 2] - v[2, 0] - v[0, 2] + v[0, 0]) / (4.0 * STEP**2),
        (v[1, 2] - 2.0 * v[1, 1] + v[1, 0]) / STEP**2,
    )


@kernel
def _bounded(step: float, most: float) -> float:
    """A step of at most so much either way; none where it cannot be told."""
    return 0.0 if math.isnan(step) else min(max(step, -most), most)


@kernel
def _settled(
    c: Record, p: Record, at: Record, number: int, angle: float, share: float, direction: int, room: Record
) -> tuple[float, float]:
    """Travel and share where a limit is met soonest over the steering, as `reach._settled`; infinite where nowhere."""
    bend = 0.0
    for _ in range(NEWTON_STEPS):
        _look(c, p, at, number, angle, share, room)
        g, g_a, g_s, g_aa, g_as, g_ss = _slopes(room.around[0])
        _, t_a, t_s, t_aa, t_as, t_ss = _slopes(room.around[1])
        level = g_s * t_a - g_a * t_s
        by_turn = g_as * t_a + g_s * t_aa - g_aa * t_s - g_a * t_as
        by_steer = g_ss * t_a + g_s * t_as - g_as * t_s - g_a * t_ss
        size = g_a * by_steer - g_s * by_turn
        bend = -direction * size / g_a**2
        turn = _bounded((g_s * level - g * by_steer) / size, 0.1)
        steer = _bounded((g * by_turn - g_a * level) / size, 0.25)
        angle, share = angle + turn, min(max(share + steer, -1.0), 1.0)
        if abs(turn) + abs(steer) < NEGLIGIBLE:
            break
    steering_shift(c, share, at.shift)
    at.rows[ANGLE, 0] = angle
    poses(c, p, at, 1)
    limit_curve(c, p, at, number, 1, room.curve)
    if abs(room.curve[0]) < 1e-9 and abs(share) < 1.0 and bend > 0.0:
        return direction * at.rows[TRAVEL, 0], share
    return math.inf, share
