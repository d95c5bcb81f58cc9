"""What the live page says of a pivot: exactly as `try` measures it, or at once out of the map while it is moving."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from objectives.corner import Candidates
from objectives.curves import curves_at
from objectives.evaluate import Measures
from objectives.steering import Position
from optimizer.build_yield import build_yields
from optimizer.candidate import Candidate, columns_of, shown, with_inner_joint
from optimizer.front_curves import FIELDS, front_travels
from optimizer.front_payload import plain_row
from optimizer.goals import BUILD_YIELD
from optimizer.live_map import PivotMap
from optimizer.live_point import Point
from optimizer.problem import PivotProblem, sign
from optimizer.scenario import Scenario

LEVEL = 1e-6  # of a difference that matters: costs closer than this are equal


@dataclass(frozen=True)
class Numbers:
    """A candidate with its measures, mm and radians; those between the places of a map are not `exact`."""

    candidate: Candidate
    table: dict[str, Any] | None
    exact: bool

    @property
    def scenario(self) -> Scenario:
        """Its scenario."""
        return self.candidate.scenario

    def asked_otherwise(self, scenario: Scenario) -> Numbers:
        """The same candidate under other aims and limits: all that was measured of it, but for the build yield."""
        candidate = replace(self.candidate, scenario=scenario)
        table = None if self.table is None else {**self.table, BUILD_YIELD.name: np.nan}
        return Numbers(candidate, table, False)

    def batch(self) -> Measures:
        """Its measures as those of a batch of one."""
        assert self.table is not None
        return {name: np.array([value]) for name, value in self.table.items()}

    def broken(self, problem: PivotProblem) -> list[str]:
        """Words of every limit it breaks."""
        if self.table is None:
            return []
        excess = problem.excess(self.candidate.as_batch, self.batch())[0]
        return [limit.words for limit, past in zip(problem.limits, excess, strict=True) if past > 0.0]

    def costs(self, problem: PivotProblem) -> np.ndarray | None:
        """Its traded objectives, less is better, shape (M,); None where they are not known."""
        return None if self.table is None else problem.costs(self.batch())[0]

    def shown(self) -> dict[str, Any]:
        """Measures by file column, in the scenario's unit and degrees; None for what is not known."""
        if self.table is None:
            return {}
        missing = {column.name: np.nan for column in columns_of(self.scenario)}
        return plain_row(shown(self.scenario, {**missing, **self.table}))


def exactly(candidate: Candidate) -> Numbers:
    """Measure a candidate as `try` does."""
    return Numbers(candidate, candidate.measures(), True)


def at_once(scenario: Scenario, point: Point, around: PivotMap | None) -> Numbers:
    """A candidate with its measures read out of the map, or without any where the map does not know them."""
    y, z = (scenario.unit.to_mm(value) for value in (point.y, point.z))
    found = None if around is None else around.at(y, z)
    if found is None:
        return Numbers(point.candidate(scenario), None, False)
    candidate = Candidate(scenario, y, z, found["static_camber"], point.hole)
    if point.static_camber is not None:
        candidate = point.candidate(scenario)
    own = {"pivot_y": y, "pivot_z": z, "static_camber": candidate.static_camber, "upper_hole": point.hole + 1}
    return Numbers(candidate, {**found, **own}, False)


def curve_fields(numbers: Numbers, stop: Position) -> dict[str, list[float | None]]:
    """Curves at one steering position, by field, in the scenario's unit and degrees; None where not assembled.

    The inner joint of a known place is taken as it is: to place it anew would take longer than the curves.
    """
    candidate, table = numbers.candidate, numbers.table
    scenario = candidate.scenario
    if scenario.corner.steering.inner_region is not None and table is not None and np.isfinite(table["inner_joint_y"]):
        candidate = with_inner_joint(candidate, table["inner_joint_y"], table["inner_joint_z"])
    corner = candidate.scenario.corner
    curves = curves_at(corner, candidate.as_batch, front_travels(corner), stop.shift)
    return {name: _plain(scenario.unit.show(read(curves)[0], quantity)) for name, (quantity, read) in FIELDS.items()}


def _plain(values: np.ndarray) -> list[float | None]:
    return [
        float(value) if there else None for value, there in zip(np.round(values, 6), np.isfinite(values), strict=True)
    ]


@dataclass(frozen=True)
class Rows:
    """A front to compare with: its rows measured in the scenario of the moment; `built_to`: whose build yields it has.

    A build yield is the only measure that depends on what is asked: it counts the builds that keep every limit.
    """

    candidates: Candidates
    table: Measures
    built_to: Scenario | None = None

    def knows(self, problem: PivotProblem) -> bool:
        """Whether everything of which something is asked is measured as it is asked."""
        to = None if self.built_to is None else self.built_to.text
        return BUILD_YIELD.name not in problem.needed or to == problem.scenario.text

    def rebuilt(self, scenario: Scenario) -> Rows:
        """The same with their build yields under other limits; seconds of work."""
        return replace(
            self,
            table={**self.table, BUILD_YIELD.name: build_yields(scenario, self.candidates)},
            built_to=scenario,
        )

    def usable(self, problem: PivotProblem) -> np.ndarray:
        """Whether each row keeps every limit, shape (rows,)."""
        kept: np.ndarray = np.all(problem.excess(self.candidates, self.table) <= 0.0, axis=1)
        return kept

    def nearest_better(self, problem: PivotProblem, numbers: Numbers) -> int | None:
        """The row nearest to a pivot among the usable ones that better it in everything traded, counted from 0."""
        here = numbers.costs(problem)
        if here is None:
            return None
        gain = (here - problem.costs(self.table)) / problem.scale
        better = (gain >= -LEVEL).all(axis=1) & (gain > LEVEL).any(axis=1) & self.usable(problem)
        if not better.any():
            return None
        far = np.hypot(
            self.candidates.pivot_y - numbers.candidate.pivot_y, self.candidates.pivot_z - numbers.candidate.pivot_z
        )
        return int(np.where(better, far, np.inf).argmin())

    def gains(self, problem: PivotProblem, numbers: Numbers, row: int) -> dict[str, float | None]:
        """What a row gains over a pivot in each traded objective, more is better, by file column, as shown."""
        assert numbers.table is not None
        found: dict[str, float | None] = {}
        for objective in problem.traded:
            change = sign(objective) * (numbers.table[objective.name] - float(self.table[objective.name][row]))
            gain = float(numbers.scenario.unit.show(change, objective.quantity))
            found[objective.column] = gain if np.isfinite(gain) else None
        return found
