"""A scenario: everything the builder has settled and asks for, read once, checked, in mm and radians."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from objectives.corner import Corner, Link
from objectives.objective import Goal
from objectives.ride import lower_arm_length
from optimizer.build import Build, build_of
from optimizer.build_checks import check_build
from optimizer.checks import check_tables
from optimizer.defaults import Default, Defaults
from optimizer.derive import (
    Baseline,
    Target,
    baseline_of,
    corner_of,
    rod_end_margin_of,
    space_of,
    targets_of,
)
from optimizer.derive_joints import bores_of, strap_of
from optimizer.doubts import Doubts
from optimizer.errors import Fault, ScenarioError
from optimizer.faults import FaultList, read_toml
from optimizer.geometry_checks import (
    at_ride,
    check_ball_joints,
    check_baseline,
    check_ride,
    check_roll,
    check_space,
    check_steering,
    check_upper_arm,
)
from optimizer.goals import GOALS
from optimizer.space import PivotSpace
from optimizer.tables import Tables, UnreadError, read_tables
from optimizer.units import Unit

__all__ = [
    "Baseline",
    "Build",
    "Default",
    "PivotSpace",
    "Scenario",
    "Target",
    "load_scenario",
    "parse_scenario",
]

LARGEST_FILE = 1_000_000
"""Bytes; a scenario is a page or two of text."""


@dataclass(frozen=True)
class Scenario:
    """One scenario; mm and radians.

    Attributes
    ----------
    title, unit
        The builder's title, and the length unit of the file.
    text
        The file's text as read.
    corner
        Everything settled but the upper inner pivot.
    space
        What the search may choose.
    targets
        One `Target` for every objective of the registry and for the build yield, by its name.
    build
        Tolerances, weld shrinkage, threads, division of the tape.
    baseline
        The builder's first idea, or None.
    lower_arm_length
        Given, or derived from the track.
    wheelbase
        For the Ackermann error of the pair; None where it is not given.
    strap
        Limit strap, or None.
    bores
        Bore (mm) of each joint whose bearing is given by series and bore, by the joint's name.
    rod_end_margin
        Kept from every joint's largest angle at the stops, radians.
    defaults
        Every value the file leaves out, with its reason.
    doubts
        Sentences about what is possible and looks like a slip.
    """

    title: str
    unit: Unit
    text: str
    corner: Corner
    space: PivotSpace
    targets: Mapping[str, Target]
    build: Build
    baseline: Baseline | None
    lower_arm_length: float
    wheelbase: float | None
    strap: Link | None
    bores: Mapping[str, float]
    rod_end_margin: float
    defaults: tuple[Default, ...]
    doubts: tuple[str, ...]

    @property
    def measured(self) -> tuple[Goal, ...]:
        """The objectives this scenario gives a value to, in their order."""
        return tuple(objective for objective in GOALS if self.targets[objective.name].measured)

    @property
    def asked(self) -> tuple[Goal, ...]:
        """Those of which the builder wants anything."""
        return tuple(objective for objective in self.measured if self.targets[objective.name].asked)


def load_scenario(path: str | Path) -> Scenario:
    """Read a scenario file.

    Raises
    ------
    ScenarioError
        With every fault of the file, each with its key path, line, value and what to do.
    """
    path = Path(path)
    return parse_scenario(_read_file(path), path.name)


def parse_scenario(text: str, name: str = "scenario.toml") -> Scenario:
    """Read a scenario's text; `name` is what messages call it.

    Raises
    ------
    ScenarioError
        As `load_scenario`.
    """
    data, faults = read_toml(text, name)
    tables = read_tables(data, faults, default_title=Path(name).stem)
    check_tables(tables, faults)
    _check_geometry(tables, faults)
    faults.raise_if_any()
    defaults = Defaults(tables.unit)
    corner = corner_of(tables, defaults)
    parts = Doubts(
        unit=tables.unit,
        corner=corner,
        space=space_of(tables, defaults),
        targets=targets_of(tables, defaults),
        build=build_of(tables, defaults),
        baseline=baseline_of(tables, defaults),
    )
    check_build(parts.build, corner, parts.space, parts.unit, faults)
    faults.raise_if_any()
    if parts.baseline is not None:
        check_baseline(corner, parts.baseline, parts.unit, faults)
        faults.raise_if_any()
    return Scenario(
        title=tables.title,
        unit=parts.unit,
        text=text,
        corner=corner,
        space=parts.space,
        targets=parts.targets,
        build=parts.build,
        baseline=parts.baseline,
        lower_arm_length=lower_arm_length(corner),
        wheelbase=tables.vehicle.wheelbase,
        strap=strap_of(tables),
        bores=bores_of(tables),
        rod_end_margin=rod_end_margin_of(tables, defaults),
        defaults=tuple(defaults.filled.values()),
        doubts=parts.all(),
    )


def _check_geometry(tables: Tables, faults: FaultList) -> None:
    """Check the corner at ride, and the search space, as far as the tables could be read."""
    defaults = Defaults(tables.unit)
    space = None
    if faults.clear_of("units", "upper_arm"):
        with suppress(UnreadError):
            space = space_of(tables, defaults)
            check_space(space, faults)
    if not faults.clear_of("units", "vehicle", "tyre", "spindle", "lower_arm"):
        return
    with suppress(UnreadError):
        corner = check_ride(at_ride(tables), faults)
        if corner is not None and faults.clear_of("travel"):
            check_roll(corner, tables, faults)
        if corner is not None and faults.clear_of("steering"):
            check_steering(corner, faults)
        if corner is not None and faults.clear_of("steering", "joints"):
            check_ball_joints(corner, tables, faults)
        if corner is not None and space is not None and faults.clear_of("upper_arm"):
            check_upper_arm(corner, space, tables.unit, faults)


def _read_file(path: Path) -> str:
    try:
        if path.is_dir():
            raise _unreadable(path, "is a directory; name the scenario file in it")
        if path.exists() and not path.is_file():
            raise _unreadable(path, "is a pipe or a device, which may never end; save the scenario as a file")
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
        if len(content) > LARGEST_FILE:
            raise _unreadable(path, "is larger than 1 MB, far too long for a scenario; is it the right file?")
        return content.decode("utf-8-sig")
    except FileNotFoundError:
        raise _unreadable(path, 'there is no such file; "pivotfront new FILE" writes one to start from') from None
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise _unreadable(path, f"line {line} is not UTF-8 text; save the file as plain UTF-8 text") from None
    except (OSError, ValueError) as error:
        raise _unreadable(path, f"cannot be read: {getattr(error, 'strerror', None) or error}") from None


def _unreadable(path: Path, sentence: str) -> ScenarioError:
    return ScenarioError(str(path), (Fault("", None, "", sentence),))
