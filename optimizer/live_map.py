"""Every pivot around the one that is looked at, measured on a grid: what shades the live page and fills in for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from objectives.corner import Candidates
from objectives.evaluate import Measures
from objectives.inverse import static_camber_for
from objectives.objective import Goal
from objectives.vectors import Array
from optimizer.candidate import with_pivots
from optimizer.live_point import Point
from optimizer.problem import PivotProblem
from optimizer.scenario import Scenario
from optimizer.space import Span

CELLS = 40  # each way
SLICES = 5  # in which they are measured, so that what is no longer wanted ends soon
AROUND = 25.0  # mm each way, where a scenario holds the pivot's y or z fixed


@dataclass(frozen=True)
class Grid:
    """Places of a map, mm: `y` across, shape (A,), and `z` up, shape (U,)."""

    y: Array
    z: Array

    @property
    def cell(self) -> tuple[float, float]:
        """Width and height of what a place stands for, mm."""
        return float(self.y[1] - self.y[0]), float(self.z[1] - self.z[0])

    @property
    def edges(self) -> tuple[float, float]:
        """Least y and least z that are covered, mm."""
        wide, high = self.cell
        return float(self.y[0]) - wide / 2, float(self.z[0]) - high / 2


def grid_of(scenario: Scenario, cells: int = CELLS) -> Grid:
    """Grid over the searched range."""

    def places(span: Span) -> Array:
        low, high = span if span[0] < span[1] else (span[0] - AROUND, span[1] + AROUND)
        return np.linspace(low, high, cells)

    return Grid(places(scenario.space.pivot_y), places(scenario.space.pivot_z))


@dataclass(frozen=True)
class PivotMap:
    """Measures on a grid, in mm and radians: arrays of shape (U A,), y running fastest."""

    grid: Grid
    candidates: Candidates
    table: Measures

    def usable(self, problem: PivotProblem) -> np.ndarray:
        """Whether each place keeps every limit, shape (U, A)."""
        kept: np.ndarray = np.all(problem.excess(self.candidates, self.table) <= 0.0, axis=1)
        return kept.reshape(self.shape)

    def values(self, objective: Goal) -> Array:
        """One objective, NaN where it does not exist, shape (U, A); the build yield does only where it is asked for."""
        if objective.name not in self.table:
            return np.full(self.shape, np.nan)
        found = np.asarray(self.table[objective.name], dtype=float).reshape(self.shape)
        return np.where(np.isfinite(found), found, np.nan)

    @property
    def shape(self) -> tuple[int, int]:
        """Places up and across."""
        return len(self.grid.z), len(self.grid.y)

    @cached_property
    def _complete(self) -> np.ndarray:
        return np.asarray(self.table["complete"], dtype=bool).reshape(self.shape)

    def at(self, y: float, z: float) -> dict[str, Any] | None:
        """Measures between the four places around a pivot (mm), linear in y and z; words are those of the nearest.

        None outside the grid and beside a place where something locks.
        """
        across, up = (_between(axis, value) for axis, value in ((self.grid.y, y), (self.grid.z, z)))
        if across is None or up is None:
            return None
        (i, s), (j, t) = up, across
        if not self._complete[i : i + 2, j : j + 2].all():
            return None
        weight = np.outer((1.0 - s, s), (1.0 - t, t))
        nearest = (i + round(s), j + round(t))
        found: dict[str, Any] = {}
        for name, column in self.table.items():
            four = column.reshape(self.shape)
            if column.dtype.kind == "f":
                with np.errstate(invalid="ignore"):
                    found[name] = float((weight * four[i : i + 2, j : j + 2]).sum())
            else:
                found[name] = four[nearest].item()
        return found


def _between(axis: Array, value: float) -> tuple[int, float] | None:
    """Place before a value, and how far on from it to the next; None outside."""
    share = (value - axis[0]) / (axis[1] - axis[0])
    if not 0.0 <= share <= len(axis) - 1:
        return None
    first = min(int(share), len(axis) - 2)
    return first, float(share - first)


def mapped(scenario: Scenario, point: Point, cells: int = CELLS) -> Iterator[float | PivotMap]:
    """Measure a map for a point's static camber or arm length and hole: shares of it done, then the map."""
    grid = grid_of(scenario, cells)
    z, y = (part.ravel() for part in np.meshgrid(grid.z, grid.y, indexing="ij"))
    problem, wanted = PivotProblem(scenario), {objective.name for objective in scenario.measured}
    parts: list[Measures] = []
    cut = np.array_split(np.arange(y.size), SLICES)
    candidates = Candidates(y, z, _camber(scenario, point, y, z), np.full(y.shape, point.hole))
    for number, rows in enumerate(cut):
        parts.append(problem.measure(candidates.take(rows), also=wanted))
        yield (number + 1) / len(cut)
    table = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    yield PivotMap(grid, candidates, with_pivots(candidates, table))


def _camber(scenario: Scenario, point: Point, y: Array, z: Array) -> Array:
    if point.static_camber is not None:
        return np.full(y.shape, np.radians(point.static_camber))
    assert point.arm_length is not None
    arm = np.full(y.shape, scenario.unit.to_mm(point.arm_length))
    return static_camber_for(scenario.corner, y, z, arm, point.hole)
