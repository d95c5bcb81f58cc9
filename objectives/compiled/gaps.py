"""Gap between the tyre of one candidate and bodywork: what `objectives.tyre` and `objectives.valley` do for many."""

from __future__ import annotations

import math

from objectives.between import ROUNDS
from objectives.chebyshev import points
from objectives.compiled.kernel import kernel
from objectives.compiled.layout import POINTS, POSITIONS, SPIN, TRAVEL, WHEEL, WIDTH, Record, Row
from objectives.compiled.poses import carry_wheel, filled, steering_shift
from objectives.compiled.reaches import valley
from objectives.compiled.sweeps import angle_at, fill, nowhere, place_of_angle, pose_at, put, set_span, settle, swing_at
from objectives.fender_clearance import WORTH
from objectives.roots import GOLDEN
from objectives.sweep import NEAR
from objectives.tyre import CLOSE, STEPS
from objectives.tyre import LOOKS as LOOKS_ALONG

PLACES = points(POINTS)
SHARP = 1e-9  # of u: how near a valley of the gap is followed, flat there to far below rounding
NEAR_FOOT = 1e-5  # relative: a last step for the foot of a point on the ellipse
LOOKS = 40  # at most, on the way into a valley


@kernel
def _ellipse_gap(u: float, v: float, thin: float, tall: float) -> tuple[float, float, float]:
    """Signed gap to the half of an ellipse at the end of the flat, and its normal, as `tyre._ellipse_gap`."""
    thin = max(thin, 1e-9 * tall)
    side = 1.0 if u > 0.0 else -1.0
    part_u, part_v, k = thin * max(abs(u), 1e-12 * tall), tall * v, tall * tall - thin * thin
    t = max(part_u, part_v - k) if u > 0.0 else part_u
    for _ in range(STEPS):
        in_v = k + side * t
        if not in_v > 0.0:
            break
        by_u, by_v = 1.0 / t, 1.0 / in_v
        first, second = (part_u * by_u) ** 2, (part_v * by_v) ** 2
        total, rate = first + second, first * by_u + side * second * by_v
        step = total * (math.sqrt(total) - 1.0) / rate if rate > 0.0 else 0.0
        if not in_v + side * step > 0.0:
            break
        t += step
        # the next step has twice the digits, and the gap, level in the foot's place, twice those of the foot
        if not abs(step) > NEAR_FOOT * t:
            break
    in_v = k + side * t
    cos, sin = part_u / (thin * t), v / in_v if in_v > 0.0 else 0.0
    length = math.sqrt(cos * cos + sin * sin)
    cos, sin = cos / length, sin / length
    return u * cos + v * sin - math.sqrt((thin * cos) ** 2 + (tall * sin) ** 2), cos, sin


@kernel
def _point_gap(
    c: Record, y: float, z: float, along_y: float, along_z: float, size: float, thin: float
) -> tuple[float, float, float]:
    """Signed gap of a point, told from the wheel centre, to the tyre, and the normal that shows it."""
    u, v = y * along_y + z * along_z, z * along_y - y * along_z
    over, across, tall = abs(u) - c.flat * size, abs(v), c.tall
    gap, cos, sin = across - tall, 0.0, 1.0
    if over > 0.0 or across < tall:
        # beside the flat the end is one way out, and the flat another
        end, end_cos, end_sin = _ellipse_gap(over, across, thin, tall)
        if over > 0.0 or end > gap:
            gap, cos, sin = end, end_cos, end_sin
    cos, sin = math.copysign(cos, u), math.copysign(sin, v)
    return gap - c.shoulder, cos * along_y - sin * along_z, cos * along_z + sin * along_y


@kernel
def gap_at(c: Record, outlines: Row, begins: Row, s: Record, k: int, nearest: tuple[int, int]) -> float:
    """Least signed gap to all outlines at one place of a sweep, as `fender_clearance.gap_at`.

    `nearest` is the piece that probably has it, for then the others' lines tell that they lie farther away.
    """
    least = _piece_gap(c, outlines, nearest[0], nearest[1], s, k)
    for outline in range(begins.size - 1):
        first, last = begins[outline], begins[outline + 1] - 1
        for i in range(first, max(last, first + 1)):
            following = min(i + 1, last)
            if i != nearest[0] and (i == following or _line_gap(c, outlines, i, s, k) < least):
                least = min(least, _piece_gap(c, outlines, i, following, s, k))
    return least


@kernel
def _piece_gap(c: Record, outlines: Row, first: int, second: int, s: Record, k: int) -> float:
    """Signed gap to a straight piece between two points of an outline, which may be one: it is convex along a piece."""
    size = math.sqrt(s.rows[SPIN + 1, k] ** 2 + s.rows[SPIN + 2, k] ** 2)
    along_y, along_z = s.rows[SPIN + 1, k] / size, s.rows[SPIN + 2, k] / size
    thin = c.tall * abs(s.rows[SPIN, k])
    y, z = outlines[first, 0] - s.rows[WHEEL + 1, k], outlines[first, 1] - s.rows[WHEEL + 2, k]
    piece_y, piece_z = outlines[second, 0] - outlines[first, 0], outlines[second, 1] - outlines[first, 1]
    low, normal_y, normal_z = _point_gap(c, y, z, along_y, along_z, size, thin)
    falls = normal_y * piece_y + normal_z * piece_z
    if not falls < 0.0:
        return low
    high, normal_y, normal_z = _point_gap(c, y + piece_y, z + piece_z, along_y, along_z, size, thin)
    rises = normal_y * piece_y + normal_z * piece_z
    least = min(low, high)
    if not rises > 0.0:
        return least
    line = _line_gap(c, outlines, first, s, k)
    if line >= -c.shoulder:
        return min(least, line)
    return _deepest(c, y, z, piece_y, piece_z, low, falls, high, rises, line, along_y, along_z, size, thin)


@kernel
def _line_gap(c: Record, outlines: Row, first: int, s: Record, k: int) -> float:
    """Gap to the line of the piece of outline from a point on: no point of it is nearer; as `tyre._face_gap`."""
    piece_y, piece_z = outlines[first + 1, 0] - outlines[first, 0], outlines[first + 1, 1] - outlines[first, 1]
    by_length = 1.0 / math.sqrt(piece_y * piece_y + piece_z * piece_z)
    square_y, square_z = -piece_z * by_length, piece_y * by_length
    spin, spin_y, spin_z = s.rows[SPIN, k], s.rows[SPIN + 1, k], s.rows[SPIN + 2, k]
    y, z = outlines[first, 0] - s.rows[WHEEL + 1, k], outlines[first, 1] - s.rows[WHEEL + 2, k]
    # of the square direction that along the spin axis as it is seen, and that across
    by_size = 1.0 / math.sqrt(spin_y * spin_y + spin_z * spin_z)
    flat, across = square_y * spin_y + square_z * spin_z, (square_z * spin_y - square_y * spin_z) * by_size
    round_off = spin * (flat * by_size)
    support = c.flat * abs(flat) + c.tall * math.sqrt(round_off * round_off + across * across)
    return abs(square_y * y + square_z * z) - support - c.shoulder


@kernel
def _line_gaps(c: Record, outlines: Row, first: int, s: Record, out: Row) -> None:
    """Gaps to the line of the piece from a point on, at all places of a sweep."""
    for k in range(WIDTH):
        out[k] = _line_gap(c, outlines, first, s, k)


@kernel
def _deepest(
    c: Record,
    y: float,
    z: float,
    piece_y: float,
    piece_z: float,
    at_low: float,
    falls: float,
    at_high: float,
    rises: float,
    floor: float,
    along_y: float,
    along_z: float,
    size: float,
    thin: float,
) -> float:
    """Least gap along a piece that cuts the core, from gap and slope at both ends, as `tyre._deepen`."""
    low, high, least = 0.0, 1.0, min(at_low, at_high)
    for look in range(LOOKS_ALONG):
        meet = (at_low - at_high + rises * high - falls * low) / (rises - falls)
        if not max(at_low + falls * (meet - low), floor) < least - CLOSE * c.tall:
            break
        # every third time in the middle, so that neither side is stuck
        at = 0.5 * (low + high) if look % 3 == 2 else meet
        gap, normal_y, normal_z = _point_gap(c, y + at * piece_y, z + at * piece_z, along_y, along_z, size, thin)
        slope = normal_y * piece_y + normal_z * piece_z
        least = min(least, gap)
        if slope < 0.0:
            low, at_low, falls = at, gap, slope
        else:
            high, at_high, rises = at, gap, slope
    return least


@kernel
def _falls(values: Row, first: int, second: int, third: int) -> bool:
    """Whether a curve falls inward from its end, by the slope there of a parabola through three points."""
    near, far = abs(PLACES[second] - PLACES[first]), abs(PLACES[third] - PLACES[first])
    return (values[second] - values[first]) * far * far < (values[third] - values[first]) * near * near


@kernel
def least_gap(c: Record, p: Record, s: Record, at: Record, outlines: Row, begins: Row, room: Record) -> float:
    """Least gap over a sweep, as `valley.least_over`."""
    gaps, last = room.curve, POINTS - 1
    best, least, nearest = _least_place(c, outlines, begins, s, room.lines)
    if best == 0 or best == last:
        # at an end of the sweep it may still bend down on the way in
        inward = 1 if best == 0 else -1
        gaps[best] = least
        for step in range(1, 3):
            gaps[best + step * inward] = gap_at(c, outlines, begins, s, best + step * inward, nearest)
        if not _falls(gaps, best, best + inward, best + 2 * inward):
            return least
    low, high = PLACES[max(best - 1, 0)], PLACES[min(best + 1, last)]
    return min(least, _valley_floor(c, p, s, at, outlines, begins, low, PLACES[best], high, least, nearest))


@kernel
def _least_place(c: Record, outlines: Row, begins: Row, s: Record, lines: Row) -> tuple[int, float, tuple[int, int]]:
    """The point of a sweep with the least gap, that, and the piece that has it.

    Looked at is only where a piece's line lies near enough.
    """
    best, nearest = POINTS - 1, (begins[0], min(begins[0] + 1, begins[1] - 1))
    least = _piece_gap(c, outlines, nearest[0], nearest[1], s, best)
    for outline in range(begins.size - 1):
        first, last = begins[outline], begins[outline + 1] - 1
        for i in range(first, max(last, first + 1)):
            following = min(i + 1, last)
            if i < following:
                _line_gaps(c, outlines, i, s, lines)
            for back in range(POINTS):  # from full bump on, where most tyres come nearest
                k = POINTS - 1 - back
                if i == following or lines[k] < least:
                    gap = _piece_gap(c, outlines, i, following, s, k)
                    if gap < least:
                        best, least, nearest = k, gap, (i, following)
    return best, least, nearest


@kernel
def _valley_floor(
    c: Record,
    p: Record,
    s: Record,
    at: Record,
    outlines: Row,
    begins: Row,
    low: float,
    best: float,
    high: float,
    least: float,
    nearest: tuple[int, int],
) -> float:
    """Least gap between two places, by parabolas and golden section in turn.

    Brent, Algorithms for Minimization without Derivatives, 1973, ch. 5, from memory.
    """
    x, at_x = best, least
    w, at_w, v, at_v = x, at_x, x, at_x
    step, before = 0.0, 0.0
    if x == low or x == high:
        x = low + (1.0 - GOLDEN) * (high - low) if x == low else high - (1.0 - GOLDEN) * (high - low)
        pose_at(c, p, s, at, x)
        at_x = gap_at(c, outlines, begins, at, 0, nearest)
        w, at_w, v, at_v = x, at_x, x, at_x
    for _ in range(LOOKS):
        middle = 0.5 * (low + high)
        if abs(x - middle) <= 2.0 * SHARP - 0.5 * (high - low):
            break
        golden = True
        if abs(before) > SHARP:
            r, q = (x - w) * (at_x - at_v), (x - v) * (at_x - at_w)
            top, bottom = (x - v) * q - (x - w) * r, 2.0 * (q - r)
            top = -top if bottom > 0.0 else top
            bottom = abs(bottom)
            if abs(top) < abs(0.5 * bottom * before) and bottom * (low - x) < top < bottom * (high - x):
                before, step = step, top / bottom
                golden = False
                if x + step - low < 2.0 * SHARP or high - x - step < 2.0 * SHARP:
                    step = SHARP if x < middle else -SHARP
        if golden:
            before = (high - x) if x < middle else (low - x)
            step = (1.0 - GOLDEN) * before
        u = x + (step if abs(step) >= SHARP else math.copysign(SHARP, step))
        pose_at(c, p, s, at, u)
        at_u = gap_at(c, outlines, begins, at, 0, nearest)
        if at_u <= at_x:
            if u < x:
                high = x
            else:
                low = x
            v, at_v, w, at_w, x, at_x = w, at_w, x, at_x, u, at_u
        else:
            if u < x:
                low = u
            else:
                high = u
            if at_u <= at_w or w == x:
                v, at_v, w, at_w = w, at_w, u, at_u
            elif at_u <= at_v or v == x or v == w:
                v, at_v = u, at_u
    return at_x


@kernel
def least_over_steering(
    c: Record,
    p: Record,
    wholes: Row,
    required: Row,
    spares: Row,
    at: Record,
    outlines: Row,
    begins: Row,
    room: Record,
) -> float:
    """Least gap over travel and all steering, as `between.least_over_steering`; `spares` is a sweep to work in."""
    if c.positions == 1:
        return least_gap(c, p, required[0], at, outlines, begins, room)
    shares, gaps, count = room.looked_at, room.looked, c.positions
    for rank in range(POSITIONS):
        shares[rank] = c.shares[c.rising[rank]]
        gaps[rank] = least_gap(c, p, required[c.rising[rank]], at, outlines, begins, room)
    widest = False
    for _ in range(ROUNDS):
        least = gaps[0]
        for i in range(1, count):
            least = min(least, gaps[i])
        share, depth = valley(shares, gaps, count)
        if not depth < least - WORTH:
            break
        if not widest:
            _widest(c, p, wholes, required, spares[0], room)
            widest = True
        found = _look(c, p, share, spares, at, outlines, begins, room)
        i = count
        while i > 0 and shares[i - 1] > share:
            shares[i], gaps[i] = shares[i - 1], gaps[i - 1]
            i -= 1
        shares[i], gaps[i] = share, found
        count += 1
    least = gaps[0]
    for i in range(1, count):
        least = min(least, gaps[i])
    return least


@kernel
def _widest(c: Record, p: Record, wholes: Row, required: Row, spare: Record, room: Record) -> None:
    """The span that holds those of all positions, and the places of every position's ends on it."""
    low, high = math.inf, -math.inf
    for position in range(POSITIONS):
        low = min(low, angle_at(wholes[position], -1.0))
        high = max(high, angle_at(wholes[position], 1.0))
    set_span(spare, low, high, p.low_lock, p.high_lock)
    room.span[0], room.span[1] = spare.low, spare.high
    for rank in range(POSITIONS):
        s = required[c.rising[rank]]
        room.end_places[0, rank] = place_of_angle(spare, angle_at(s, -1.0))
        room.end_places[1, rank] = place_of_angle(spare, angle_at(s, 1.0))


@kernel
def _look(
    c: Record, p: Record, share: float, spares: Row, at: Record, outlines: Row, begins: Row, room: Record
) -> float:
    """Least gap with the steering held between two positions, as `Motion.required_at`."""
    after = 1
    while after < POSITIONS - 1 and c.shares[c.rising[after]] < share:
        after += 1
    first, second = c.shares[c.rising[after - 1]], c.shares[c.rising[after]]
    weight = (share - first) / (second - first)
    spare = spares[0]
    spare.low, spare.high = room.span[0], room.span[1]
    steering_shift(c, share, spare.shift)
    nowhere(room, TRAVEL, 0)
    for way in range(2):
        near = (1.0 - weight) * room.end_places[way, after - 1] + weight * room.end_places[way, after]
        put(room, 0, near, c.bump if way else -c.droop, _travel_slope(c, p, spare, at, near))
    settle(c, p, spares, at, room)
    low, high = swing_at(spare, room.places[0]), swing_at(spare, room.places[1])
    spare.low, spare.high = low, high
    fill(c, p, spare)
    carry_wheel(p, spare, filled(POINTS))
    return least_gap(c, p, spare, at, outlines, begins, room)


@kernel
def _travel_slope(c: Record, p: Record, s: Record, at: Record, u: float) -> float:
    """Slope of travel at place u, on exact poses."""
    pose_at(c, p, s, at, u + NEAR)
    above = at.rows[TRAVEL, 0]
    pose_at(c, p, s, at, u - NEAR)
    return (above - at.rows[TRAVEL, 0]) / (2.0 * NEAR)
