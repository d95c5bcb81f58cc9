"""A candidate as the shop builds it: its points in space at five wheel heights, its arms, how exact each bracket is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from objectives.curves import Curves
from objectives.pairs import inner_ends
from objectives.parts import Tube
from objectives.ride import Circle, place
from objectives.vectors import Array, norm, vector
from optimizer.build import TITLES
from optimizer.candidate import Candidate
from optimizer.scenario import Scenario
from optimizer.stops import Stops, stops_of

HEIGHTS = ("full droop", "half droop", "ride", "half bump", "full bump")
RIDE = HEIGHTS.index("ride")
DENSE = 81  # travels of a drawn path, besides ride: well under 0.01 mm from the curve on any vehicle's arm


@dataclass(frozen=True)
class ShopPoint:
    """One point of the corner, mm: what it is, what carries it, where it is at which wheel height.

    `tolerance` is plus or minus in each direction, `hole` the diameter of its bolt's hole; None where neither is known.
    """

    name: str
    carried_by: str
    height: str
    at: Array
    tolerance: float | None = None
    hole: float | None = None


@dataclass(frozen=True)
class Arm:
    """One arm: its name, the circle of its outer pivot (angle 0 at ride), its tubes if they are given."""

    name: str
    circle: Circle
    tube: Tube | None

    @property
    def length(self) -> float:
        """Eye to eye: from the outer pivot square to the inner axis, mm."""
        return float(self.circle.radius)

    @cached_property
    def bushings(self) -> tuple[Array, ...]:
        """Front and rear bushing on the inner axis, shape (3,) each; none where the scenario does not give them."""
        if self.tube is None or self.tube.legs_x is None:
            return ()
        return inner_ends(self.circle, self.tube)

    @property
    def outer_at_ride(self) -> Array:
        """Outer pivot at ride, shape (3,)."""
        return self.circle.at(np.zeros(()))

    @property
    def legs(self) -> tuple[float, ...]:
        """Front and rear tube, eye to eye, mm; none where the bushings are not given."""
        return tuple(float(norm(self.outer_at_ride - bushing)) for bushing in self.bushings)


@dataclass(frozen=True)
class ShopCorner:
    """Everything the printed sheets show of one candidate, worked out once; mm and radians."""

    candidate: Candidate

    @property
    def scenario(self) -> Scenario:
        """Scenario with the inner tie-rod joint that goes with the candidate."""
        return self.candidate.scenario

    @cached_property
    def found(self) -> dict[str, Any]:
        """Everything measured of it."""
        return self.candidate.measures()

    @cached_property
    def stops(self) -> Stops:
        """Where the travel has to end."""
        return stops_of(self.candidate)

    @property
    def travels(self) -> Array:
        """Travel at each of `HEIGHTS`."""
        travel = self.scenario.corner.travel
        return np.array([-travel.droop, -0.5 * travel.droop, 0.0, 0.5 * travel.bump, travel.bump])

    @cached_property
    def curves(self) -> Curves:
        """Curves at `HEIGHTS`; NaN where the candidate does not get there."""
        return self.candidate.curves(self.travels)

    @cached_property
    def dense(self) -> Curves:
        """Curves from full droop to full bump, close enough to be drawn."""
        travel = self.scenario.corner.travel
        return self.candidate.curves(np.union1d(np.linspace(-travel.droop, travel.bump, DENSE), [0.0]))

    @cached_property
    def arms(self) -> tuple[Arm, Arm]:
        """Upper and lower arm."""
        placed = place(self.scenario.corner, self.candidate.as_batch)
        parts, lower = self.scenario.corner.parts, placed.lower
        upper = Circle(
            placed.upper.centre[:, 0],
            placed.upper.axis.reshape(3),
            placed.upper.outward[:, 0],
            placed.upper.upward[:, 0],
            placed.upper.radius[0],
        )
        lower = Circle.through(lower.at(placed.ride_angle[0]), lower.centre, lower.axis)
        return Arm("upper arm", upper, parts.upper_arm), Arm("lower arm", lower, parts.lower_arm)

    @property
    def upper_pivot(self) -> Array:
        """Upper inner pivot at `UpperAxis.pivot_x`, shape (3,)."""
        return vector(self.scenario.corner.upper_axis.pivot_x, self.candidate.pivot_y, self.candidate.pivot_z)

    @property
    def inner_joint(self) -> Array:
        """Inner tie-rod joint, straight ahead, shape (3,)."""
        return self.curves.inner_joint[:, 0, RIDE]

    def at(self, name: str, height: int = RIDE) -> Array:
        """A point of `Curves` by name at one of `HEIGHTS`, shape (3,)."""
        found: Array = getattr(self.curves, name)[:, 0, height]
        return found

    @cached_property
    def frame_points(self) -> tuple[ShopPoint, ...]:
        """What is welded or bolted to the frame."""
        return tuple(self._frame_points())

    def _frame_points(self) -> Iterator[ShopPoint]:
        scenario, corner = self.scenario, self.scenario.corner
        upper, lower = self.arms

        def point(name: str, at: Array, hole: float | None = None) -> ShopPoint:
            return ShopPoint(name, "frame", "", at, self.tolerance_of(name, at), hole)

        yield point("upper inner pivot", self.upper_pivot)
        for side, at in zip(("front", "rear"), upper.bushings, strict=False):
            yield point(f"upper inner pivot, {side} bushing", at)
        yield point("lower inner pivot", corner.lower_arm.inner_pivot)
        for side, at in zip(("front", "rear"), lower.bushings, strict=False):
            yield point(f"lower inner pivot, {side} bushing", at)
        yield point("inner tie-rod joint", self.inner_joint, scenario.bores.get("inner rod end"))
        if corner.steering.pitman is not None:
            yield point("steering box shaft", corner.steering.pitman.pivot)
        if corner.shock is not None:
            yield point("shock, upper mount", corner.shock.link.frame_point)
        if scenario.strap is not None:
            yield point("limit strap, frame end", scenario.strap.frame_point)

    def tolerance_of(self, name: str, at: Array) -> float:
        """How exactly a point of the frame is placed, plus or minus in each direction, mm: its own bracket's tolerance.

        Brackets of which `[build]` says nothing, such as a shock's, are held like the upper arm's.
        """
        part = next((part for part, title in TITLES.items() if name.startswith(title)), "pivot")
        return float(self.scenario.build.tolerance_of(part).at(np.abs(at).max()))

    @cached_property
    def moving_points(self) -> tuple[ShopPoint, ...]:
        """What moves with the wheel, at every height it gets to."""
        return tuple(
            ShopPoint(name, carrier, height, at, None, self.scenario.bores.get(joint))
            for row, height in enumerate(HEIGHTS)
            for name, carrier, column, joint in _MOVING
            if np.isfinite(at := self.at(column, row)).all()
        )


_MOVING = (
    ("upper outer pivot", "spindle", "upper_outer", "upper outer joint"),
    ("lower outer pivot", "spindle", "lower_outer", "lower outer joint"),
    ("outer tie-rod joint", "spindle", "steering_outer", "outer rod end"),
    ("wheel centre", "spindle", "wheel", ""),
    ("contact centre", "wheel", "contact", ""),
)
"""What it is, what carries it, its name in `Curves`, the joint whose bore is its hole."""
