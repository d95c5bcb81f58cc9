"""The corner through its travel: N candidates at every steering position to judge."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from objectives.between import least_over_steering
from objectives.corner import Candidates, Corner
from objectives.inner_joint import assembled
from objectives.lockup import lock_angles
from objectives.ride import Placed
from objectives.steering import steered_to, steering_positions
from objectives.sweep import POINTS, Steered, steer
from objectives.vectors import Array


@dataclass(frozen=True)
class Motion:
    """N candidates through their travel, straight ahead first, then at each lock and halfway there."""

    corner: Corner
    placed: Placed
    steered: tuple[Steered, ...]

    @property
    def straight(self) -> Steered:
        """Straight ahead."""
        return self.steered[0]

    @cached_property
    def complete(self) -> NDArray[np.bool_]:
        """Whether a candidate assembles over the required travel at every steering position, shape (N,)."""
        found: NDArray[np.bool_] = np.logical_and.reduce([s.complete for s in self.steered])
        return found

    def least_over_steering(self, measure: Callable[[Steered], Array], worth: float) -> tuple[Array, Array]:
        """Least value of a measure over all steering, and at which share of the way to the left lock, (N,) each.

        Parameters
        ----------
        measure
            Takes candidates at one steering position; returns their values, shape (n,).
        worth
            What a look between two positions must promise to be taken.
        """

        def look(index: NDArray[np.intp], share: Array) -> Array:
            return measure(self.steered_to(index, share))

        shares = np.array([float(steered.position.share) for steered in self.steered])
        values = np.stack([measure(steered) for steered in self.steered])
        return least_over_steering(shares, values, look, worth)

    def steered_to(self, index: NDArray[np.intp], share: Array) -> Steered:
        """Some of the candidates with the steering held at shares of the way to the left lock, shape (n,)."""
        position = steered_to(self.corner, share)
        return steer(self.placed.take(index), position, self.straight.whole.pose.angle.shape[0])


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
    placed = assembled(corner, candidates)
    locks = lock_angles(placed)
    return Motion(
        corner,
        placed,
        tuple(steer(placed, position, points, locks) for position in steering_positions(corner)),
    )
