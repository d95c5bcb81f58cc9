"""One candidate swept with the steering held: what `objectives.sweep` does for many."""

from __future__ import annotations

import math

from objectives import chebyshev
from objectives.chebyshev import OVERSHOOT, TURNS
from objectives.compiled.curves import (
    ONTO_TURNS,
    TO_SERIES,
    TURN_PLACES,
    first_crossing,
    least_and_most,
    least_turning,
    transform,
    value,
    value_and_slope,
)
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import ANGLE, POINTS, TIE_SPARE, TRAVEL, Record
from objectives.compiled.poses import angle_at_height, poses
from objectives.sweep import DOUBT, LOCKED_SWING, PAST_STRAIGHT, SETTLED, SETTLING_STEPS, TIE_SLACK

PLACES = chebyshev.points(POINTS)
NOTHING, ARMS, TIE_ROD = range(3)  # what locks at the end of a sweep
LOCKS_MET = 3  # times that a sweep is cut short at the tie rod's lock, which a shorter sweep may put elsewhere
LOCK_SETTLED = 1e-13  # of u: beside a lock the last digits of a place are mm/1000 of travel
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
    """Poses at the points of the span."""
    for k in range(POINTS):
        s.rows[ANGLE, k] = angle_at(s, PLACES[k])
    poses(c, p, s, POINTS)


@kernel
def pose_at(c: Record, p: Record, s: Record, at: Record, u: float) -> None:
    """The pose at place u of a sweep, into the first column of `at`."""
    at.shift[:] = s.shift
    at.rows[ANGLE, 0] = angle_at(s, u)
    poses(c, p, at, 1)


@kernel
def settle(c: Record, p: Record, s: Record, at: Record, row: int, u: float, level: float, slope: float) -> float:
    """Place u where one row is at a level, from a place and slope that are near, on exact poses, as `Sweep.settle`."""
    pose_at(c, p, s, at, u)
    off = at.rows[row, 0] - level
    for _ in range(SETTLING_STEPS):
        step = off / slope
        if not abs(step) < 0.1:
            step = 0.0
        before, last = u, off
        u = min(max(u - step, -1.0), 1.0)
        if abs(step) < (SETTLED if row == TRAVEL else LOCK_SETTLED):
            break
        pose_at(c, p, s, at, u)
        off = at.rows[row, 0] - level
        if abs(u - before) > SETTLED:
            chord = (off - last) / (u - before)
            slope = chord if chord * slope > 0.0 else slope
    return u


@kernel
def _end_angle(c: Record, p: Record, at: Record, direction: float, needed: float, lock: float) -> float:
    """Arm angle at which the wheel has travelled at least so far up (+1) or down (-1), or the lock."""
    margin = 0.01 * needed
    rise, angle, steepest = needed + margin, lock, c.lower_steepest
    for _ in range(8):
        height = (p.lower_outer[2] + direction * rise - c.lower_centre[2]) / c.lower_radius
        straight = abs(height) >= steepest
        angle = angle_at_height(c, min(max(height, -steepest), steepest))
        if straight:
            # the wheel may still travel a little where its lower pivot has turned back
            angle += direction * PAST_STRAIGHT
        if direction * (angle - lock) >= 0.0:
            return lock
        at.rows[ANGLE, 0] = angle
        poses(c, p, at, 1)
        short = needed - direction * at.rows[TRAVEL, 0]
        if straight or short <= 0.0 or at.rows[TIE_SPARE, 0] < 0.0:
            break
        rise += short + margin
    return angle


@kernel
def sweep_whole(c: Record, p: Record, s: Record, at: Record, room: Record) -> bool:
    """Sweep from droop cap to bump cap or lock-up, the shift given; whether the tie rod stays well clear of locking."""
    at.shift[:] = s.shift
    at.rows[ANGLE, 0] = p.ride_angle
    poses(c, p, at, 1)
    if not at.rows[TIE_SPARE, 0] >= TIE_SLACK:
        return False
    low, high = p.low_lock, p.high_lock
    s.low_lock, s.high_lock = ARMS, ARMS
    for turn in range(LOCKS_MET + 1):
        lowest = _end_angle(c, p, at, -1.0, c.droop_cap, low)
        highest = _end_angle(c, p, at, 1.0, c.bump_cap, high)
        set_span(s, lowest, highest, low, high)
        fill(c, p, s)
        s.ride = place_of_angle(s, p.ride_angle)
        if turn == LOCKS_MET:
            break
        spare = s.rows[TIE_SPARE]
        least, most = least_and_most(spare)
        well_clear = least - OVERSHOOT * (most - least) >= DOUBT
        if well_clear or least_turning(spare, 1.0, room.series, room.grid) >= DOUBT:
            break
        below, above = _tie_lock(c, p, s, at, -1, room), _tie_lock(c, p, s, at, 1, room)
        if math.isinf(below) or math.isinf(above):
            return False
        if math.isnan(below) and math.isnan(above):
            break
        if not math.isnan(below):
            low, s.low_lock = angle_at(s, below), TIE_ROD
        if not math.isnan(above):
            high, s.high_lock = angle_at(s, above), TIE_ROD
    if s.low > -LOCKED_SWING:
        s.low_lock = NOTHING
    if s.high < LOCKED_SWING:
        s.high_lock = NOTHING
    transform(TO_SERIES, s.rows[TRAVEL], s.travel_series)
    s.level = _level(c, p, s, at, room)
    return True


@kernel
def _tie_lock(c: Record, p: Record, s: Record, at: Record, direction: int, room: Record) -> float:
    """Place where the tie rod first fails to reach, as `sweep._tie_lock`; NaN without one, infinite in doubt."""
    spare = s.rows[TIE_SPARE]
    for k in range(POINTS):
        room.curve[k] = TIE_SLACK - spare[k]
    place = first_crossing(room.curve, s.ride, direction, room.series)
    if not math.isnan(place) and place != s.ride:
        return settle(c, p, s, at, TIE_SPARE, place, TIE_SLACK, -value_and_slope(room.series, place)[1])
    # it may only touch in-line and part again
    grid = room.grid
    transform(ONTO_TURNS, spare, grid)
    for i in range(1, TURNS - 1):
        dips = grid[i] <= grid[i - 1] and grid[i] <= grid[i + 1] and grid[i] < TOUCHES
        if dips and direction * (TURN_PLACES[i + direction] - s.ride) > 0.0:
            return math.inf
    return math.nan


@kernel
def _level(c: Record, p: Record, s: Record, at: Record, room: Record) -> float:
    """Place where the wheel centre stands at ride height; the ride pose's where it cannot."""
    if s.shift[0] == 0.0 and s.shift[1] == 0.0 and s.shift[2] == 0.0:
        return s.ride
    way = -1 if value(s.travel_series, s.ride) > 0.0 else 1
    for k in range(POINTS):
        room.curve[k] = way * s.rows[TRAVEL, k]
    place = first_crossing(room.curve, s.ride, way, room.series)
    if math.isnan(place):
        return s.ride
    return settle(c, p, s, at, TRAVEL, place, 0.0, value_and_slope(s.travel_series, place)[1])


@kernel
def find_ends(c: Record, whole: Record, required: Record, room: Record) -> None:
    """Places of full droop and full bump, read off the whole sweep: its ends where they are not reached."""
    for end in range(2):
        direction = 2 * end - 1
        needed = c.droop if end == 0 else c.bump
        for k in range(POINTS):
            room.curve[k] = direction * whole.rows[TRAVEL, k] - needed
        place = first_crossing(room.curve, whole.level, direction, room.series)
        room.reached[end] = not math.isnan(place)
        room.ends[end] = place if room.reached[end] else float(direction)
    required.complete = room.reached[0] and room.reached[1]


@kernel
def sweep_required(c: Record, p: Record, whole: Record, s: Record, at: Record, room: Record) -> None:
    """Sweep between the places in `room.ends`, settled on full droop and full bump where those are reached."""
    for end in range(2):
        if room.reached[end]:
            level = -c.droop if end == 0 else c.bump
            slope = value_and_slope(whole.travel_series, room.ends[end])[1]
            room.ends[end] = settle(c, p, whole, at, TRAVEL, room.ends[end], level, slope)
    s.middle, s.half = whole.middle, whole.half
    s.low, s.high = swing_at(whole, room.ends[0]), swing_at(whole, room.ends[1])
    s.shift[:] = whole.shift
    fill(c, p, s)


@kernel
def steer(c: Record, p: Record, whole: Record, required: Record, at: Record, room: Record) -> bool:
    """Both sweeps with the shift given in `whole`, as `sweep.steer`; False where the arrays have to look."""
    if not sweep_whole(c, p, whole, at, room):
        return False
    find_ends(c, whole, required, room)
    sweep_required(c, p, whole, required, at, room)
    return True


@kernel
def resteer(
    c: Record, p: Record, whole: Record, required: Record, low: float, high: float, at: Record, room: Record
) -> None:
    """The required sweep with the inner joint a little elsewhere, as `sweep.resteer`; its ends were at low and high."""
    room.ends[0], room.ends[1] = place_of_swing(whole, low), place_of_swing(whole, high)
    room.reached[:] = required.complete
    sweep_required(c, p, whole, required, at, room)
