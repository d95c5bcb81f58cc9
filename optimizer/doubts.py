"""What is possible and looks like a slip: sentences that warn and stop nothing.

The thresholds are common practice, no source: far outside any light off-road or road vehicle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from objectives.corner import Corner
from objectives.ride import installed, nominal_wheel_centre
from objectives.vectors import norm
from optimizer.build import Build
from optimizer.derive import Baseline, Target
from optimizer.space import PivotSpace, Span
from optimizer.units import Unit

_USUAL_LENGTHS = {
    "tyre.radius": (100.0, 1000.0),
    "tyre.width": (40.0, 700.0),
    "track": (500.0, 3000.0),
    "vehicle.ride_height": (0.0, 1500.0),
    "travel.bump": (5.0, 600.0),
    "travel.droop": (5.0, 600.0),
    "build.round_to": (0.01, 10.0),
}
"""mm"""
_USUAL_BUILD = (0.0, 10.0)
"""mm, for every tolerance and for what a weld pulls"""

_USUAL_ANGLES = {"vehicle.static_camber": math.radians(10.0), "vehicle.static_toe": math.radians(5.0)}


@dataclass(frozen=True)
class Doubts:
    """Looks over the parts of a scenario that has passed every check."""

    unit: Unit
    corner: Corner
    space: PivotSpace
    targets: Mapping[str, Target]
    build: Build
    baseline: Baseline | None

    def all(self) -> tuple[str, ...]:
        """Return every doubt, one sentence each."""
        return (
            *self._unusual_sizes(),
            *self._unusual_angles(),
            *self._spindle(),
            *self._sides(),
            *self._search(),
            *self._baseline(),
        )

    def _unusual_sizes(self) -> Iterator[str]:
        corner, build = self.corner, self.build
        values = {
            "tyre.radius": corner.tyre.radius,
            "tyre.width": corner.tyre.width,
            "track": 2 * corner.half_track,
            "vehicle.ride_height": -corner.ground_z,
            "travel.bump": corner.travel.bump,
            "travel.droop": corner.travel.droop,
            "build.round_to": build.round_to,
            **_tolerances(build),
        }
        unusual = [
            f"{key} {self.unit.say(value)}"
            for key, value in values.items()
            if not (usual := _USUAL_LENGTHS.get(key, _USUAL_BUILD))[0] <= value <= usual[1]
        ]
        if unusual:
            yield (
                f"unusual for a vehicle: {', '.join(unusual)}; are the numbers of this file really in "
                f'{self.unit.name}, as units = "{self.unit.name}" says?'
            )
        if corner.tyre.loaded_radius < 0.8 * corner.tyre.radius:
            yield (
                f"tyre.loaded_radius of {self.unit.say(corner.tyre.loaded_radius)} squashes the tyre "
                "by more than a "
                "fifth of its radius"
            )

    def _unusual_angles(self) -> Iterator[str]:
        values = {
            "vehicle.static_camber": self.corner.static_camber,
            "vehicle.static_toe": self.corner.static_toe,
        }
        for key, value in values.items():
            if abs(value) > _USUAL_ANGLES[key]:
                yield f"{key} of {math.degrees(value):.3g} degrees is unusual for a wheel; check it"

    def _spindle(self) -> Iterator[str]:
        spindle = self.corner.spindle
        points = {"lower_pivot": spindle.lower_pivot, "upper_pivot": spindle.upper_pivot}
        for name, point in points.items():
            if norm(point) > self.corner.tyre.radius:
                yield (
                    f"spindle.{name} lies outside the tyre's radius; it is measured from the wheel centre, "
                    "not from the ground or the frame"
                )
            if point[1] > 0.0:
                yield (
                    f"spindle.{name} lies outboard of the tyre's centre plane (y above 0); y grows outboard, "
                    "so a pivot inboard of it has a negative y"
                )

    def _sides(self) -> Iterator[str]:
        corner, space = self.corner, self.space
        outer = float(
            (
                nominal_wheel_centre(corner)
                + installed(corner.spindle.upper_pivot, corner.static_camber, corner.static_toe, corner.spindle.pitch)
            )[1]
        )
        if space.pivot_y[1] > outer:
            yield (
                "upper_arm.pivot_y reaches outboard of the upper outer pivot, which stands at y = "
                f"{self.unit.say(outer)}; pivots out there make an arm that points inboard"
            )
        inner = {
            "lower_arm.inner_pivot": float(corner.lower_arm.inner_pivot[1]),
            "steering.inner_joint": float(corner.steering.inner_joint[1]),
            "upper_arm.pivot_y": space.pivot_y[0],
        }
        for key, value in inner.items():
            if value < 0.0:
                yield (
                    f"{key} lies beyond the vehicle's centre plane (y below 0); the left corner is "
                    "described, y = 0 is "
                    "the centre plane and y grows towards the wheel"
                )

    def _search(self) -> Iterator[str]:
        space = self.space
        freedoms = sum(_is_open(span) for span in (space.pivot_y, space.pivot_z, space.static_camber))
        if freedoms == 0 and self.corner.spindle.upper_holes is None:
            yield "upper_arm holds pivot_y, pivot_z and static_camber fixed: there is nothing to search"
        if sum(target.traded for target in self.targets.values()) == 1:
            yield "only one objective is on, so the search finds one best candidate and no trade-off"

    def _baseline(self) -> Iterator[str]:
        idea = self.baseline
        if idea is None:
            return
        space = self.space
        for name, value, span in (
            ("pivot_y", idea.pivot_y, space.pivot_y),
            ("pivot_z", idea.pivot_z, space.pivot_z),
        ):
            if not span[0] - 1e-6 <= value <= span[1] + 1e-6:
                yield (
                    f"baseline.{name} of {self.unit.say(value)} lies outside upper_arm.{name}; it is "
                    "measured all the "
                    "same, the search cannot reach it"
                )


def _is_open(span: Span) -> bool:
    return span[1] > span[0]


def _tolerances(build: Build) -> dict[str, float]:
    """Tolerances that are given in mm, and what a weld pulls, by key."""
    held = {f"build.{key}": tolerance.held for key, tolerance in build.tolerances.items()}
    lengths = {key: value for key, value in held.items() if isinstance(value, float)}
    return {**lengths, "build.weld_shrinkage": build.weld_shrinkage}
