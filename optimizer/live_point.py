"""The pivot that the live page looks at: in the scenario's unit and degrees, as it is typed and as `try` takes it."""

from __future__ import annotations

import math
import shlex
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Literal

from optimizer.candidate import Candidate, candidate_at
from optimizer.errors import NoUsableCandidate, ResultsError
from optimizer.scenario import Scenario
from optimizer.units import read_number

Field = Literal["y", "z", "static_camber", "arm_length"]
WORDS: dict[Field, str] = {
    "y": "Pivot y",
    "z": "Pivot z",
    "static_camber": "Static camber",
    "arm_length": "Arm length",
}
_FINEST = {"mm": 2, "inch": 3}  # decimals of a place that is dragged to: finer than a hand, short enough to type


@dataclass(frozen=True)
class Point:
    """A pivot with static camber or arm length, whichever is held; the scenario's unit and degrees."""

    y: float
    z: float
    static_camber: float | None
    arm_length: float | None
    hole: int = 0

    def candidate(self, scenario: Scenario) -> Candidate:
        """The candidate it names, exactly as `try` would.

        Raises
        ------
        NoUsableCandidate
            As `candidate_at`.
        """
        unit = scenario.unit
        camber = None if self.static_camber is None else math.radians(self.static_camber)
        arm = None if self.arm_length is None else unit.to_mm(self.arm_length)
        return candidate_at(scenario, unit.to_mm(self.y), unit.to_mm(self.z), camber, arm, self.hole)

    def command(self, file: str) -> str:
        """What to type in a terminal to measure the same."""
        held = f"--static-camber {self.static_camber!r}"
        if self.static_camber is None:
            held = f"--arm-length {self.arm_length!r}"
        hole = f" --upper-hole {self.hole + 1}" if self.hole else ""
        return f"pivotfront try {shlex.quote(file)} --pivot {self.y!r} {self.z!r} {held}{hole}"

    def moved(self, scenario: Scenario, y: float, z: float, snap: bool) -> Point:
        """The same with its pivot elsewhere, on a tape mark where it snaps."""
        y, z = (_tidy(scenario, value, snap) for value in (y, z))
        return replace(self, y=y, z=z)

    def nudged(self, scenario: Scenario, y: float, z: float, snap: bool) -> Point:
        """The same with its pivot so many marks of the tape farther on, from one of them where it snaps."""
        step = float(scenario.unit.from_mm(scenario.build.round_to))
        to_y, to_z = (round(value + count * step, 9) for value, count in ((self.y, y), (self.z, z)))
        return self.moved(scenario, to_y, to_z, True) if snap else replace(self, y=to_y, z=to_z)

    def typed(self, scenario: Scenario, field: Field, text: str) -> Point:
        """The same with one number as typed; static camber or arm length is then held.

        Raises
        ------
        ResultsError
            It is no such number.
        """
        plain = text.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-")
        try:
            if field == "static_camber":
                return replace(self, static_camber=_degrees(plain), arm_length=None)
            value = round(scenario.unit.from_mm(scenario.unit.parse_length(plain)), 12)  # 10.75 in, as it was typed
        except ValueError as error:
            raise ResultsError(f"{WORDS[field]} {text.strip()}: {error}") from None
        if field == "arm_length":
            if not value > 0.0:
                raise ResultsError(f"{WORDS[field]} {text.strip()}: an arm has a length of more than 0")
            return replace(self, static_camber=None, arm_length=value)
        return replace(self, y=value) if field == "y" else replace(self, z=value)


def _degrees(text: str) -> float:
    try:
        value = read_number(float(text))
    except ValueError:
        raise ValueError("is not a number; write degrees") from None
    if abs(value) > 45.0:
        raise ValueError("give degrees between -45 and 45")
    return value


def _tidy(scenario: Scenario, value: float, snap: bool) -> float:
    unit = scenario.unit
    if snap:
        mark = unit.snap(unit.to_mm(value), scenario.build.round_to)
        return round(float(unit.from_mm(mark)), 9)  # 14.375 in, not what two conversions leave of it
    return round(value, _FINEST[unit.name]) + 0.0


def first_point(scenario: Scenario, begin: Candidate | None) -> Point:
    """Where the page begins: at a given candidate, else in the middle of the ranges or as near to it as one stands."""
    unit, space = scenario.unit, scenario.space
    low, high = space.length
    arm = float(unit.from_mm(low)) if low == high else None

    def at(y: float, z: float, camber: float, hole: int) -> Point:
        held = None if arm is not None else round(math.degrees(camber), 9) + 0.0
        return Point(float(unit.from_mm(y)), float(unit.from_mm(z)), held, arm, hole)

    if begin is not None:
        return at(begin.pivot_y, begin.pivot_z, begin.static_camber, begin.hole)
    middle = [sum(span) / 2 for span in (space.pivot_y, space.pivot_z)]
    near = sorted(zip(*space.grid(9), strict=True), key=lambda place: math.dist(place, middle))
    tried = [at(y, z, scenario.corner.static_camber, 0) for y, z in (middle, *near)]
    for point in tried:
        with suppress(NoUsableCandidate):
            point.candidate(scenario)
            return point
    return tried[0]
