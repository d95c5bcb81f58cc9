"""Everything the compiled functions measure of a candidate, and the loop over candidates."""

from __future__ import annotations

import math
from typing import Any

import numba
import numpy as np

from objectives.camber_error import GAUSS_POINTS
from objectives.compiled.curves import least_and_most, to_series, turning_range, value, value_and_slope
from objectives.compiled.gaps import least_over_steering
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import (
    BUMP,
    BUMP_STEER,
    CAMBER_ERROR,
    DROOP,
    FENDER,
    POINTS,
    POSITIONS,
    SCRUB,
    SPIN,
    TRAVEL,
    WHEEL,
    WIDTH,
    Record,
    Row,
)
from objectives.compiled.limits import orient_joints
from objectives.compiled.locks import find_locks
from objectives.compiled.placed_joint import place_inner_joint
from objectives.compiled.poses import place, steering_shift
from objectives.compiled.reaches import find_stops, reach
from objectives.compiled.sweeps import first_at_travel, steer
from objectives.compiled.trig import arctangent, toe_curve

carray: Any = vars(numba)["carray"]  # its stubs do not name it
"""Numbers or records behind a pointer, seen as an array."""
GAUSS_PLACES, GAUSS_WEIGHTS = np.polynomial.legendre.leggauss(GAUSS_POINTS)


@kernel
def camber_error(c: Record, s: Record, target: Row, room: Record) -> float:
    """RMS of camber minus target over the required travel, radians, as `camber_error.measure`."""
    begin, end = -c.droop, c.bump
    for k in range(WIDTH):
        lean = -s.rows[SPIN + 2, k]
        room.toe[k] = arctangent(lean / math.sqrt((1.0 - lean) * (1.0 + lean)))
    to_series(room.toe, room.more)
    to_series(s.rows[TRAVEL], s.travel_series)
    total, low, segment = 0.0, -1.0, 0
    for bend in range(len(target) + 1):
        last = bend == len(target)
        if not last and not begin < target[bend, 0] < end:
            continue
        high = 1.0
        if not last:
            place = first_at_travel(s, target[bend, 0], -1.0, 1.0, room.curve, room.series)
            high = 1.0 if math.isnan(place) else place
        half, middle = 0.5 * (high - low), 0.5 * (low + high)
        for i in range(GAUSS_POINTS):
            u = middle + half * GAUSS_PLACES[i]
            travel, slope = value_and_slope(s.travel_series, u)
            while segment < len(target) - 2 and target[segment + 1, 0] < travel:
                segment += 1
            off = value(room.more, u) - _interpolated(target, segment, travel)
            total += max(half * GAUSS_WEIGHTS[i] * slope / (end - begin), 0.0) * off * off
        low = high
    return math.sqrt(total)


@kernel
def _interpolated(target: Row, segment: int, travel: float) -> float:
    """Target camber at a travel near a segment of its curve, level beyond the ends."""
    while segment > 0 and travel < target[segment, 0]:
        segment -= 1
    if travel <= target[segment, 0] or len(target) == 1:
        return target[segment, 1]
    if travel >= target[segment + 1, 0]:
        return target[segment + 1, 1]
    share = (travel - target[segment, 0]) / (target[segment + 1, 0] - target[segment, 0])
    return target[segment, 1] + share * (target[segment + 1, 1] - target[segment, 1])


@kernel
def contact_side(c: Record, s: Record, out: Row) -> None:
    """Contact-centre y along a sweep, as `sweep.contact_centre`."""
    for k in range(WIDTH):
        lean = s.rows[SPIN + 2, k]
        out[k] = s.rows[WHEEL + 1, k] + c.loaded_radius * s.rows[SPIN + 1, k] * (lean / math.sqrt(1.0 - lean * lean))


@kernel
def measure_one(
    c: Record,
    h: Record,
    p: Record,
    wholes: Row,
    required: Row,
    at: Record,
    spares: Row,
    room: Record,
    outlines: Row,
    begins: Row,
    target: Row,
    wanted: int,
    out: Record,
) -> bool:
    """Measure a placed candidate; False where the arrays have to look."""
    find_locks(c, p, room)
    if c.joint_is_placed and not place_inner_joint(c, p, wholes[:1], required[:1], at, room):
        return False
    for position in range(c.positions):
        steering_shift(c, c.shares[position], wholes[position].shift)
    if not steer(c, p, wholes, required, at, room):
        return False
    orient_joints(c, h, p, at)
    out.arm_length, out.tie_rod_length = p.upper_radius, p.tie_rod_length
    out.inner_joint_y, out.inner_joint_z = p.inner_joint[1], p.inner_joint[2]
    out.assembled_droop, out.assembled_bump = math.inf, math.inf
    complete = True
    for position in range(c.positions):
        complete = complete and required[position].complete != 0
        least, most = least_and_most(required[position].rows[TRAVEL])
        out.assembled_droop, out.assembled_bump = min(out.assembled_droop, -least), min(out.assembled_bump, most)
    out.complete = complete
    if wanted & (DROOP | BUMP):
        find_stops(c, p, wholes, at, room)
    if wanted & DROOP:
        out.droop_limit, out.droop_why, out.droop_share = reach(c, p, wholes, at, -1.0, room)
    if wanted & BUMP:
        out.bump_limit, out.bump_why, out.bump_share = reach(c, p, wholes, at, 1.0, room)
    if complete:
        _measure_complete(c, p, wholes, required, at, spares, room, outlines, begins, target, wanted, out)
    return True


@kernel
def _measure_complete(
    c: Record,
    p: Record,
    wholes: Row,
    required: Row,
    at: Record,
    spares: Row,
    room: Record,
    outlines: Row,
    begins: Row,
    target: Row,
    wanted: int,
    out: Record,
) -> None:
    """What counts only over the whole required travel."""
    straight = required[0]
    if wanted & CAMBER_ERROR:
        out.camber_error = camber_error(c, straight, target, room)
        out.camber_bump = math.asin(-straight.rows[SPIN + 2, POINTS - 1])
        out.camber_droop = math.asin(-straight.rows[SPIN + 2, 0])
    if wanted & SCRUB:
        contact_side(c, straight, room.curve)
        least, most = turning_range(room.curve, room.series, room.grid)
        out.scrub = most - least
    if wanted & BUMP_STEER:
        toe_curve(straight, room.curve)
        least, most = turning_range(room.curve, room.series, room.grid)
        out.bump_steer = most - least
    if wanted & FENDER and begins.size > 1:
        out.fender_clearance = least_over_steering(c, p, wholes, required, spares, at, outlines, begins, room)


def measure_all(
    corner: Record,
    holes: Record,
    pivots: Row,
    hole: Row,
    outlines: Row,
    begins: Row,
    target: Row,
    placed: Record,
    sweeps: Row,
    room: Record,
    found: Row,
    done: Row,
    candidates: int,
    hole_count: int,
    outline_count: int,
    bends: int,
    wanted: int,
) -> None:
    """Measure candidates, handed as `layout.ARGUMENTS` says; `done` tells which, the others are for the arrays."""
    c, p, room = carray(corner, 1)[0], carray(placed, 1)[0], carray(room, 1)[0]
    sweeps = carray(sweeps, 2 + 2 * POSITIONS)
    at, spares = sweeps[0], sweeps[1:2]
    wholes, required = sweeps[2 : 2 + c.positions], sweeps[2 + c.positions : 2 + 2 * c.positions]
    begins, target = carray(begins, outline_count + 1), carray(target, (bends, 2))
    outlines = carray(outlines, (begins[outline_count], 2))
    holes, hole = carray(holes, hole_count), carray(hole, candidates)
    pivots, found, done = carray(pivots, (candidates, 3)), carray(found, candidates), carray(done, candidates)
    for i in range(candidates):
        h = holes[hole[i]]
        done[i] = place(c, h, p, pivots[i, 0], pivots[i, 1], pivots[i, 2]) and measure_one(
            c, h, p, wholes, required, at, spares, room, outlines, begins, target, wanted, found[i]
        )
