"""What the shop can hold: tolerances of every bracket and length, weld shrinkage, threads, the tape."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from objectives.as_built import COUNT, OFFSETS, Threads
from objectives.ride import Placed
from objectives.vectors import Array, beside
from optimizer.iso_tolerances import ToleranceClass
from optimizer.units import INCH, Unit

if TYPE_CHECKING:
    from optimizer.defaults import Defaults
    from optimizer.tables import Tables

HELD_BY: Mapping[str, str] = MappingProxyType(
    {
        "pivot": "pivot_tolerance",
        "lower_pivot": "lower_pivot_tolerance",
        "spindle_lower": "spindle_tolerance",
        "spindle_upper": "spindle_tolerance",
        "spindle_steering": "spindle_tolerance",
        "inner_joint": "inner_joint_tolerance",
        "arm_length": "arm_length_tolerance",
    }
)
"""What varies from build to build, as in `OFFSETS`, and the key of `[build]` that holds it."""

TITLES: Mapping[str, str] = MappingProxyType(
    {
        "pivot": "upper inner pivot",
        "lower_pivot": "lower inner pivot",
        "spindle_lower": "lower outer pivot",
        "spindle_upper": "upper outer pivot",
        "spindle_steering": "outer tie-rod joint",
        "inner_joint": "inner tie-rod joint",
        "arm_length": "upper arm's length",
    }
)


@dataclass(frozen=True)
class Tolerance:
    """Plus or minus, in mm or by a class that goes by the length concerned."""

    held: float | ToleranceClass

    def at(self, length: Array) -> Array:
        """Plus or minus at lengths, mm, the same shape."""
        if isinstance(self.held, ToleranceClass):
            return self.held.at(length)
        return np.full(np.shape(length), self.held)

    def say(self, unit: Unit) -> str:
        """Say it as the builder wrote it: a length in the scenario's unit, or the class."""
        if isinstance(self.held, ToleranceClass):
            return self.held.name
        return f"{unit.show(self.held, 'length'):.3g} {unit.symbol}"


@dataclass(frozen=True)
class Reference:
    """A place of the frame to measure from besides its datum: its name, and where it is, mm."""

    name: str
    x: float
    y: float
    z: float


@dataclass(frozen=True)
class Build:
    """What the shop can hold; mm.

    Attributes
    ----------
    tolerances
        By key of `[build]`.
    round_to
        Finest division of the tape.
    weld_shrinkage
        How far a weld pulls the upper arm's brackets inboard along the arm, and the arm itself shorter.
    threads
        What can be adjusted after welding.
    normal
        Whether errors follow a normal distribution with the tolerance at two standard deviations; else every error
        within the tolerance is as likely as any other.
    required_yield
        Share of builds that has to keep every limit.
    reference
        A second place to measure from, or None.
    """

    tolerances: Mapping[str, Tolerance]
    round_to: float
    weld_shrinkage: float
    threads: Threads
    normal: bool
    required_yield: float
    reference: Reference | None = None

    def tolerance_of(self, part: str) -> Tolerance:
        """Tolerance of what varies, by its name in `OFFSETS`."""
        return self.tolerances[HELD_BY[part]]

    def bands(self, design: Placed) -> Array:
        """Plus or minus of every offset of N designs, mm, shape (20, N): each direction of a point has the same.

        The length concerned of a class is the greatest of a point's distances from where it is measured: from the
        axle line, centre plane and frame datum, on the spindle from the wheel centre.
        """
        found = np.zeros((COUNT, design.ride_angle.size))
        for part, length in lengths_concerned(design).items():
            found[OFFSETS[part]] = self.tolerance_of(part).at(length)
        return found

    def pull(self, design: Placed) -> Array:
        """Mean offset of N designs, mm, shape (20, N): what weld shrinkage does to each build alike."""
        found = np.zeros((COUNT, design.ride_angle.size))
        found[OFFSETS["pivot"]] = -self.weld_shrinkage * design.upper.outward
        found[OFFSETS["arm_length"]] = -self.weld_shrinkage
        return found


def lengths_concerned(design: Placed) -> dict[str, Array]:
    """Length by which a tolerance class goes for each part that varies, mm, shape (N,) each."""
    count = design.ride_angle.size
    axis = design.corner.upper_axis
    # where the pivot is measured: the point of the axis at pivot_x
    centre = design.upper.centre
    pivot = centre + (axis.pivot_x - centre[0]) / axis.direction[0] * beside(axis.direction, 1)
    points = {
        "pivot": pivot,
        "lower_pivot": design.corner.lower_arm.inner_pivot,
        "spindle_lower": design.lower_pivot,
        "spindle_upper": design.upper_pivot,
        "spindle_steering": design.steering_pivot,
        "inner_joint": design.inner_joint,
    }
    found = {name: np.broadcast_to(np.abs(beside(point, 1)).max(axis=0), count) for name, point in points.items()}
    return {**found, "arm_length": design.upper.radius}


def build_of(tables: Tables, defaults: Defaults) -> Build:
    """Build the shop's tolerances and tape."""
    given, inches = tables.build, tables.unit is INCH

    def tolerance(key: str, held: float | ToleranceClass | None, value: float, why: str) -> Tolerance:
        if isinstance(held, ToleranceClass):
            return Tolerance(held)
        return Tolerance(defaults.fill(f"build.{key}", held, value, "length", why))

    bracket = INCH.mm / 16 if inches else 1.5
    measured = INCH.mm / 32 if inches else 0.5
    practice = "common practice, no source"
    tolerances = {
        "pivot_tolerance": (bracket, f"a tacked and welded bracket; {practice}"),
        "lower_pivot_tolerance": (bracket, f"a welded bracket, as it was measured; {practice}"),
        "spindle_tolerance": (measured, f"a machined part, as it was measured; {practice}"),
        "inner_joint_tolerance": (bracket, f"a welded bracket; {practice}"),
        "arm_length_tolerance": (INCH.mm / 16 if inches else 1.0, f"cut by the tape; {practice}"),
    }
    step = defaults.fill(
        "build.round_to", given.round_to, INCH.mm / 16 if inches else 1.0, "length", "what a tape measure shows"
    )
    return Build(
        tolerances={key: tolerance(key, getattr(given, key), *rest) for key, rest in tolerances.items()},
        round_to=step,
        weld_shrinkage=given.weld_shrinkage or 0.0,
        threads=Threads(given.arm_adjustment or 0.0, given.tie_rod_adjustment or 0.0),
        normal=given.distribution == "normal",
        required_yield=defaults.fill(
            "build.required_yield", given.required_yield, 0.95, "ratio", f"19 of 20 builds; {practice}"
        ),
        reference=_reference_of(tables, defaults),
    )


def _reference_of(tables: Tables, defaults: Defaults) -> Reference | None:
    given = tables.build.reference
    if given is None:
        return None
    x = defaults.fill("build.reference.x", given.x, 0.0, "length", "on the front-axle line")
    return Reference(given.name, x, given.y, given.z)
