"""One candidate: named by pivot and static camber or arm length, measured, shown in the scenario's unit."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from objectives.corner import Candidates
from objectives.curves import Curves, curves_at
from objectives.evaluate import BUILT, REACHED, Measures, measure, part_columns
from objectives.inverse import REACH, static_camber_for
from objectives.objective import Column
from objectives.ride import place
from objectives.vectors import Array, vector
from optimizer.build_yield import measure_with_yield
from optimizer.errors import NoUsableCandidate
from optimizer.goals import GOALS
from optimizer.scenario import Scenario
from optimizer.shows import ShowsItself

PIVOT = (Column("pivot_y", "Pivot y", "length"), Column("pivot_z", "Pivot z", "length"))
HOLE = Column("upper_hole", "Upper hole of the spindle", "ratio")
CAMBER = Column("static_camber", "Static camber", "angle")
MAIN = tuple(objective for objective in GOALS if objective.on_by_default)
FURTHER = tuple(objective for objective in GOALS if not objective.on_by_default)
MEASURED: tuple[Column, ...] = (
    *PIVOT,
    BUILT[0],
    CAMBER,
    *MAIN,
    *(extra for objective in MAIN for extra in objective.explains),
    *(column for objective in FURTHER for column in (objective, *objective.explains)),
    *REACHED,
    *BUILT[1:],
)
"""Columns that every front has, in their order, without the id."""


def columns_of(scenario: Scenario) -> tuple[Column, ...]:
    """Every column of a scenario's front in its order, without the id."""
    dropped = {
        column.name
        for objective in FURTHER
        if not scenario.targets[objective.name].measured
        for column in (objective, *objective.explains)
    }
    holes = () if scenario.corner.spindle.upper_holes is None else (HOLE,)
    kept = (column for column in MEASURED if column.name not in dropped)
    return (*kept, *part_columns(scenario.corner), *holes)


@dataclass(frozen=True)
class Candidate(ShowsItself):
    """One pivot with static camber (mm, radians) in a scenario."""

    scenario: Scenario
    pivot_y: float
    pivot_z: float
    static_camber: float
    hole: int = 0

    @property
    def as_batch(self) -> Candidates:
        """The candidate as a batch of one."""
        y, z, camber = (np.array([part]) for part in (self.pivot_y, self.pivot_z, self.static_camber))
        return Candidates(y, z, camber, np.array([self.hole]))

    def measures(self) -> dict[str, Any]:
        """Everything measured of it, mm and radians, plain numbers and words."""
        return dict(self._measured)

    def designed_measures(self) -> dict[str, Any]:
        """Measures without the build yield, which takes far longer than all others together."""
        return self._plain(measure(self.scenario.corner, self.as_batch))

    @cached_property
    def _measured(self) -> dict[str, Any]:
        return self._plain(measure_with_yield(self.scenario, self.as_batch))

    def _plain(self, measured: Measures) -> dict[str, Any]:
        return {name: column[0].item() for name, column in with_pivots(self.as_batch, measured).items()}

    def curves(self, travel: Array) -> Curves:
        """Curves at given travels (mm), those of a batch of one."""
        return curves_at(self.scenario.corner, self.as_batch, travel)


def with_pivots(candidates: Candidates, measured: Measures) -> Measures:
    """Measures with the candidates' own columns before them."""
    own = {
        "pivot_y": candidates.pivot_y,
        "pivot_z": candidates.pivot_z,
        "static_camber": candidates.static_camber,
        "upper_hole": candidates.hole + 1,
    }
    return {**own, **measured}


def candidate_in(scenario: Scenario, table: Measures, row: int) -> Candidate:
    """Candidate of one row of a table of measures, counted from 0."""
    y, z, camber = (float(table[name][row]) for name in ("pivot_y", "pivot_z", "static_camber"))
    return Candidate(scenario, y, z, camber, int(table["upper_hole"][row]) - 1)


def candidate_at(
    scenario: Scenario,
    pivot_y: float,
    pivot_z: float,
    static_camber: float | None = None,
    arm_length: float | None = None,
    hole: int = 0,
) -> Candidate:
    """Candidate at a pivot, mm and radians; with neither camber nor arm length, at the nominal static camber.

    `hole` of the spindle counts from 0.

    Raises
    ------
    ValueError
        A number is not finite.
    NoUsableCandidate
        It does not stand at ride, or no static camber gives the arm that length.
    """
    given = (pivot_y, pivot_z, static_camber, arm_length)
    if not all(part is None or math.isfinite(part) for part in given):
        raise ValueError("a candidate's pivot, static camber and arm length are finite numbers")
    holes = scenario.corner.spindle.upper_holes
    count = 1 if holes is None else holes.shape[1]
    if not 0 <= hole < count:
        raise ValueError(f"spindle.upper_pivot holds {count}, counted from 1; there is no {hole + 1}")
    if arm_length is not None:
        y, z, length = (np.array([part]) for part in (pivot_y, pivot_z, arm_length))
        found = float(static_camber_for(scenario.corner, y, z, length, hole)[0])
        if np.isnan(found):
            unit = scenario.unit
            raise NoUsableCandidate(
                f"no static camber within {np.degrees(REACH):.0f} deg of the nominal one gives an arm of "
                f"{unit.say(arm_length)} at pivot y {unit.say(pivot_y)}, z {unit.say(pivot_z)}; "
                "try another length, or name the candidate by its static camber"
            )
        static_camber = found
    elif static_camber is None:
        static_camber = scenario.corner.static_camber
    made = Candidate(scenario, float(pivot_y), float(pivot_z), float(static_camber), hole)
    if not np.isfinite(place(scenario.corner, made.as_batch).ride_angle[0]):
        raise NoUsableCandidate(
            f"the corner does not stand at ride with a static camber of {scenario.unit.brief(static_camber, 'angle')}: "
            "the lower arm cannot reach; try one nearer to the nominal static camber"
        )
    return made


def with_inner_joint(candidate: Candidate, y: float, z: float) -> Candidate:
    """The candidate in a scenario whose inner tie-rod joint is fixed at y and z, mm, at its own x."""
    steering = candidate.scenario.corner.steering
    joint = vector(float(steering.inner_joint[0]), y, z)
    corner = replace(candidate.scenario.corner, steering=replace(steering, inner_joint=joint, inner_region=None))
    return replace(candidate, scenario=replace(candidate.scenario, corner=corner))


def shown(scenario: Scenario, table: dict[str, Any]) -> dict[str, Any]:
    """Table or single row in the scenario's unit and degrees, by file column name, in their order."""
    return {
        column.column: table[column.name]
        if column.quantity == "text"
        else scenario.unit.show(table[column.name], column.quantity)
        for column in columns_of(scenario)
    }


def evaluate(
    scenario: Scenario,
    pivot_y: float,
    pivot_z: float,
    *,
    static_camber_deg: float | None = None,
    arm_length: float | None = None,
    upper_hole: int = 1,
) -> dict[str, Any]:
    """Measure one candidate, everything in the scenario's unit and degrees.

    Parameters
    ----------
    scenario
        From `load_scenario`.
    pivot_y, pivot_z
        Upper inner pivot.
    static_camber_deg, arm_length
        At most one; with neither, the nominal static camber.
    upper_hole
        Which of the spindle's upper pivots, counted from 1.

    Returns
    -------
    Measures by column name, those of a row of the front.

    Raises
    ------
    ValueError
        Both static camber and arm length are given, or the spindle has no such hole.
    NoUsableCandidate
        No static camber gives the arm that length.
    """
    if static_camber_deg is not None and arm_length is not None:
        raise ValueError("give static_camber_deg or arm_length, not both: one follows from the other")
    unit = scenario.unit
    candidate = candidate_at(
        scenario,
        unit.to_mm(pivot_y),
        unit.to_mm(pivot_z),
        None if static_camber_deg is None else np.radians(static_camber_deg),
        None if arm_length is None else unit.to_mm(arm_length),
        upper_hole - 1,
    )
    return shown(scenario, candidate.measures())


def baseline_of(scenario: Scenario) -> Candidate | None:
    """The builder's first idea, or None."""
    first = scenario.baseline
    if first is None:
        return None
    return candidate_at(scenario, first.pivot_y, first.pivot_z, first.static_camber, first.arm_length, first.hole)
