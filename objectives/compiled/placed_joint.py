"""The inner tie-rod joint of one candidate: what `objectives.inner_joint` and `objectives.minimax` do for many."""

from __future__ import annotations

import math

import numpy as np

from objectives import chebyshev
from objectives.compiled.curves import TO_SLOPES, by_columns, copy, to_series, transform, turning_place, value
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import (
    COS,
    KINGPIN,
    LOWER,
    POINTS,
    ROD,
    SIN,
    SPIN,
    STEER,
    TRAVEL,
    WHEEL,
    WIDTH,
    Record,
    Row,
)
from objectives.compiled.poses import arms, carry_rod, filled, join_tie_rod
from objectives.compiled.sweeps import ALL_PLACES, resteer, steer
from objectives.compiled.trig import toe_curve
from objectives.inner_joint import ROUNDS, TOE_GRID, WORTH_A_STEP
from objectives.minimax import SMALL, STEPS

ONTO_GRID = by_columns(chebyshev.sampled(np.eye(POINTS), TOE_GRID))
TOE_PLACES = chebyshev.points(TOE_GRID)


@kernel
def place_inner_joint(c: Record, p: Record, wholes: Row, required: Row, at: Record, room: Record) -> bool:
    """Give a candidate the joint of `inner_joint.best_inner_joint`; False where the arrays have to look."""
    wholes[0].shift[:] = 0.0
    _first_guess(c, p, wholes[0], room)
    for i in range(2):
        p.inner_joint[1 + i] = min(max(p.inner_joint[1 + i], c.region_low[i]), c.region_high[i])
        room.reach[i] = c.region_high[i] - c.region_low[i]
    for rounds in ROUNDS:
        if not (room.reach[0] > 0.0 or room.reach[1] > 0.0):
            break
        join_tie_rod(p)
        if not steer(c, p, wholes, required, at, room):
            return False
        _descend(c, p, wholes, required, at, room, rounds)
    join_tie_rod(p)
    return True


@kernel
def _first_guess(c: Record, p: Record, s: Record, room: Record) -> None:
    """Centre, at the joint's own x, of the circle nearest to the outer joint's path with toe held."""
    rows, steepest, ride = s.rows, c.lower_steepest, p.lower_outer[2] - c.lower_centre[2]
    droop, bump, by_radius, by_steepest = c.droop, c.bump, 1.0 / c.lower_radius, 1.0 / c.lower_steepest
    out, up = c.lower_outward[2] * by_steepest, c.lower_upward[2] * by_steepest
    for k in range(WIDTH):
        # cosine and sine of the difference of two angles, that of the steepest place and that from it to this height
        rise = (ride + (droop if ALL_PLACES[k] < 0.0 else bump) * ALL_PLACES[k]) * by_radius
        cos = (-steepest if rise < -steepest else steepest if rise > steepest else rise) * by_steepest
        sin = math.sqrt((1.0 - cos) * (1.0 + cos))
        rows[COS, k], rows[SIN, k] = out * cos + up * sin, up * cos - out * sin
    arms(c, p, s, filled(POINTS))
    path_y, path_z, half_square = room.toe, room.by_y, room.by_z
    _toe_held(c, p, s, path_y, path_z, half_square)
    mean_y, mean_z, mean = 0.0, 0.0, 0.0
    for k in range(POINTS):
        mean_y, mean_z, mean = mean_y + path_y[k], mean_z + path_z[k], mean + half_square[k]
    mean_y, mean_z, mean = mean_y / POINTS, mean_z / POINTS, mean / POINTS
    yy, zz, yz, right_y, right_z = 0.0, 0.0, 0.0, 0.0, 0.0
    for k in range(POINTS):
        y, z, square = path_y[k] - mean_y, path_z[k] - mean_z, half_square[k] - mean
        yy, zz, yz = yy + y * y, zz + z * z, yz + y * z
        right_y, right_z = right_y + y * square, right_z + z * square
    size = max(yy * zz - yz * yz, 1e-12 * yy * zz)
    p.inner_joint[1] = (zz * right_y - yz * right_z) / size
    p.inner_joint[2] = (yy * right_z - yz * right_y) / size


@kernel
def _toe_held(c: Record, p: Record, s: Record, path_y: Row, path_z: Row, half_square: Row) -> None:
    """Path of the outer joint when the wheel keeps its toe, as `inner_joint._toe_held`.

    Written are y and z, and half the square of the distance from a point on the joint's own x.
    """
    rows, roll_x, roll_y, inner_x = s.rows, math.cos(c.static_toe), -math.sin(c.static_toe), p.inner_joint[0]
    along, off, spin = p.along, p.off, p.spin_parts
    size = math.hypot(spin[1], spin[2])
    lean_off, ahead, aside = -spin[0] / size, spin[1] / size, spin[2] / size
    for k in range(WIDTH):
        king_x, king_y, king_z = rows[KINGPIN, k], rows[KINGPIN + 1, k], rows[KINGPIN + 2, k]
        # other than one where the arms do not reach
        by_size = 1.0 / math.sqrt(king_x * king_x + king_y * king_y + king_z * king_z)
        king_x, king_y, king_z = king_x * by_size, king_y * by_size, king_z * by_size
        lean = roll_x * king_x + roll_y * king_y
        x, y, z = roll_x - lean * king_x, roll_y - lean * king_y, -lean * king_z
        by_size = 1.0 / math.sqrt(x * x + y * y + z * z)
        x, y, z = x * by_size, y * by_size, z * by_size
        out_x, out_y, out_z = king_y * z - king_z * y, king_z * x - king_x * z, king_x * y - king_y * x
        level = lean_off * lean / math.sqrt(1.0 - lean * lean)
        level = -1.0 if level < -1.0 else 1.0 if level > 1.0 else level
        square = math.sqrt((1.0 - level) * (1.0 + level))
        cos, sin = off * (level * ahead + square * aside), off * (square * ahead - level * aside)
        x = rows[LOWER, k] + along * king_x + cos * x + sin * out_x - inner_x
        y = rows[LOWER + 1, k] + along * king_y + cos * y + sin * out_y
        z = rows[LOWER + 2, k] + along * king_z + cos * z + sin * out_z
        path_y[k], path_z[k], half_square[k] = y, z, 0.5 * (x * x + y * y + z * z)


@kernel
def _descend(c: Record, p: Record, wholes: Row, required: Row, at: Record, room: Record, rounds: int) -> None:
    """Better joints after some rounds; `room.reach` is 0 afterwards where nothing is left to gain."""
    best, fresh = room.best, room.fresh
    _linear(c, p, required[0], room, best)
    joint_y, joint_z, spread = p.inner_joint[1], p.inner_joint[2], _range(best, 0.0, 0.0)
    low, high = required[0].low, required[0].high  # every try begins at the ends that the round began with
    for _ in range(rounds):
        for i in range(2):
            joint = joint_y if i == 0 else joint_z
            room.low[i] = max(c.region_low[i] - joint, -room.reach[i])
            room.high[i] = min(c.region_high[i] - joint, room.reach[i])
        step_y, step_z = _least_range(best, room)
        gain = spread - _range(best, step_y, step_z)
        p.inner_joint[1], p.inner_joint[2] = joint_y + step_y, joint_z + step_z
        join_tie_rod(p)
        resteer(c, p, wholes, required, low, high, at, room)
        _linear(c, p, required[0], room, fresh)
        found = _range(fresh, 0.0, 0.0)
        better = found < spread
        if better:
            joint_y, joint_z, spread = p.inner_joint[1], p.inner_joint[2], found
            for i in range(3):
                copy(fresh[i], best[i])
        # a step that made it worse was too long for a straight line
        shrink = (0.5 if better else 0.2) if gain > WORTH_A_STEP else 0.0
        room.reach[0] *= shrink
        room.reach[1] *= shrink
        if shrink == 0.0:
            break
    p.inner_joint[1], p.inner_joint[2] = joint_y, joint_z


@kernel
def _range(linear: Row, step_y: float, step_z: float) -> float:
    """Greatest minus least toe after a step of the joint, along the straight lines."""
    least, most = math.inf, -math.inf
    for i in range(TOE_GRID):
        toe = linear[0, i] + step_y * linear[1, i] + step_z * linear[2, i]
        least, most = min(least, toe), max(most, toe)
    return most - least


@kernel
def _linear(c: Record, p: Record, s: Record, room: Record, out: Row) -> None:
    """Toe on a grid, and its slopes by the joint's y and z, into the three rows of `out`."""
    toe, by_y, by_z = room.toe, room.by_y, room.by_z
    toe_curve(s, toe)
    carry_rod(c, p, s, filled(POINTS))
    _toe_by_joint(p, s, room)
    series = room.series
    to_series(toe, series)
    transform(ONTO_GRID, toe, out[0])
    transform(ONTO_GRID, by_y, out[1])
    transform(ONTO_GRID, by_z, out[2])
    there, before = False, out[0, 0]
    for i in range(1, TOE_GRID - 1):
        here = out[0, i]
        if (before - here) * (out[0, i + 1] - here) > 0.0:
            if not there:
                to_series(by_y, room.curve)
                to_series(by_z, room.more)
                there = True
            place = turning_place(series, TOE_PLACES[i], TOE_PLACES[i - 1], TOE_PLACES[i + 1])
            out[0, i] = value(series, place)
            out[1, i] = value(room.curve, place)
            out[2, i] = value(room.more, place)
        before = here


@kernel
def _toe_by_joint(p: Record, s: Record, room: Record) -> None:
    """Change of toe, at a given travel, by the joint's y and by its z, as `inner_joint._toe_by_joint`."""
    rows, toe_slopes, travel_slopes, by_y, by_z, off = s.rows, room.curve, room.more, room.by_y, room.by_z, p.off
    transform(TO_SLOPES, room.toe, toe_slopes)
    transform(TO_SLOPES, rows[TRAVEL], travel_slopes)
    ride_y = (p.steering_outer[1] - p.inner_joint[1]) / p.tie_rod_length
    ride_z = (p.steering_outer[2] - p.inner_joint[2]) / p.tie_rod_length
    for k in range(POINTS):
        king_x, king_y, king_z = rows[KINGPIN, k], rows[KINGPIN + 1, k], rows[KINGPIN + 2, k]
        steer_x, steer_y, steer_z = rows[STEER, k], rows[STEER + 1, k], rows[STEER + 2, k]
        spin_x, spin_y, spin_z = rows[SPIN, k], rows[SPIN + 1, k], rows[SPIN + 2, k]
        speed = off * (
            rows[ROD, k] * (king_y * steer_z - king_z * steer_y)
            + rows[ROD + 1, k] * (king_z * steer_x - king_x * steer_z)
            + rows[ROD + 2, k] * (king_x * steer_y - king_y * steer_x)
        )
        swing_x, swing_y = king_y * spin_z - king_z * spin_y, king_z * spin_x - king_x * spin_z
        toe = (spin_y * swing_x - spin_x * swing_y) / (spin_x * spin_x + spin_y * spin_y)
        lift = king_x * (rows[WHEEL + 1, k] - rows[LOWER + 1, k]) - king_y * (rows[WHEEL, k] - rows[LOWER, k])
        by_turn = (toe - toe_slopes[k] / travel_slopes[k] * lift) / speed
        by_turn = by_turn if by_turn - by_turn == 0.0 else 0.0  # what is not finite
        by_y[k] = by_turn * (rows[ROD + 1, k] - ride_y)
        by_z[k] = by_turn * (rows[ROD + 2, k] - ride_z)


@kernel
def _least_range(linear: Row, room: Record) -> tuple[float, float]:
    """The step of least range between `room.low` and `room.high`, as `minimax.least_range`."""
    middle_y, middle_z = 0.5 * (room.low[0] + room.high[0]), 0.5 * (room.low[1] + room.high[1])
    half_y, half_z = 0.5 * (room.high[0] - room.low[0]), 0.5 * (room.high[1] - room.low[1])
    curves, pair, inverse, held = room.curves, room.pair, room.inverse, room.held
    for i in range(TOE_GRID):
        curves[0, i] = linear[0, i] + middle_y * linear[1, i] + middle_z * linear[2, i]
        curves[1, i], curves[2, i] = half_y * linear[1, i], half_z * linear[2, i]
    _steepest(curves, 0.0, 0.0, pair)
    little = SMALL * pair[0]
    # the pair, with the two bounds towards which it falls
    inverse[:] = 0.0
    inverse[0, 2] = 1.0
    held[0], held[1], held[2] = pair[0], -1.0, -1.0
    for i in range(2):
        sign = -1.0 if pair[1 + i] > 0.0 else 1.0
        inverse[1 + i, i] = sign
        inverse[1 + i, 2] = -pair[1 + i] * sign
    x, y = 0.0, 0.0
    for _ in range(STEPS):
        x = -(inverse[0, 0] * held[0] + inverse[1, 0] * held[1] + inverse[2, 0] * held[2])
        y = -(inverse[0, 1] * held[0] + inverse[1, 1] * held[1] + inverse[2, 1] * held[2])
        t = inverse[0, 2] * held[0] + inverse[1, 2] * held[1] + inverse[2, 2] * held[2]
        _steepest(curves, x, y, pair)
        side = 0 if abs(x) >= abs(y) else 1
        outside = x if side == 0 else y
        if abs(outside) - 1.0 > 1e-9:
            pair[0], pair[1], pair[2], pair[3] = -1.0, 0.0, 0.0, 0.0
            pair[1 + side] = 1.0 if outside > 0.0 else -1.0
        elif not pair[0] + pair[1] * x + pair[2] * y - t > little:
            break
        _take_in(inverse, held, pair)
    return middle_y + half_y * min(max(x, -1.0), 1.0), middle_z + half_z * min(max(y, -1.0), 1.0)


@kernel
def _steepest(curves: Row, x: float, y: float, pair: Row) -> None:
    """The pair of places that makes the range at a step, as a constraint."""
    top, bottom, most, least = 0, 0, -math.inf, math.inf
    for i in range(TOE_GRID):
        at = curves[0, i] + x * curves[1, i] + y * curves[2, i]
        if at > most:
            top, most = i, at
        if at < least:
            bottom, least = i, at
    for row in range(3):
        pair[row] = curves[row, top] - curves[row, bottom]
    pair[3] = 1.0


@kernel
def _take_in(inverse: Row, held: Row, fresh: Row) -> None:
    """Take a broken constraint in for the one that gives way first."""
    out, least, through = -1, math.inf, 0.0
    for row in range(3):
        share = inverse[row, 0] * fresh[1] + inverse[row, 1] * fresh[2] + inverse[row, 2] * fresh[3]
        if share > 1e-12 and inverse[row, 2] / share < least:
            out, least, through = row, inverse[row, 2] / share, share
    if out < 0:
        return
    for column in range(3):
        inverse[out, column] /= through
    for row in range(3):
        if row != out:
            share = inverse[row, 0] * fresh[1] + inverse[row, 1] * fresh[2] + inverse[row, 2] * fresh[3]
            for column in range(3):
                inverse[row, column] -= share * inverse[out, column]
    held[out] = fresh[0]
