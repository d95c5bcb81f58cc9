"""Reads the tables of a scenario one by one, so that a fault in one hides none in another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from pydantic import TypeAdapter, ValidationError

from optimizer.faults import FaultList, unknown_key
from optimizer.readers import read_words, shown_as
from optimizer.schema import (
    ABSENT_TABLES,
    LISTS,
    OPTIONAL_TABLES,
    TABLES,
    BaselineTable,
    BodyworkTable,
    BuildTable,
    JointsTable,
    LowerArmTable,
    ObstacleTable,
    ShockTable,
    SpindleTable,
    SteeringTable,
    StrapTable,
    Table,
    TargetsTable,
    TravelTable,
    TyreTable,
    UpperArmTable,
    VehicleTable,
    WheelTable,
)
from optimizer.toml_lines import KeyPath
from optimizer.units import MM, UNITS, Unit

MOST_ENTRIES = 100  # tables under one heading [[name]]


class UnreadError(Exception):
    """A value is asked for that could not be read; its own fault has been noted already."""


class _Salvaged:
    """What could be read of a faulty table; asking for the rest raises `UnreadError`."""

    def __init__(self, values: Mapping[str, Any]) -> None:
        self.__dict__.update(values)

    def __getattr__(self, name: str) -> Any:
        raise UnreadError(name)


@dataclass(frozen=True)
class Tables:
    """The tables of one scenario in mm and radians. A faulty table holds what could be read of it."""

    title: str
    unit: Unit
    vehicle: VehicleTable
    tyre: TyreTable
    spindle: SpindleTable
    lower_arm: LowerArmTable
    upper_arm: UpperArmTable
    steering: SteeringTable
    joints: JointsTable
    shock: ShockTable | None
    strap: StrapTable | None
    travel: TravelTable
    wheel: WheelTable | None
    obstacles: tuple[ObstacleTable, ...]
    bodywork: BodyworkTable
    targets: TargetsTable
    build: BuildTable
    baseline: BaselineTable | None


def read_tables(data: Mapping[str, Any], faults: FaultList, default_title: str) -> Tables:
    """Validate every table, noting what is wrong in `faults`."""
    for name in data:
        if name not in ("title", "units", *TABLES, *LISTS):
            faults.add((name,), unknown_key(name, ("title", "units", *TABLES, *LISTS), "table"))
    unit = _read_unit(data, faults)
    title = shown_as(default_title)
    if "title" in data:
        try:
            title = read_words(data["title"])
        except ValueError as error:
            faults.add(("title",), str(error))
    tables = {name: _read_table(name, data, unit, faults) for name in TABLES}
    lists = {name: _read_list(name, data, unit, faults) for name in LISTS}
    return Tables(title=title, unit=unit, **cast(Any, tables), **cast(Any, lists))


def _read_unit(data: Mapping[str, Any], faults: FaultList) -> Unit:
    """Return the scenario's unit; mm while it is in doubt, which is a fault of its own."""
    name = data.get("units")
    if isinstance(name, str) and name in UNITS:
        return UNITS[cast(Any, name)]
    given = "is not a unit known here" if "units" in data else "is missing"
    faults.add(("units",), f'{given}; write units = "mm" or units = "inch", above the first table')
    return MM


def _read_table(name: str, data: Mapping[str, Any], unit: Unit, faults: FaultList) -> Table | _Salvaged | None:
    model = TABLES[name]
    if name not in data:
        if name in OPTIONAL_TABLES:
            return None if name in ABSENT_TABLES else model()
        faults.add((name,), f"this table is missing; it holds {', '.join(model.model_fields)}")
        return _Salvaged({})
    written = data[name]
    if not isinstance(written, dict):
        faults.add((name,), f"must be a table: [{name}] on a line of its own, its keys below")
        return _Salvaged({})
    return _read_entry((name,), model, written, unit, faults)


def _read_list(name: str, data: Mapping[str, Any], unit: Unit, faults: FaultList) -> tuple[Table | _Salvaged, ...]:
    """Read every table under headings [[name]]."""
    model, written = LISTS[name], data.get(name, [])
    if not isinstance(written, list):
        faults.add((name,), f"may come more than once: write [[{name}]] on a line of its own, its keys below")
        return ()
    if len(written) > MOST_ENTRIES:
        faults.add((name,), f"may come {MOST_ENTRIES} times at most; {len(written)} given")
        return ()
    entries: list[Table | _Salvaged] = []
    for number, entry in enumerate(written):
        if isinstance(entry, dict):
            entries.append(_read_entry((name, number), model, entry, unit, faults))
        else:
            faults.add((name, number), f"must be a table with the keys {', '.join(model.model_fields)}")
    return tuple(entries)


def _read_entry(
    path: KeyPath, model: type[Table], written: dict[str, Any], unit: Unit, faults: FaultList
) -> Table | _Salvaged:
    try:
        return model.model_validate(written, context={"unit": unit})
    except ValidationError as error:
        unusable = faults.add_all(error, path, model)
    return _salvage(model, written, unusable, unit)


def _salvage(model: type[Table], written: Mapping[str, Any], unusable: set[str], unit: Unit) -> _Salvaged:
    values = {}
    for name, field in model.model_fields.items():
        if name in unusable:
            continue
        if name not in written:
            values[name] = field.get_default(call_default_factory=True)
            continue
        kind: Any = field.rebuild_annotation()
        adapter: TypeAdapter[Any] = TypeAdapter(kind)
        values[name] = adapter.validate_python(written[name], context={"unit": unit})
    return _Salvaged(values)
