"""The inner tie-rod joint of one candidate: what `objectives.inner_joint` and `objectives.minimax` do for many."""

from __future__ import annotations

import math

import numpy as np

from objectives import chebyshev
from objectives.compiled.curves import TO_SERIES, TO_SLOPES, transform, turning_place, value
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import (
    ANGLE,
    KINGPIN,
    LOWER,
    POINTS,
    ROD,
    SPIN,
    STEER,
    TRAVEL,
    WHEEL,
    Record,
    Row,
)
from objectives.compiled.poses import angle_at_height, join_tie_rod, poses
from objectives.compiled.sweeps import resteer, steer
from objectives.inner_joint import ROUNDS, TOE_GRID, WORTH_A_STEP
from objectives.minimax import SMALL, STEPS

ONTO_GRID = chebyshev.sampled(np.eye(POINTS), TOE_GRID).T.copy()
TOE_PLACES = chebyshev.points(TOE_GRID)
PLACES = chebyshev.points(POINTS)


@kernel
def place_inner_joint(c: Record, p: Record, whole: Record, required: Record, at: Record, room: Record) -> bool:
    """Give a candidate the joint of `inner_joint.best_inner_joint`; False where the arrays have to look."""
    whole.shift[:] = 0.0
    _first_guess(c, p, whole)
    for i in range(2):
        p.inner_joint[1 + i] = min(max(p.inner_joint[1 + i], c.region_low[i]), c.region_high[i])
        room.reach[i] = c.region_high[i] - c.region_low[i]
    for rounds in ROUNDS:
        if not (room.reach[0] > 0.0 or room.reach[1] > 0.0):
            break
        join_tie_rod(p)
        if not steer(c, p, whole, required, at, room):
            return False
        _descend(c, p, whole, required, at, room, rounds)
    join_tie_rod(p)
    return True


@kernel
def _first_guess(c: Record, p: Record, s: Record) -> None:
    """Centre, at the joint's own x, of the circle nearest to the outer joint's path with toe held."""
    for k in range(POINTS):
        height = p.lower_outer[2] + (c.droop if PLACES[k] < 0.0 else c.bump) * PLACES[k]
        rise = (height - c.lower_centre[2]) / c.lower_radius
        s.rows[ANGLE, k] = angle_at_height(c, min(max(rise, -c.lower_steepest), c.lower_steepest))
    poses(c, p, s, POINTS)
    path_y, path_z, half_square = s.rows[WHEEL], s.rows[WHEEL + 1], s.rows[WHEEL + 2]  # rows that are free by then
    mean_y, mean_z, mean = 0.0, 0.0, 0.0
    for k in range(POINTS):
        x, y, z = _toe_held(c, p, s, k)
        x -= p.inner_joint[0]
        path_y[k], path_z[k], half_square[k] = y, z, 0.5 * (x * x + y * y + z * z)
        mean_y, mean_z, mean = mean_y + y / POINTS, mean_z + z / POINTS, mean + half_square[k] / POINTS
    yy, zz, yz, right_y, right_z = 0.0, 0.0, 0.0, 0.0, 0.0
    for k in range(POINTS):
        y, z, square = path_y[k] - mean_y, path_z[k] - mean_z, half_square[k] - mean
        yy, zz, yz = yy + y * y, zz + z * z, yz + y * z
        right_y, right_z = right_y + y * square, right_z + z * square
    size = max(yy * zz - yz * yz, 1e-12 * yy * zz)
    p.inner_joint[1] = (zz * right_y - yz * right_z) / size
    p.inner_joint[2] = (yy * right_z - yz * right_y) / size


@kernel
def _toe_held(c: Record, p: Record, s: Record, k: int) -> tuple[float, float, float]:
    """The outer joint at one place when the wheel keeps its toe, as `inner_joint._toe_held`."""
    king_x, king_y, king_z = s.rows[KINGPIN, k], s.rows[KINGPIN + 1, k], s.rows[KINGPIN + 2, k]
    size = math.sqrt(king_x * king_x + king_y * king_y + king_z * king_z)  # other than one where the arms do not reach
    king_x, king_y, king_z = king_x / size, king_y / size, king_z / size
    roll_x, roll_y = math.cos(c.static_toe), -math.sin(c.static_toe)
    lean = roll_x * king_x + roll_y * king_y
    x, y, z = roll_x - lean * king_x, roll_y - lean * king_y, -lean * king_z
    size = math.sqrt(x * x + y * y + z * z)
    x, y, z = x / size, y / size, z / size
    out_x, out_y, out_z = king_y * z - king_z * y, king_z * x - king_x * z, king_x * y - king_y * x
    spin = p.spin_parts
    cosine = -spin[0] * lean / math.sqrt(1.0 - lean * lean) / math.hypot(spin[1], spin[2])
    turn = math.acos(min(max(cosine, -1.0), 1.0)) - math.atan2(spin[2], spin[1])
    cos, sin = p.off * math.cos(turn), p.off * math.sin(turn)
    return (
        s.rows[LOWER, k] + p.along * king_x + cos * x + sin * out_x,
        s.rows[LOWER + 1, k] + p.along * king_y + cos * y + sin * out_y,
        s.rows[LOWER + 2, k] + p.along * king_z + cos * z + sin * out_z,
    )


@kernel
def _descend(c: Record, p: Record, whole: Record, required: Record, at: Record, room: Record, rounds: int) -> None:
    """Better joints after some rounds; `room.reach` is 0 afterwards where nothing is left to gain."""
    best, fresh = room.best, room.fresh
    _linear(p, required, room, best)
    joint_y, joint_z, spread = p.inner_joint[1], p.inner_joint[2], _range(best, 0.0, 0.0)
    low, high = required.low, required.high  # every try begins at the ends that the round began with
    for _ in range(rounds):
        for i in range(2):
            joint = joint_y if i == 0 else joint_z
            room.low[i] = max(c.region_low[i] - joint, -room.reach[i])
            room.high[i] = min(c.region_high[i] - joint, room.reach[i])
        step_y, step_z = _least_range(best, room)
        gain = spread - _range(best, step_y, step_z)
        p.inner_joint[1], p.inner_joint[2] = joint_y + step_y, joint_z + step_z
        join_tie_rod(p)
        resteer(c, p, whole, required, low, high, at, room)
        _linear(p, required, room, fresh)
        found = _range(fresh, 0.0, 0.0)
        better = found < spread
        if better:
            joint_y, joint_z, spread = p.inner_joint[1], p.inner_joint[2], found
            best[:] = fresh
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
def _linear(p: Record, s: Record, room: Record, out: Row) -> None:
    """Toe on a grid, and its slopes by the joint's y and z, into the three rows of `out`."""
    toe, by_y, by_z = room.toe, room.by_y, room.by_z
    for k in range(POINTS):
        toe[k] = math.atan2(s.rows[SPIN, k], s.rows[SPIN + 1, k])
    _toe_by_joint(p, s, room)
    series = room.series
    transform(TO_SERIES, toe, series)
    transform(ONTO_GRID, toe, out[0])
    transform(ONTO_GRID, by_y, out[1])
    transform(ONTO_GRID, by_z, out[2])
    filled, before = False, out[0, 0]
    for i in range(1, TOE_GRID - 1):
        here = out[0, i]
        if (before - here) * (out[0, i + 1] - here) > 0.0:
            if not filled:
                transform(TO_SERIES, by_y, room.curve)
                transform(TO_SERIES, by_z, room.more)
                filled = True
            place = turning_place(series, TOE_PLACES[i], TOE_PLACES[i - 1], TOE_PLACES[i + 1])
            out[0, i] = value(series, place)
            out[1, i] = value(room.curve, place)
            out[2, i] = value(room.more, place)
        before = here


@kernel
def _toe_by_joint(p: Record, s: Record, room: Record) -> None:
    """Change of toe, at a given travel, by the joint's y and by its z, as `inner_joint._toe_by_joint`."""
    rows = s.rows
    transform(TO_SLOPES, room.toe, room.curve)
    transform(TO_SLOPES, rows[TRAVEL], room.more)
    ride_y = (p.steering_outer[1] - p.inner_joint[1]) / p.tie_rod_length
    ride_z = (p.steering_outer[2] - p.inner_joint[2]) / p.tie_rod_length
    for k in range(POINTS):
        king_x, king_y, king_z = rows[KINGPIN, k], rows[KINGPIN + 1, k], rows[KINGPIN + 2, k]
        steer_x, steer_y, steer_z = rows[STEER, k], rows[STEER + 1, k], rows[STEER + 2, k]
        spin_x, spin_y, spin_z = rows[SPIN, k], rows[SPIN + 1, k], rows[SPIN + 2, k]
        speed = p.off * (
            rows[ROD, k] * (king_y * steer_z - king_z * steer_y)
            + rows[ROD + 1, k] * (king_z * steer_x - king_x * steer_z)
            + rows[ROD + 2, k] * (king_x * steer_y - king_y * steer_x)
        )
        swing_x, swing_y = king_y * spin_z - king_z * spin_y, king_z * spin_x - king_x * spin_z
        toe = (spin_y * swing_x - spin_x * swing_y) / (spin_x * spin_x + spin_y * spin_y)
        lift = king_x * (rows[WHEEL + 1, k] - rows[LOWER + 1, k]) - king_y * (rows[WHEEL, k] - rows[LOWER, k])
        by_turn = (toe - room.curve[k] / room.more[k] * lift) / speed
        by_turn = by_turn if math.isfinite(by_turn) else 0.0
        room.by_y[k] = by_turn * (rows[ROD + 1, k] - ride_y)
        room.by_z[k] = by_turn * (rows[ROD + 2, k] - ride_z)


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
