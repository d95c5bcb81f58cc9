"""Everything the front's page shows, as plain numbers and words in the scenario's unit and degrees."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from typing import Any

import numpy as np

from objectives.corner import Candidates
from objectives.curves import curves_at
from objectives.evaluate import BUILT
from objectives.objective import Column, Goal
from optimizer.candidate import CAMBER, HOLE, PIVOT, Candidate, baseline_of, columns_of, shown
from optimizer.csv_text import as_csv
from optimizer.frame_view import BLACK, BLUE, GREEN, VERMILION
from optimizer.front_curves import packed_curves, steering_stops
from optimizer.front_search import Front
from optimizer.scenario import Scenario
from optimizer.units import Unit

LOOKS = (
    {"colour": BLUE, "dash": "solid", "marker": "circle", "sign": "\N{BLACK CIRCLE}"},
    {"colour": VERMILION, "dash": "dashed", "marker": "square", "sign": "\N{BLACK SQUARE}"},
    {"colour": GREEN, "dash": "dotdash", "marker": "triangle", "sign": "\N{BLACK UP-POINTING TRIANGLE}"},
    {"colour": BLACK, "dash": "dotted", "marker": "diamond", "sign": "\N{BLACK DIAMOND}"},
)
"""Of the picked candidate, then of those beside it: colour, dash pattern and marker that belong together."""

_READ_OFF_A_TAPE = {column.name for column in (*PIVOT, *BUILT)}


def front_payload(front: Front) -> dict[str, Any]:
    """Collect what the page shows; see the templates for what becomes of it."""
    scenario, frame = front.scenario, front.frame
    baseline = baseline_of(scenario)
    every = [front.candidate(row) for row in range(len(front))] + ([] if baseline is None else [baseline])
    columns = columns_of(scenario)
    return {
        "unit": unit_of(scenario),
        "columns": [column_of(column, scenario.unit) for column in columns],
        "table": _listed(scenario),
        "wishes": wishes_of(scenario),
        "rows": {column.column: _plain(frame[column.column]) for column in columns},
        "baseline": None if baseline is None else plain_row(shown(scenario, baseline.measures())),
        "csv": as_csv(frame).splitlines(),
        "shortlist": [{"row": item.row, "kind": item.kind, "why": item.why} for item in front.shortlist],
        "place": place_of(scenario) | {"bounds": bounds_of(front.candidate(0))},
        "curves": packed_curves(scenario, _together(every)),
        "looks": LOOKS,
        "shades": shades(),
    }


def _together(every: list[Candidate]) -> Candidates:
    batches = [candidate.as_batch for candidate in every]
    parts = ("pivot_y", "pivot_z", "static_camber", "hole")
    return Candidates(*(np.concatenate([getattr(batch, part) for batch in batches]) for part in parts))


def shades() -> list[str]:
    """Light to dark, also in grey and to every kind of colour vision."""
    from bokeh.palettes import Cividis11

    return list(reversed(Cividis11))


def as_script(payload: dict[str, Any]) -> str:
    """Payload as JSON that is safe inside a script element, whatever words it holds."""
    text = json.dumps(payload, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def unit_of(scenario: Scenario) -> dict[str, Any]:
    """How lengths are written: tape division with its fraction, if it is one, and digits on screen."""
    unit, step = scenario.unit, scenario.build.round_to
    division = unit.division(step)
    return {
        "symbol": unit.symbol,
        "step": float(unit.from_mm(step)) if division is None else float(division),
        "denominator": 0 if division is None else division.denominator,
        "decimals": unit.decimals(step),
        "digits": unit.digits("length"),
    }


def column_of(column: Column, unit: Unit) -> dict[str, Any]:
    """What a column is called and how its values are written."""
    found: dict[str, Any] = {
        "name": column.column,
        "title": column.title,
        "quantity": column.quantity,
        "tape": column.name in _READ_OFF_A_TAPE,
    }
    if column.quantity != "text":
        digits = 0 if column is HOLE else unit.digits(column.quantity)  # a hole is counted
        found |= {"symbol": unit.symbol_of(column.quantity), "digits": digits}
    if isinstance(column, Goal):
        found |= {"better": column.better, "meaning": column.meaning}
    return found


def _listed(scenario: Scenario) -> list[str]:
    """Columns of the list of all rows: how to build it, what is asked for, and what explains that."""
    explains = (extra for objective in scenario.asked for extra in objective.explains)
    hole = (column for column in columns_of(scenario) if column is HOLE)
    return [column.column for column in (*PIVOT, BUILT[0], CAMBER, *hole, *scenario.asked, *explains)]


def wishes_of(scenario: Scenario) -> list[dict[str, Any]]:
    """Aim and limit of every objective of which something is asked, and whether it is traded."""
    found = []
    for objective in scenario.asked:
        target = scenario.targets[objective.name]
        aim, limit = (
            None if value is None else float(scenario.unit.show(value, objective.quantity))
            for value in (target.aim, target.limit)
        )
        wish = {"name": objective.column, "aim": aim, "limit": limit, "traded": target.traded}
        found.append({**wish, "objective": objective.name})
    return found


def place_of(scenario: Scenario) -> dict[str, Any]:
    """What is settled of the corner, as far as the drawing of a candidate needs it."""
    corner, show = scenario.corner, scenario.unit.show
    tyre, steering = corner.tyre, corner.steering
    return {
        "lower_inner": show(corner.lower_arm.inner_pivot[1:], "length").tolist(),
        "tyre": {name: float(show(getattr(tyre, name), "length")) for name in ("radius", "width", "shoulder_radius")},
        "largest": {
            end: float(show(getattr(steering, end).max_angle, "angle")) for end in ("outer_rod_end", "inner_rod_end")
        },
        "camber_curve": [
            show(corner.camber_curve[:, 0], "length").tolist(),
            show(corner.camber_curve[:, 1], "angle").tolist(),
        ],
        "has_bodywork": bool(corner.outlines),
        "has_region": scenario.space.region is not None,
        "has_keep_out": bool(len(scenario.space.keep_out)),
    }


def bounds_of(candidate: Candidate) -> list[float]:
    """Least and greatest y, least and greatest z of all there is to see, in the scenario's unit."""
    scenario, corner = candidate.scenario, candidate.scenario.corner
    tyre, travel, space = corner.tyre, corner.travel, scenario.space
    first = candidate.as_batch
    stops, straight = steering_stops(corner)
    steered = [curves_at(corner, first, np.zeros(1), stop.shift) for stop in stops]
    wheel = steered[straight].wheel[1:, 0, 0]
    turned = np.nanmax([abs(np.sin(curves.toe[0, 0])) for curves in steered])
    reach = np.array([[0.6 * tyre.width + turned * tyre.radius, tyre.radius]])
    moved = np.array([[0.0, -travel.droop], [0.0, travel.bump]])
    corners = np.array([[y, z] for y in space.pivot_y for z in space.pivot_z])
    points = np.vstack(
        (
            wheel + moved + reach,
            wheel + moved - reach,
            corners,
            corner.lower_arm.inner_pivot[None, 1:],
            *corner.outlines,
        )
    )
    edge = 0.03 * np.ptp(points, axis=0).max()
    (left, low), (right, high) = points.min(axis=0) - edge, points.max(axis=0) + edge
    return [float(scenario.unit.show(value, "length")) for value in (left, right, low, high)]


def _plain(column: Iterable[Any]) -> list[Any]:
    return [_number(value) for value in column]


def plain_row(row: dict[str, Any]) -> dict[str, Any]:
    """One row by column, as JSON can hold it."""
    return {name: _number(value) for name, value in row.items()}


def _number(value: Any) -> Any:
    """A word, or a number that JSON can hold; None for none."""
    if isinstance(value, str):
        return value
    return float(value) if math.isfinite(value) else None
