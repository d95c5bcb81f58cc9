"""How far one candidate gets before something stops the wheel: what `objectives.reach` does for many."""

from __future__ import annotations

import math

from objectives.compiled.curves import (
    TO_SLOPES,
    crossing,
    room_to_rise,
    to_series,
    transform,
    value,
    value_and_slope,
)
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import (
    CAP,
    COS,
    LIMIT,
    POINTS,
    POSITIONS,
    SWING_ENDS,
    TRAVEL,
    WIDTH,
    Record,
    Row,
)
from objectives.compiled.limits import limit_curve
from objectives.compiled.poses import carry_rod, filled, join, look, pose_of, steering_shift
from objectives.compiled.sweeps import angle_at, first_at_travel, look_at, nowhere, put, settle
from objectives.reach import EQUAL, NEWTON_STEPS, PROMISE, STEP

NEGLIGIBLE = 1e-10  # of radians and of the way to a lock: the next step of Newton's method is below rounding


@kernel
def find_stops(c: Record, p: Record, wholes: Row, at: Record, room: Record) -> None:
    """What first stops the wheel both ways at every steering, and where, and every limit's own places, into `room`."""
    for number in range(c.limits):
        _find_limit(c, p, wholes, at, number, room)
    for position in range(c.positions):
        s = wholes[position]
        turns = _turning_places(s, room)
        for way in range(2):
            place, why = _stop(c, s, way, position, turns[way], room)
            room.stop_places[way, position], room.stop_why[way, position] = place, why
    nowhere(room, TRAVEL, 0)
    for position in range(c.positions):
        for way in range(2):
            put(room, position, room.stop_places[way, position], 0.0, math.inf)
    look_at(c, p, wholes, at, room)
    for position in range(c.positions):
        for way in range(2):
            travel = max((2 * way - 1) * at.rows[TRAVEL, 2 * position + way], 0.0)
            if room.stop_why[way, position] == CAP:
                travel = c.bump_cap if way else c.droop_cap
            elif room.stop_places[way, position] == wholes[position].level:
                travel = 0.0
            room.stop_travel[way, position] = travel


@kernel
def _find_limit(c: Record, p: Record, wholes: Row, at: Record, number: int, room: Record) -> None:
    """Settled places where a limit first stops the wheel either way, at every steering; NaN where it never does."""
    nowhere(room, LIMIT, number)
    for position in range(c.positions):
        s = wholes[position]
        limit_curve(c, p, s, number, filled(POINTS))
        slack, at_level = room_to_rise(s.rows[LIMIT]), 0.0
        if slack >= 0.0:
            to_series(s.rows[LIMIT], room.series)
            at_level = value(room.series, s.level)
        for way in range(2):
            u = math.nan
            if slack >= 0.0:
                u = crossing(s.rows[LIMIT], room.series, slack, s.level, at_level, 2.0 * way - 1.0)
            room.limit_places[way, number, position] = u
            if not math.isnan(u) and u != s.level:
                room.left[room.count] = way
                put(room, position, u, 0.0, value_and_slope(room.series, u)[1])
    if room.count > 0:
        settle(c, p, wholes, at, room)
    for i in range(room.count):
        room.limit_places[room.left[i], number, room.of[i]] = room.places[i]


@kernel
def _turning_places(s: Record, room: Record) -> tuple[float, float]:
    """Places where the wheel centre turns back, downward and upward from ride; NaN where it does not."""
    transform(TO_SLOPES, s.rows[TRAVEL], room.curve)
    for k in range(WIDTH):
        room.curve[k] = -room.curve[k]
    for k in range(POINTS, WIDTH):
        room.curve[k] = room.curve[POINTS - 1]
    slack = room_to_rise(room.curve)
    if slack < 0.0:
        return math.nan, math.nan
    to_series(room.curve, room.series)
    at_ride = value(room.series, s.ride)
    return (
        crossing(room.curve, room.series, slack, s.ride, at_ride, -1.0),
        crossing(room.curve, room.series, slack, s.ride, at_ride, 1.0),
    )


@kernel
def _stop(c: Record, s: Record, way: int, position: int, turn: float, room: Record) -> tuple[float, int]:
    """Place at which one sweep first stops, and what stops it; the wheel turns back at place `turn`, if it does."""
    direction = 2.0 * way - 1.0
    place = direction
    why = SWING_ENDS + s.locks[way]
    for number in range(c.limits):
        u = room.limit_places[way, number, position]
        if direction * u < direction * place:
            place, why = u, c.limit_kind[number]
    cap = c.bump_cap if way else c.droop_cap
    u = first_at_travel(s, cap, s.level, direction, room.curve, room.series)
    if direction * u < direction * place:
        place, why = u, CAP
    if direction * turn < direction * place:
        place, why = turn, SWING_ENDS
    return place, why


@kernel
def reach(c: Record, p: Record, wholes: Row, at: Record, direction: float, room: Record) -> tuple[float, int, float]:
    """Travel before the first stop at the worst steering, what stops it, at which share of the way to the left lock."""
    way, cap = (1, c.bump_cap) if direction > 0.0 else (0, c.droop_cap)
    travel, worst = math.inf, 0
    for position in range(c.positions):
        travel = min(travel, room.stop_travel[way, position])
    while room.stop_travel[way, worst] > travel + EQUAL:
        worst += 1
    why, share = room.stop_why[way, worst], c.shares[worst]
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
    c: Record,
    p: Record,
    wholes: Row,
    at: Record,
    number: int,
    direction: float,
    cap: float,
    travel: float,
    room: Record,
) -> tuple[float, float]:
    """Travel and share of the valley of one limit between two steering positions; infinite where it has none."""
    shares, depths, angles = room.at_shares, room.depths, room.angles
    some, least = False, 0
    for rank in range(POSITIONS):
        position = c.rising[rank]
        u, s = room.limit_places[1 if direction > 0.0 else 0, number, position], wholes[position]
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
    share, promise = valley(shares, depths, c.positions)
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
            at.rows[COS, 3 * i + j] = angle + (i - 1) * STEP
            join(p, at, 3 * i + j, at.shift)
    look(c, p, at, filled(9))
    carry_rod(c, p, at, filled(9))
    limit_curve(c, p, at, number, filled(9))
    for i in range(3):
        for j in range(3):
            room.around[0, i, j], room.around[1, i, j] = at.rows[LIMIT, 3 * i + j], at.rows[TRAVEL, 3 * i + j]


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
    c: Record, p: Record, at: Record, number: int, angle: float, share: float, direction: float, room: Record
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
    pose_of(c, p, at, angle, at.shift)
    limit_curve(c, p, at, number, filled(1))
    if abs(at.rows[LIMIT, 0]) < 1e-9 and abs(share) < 1.0 and bend > 0.0:
        return direction * at.rows[TRAVEL, 0], share
    return math.inf, share
