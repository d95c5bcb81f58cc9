"""Scenarios as drafts: lengths are marked in them, so that one draft can be written in mm, in inches or mirrored."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from objectives.corner import Candidates
from objectives.ride import place
from optimizer.scenario import Scenario, parse_scenario

MM_PER_UNIT = {"mm": 1.0, "inch": 25.4}

Tables = dict[str, Any]
"""Values of a scenario by table and key: lengths as `Mm`, angles in degrees, points and directions as lists."""


class Mm(float):
    """A length in mm: what a change of unit converts and a mirror may turn round."""

    def __repr__(self) -> str:
        return f"Mm({float(self)!r})"


def point(*mm: float) -> list[Mm]:
    return [Mm(part) for part in mm]


@dataclass(frozen=True)
class Draft:
    """One scenario not yet written in any unit."""

    tables: Tables

    def text(self, units: str = "mm") -> str:
        """The scenario file, every number at full precision."""
        loose = {name: value for name, value in self.tables.items() if not isinstance(value, dict)}
        lines = [f'units = "{units}"', *_lines(loose, units)]
        for name, table in self.tables.items():
            if isinstance(table, dict):
                lines += [f"[{name}]", *_lines(table, units)]
        return "\n".join(lines) + "\n"

    def read(self, units: str = "mm") -> Scenario:
        """The scenario itself.

        Raises
        ------
        optimizer.errors.ScenarioError
            The draft is none.
        """
        return parse_scenario(self.text(units))

    def changed(self, **changes: Any) -> Draft:
        """The draft with values by dotted key, dots written as two underscores; None takes a key out."""
        tables = deepcopy(self.tables)
        for path, value in changes.items():
            *way, last = path.split("__")
            table = tables
            for name in way:
                table = table.setdefault(name, {})
            if value is None:
                table.pop(last, None)
            else:
                table[last] = value
        return Draft(tables)

    def mirrored(self) -> Draft:
        """The corner with front and rear swapped: every x, and every angle seen from above or the side, turned."""
        return Draft(_mirrored(self.tables))


@dataclass(frozen=True)
class Case:
    """A draft and candidates in it: shares of the ranges of pivot y and z, degrees off the nominal camber, hole."""

    draft: Draft
    picks: tuple[tuple[float, float, float, int], ...]

    @cached_property
    def scenario(self) -> Scenario:
        return self.draft.read()

    def candidates(self, scenario: Scenario | None = None) -> Candidates:
        """The candidates, in the case's own scenario or one with the same ranges."""
        scenario = scenario or self.scenario
        space, corner = scenario.space, scenario.corner
        holes = 1 if corner.spindle.upper_holes is None else corner.spindle.upper_holes.shape[1]
        share_y, share_z, camber, hole = (np.array(column) for column in zip(*self.picks, strict=True))
        return Candidates(
            space.pivot_y[0] + share_y * (space.pivot_y[1] - space.pivot_y[0]),
            space.pivot_z[0] + share_z * (space.pivot_z[1] - space.pivot_z[0]),
            corner.static_camber + np.radians(camber),
            hole % holes,
        )

    def standing(self) -> Candidates:
        """Those of the candidates that stand at ride."""
        candidates = self.candidates()
        return candidates.take(np.isfinite(place(self.scenario.corner, candidates).ride_angle))


def _lines(table: Tables, units: str) -> list[str]:
    return [f"{name} = {_written(value, units)}" for name, value in table.items()]


def _written(value: Any, units: str) -> str:
    match value:
        case Mm():
            return repr(float(value) / MM_PER_UNIT[units])
        case bool():
            return str(value).lower()
        case str():
            return f'"{value}"'
        case dict():
            return "{ " + ", ".join(_lines(value, units)) + " }"
        case list():
            return "[" + ", ".join(_written(part, units) for part in value) + "]"
        case _:
            return repr(value)


def _turned(vector: list[Any]) -> list[Any]:
    """A point or direction with its x turned round; of several points, each."""
    if isinstance(vector[0], list):
        return [_turned(part) for part in vector]
    return [type(vector[0])(-vector[0]), *vector[1:]]


def _opposite(value: Any) -> Any:
    return type(value)(-value)


def _legs(legs: list[Mm]) -> list[Mm]:
    front, rear = legs
    return point(-rear, -front)


_BY_KEY: dict[str, Callable[[Any], Any]] = {
    **dict.fromkeys(("lower_pivot", "upper_pivot", "steering_pivot", "inner_joint", "axis", "housing_axis"), _turned),
    **dict.fromkeys(("lower_mount", "upper_mount", "arm_point", "frame_point", "pivot"), _turned),
    **dict.fromkeys(("inner_pivot",), _turned),
    **dict.fromkeys(("static_toe", "pitch", "kick_up", "plan_angle", "pivot_x"), _opposite),
    "legs_x": _legs,
}
"""What a mirror does to the values that know front from rear."""


def _mirrored(table: Tables) -> Tables:
    return {
        name: _mirrored(value) if isinstance(value, dict) else _BY_KEY.get(name, lambda same: same)(value)
        for name, value in table.items()
    }
