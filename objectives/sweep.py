"""Candidates swept through their travel with the steering held: exact poses at Chebyshev points.

The lower-arm angle is middle + half sin(parameter), middle and half taken from the two lock-up angles: with that,
curves stay smooth right up to lock-up, where in the arm angle itself they end like a square root.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.linkage import Pose, pose
from objectives.lockup import lock_angles
from objectives.ride import Placed, angle_at_height
from objectives.roots import least_between
from objectives.steering import Position
from objectives.vectors import Array, dot, over

POINTS = 17  # of a sweep; what decides a result is settled on exact poses, so these only have to find it

SETTLED = 1e-8  # of u: a step this short leaves an error far below rounding, for each wins as many digits as it has
LOCK_SETTLED = 1e-13  # of u: beside a lock the last digits of a place are mm/1000 of travel
LOCKED_SWING = 0.5 * np.pi - 1e-6  # radians; a sweep that ends here ends at lock-up: arcsin is 1e-8 off so near to 1
TIE_SLACK = 1e-9  # of sin^2: nearer to in-line than this, rounding decides on which side the tie rod goes on
PAST_STRAIGHT = 0.3  # radians that a sweep goes on where the lower arm stands on end
SAME_LOCK = 0.01  # of u: the lock at which a sweep was cut short is not found anew so near to that end
SETTLING_STEPS = 8  # steps; two or three settle what the polynomial knows well
DOUBT = 1e-4  # of sin^2: nearer to in-line than this on the polynomial, the tie rod's lock-up is looked for
NEAR = 1e-3  # of u: for slopes by differences
_LOOKS = 65  # exact poses among which the tie rod's lock-up is looked for, where it comes near
NOTHING, ARMS, TIE_ROD = np.int8(0), np.int8(1), np.int8(2)  # what locks at the end of a sweep


Locks = tuple[Array, Array]
"""Lower-arm angles below and above ride at which the arms lock, radians, shape (N,) each."""


@dataclass(frozen=True)
class Span:
    """Lower-arm angles of a sweep, shape (N,) each: angle = middle + half sin(swing), low <= swing <= high."""

    middle: Array
    half: Array
    low: Array
    high: Array

    def swing(self, u: Array) -> Array:
        """Parameter angle at u in [-1, 1], shape (P, N) or (N,)."""
        return 0.5 * (self.low + self.high) + 0.5 * (self.high - self.low) * u

    def angle(self, u: Array) -> Array:
        """Lower-arm angle at u, radians."""
        found: Array = self.middle + self.half * np.sin(self.swing(u))
        return found

    def part(self, low: Array, high: Array) -> Span:
        """The part of the span between two places u, shape (N,)."""
        return Span(self.middle, self.half, self.swing(low), self.swing(high))

    @staticmethod
    def between(low: Array, high: Array, locks: Locks) -> Span:
        """Span from one arm angle to another, both between the angles at which the arms lock."""
        middle, half = 0.5 * (locks[0] + locks[1]), 0.5 * (locks[1] - locks[0])
        swings = (np.arcsin(np.clip((angle - middle) / half, -1.0, 1.0)) for angle in (low, high))
        return Span(middle, half, *swings)

    def take(self, index: NDArray[np.intp] | slice) -> Span:
        """Return the candidates at `index`."""
        return Span(self.middle[index], self.half[index], self.low[index], self.high[index])

    def place_of_angle(self, angle: Array) -> Array:
        """Place u of a lower-arm angle, shape (N,) or (P, N), inside the span."""
        swing = np.arcsin(np.clip((angle - self.middle) / self.half, -1.0, 1.0))
        return np.clip(self.place_of_swing(swing), -1.0, 1.0)

    def place_of_swing(self, swing: Array) -> Array:
        """Place u of a parameter angle, shape (N,) or (P, N)."""
        found: Array = (2.0 * swing - self.low - self.high) / (self.high - self.low)
        return found


@dataclass(frozen=True)
class Sweep:
    """Exact poses of N candidates at the Chebyshev points of a span; curves have shape (points, N)."""

    placed: Placed
    span: Span
    shift: Array
    pose: Pose

    def take(self, index: NDArray[np.intp]) -> Sweep:
        """Return the candidates at `index`."""
        placed, span = self.placed.take(index), self.span.take(index)
        shift = self.shift if self.shift.ndim == 1 else self.shift[:, index]
        return _sweep(placed, span, shift, self.pose.angle.shape[0])

    def with_part(self, index: NDArray[np.intp], part: Sweep) -> Sweep:
        """The same candidates, those at `index` swept over the span of another sweep."""
        names = ("middle", "half", "low", "high")
        columns = {name: getattr(self.span, name).copy() for name in names}
        for name, values in columns.items():
            values[index] = getattr(part.span, name)
        return _sweep(self.placed, Span(**columns), self.shift, self.pose.angle.shape[0])

    def part(self, part: slice) -> Sweep:
        """The candidates of a slice; nothing is worked out again."""
        shift = self.shift if self.shift.ndim == 1 else self.shift[..., part]
        return Sweep(self.placed.take(part), self.span.take(part), shift, self.pose.part(part))

    def at(self, u: Array) -> Sweep:
        """Exact poses at places u of this sweep, shape (P, N), in place of its Chebyshev points."""
        return Sweep(self.placed, self.span, self.shift, pose(self.placed, self.span.angle(u), self.shift))

    def settle(
        self, curve: Callable[[Sweep], Array], u: Array, level: Array | float = 0.0, within: float = SETTLED
    ) -> Array:
        """Polish places u, shape (P, N) or (N,), where a curve read off the polynomial is at a level, on exact poses.

        The first slope is the polynomial's, then the chord's: where the polynomial of a sweep through a very wide angle
        is off by mm, its slope is off by a third.
        """

        def off(places: Array) -> Array:
            there = curve(self.at(places.reshape(-1, places.shape[-1])))
            return there.reshape(places.shape) - level

        return _polished(off, u, chebyshev.slope(curve(self), u), within)

    def turning(self, direction: int) -> Array:
        """Place u where the wheel centre turns back on the way from ride; infinite where it does not, (N,)."""
        place = chebyshev.first_crossing(-chebyshev.slopes(self.travel), self.ride, direction)
        return np.where(np.isnan(place), np.inf * direction, place)

    @cached_property
    def ride(self) -> Array:
        """Place u of the ride pose, shape (N,)."""
        return self.span.place_of_angle(self.placed.ride_angle)

    @cached_property
    def level(self) -> Array:
        """Place u where the wheel centre stands at ride height, shape (N,); the ride pose's where it cannot.

        At the ride pose's arm angle, steering lifts or lowers the wheel centre a little.
        """
        if not self.shift.any():
            return self.ride
        lifted = chebyshev.read(self.travel, self.ride) > 0.0
        down, up = (chebyshev.first_crossing(way * self.travel, self.ride, way) for way in (-1, 1))
        place = np.where(lifted, down, up)
        found = self.settle(lambda sweep: sweep.travel, np.where(np.isnan(place), self.ride, place))
        return np.where(np.isnan(place), self.ride, found)

    @cached_property
    def travel(self) -> Array:
        """Height of the wheel centre above ride, mm."""
        return self.pose.wheel[2] - self.placed.ride_height

    @cached_property
    def camber(self) -> Array:
        """Camber, radians, + top outboard."""
        return np.arcsin(-self.pose.spin[2])

    @cached_property
    def toe(self) -> Array:
        """Toe, radians, + toe-in."""
        return np.arctan2(self.pose.spin[0], self.pose.spin[1])

    @cached_property
    def contact(self) -> Array:
        """Contact centre, shape (3, points, N): lowest point of the loaded radius in the wheel plane."""
        return contact_centre(self.pose, self.placed.corner.tyre.loaded_radius)

    @cached_property
    def outer_rod_end(self) -> Array:
        """Cosine between tie rod and the outer rod end's bolt; its arcsine is the rod-end angle, signed."""
        axis = self.placed.measured.frame.parts(self.placed.corner.steering.outer_rod_end.axis)
        return dot(self.pose.tie_rod, self.pose.frame.carry(axis))

    @cached_property
    def inner_rod_end(self) -> Array:
        """Cosine between tie rod and the inner rod end's bolt, signed."""
        return dot(self.pose.tie_rod, over(self.placed.corner.steering.inner_rod_end.axis, 2))


def _polished(off: Callable[[Array], Array], u: Array, slope: Array, within: float = SETTLED) -> Array:
    """Places u where `off` is zero, by steps along a slope that is near enough at first, then along the chord's."""
    value = off(u)
    for _ in range(SETTLING_STEPS):
        with np.errstate(divide="ignore", invalid="ignore"):
            step = value / slope
        step = np.where(np.abs(step) < 0.1, step, 0.0)
        before, last = u, value
        u = np.clip(u - step, -1.0, 1.0)
        if np.abs(step).max() < within:
            break
        value = off(u)
        slope = np.where(np.abs(u - before) > SETTLED, _chord(value - last, u - before, slope), slope)
    return u


def _chord(rise: Array, run: Array, slope: Array) -> Array:
    """Slope of a chord, where it is of the sign of the slope known before; else that one, shape (N,)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        chord = rise / run
    return np.where(chord * slope > 0.0, chord, slope)


def contact_centre(where: Pose, radius: float) -> Array:
    """Lowest point of a circle of `radius` in the wheel plane, shape (3, K, N), mm."""
    spin = where.spin
    level = np.sqrt(1.0 - spin[2] ** 2)
    drop = spin * (spin[2] / level)
    drop[2] -= 1.0 / level
    centre: Array = where.wheel + radius * drop
    return centre


@dataclass(frozen=True)
class Steered:
    """N candidates with the steering held at one place.

    Attributes
    ----------
    position
        Where the steering is held.
    whole
        Sweep from the droop cap (or lock-up, or where the wheel turns back) to the bump cap.
    required
        Sweep from full droop to full bump; where a candidate does not get there, as far as it gets.
    reaches
        Whether the tie rod reaches at ride with the steering held there, shape (N,); where not, nothing else counts.
    complete
        Whether the candidate assembles over the required travel, shape (N,).
    low_lock, high_lock
        What locks at the ends of the whole sweep: one of NOTHING, ARMS, TIE_ROD; shape (N,).
    """

    position: Position
    whole: Sweep
    required: Sweep
    reaches: NDArray[np.bool_]
    complete: NDArray[np.bool_]
    low_lock: NDArray[np.int8]
    high_lock: NDArray[np.int8]

    def part(self, part: slice, position: Position) -> Steered:
        """The candidates of a slice, all of them at one position; nothing is worked out again."""
        return Steered(
            position,
            self.whole.part(part),
            self.required.part(part),
            self.reaches[part],
            self.complete[part],
            self.low_lock[part],
            self.high_lock[part],
        )


def steer(placed: Placed, position: Position, points: int = POINTS, locks: Locks | None = None) -> Steered:
    """Sweep placed candidates with the steering held; where the arms lock may be given, it is the same at all."""
    reaches = pose(placed, placed.ride_angle[None], position.shift).tie_spare[0] >= TIE_SLACK
    # what cannot even be steered there is swept straight ahead, so that its numbers stay numbers
    shift = position.shift if reaches.all() else np.where(reaches, over(position.shift, 2 - position.shift.ndim), 0.0)
    whole, low_lock, high_lock = _sweep_to_locks(placed, shift, points, locks or lock_angles(placed))
    # at the ride pose's arm angle a steered wheel may stand beyond full bump or droop already
    bottom = chebyshev.first_crossing(_past_droop(whole), whole.level, -1)
    top = chebyshev.first_crossing(_past_bump(whole), whole.level, 1)
    complete = np.isfinite(bottom) & np.isfinite(top) & reaches
    reached = np.isfinite(np.stack((bottom, top)))
    ends = np.where(reached, (bottom, top), [[-1.0], [1.0]])
    # an end that is not reached is where the sweep ends, and nothing to be settled
    bottom, top = np.where(reached, _settled_ends(whole, ends), ends)
    required = _sweep(placed, whole.span.part(bottom, top), shift, points)
    return Steered(position, whole, required, reaches, complete, low_lock, high_lock)


def resteer(steered: Steered, placed: Placed) -> Sweep:
    """Required sweep of the same candidates with their inner joints a little elsewhere, between ends settled anew."""
    whole, required = steered.whole, steered.required
    moved = replace(whole, placed=placed)

    ends = whole.span.place_of_swing(np.stack((required.span.low, required.span.high)))
    bottom, top = np.where(steered.complete, _settled_ends(moved, ends), ends)
    return _sweep(placed, whole.span.part(bottom, top), whole.shift, required.pose.angle.shape[0])


def required_between(placed: Placed, span: Span, ends: Array, shift: Array, points: int) -> Sweep:
    """Required sweep of candidates that are known to reach its ends, near places u (2, N) of the span."""
    travel = placed.corner.travel
    level = np.array([[-travel.droop], [travel.bump]])

    def off(u: Array) -> Array:
        found: Array = pose(placed, span.angle(u), shift).wheel[2] - placed.ride_height - level
        return found

    slope = (off(ends + NEAR) - off(ends - NEAR)) / (2.0 * NEAR)
    bottom, top = _polished(off, ends, slope)
    return _sweep(placed, span.part(bottom, top), shift, points)


def _settled_ends(whole: Sweep, ends: Array) -> Array:
    """Places u of full droop and full bump, shape (2, N), settled."""
    travel = whole.placed.corner.travel
    return whole.settle(lambda sweep: sweep.travel, ends, np.array([[-travel.droop], [travel.bump]]))


def _past_droop(sweep: Sweep) -> Array:
    """How far the wheel is below full droop, mm."""
    return -sweep.placed.corner.travel.droop - sweep.travel


def _past_bump(sweep: Sweep) -> Array:
    """How far the wheel is above full bump, mm."""
    return sweep.travel - sweep.placed.corner.travel.bump


def _sweep(placed: Placed, span: Span, shift: Array, points: int) -> Sweep:
    return Sweep(placed, span, shift, pose(placed, span.angle(chebyshev.points(points)[:, None]), shift))


def _sweep_to_locks(
    placed: Placed, shift: Array, points: int, locks: Locks
) -> tuple[Sweep, NDArray[np.int8], NDArray[np.int8]]:
    """Whole sweep, as far as arms and tie rod allow, and what locks at its two ends."""
    low, high = locks[0].copy(), locks[1].copy()
    low_lock, high_lock = np.full(low.shape, ARMS), np.full(low.shape, ARMS)
    whole = part = _sweep_between(placed, shift, low, high, points)
    todo = np.arange(low.size)
    for _ in range(3):
        tie_low, tie_high = (_tie_lock(part, direction) for direction in (-1, 1))
        low_stops = np.isfinite(tie_low) & ~((low_lock[todo] == TIE_ROD) & (tie_low < SAME_LOCK - 1.0))
        high_stops = np.isfinite(tie_high) & ~((high_lock[todo] == TIE_ROD) & (tie_high > 1.0 - SAME_LOCK))
        stopped = np.flatnonzero(low_stops | high_stops)
        if not stopped.size:
            break
        low_lock[todo[low_stops]], high_lock[todo[high_stops]] = TIE_ROD, TIE_ROD
        low[todo] = np.where(low_stops, part.span.angle(tie_low), low[todo])
        high[todo] = np.where(high_stops, part.span.angle(tie_high), high[todo])
        todo = todo[stopped]
        part = part.take(stopped)
        part = _sweep_between(part.placed, part.shift, low[todo], high[todo], points)
        whole = whole.with_part(todo, part)
    at_low, at_high = whole.span.low <= -LOCKED_SWING, whole.span.high >= LOCKED_SWING
    return whole, np.where(at_low, low_lock, NOTHING), np.where(at_high, high_lock, NOTHING)


def _sweep_between(placed: Placed, shift: Array, low: Array, high: Array, points: int) -> Sweep:
    """Sweep from the droop cap to the bump cap, as far as the locks at `low` and `high` (radians, (N,)) allow."""
    travel = placed.corner.travel
    lowest = _end_angle(placed, shift, -1.0, travel.droop_cap, low)
    highest = _end_angle(placed, shift, 1.0, travel.most_bump, high)
    return _sweep(placed, Span.between(lowest, highest, (low, high)), shift, points)


def _end_angle(placed: Placed, shift: Array, direction: float, needed: float, lock: Array) -> Array:
    """Lower-arm angle at which the wheel has travelled at least `needed` (mm) up (+1) or down (-1), or the lock."""
    lower = placed.lower
    ride = lower.at(placed.ride_angle)[2]
    margin = 0.01 * needed
    rise = np.full(lock.shape, needed + margin)
    for _ in range(8):
        height = (ride + direction * rise - lower.centre[2]) / lower.radius
        straight = np.abs(height) >= lower.steepest
        # the wheel may still travel a little where its lower pivot has turned back
        angle = angle_at_height(lower, np.clip(height, -lower.steepest, lower.steepest))
        angle = np.where(straight, angle + direction * PAST_STRAIGHT, angle)
        locked = direction * (angle - lock) >= 0.0
        angle = np.where(locked, lock, angle)
        there = pose(placed, angle[None], shift)
        short = needed - direction * (there.wheel[2, 0] - placed.ride_height)
        done = locked | straight | (short <= 0.0) | (there.tie_spare[0] < 0.0)
        if done.all():
            break
        rise = np.where(done, rise, rise + short + margin)
    return angle


def _tie_lock(whole: Sweep, direction: int) -> Array:
    """Place u where the tie rod first fails to reach, on the way from ride; NaN where it always reaches."""
    found = np.full(whole.ride.shape, np.nan)
    # spare is smooth through lock-up and beyond, so its least value can be read off the polynomial
    spare = whole.pose.tie_spare
    doubtful = np.flatnonzero(spare.min(axis=0) - chebyshev.OVERSHOOT * np.ptp(spare, axis=0) < DOUBT)
    if doubtful.size:
        least = chebyshev.peaked(spare[:, doubtful], (), chebyshev.TURNS)[0].min(axis=0)
        doubtful = doubtful[least < DOUBT]
    if not doubtful.size:
        return found
    some = whole.take(doubtful)
    lack = chebyshev.first_crossing(_tie_lack(some), some.ride, direction)
    crosses = np.isfinite(lack) & (lack != some.ride)
    settled = some.settle(_tie_lack, np.where(crosses, lack, some.ride), within=LOCK_SETTLED)
    found[doubtful[crosses]] = settled[crosses]
    u = chebyshev.points(chebyshev.TURNS)[:, None]
    ahead = np.where(direction * (u - some.ride) > 0.0, chebyshev.sampled(some.pose.tie_spare, chebyshev.TURNS), 1.0)
    touches = np.flatnonzero(~crosses & (ahead.min(axis=0) < 0.1))
    if touches.size:
        found[doubtful[touches]] = _first_lack(some.take(touches), direction)
    return found


def _tie_lack(sweep: Sweep) -> Array:
    """How far the tie rod is from reaching, of sin^2, shape (K, N): above zero it locks."""
    return TIE_SLACK - sweep.pose.tie_spare


def _first_lack(sweep: Sweep, direction: int) -> Array:
    """Place u where the tie rod first fails to reach, from exact poses: it may only touch in-line and part again."""
    places = sweep.ride + (direction - sweep.ride) * np.linspace(0.0, 1.0, _LOOKS)[:, None]
    spare = sweep.at(places).pose.tie_spare
    rows, columns = np.nonzero((spare[1:-1] <= spare[:-2]) & (spare[1:-1] <= spare[2:]) & (spare[1:-1] < 0.1))
    if rows.size:
        near = sweep.take(columns)

        def spare_at(u: Array) -> Array:
            return near.at(u[None]).pose.tie_spare[0]

        lowest, least = least_between(spare_at, places[rows, columns], places[rows + 2, columns])
        places[rows + 1, columns], spare[rows + 1, columns] = lowest, least
    lacks = spare < TIE_SLACK
    lacks[0] = False
    first = np.argmax(lacks, axis=0)
    stopped = np.flatnonzero(lacks.any(axis=0))
    found = np.full(sweep.ride.shape, np.nan)
    if stopped.size:
        some = sweep.take(stopped)
        reaches, fails = places[first[stopped] - 1, stopped], places[first[stopped], stopped]
        for _ in range(50):
            middle = 0.5 * (reaches + fails)
            short = some.at(middle[None]).pose.tie_spare[0] < TIE_SLACK
            reaches, fails = np.where(short, reaches, middle), np.where(short, middle, fails)
        found[stopped] = reaches
    return found
