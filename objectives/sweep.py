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
from objectives.linkage import Pose, measured_frame, pose
from objectives.lockup import lock_angles
from objectives.ride import Placed, angle_at_height
from objectives.roots import least_between
from objectives.steering import Position
from objectives.vectors import Array, dot, over

POINTS = 17  # of a sweep; what decides a result is settled on exact poses, so these only have to find it

SETTLED = 1e-8  # of u: a step this short leaves an error far below rounding, for each wins as many digits as it has
LOCKED_SWING = 0.5 * np.pi - 1e-6  # radians; a sweep that ends here ends at lock-up: arcsin is 1e-8 off so near to 1
TIE_SLACK = 1e-9  # of sin^2: nearer to in-line than this, rounding decides on which side the tie rod goes on
PAST_STRAIGHT = 0.3  # radians that a sweep goes on where the lower arm stands on end
_SETTLING = 8  # steps; two or three settle what the polynomial knows well
_DOUBT = 1e-4  # of sin^2: nearer to in-line than this on the polynomial, the tie rod's lock-up is looked for
_LOOKS = 65  # exact poses among which the tie rod's lock-up is looked for, where it comes near
NOTHING, ARMS, TIE_ROD = np.int8(0), np.int8(1), np.int8(2)  # what locks at the end of a sweep


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

    def take(self, index: NDArray[np.intp]) -> Span:
        """Return the candidates at `index`."""
        return Span(self.middle[index], self.half[index], self.low[index], self.high[index])

    def place_of_angle(self, angle: Array) -> Array:
        """Place u of a lower-arm angle, shape (N,), inside the span."""
        swing = np.arcsin(np.clip((angle - self.middle) / self.half, -1.0, 1.0))
        return np.clip(self.place_of_swing(swing), -1.0, 1.0)

    def place_of_swing(self, swing: Array) -> Array:
        """Place u of a parameter angle, shape (N,)."""
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

    def at(self, u: Array) -> Sweep:
        """Exact poses at places u of this sweep, shape (P, N), in place of its Chebyshev points."""
        return Sweep(self.placed, self.span, self.shift, pose(self.placed, self.span.angle(u), self.shift))

    def settle(self, curve: Callable[[Sweep], Array], u: Array) -> Array:
        """Polish places u, shape (N,), where a curve read off the polynomial is zero, on exact poses.

        The first slope is the polynomial's, then the chord's: where the polynomial of a sweep through a very wide angle
        is off by mm, its slope is off by a third.
        """
        slope = chebyshev.slope(curve(self), u)
        value = curve(self.at(u[None]))[0]
        for _ in range(_SETTLING):
            with np.errstate(divide="ignore", invalid="ignore"):
                step = value / slope
            step = np.where(np.abs(step) < 0.1, step, 0.0)
            before, last = u, value
            u = np.clip(u - step, -1.0, 1.0)
            if np.abs(step).max() < SETTLED:
                break
            value = curve(self.at(u[None]))[0]
            slope = np.where(np.abs(u - before) > SETTLED, _chord(value - last, u - before, slope), slope)
        return u

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
        measured, _, _ = measured_frame(self.placed)
        axis = measured.parts(self.placed.corner.steering.outer_rod_end.axis)
        return dot(self.pose.tie_rod, self.pose.frame.carry(axis))

    @cached_property
    def inner_rod_end(self) -> Array:
        """Cosine between tie rod and the inner rod end's bolt, signed."""
        return dot(self.pose.tie_rod, over(self.placed.corner.steering.inner_rod_end.axis, 2))


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


Locks = tuple[Array, Array]
"""Lower-arm angles below and above ride at which the arms lock, radians, shape (N,) each."""


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
    bottom = whole.settle(_past_droop, np.where(np.isnan(bottom), -1.0, bottom))
    top = whole.settle(_past_bump, np.where(np.isnan(top), 1.0, top))
    required = _sweep(placed, whole.span.part(bottom, top), shift, points)
    return Steered(position, whole, required, reaches, complete, low_lock, high_lock)


def resteer(steered: Steered, placed: Placed) -> Sweep:
    """Required sweep of the same candidates with their inner joints a little elsewhere, between ends settled anew."""
    whole, required = steered.whole, steered.required
    moved = replace(whole, placed=placed)

    def end(swing: Array, past: Callable[[Sweep], Array]) -> Array:
        u = whole.span.place_of_swing(swing)
        return np.where(steered.complete, moved.settle(past, u), u)

    bottom, top = end(required.span.low, _past_droop), end(required.span.high, _past_bump)
    return _sweep(placed, whole.span.part(bottom, top), whole.shift, required.pose.angle.shape[0])


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
    low, high = locks
    low_lock, high_lock = np.full(low.shape, ARMS), np.full(low.shape, ARMS)
    whole = _sweep_between(placed, shift, low, high, points)
    for _ in range(3):
        tie_low, tie_high = (_tie_lock(whole, direction) for direction in (-1, 1))
        low_stops, high_stops = np.isfinite(tie_low), np.isfinite(tie_high)
        if not (low_stops.any() or high_stops.any()):
            break
        low_lock[low_stops], high_lock[high_stops] = TIE_ROD, TIE_ROD
        low = np.where(low_stops, whole.span.angle(tie_low), low)
        high = np.where(high_stops, whole.span.angle(tie_high), high)
        whole = _sweep_between(placed, shift, low, high, points)
    at_low, at_high = whole.span.low <= -LOCKED_SWING, whole.span.high >= LOCKED_SWING
    return whole, np.where(at_low, low_lock, NOTHING), np.where(at_high, high_lock, NOTHING)


def _sweep_between(placed: Placed, shift: Array, low: Array, high: Array, points: int) -> Sweep:
    """Sweep from the droop cap to the bump cap, as far as the locks at `low` and `high` (radians, (N,)) allow."""
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    travel = placed.corner.travel

    def swing(direction: float, needed: float, lock: Array) -> Array:
        angle = _end_angle(placed, shift, direction, needed, lock)
        found: Array = np.arcsin(np.clip((angle - middle) / half, -1.0, 1.0))
        return found

    span = Span(middle, half, swing(-1.0, travel.droop_cap, low), swing(1.0, travel.most_bump, high))
    return _sweep(placed, span, shift, points)


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
    doubtful = np.flatnonzero(chebyshev.peaked(whole.pose.tie_spare, (), chebyshev.TURNS)[0].min(axis=0) < _DOUBT)
    if not doubtful.size:
        return found
    some = whole.take(doubtful)
    lack = chebyshev.first_crossing(_tie_lack(some), some.ride, direction)
    crosses = np.isfinite(lack) & (lack != some.ride)
    found[doubtful[crosses]] = some.settle(_tie_lack, np.where(crosses, lack, some.ride))[crosses]
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
