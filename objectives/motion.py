"""The corner through its travel: N candidates at every steering position to judge."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from objectives.corner import Candidates, Corner
from objectives.inner_joint import assembled
from objectives.linkage import STRAIGHT
from objectives.ride import Placed
from objectives.sweep import POINTS, Steered, steer
from objectives.vectors import Array, vector


@dataclass(frozen=True)
class Motion:
    """N candidates through their travel, straight ahead first, then at each lock."""

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


def steering_positions(corner: Corner) -> tuple[tuple[str, Array], ...]:
    """Names and inner-joint shifts of the steering positions to judge, straight ahead first."""
    rack = corner.steering.rack_travel
    straight = (("straight ahead", STRAIGHT),)
    if rack == 0.0:
        return straight
    return (*straight, ("rack inboard", vector(0.0, -rack, 0.0)), ("rack outboard", vector(0.0, rack, 0.0)))


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
    return Motion(
        corner,
        placed,
        tuple(steer(placed, name, shift, points) for name, shift in steering_positions(corner)),
    )
