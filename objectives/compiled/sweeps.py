"""One candidate swept with the steering held: what `objectives.sweep` does for many."""

from __future__ import annotations

import math

import numpy as np

from objectives import chebyshev
from objectives.chebyshev import OVERSHOOT
from objectives.compiled.curves import (
    TURN_PLACES,
    copy,
    crossing,
    least_and_most,
    room_to_rise,
    to_series,
    turning_range,
    value,
    value_and_slope,
)
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import COS, JOINT, LIMIT, POINTS, ROD, SIN, TIE_SPARE, TRAVEL, WIDTH, Record, Row
from objectives.compiled.limits import limit_curve
from objectives.compiled.poses import angle_at_height, carry_rod, carry_wheel, filled, join, look, pose_of, poses
from objectives.compiled.trig import cos_sin
from objectives.sweep import (
    DOUBT,
    LOCK_SETTLED,
    LOCKED_SWING,
    PAST_STRAIGHT,
    SAME_LOCK,
    SETTLED,
    SETTLING_STEPS,
    TIE_SLACK,
)

ALL_PLACES = np.ones(WIDTH)  # those beyond the points of a sweep stand at its end
ALL_PLACES[:POINTS] = chebyshev.points(POINTS)
NOTHING, ARMS, TIE_ROD = range(3)  # what locks at the end of a sweep
LOCKS_MET = 3  # times that a sweep is cut short at the tie rod's lock, which a shorter sweep may put elsewhere
TOUCHES = 0.1  # of sin^2: nearer to in-line than this, the tie rod's lock-up is looked for on exact poses


@kernel
def set_span(s: Record, low: float, high: float, low_lock: float, high_lock: float) -> None:
    """Span from one arm angle to another, as `sweep.Span.between`."""
    s.middle, s.half = 0.5 * (low_lock + high_lock), 0.5 * (high_lock - low_lock)
    s.low, s.high = swing_of(s, low), swing_of(s, high)


@kernel
def swing_of(s: Record, angle: float) -> float:
    """Parameter angle of an arm angle."""
    return math.asin(min(max((angle - s.middle) / s.half, -1.0), 1.0))


@kernel
def swing_at(s: Record, u: float) -> float:
    """Parameter angle at place u."""
    return 0.5 * (s.low + s.high) + 0.5 * (s.high - s.low) * u


@kernel
def angle_at(s: Record, u: float) -> float:
    """Arm angle at place u."""
    return s.middle + s.half * math.sin(swing_at(s, u))


@kernel
def place_of_swing(s: Record, swing: float) -> float:
    """Place u of a parameter angle."""
    return (2.0 * swing - s.low - s.high) / (s.high - s.low)


@kernel
def place_of_angle(s: Record, angle: float) -> float:
    """Place u of an arm angle, inside the span."""
    return min(max(place_of_swing(s, swing_of(s, angle)), -1.0), 1.0)


@kernel
def fill(c: Record, p: Record, s: Record) -> None:
    """Poses at the points of the span, as `poses` has them."""
    rows, middle, half = s.rows, s.middle, s.half
    between, reach = 0.5 * (s.low + s.high), 0.5 * (s.high - s.low)
    x, y, z = p.inner_joint[0] + s.shift[0], p.inner_joint[1] + s.shift[1], p.inner_joint[2] + s.shift[2]
    for k in range(WIDTH):
        _, sin = cos_sin(between + reach * ALL_PLACES[k])
        rows[COS, k], rows[SIN, k] = cos_sin(middle + half * sin)
        rows[JOINT, k], rows[JOINT + 1, k], rows[JOINT + 2, k] = x, y, z
    poses(c, p, s, filled(POINTS))


@kernel
def pose_at(c: Record, p: Record, s: Record, at: Record, u: float) -> None:
    """The pose at place u of a sweep and its wheel, into the first column of `at`."""
    pose_of(c, p, at, angle_at(s, u), s.shift)
    carry_wheel(p, at, filled(1))


@kernel
def nowhere(room: Record, row: int, number: int) -> None:
    """Begin with no places in `room`; one row is going to be settled, that of a limit with its number."""
    room.count, room.row, room.number = 0, row, number


@kernel
def put(room: Record, which: int, place: float, level: float, slope: float) -> None:
    """Put one more place into `room`, which sweep it is of, the row's level there and its slope near there."""
    i = room.count
    room.of[i], room.places[i], room.levels[i], room.slopes[i] = which, place, level, slope
    room.count = i + 1


@kernel
def look_at(c: Record, p: Record, sweeps: Row, at: Record, room: Record) -> None:
    """The poses at the places in `room`, each of a sweep of its own, into the columns of `at`, side by side."""
    rows, count = at.rows, filled(room.count)
    for i in range(room.count):
        s = sweeps[room.of[i]]
        rows[ROD, i], rows[ROD + 1, i], rows[SIN, i] = s.middle, s.half, swing_at(s, room.places[i])
        join(p, at, i, s.shift)
    for i in range(count):  # in vectors, where one by one each sine would be a call
        _, sin = cos_sin(rows[SIN, i])
        rows[COS, i] = rows[ROD, i] + rows[ROD + 1, i] * sin
    look(c, p, at, count)


@kernel
def settle(c: Record, p: Record, sweeps: Row, at: Record, room: Record) -> None:
    """Settle the places in `room` where their row is at its level, on exact poses, as `Sweep.settle`, side by side.

    Places and slopes are near enough already; an infinite slope leaves a place where it is.
    """
    places, slopes, moved, last, off = room.places, room.slopes, room.moved, room.last, room.off
    _look_off(c, p, sweeps, at, room)
    for _ in range(SETTLING_STEPS):
        farthest = 0.0
        for i in range(room.count):
            before, last[i] = places[i], off[i]
            places[i] = _stepped(before, last[i], slopes[i])
            moved[i] = places[i] - before
            farthest = max(farthest, abs(moved[i]))
        if farthest < (LOCK_SETTLED if room.row == TIE_SPARE else SETTLED):
            break
        _look_off(c, p, sweeps, at, room)
        for i in range(room.count):
            slopes[i] = _chord_slope(moved[i], off[i] - last[i], slopes[i])


@kernel
def _look_off(c: Record, p: Record, sweeps: Row, at: Record, room: Record) -> None:
    """How far the row is from its level at the places in `room`, on exact poses."""
    look_at(c, p, sweeps, at, room)
    if room.row == LIMIT:
        carry_rod(c, p, at, filled(room.count))
        limit_curve(c, p, at, room.number, filled(room.count))
    for i in range(room.count):
        room.off[i] = at.rows[room.row, i] - room.levels[i]


@kernel
def _stepped(u: float, off: float, slope: float) -> float:
    """Place after a step of Newton's method, which is left out where it would lead far away."""
    step = off / slope
    return min(max(u - step, -1.0), 1.0) if abs(step) < 0.1 else u


@kernel
def _chord_slope(run: float, rise: float, slope: float) -> float:
    """Slope of a chord that is long enough to tell it, where it is of the sign of the slope known before."""
    chord = rise / run
    return chord if abs(run) > SETTLED and chord * slope > 0.0 else slope


@kernel
def first_at_travel(s: Record, travel: float, start: float, direction: float, curve: Row, series: Row) -> float:
    """First place from `start` on where the wheel has gone so far up (direction 1) or down (-1), NaN without one.

    Of a sweep whose series of travel is known; `curve` and `series` are room.
    """
    for k in range(WIDTH):
        curve[k] = direction * s.rows[TRAVEL, k] - travel
    slack = room_to_rise(curve)
    if slack < 0.0:
        return math.nan
    for k in range(WIDTH):
        series[k] = direction * s.travel_series[k]
    series[0] -= travel
    return crossing(curve, series, slack, start, value(series, start), direction)


@kernel
def _find_end_angles(c: Record, p: Record, sweeps: Row, at: Record, room: Record) -> None:
    """Arm angles that bring the wheel to both caps at least, or to the locks, as `sweep._end_angle`."""
    rises, left, ride = room.places, room.left, p.lower_outer[2] - c.lower_centre[2]
    for i in range(2 * sweeps.size):
        rises[i], left[i] = 1.01 * (c.bump_cap if i % 2 else c.droop_cap), True
        join(p, at, i, sweeps[i // 2].shift)
    for _ in range(8):
        some = False
        for i in range(2 * sweeps.size):
            s, way = sweeps[i // 2], i % 2
            if left[i]:
                direction = 2.0 * way - 1.0
                height = (ride + direction * rises[i]) / c.lower_radius
                s.end_angles[way], done = _end_angle(c, height, direction, s.lock_angles[way])
                left[i] = not done
                some = some or not done
            at.rows[COS, i] = s.end_angles[way]
        if not some:
            break
        look(c, p, at, filled(2 * sweeps.size))
        for i in range(2 * sweeps.size):
            cap = c.bump_cap if i % 2 else c.droop_cap
            short = cap - (2.0 * (i % 2) - 1.0) * at.rows[TRAVEL, i]
            left[i] = left[i] and short > 0.0 and at.rows[TIE_SPARE, i] >= 0.0
            rises[i] += short + 0.01 * cap


@kernel
def _end_angle(c: Record, height: float, direction: float, lock: float) -> tuple[float, bool]:
    """Arm angle at a height of the lower pivot, or the lock; and whether nothing lies beyond."""
    steepest = c.lower_steepest
    straight = abs(height) >= steepest
    angle = angle_at_height(c, min(max(height, -steepest), steepest))
    if straight:
        # the wheel may still travel a little where its lower pivot has turned back
        angle += direction * PAST_STRAIGHT
    if direction * (angle - lock) >= 0.0:
        return lock, True
    return angle, straight


@kernel
def _sweep_whole(c: Record, p: Record, sweeps: Row, which: int, at: Record, room: Record) -> bool:
    """Sweep between the end angles, cut short where the tie rod locks; False where the arrays have to look."""
    s = sweeps[which]
    s.locks[:] = ARMS
    for turn in range(LOCKS_MET + 1):
        if turn > 0:
            _find_end_angles(c, p, sweeps[which : which + 1], at, room)
        set_span(s, s.end_angles[0], s.end_angles[1], s.lock_angles[0], s.lock_angles[1])
        fill(c, p, s)
        s.ride = place_of_angle(s, p.ride_angle)
        spare = s.rows[TIE_SPARE]
        least, most = least_and_most(spare)
        well_clear = turn == LOCKS_MET or least - OVERSHOOT * (most - least) >= DOUBT
        if well_clear or turning_range(spare, room.series, room.grid)[0] >= DOUBT:
            break
        cut = False
        for way in range(2):
            u = _tie_lock(c, p, sweeps, which, at, way, room)
            if math.isinf(u):
                return False
            room.cuts[way] = u
        for way in range(2):
            if not math.isnan(room.cuts[way]):
                s.lock_angles[way], s.locks[way], cut = angle_at(s, room.cuts[way]), TIE_ROD, True
        if not cut:
            break
    carry_rod(c, p, s, filled(POINTS))
    if s.low > -LOCKED_SWING:
        s.locks[0] = NOTHING
    if s.high < LOCKED_SWING:
        s.locks[1] = NOTHING
    to_series(s.rows[TRAVEL], s.travel_series)
    return True


@kernel
def _tie_lock(c: Record, p: Record, sweeps: Row, which: int, at: Record, way: int, room: Record) -> float:
    """Place where the tie rod first fails to reach, as `sweep._tie_lock`; NaN without one, infinite in doubt.

    In `room` are the spare's series and its values on the grid of turning points.
    """
    s, grid, direction = sweeps[which], room.grid, 2.0 * way - 1.0
    for k in range(WIDTH):
        room.curve[k], room.more[k] = TIE_SLACK - s.rows[TIE_SPARE, k], -room.series[k]
    room.more[0] += TIE_SLACK
    slack = room_to_rise(room.curve)
    place = math.nan
    if slack >= 0.0:
        place = crossing(room.curve, room.more, slack, s.ride, value(room.more, s.ride), direction)
    if not math.isnan(place) and place != s.ride:
        if s.locks[way] == TIE_ROD and direction * place > 1.0 - SAME_LOCK:
            return math.nan
        nowhere(room, TIE_SPARE, 0)
        put(room, which, place, TIE_SLACK, -value_and_slope(room.more, place)[1])
        settle(c, p, sweeps, at, room)
        return room.places[0]
    # it may only touch in-line and part again
    for i in range(1, TURN_PLACES.size - 1):
        dips = grid[i] <= grid[i - 1] and grid[i] <= grid[i + 1] and grid[i] < TOUCHES
        if dips and direction * (TURN_PLACES[i + 2 * way - 1] - s.ride) > 0.0:
            return math.inf
    return math.nan


@kernel
def _find_levels(c: Record, p: Record, sweeps: Row, at: Record, room: Record) -> None:
    """Place of each sweep where the wheel centre stands at ride height; the ride pose's where it cannot."""
    nowhere(room, TRAVEL, 0)
    for which in range(sweeps.size):
        s = sweeps[which]
        s.level = s.ride
        if s.shift[0] == 0.0 and s.shift[1] == 0.0 and s.shift[2] == 0.0:
            continue
        direction = -1.0 if value(s.travel_series, s.ride) > 0.0 else 1.0
        place = first_at_travel(s, 0.0, s.ride, direction, room.curve, room.series)
        if not math.isnan(place):
            put(room, which, place, 0.0, value_and_slope(s.travel_series, place)[1])
    if room.count > 0:
        settle(c, p, sweeps, at, room)
    for i in range(room.count):
        sweeps[room.of[i]].level = room.places[i]


@kernel
def _put_end(c: Record, s: Record, which: int, way: int, place: float, room: Record) -> None:
    """Put a place of full droop (way 0) or bump (1) into `room`, to be settled; NaN: the sweep's end, left as it is."""
    level = c.bump if way else -c.droop
    if math.isnan(place):
        put(room, which, 2.0 * way - 1.0, level, math.inf)
    else:
        put(room, which, place, level, value_and_slope(s.travel_series, place)[1])


@kernel
def _sweep_required(c: Record, p: Record, sweeps: Row, required: Row, at: Record, room: Record) -> None:
    """Sweeps between pairs of places in `room`, settled on full droop and full bump."""
    settle(c, p, sweeps, at, room)
    for which in range(sweeps.size):
        whole, s = sweeps[which], required[which]
        s.middle, s.half = whole.middle, whole.half
        s.low, s.high = swing_at(whole, room.places[2 * which]), swing_at(whole, room.places[2 * which + 1])
        copy(whole.shift, s.shift)
        fill(c, p, s)
        carry_wheel(p, s, filled(POINTS))


@kernel
def steer(c: Record, p: Record, wholes: Row, required: Row, at: Record, room: Record) -> bool:
    """Both sweeps with each of the shifts given in `wholes`, as `sweep.steer`; False where the arrays have to look."""
    for which in range(wholes.size):
        at.rows[COS, which] = p.ride_angle
        join(p, at, which, wholes[which].shift)
        wholes[which].lock_angles[0], wholes[which].lock_angles[1] = p.low_lock, p.high_lock
    look(c, p, at, filled(wholes.size))
    for which in range(wholes.size):
        if not at.rows[TIE_SPARE, which] >= TIE_SLACK:
            return False
    _find_end_angles(c, p, wholes, at, room)
    for which in range(wholes.size):
        if not _sweep_whole(c, p, wholes, which, at, room):
            return False
    _find_levels(c, p, wholes, at, room)
    nowhere(room, TRAVEL, 0)
    for which in range(wholes.size):
        whole, reached = wholes[which], True
        for way in range(2):
            needed = c.bump if way else c.droop
            place = first_at_travel(whole, needed, whole.level, 2.0 * way - 1.0, room.curve, room.series)
            _put_end(c, whole, which, way, place, room)
            reached = reached and not math.isnan(place)
        required[which].complete = reached
    _sweep_required(c, p, wholes, required, at, room)
    return True


@kernel
def resteer(
    c: Record, p: Record, wholes: Row, required: Row, low: float, high: float, at: Record, room: Record
) -> None:
    """A required sweep, once from low to high, with another inner joint, as `sweep.resteer`."""
    whole = wholes[0]
    nowhere(room, TRAVEL, 0)
    for way in range(2):
        place = place_of_swing(whole, high if way else low)
        if required[0].complete:
            _put_end(c, whole, 0, way, place, room)
        else:
            put(room, 0, place, 0.0, math.inf)
    _sweep_required(c, p, wholes, required, at, room)
