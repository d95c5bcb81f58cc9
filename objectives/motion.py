"""The corner through its travel: N candidates at every steering position to judge."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from objectives.between import least_over_steering
from objectives.corner import Candidates, Corner
from objectives.inner_joint import assembled
from objectives.lockup import lock_angles
from objectives.ride import Placed
from objectives.steering import Position, steered_to, steering_positions
from objectives.sweep import POINTS, Locks, Span, Steered, Sweep, required_between, steer
from objectives.vectors import Array


@dataclass(frozen=True)
class Motion:
    """N candidates through their travel, straight ahead first, then at each lock and halfway there.

    Attributes
    ----------
    positions
        The S steering positions.
    every
        All candidates at the first position, then all at the next, and so on: S N in a row, worked out together
        because a call costs as much for few as for many.
    """

    corner: Corner
    placed: Placed
    locks: Locks
    positions: tuple[Position, ...]
    every: Steered

    @cached_property
    def steered(self) -> tuple[Steered, ...]:
        """Each position by itself."""
        count = self.placed.ride_angle.size
        return tuple(
            self.every.part(slice(number * count, (number + 1) * count), position)
            for number, position in enumerate(self.positions)
        )

    @property
    def straight(self) -> Steered:
        """Straight ahead."""
        return self.steered[0]

    @property
    def shares(self) -> Array:
        """Shares of the way to the left lock of all positions, shape (S,)."""
        return np.array([float(position.share) for position in self.positions])

    def by_position(self, values: NDArray[Any]) -> NDArray[Any]:
        """Values of all candidates at every position, shape (..., S N), as (..., S, N)."""
        return values.reshape(*values.shape[:-1], len(self.positions), -1)

    @cached_property
    def complete(self) -> NDArray[np.bool_]:
        """Whether a candidate assembles over the required travel at every steering position, shape (N,)."""
        return np.logical_and.reduce(self.by_position(self.every.complete), axis=0)

    def least_over_steering(self, measure: Callable[[Sweep], Array], worth: float) -> tuple[Array, Array]:
        """Least value of a measure over all steering, and at which share of the way to the left lock, (N,) each.

        Not a number where a candidate is not complete.

        Parameters
        ----------
        measure
            Takes a required sweep; returns its candidates' values, shape (n,).
        worth
            What a look between two positions must promise to be taken.
        """

        def look(index: NDArray[np.intp], share: Array) -> Array:
            return measure(self.required_at(index, share))

        return self.least_of(self.by_position(measure(self.every.required)), look, worth)

    def least_of(
        self, values: Array, look: Callable[[NDArray[np.intp], Array], Array], worth: float
    ) -> tuple[Array, Array]:
        """As `least_over_steering`, of values at every position, (S, N), and a look that takes index and share."""
        return least_over_steering(self.shares, np.where(self.complete, values, np.nan), look, worth)

    def required_at(self, index: NDArray[np.intp], share: Array) -> Sweep:
        """Required sweep of some complete candidates, the steering held at shares of the way to the left lock, (n,)."""
        shift, points = steered_to(self.corner, share).shift, self.every.required.pose.angle.shape[0]
        order = np.argsort(self.shares)
        shares, ends = self.shares[order], self._ends[:, order][:, :, index]
        after = np.clip(np.searchsorted(shares, share), 1, shares.size - 1)
        weight = (share - shares[after - 1]) / (shares[after] - shares[after - 1])
        columns = np.arange(index.size)
        near = (1.0 - weight) * ends[:, after - 1, columns] + weight * ends[:, after, columns]
        return required_between(self.placed.take(index), self._widest.take(index), near, shift, points)

    @cached_property
    def _widest(self) -> Span:
        """Span that holds those of all positions."""
        span = self.every.whole.span
        low, high = (self.by_position(span.angle(np.full(span.low.shape, end))) for end in (-1.0, 1.0))
        return Span.between(low.min(axis=0), high.max(axis=0), self.locks)

    @cached_property
    def _ends(self) -> Array:
        """Places u on the widest span of full droop and full bump at every position, shape (2, S, N)."""
        span = self.every.required.span
        angles = (self.by_position(span.angle(np.full(span.low.shape, end))) for end in (-1.0, 1.0))
        return np.stack([self._widest.place_of_angle(angle) for angle in angles])


def move(corner: Corner, candidates: Candidates, points: int = POINTS) -> Motion:
    """Take candidates through their travel.

    Parameters
    ----------
    corner
        What is settled.
    candidates
        N pivots, all of which stand at ride (`Placed.ride_angle` finite).
    points
        Chebyshev points of each sweep.
    """
    return motion_of(assembled(corner, candidates), points)


def motion_of(placed: Placed, points: int = POINTS) -> Motion:
    """Take placed candidates, all of which stand, through their travel at every steering position."""
    corner, locks = placed.corner, lock_angles(placed)
    positions = steering_positions(corner)
    if len(positions) == 1:
        return Motion(corner, placed, locks, positions, steer(placed, positions[0], points, locks))
    count = placed.ride_angle.size
    together = steered_to(corner, np.repeat([position.share for position in positions], count))
    low, high = (np.tile(lock, len(positions)) for lock in locks)
    every = steer(placed.take(np.tile(np.arange(count), len(positions))), together, points, (low, high))
    return Motion(corner, placed, locks, positions, every)
