"""What comes out of the shop, in sentences and tables, and as numbers for a file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from objectives.objective import Column
from optimizer.build import HELD_BY, TITLES
from optimizer.build_figures import WIDEST, BuildFigures, Spread
from optimizer.build_surface import BUILDS
from optimizer.page import Block, Heading, Points, Table, Text
from optimizer.scenario import Scenario
from optimizer.units import Quantity
from optimizer.weld_region import WeldRegion
from optimizer.weld_words import fine, region_words

STATIC_COLUMNS = (Column("static_camber", "Static camber", "angle"), Column("static_toe", "Static toe", "angle"))


def build_blocks(scenario: Scenario, figures: BuildFigures, region: WeldRegion) -> list[Block]:
    """How many builds keep every limit, how far they scatter, what decides it, and where the pivot may be welded."""
    return [
        Heading("What comes out of the shop"),
        Text(_held(scenario)),
        Text(_yields(scenario, figures)),
        _spread_table(scenario, figures),
        Text(
            "Which part matters most: the share of each scatter that goes if that part alone is perfect. Parts that "
            "work together are counted for each, so a line may add up to more than 100."
        ),
        _share_table(scenario, figures),
        Text(
            f"What each part may have for {_of_100(scenario.build.required_yield)} builds to keep every limit, the "
            "others as given, and how many keep them if it is perfect:"
        ),
        _allowance_table(scenario, figures),
        Heading("Where the pivot may be welded"),
        Points(region_words(scenario, region)),
    ]


def _of_100(share: float) -> str:
    return f"{100.0 * share:.3g} of 100"


def _held(scenario: Scenario) -> str:
    build = scenario.build
    keys = {key: [TITLES[part] for part, by in HELD_BY.items() if by == key] for key in dict.fromkeys(HELD_BY.values())}
    held = "; ".join(f"{', '.join(parts)} {_plus_minus(scenario, key)}" for key, parts in keys.items())
    spread = (
        "errors normal, with the tolerance at two standard deviations"
        if build.normal
        else "every error within a tolerance as likely as any other"
    )
    pull = (
        f" Weld shrinkage pulls the pivot inboard along the arm, and shortens the arm, by {fine(scenario, pull)} each; "
        "for both to end up as drawn, tack the pivot that far outboard along the arm, cut the arm that much longer, "
        "and set weld_shrinkage to 0."
        if (pull := build.weld_shrinkage)
        else ""
    )
    return (
        f"Held to plus or minus, each direction: {held}; {spread}.{pull} The corner is then set down with the wheel "
        "centre at its designed height in the frame."
    )


def _plus_minus(scenario: Scenario, key: str) -> str:
    return scenario.build.tolerances[key].say(scenario.unit)


def _yields(scenario: Scenario, figures: BuildFigures) -> str:
    threads = scenario.build.threads
    words = f"Of {figures.builds} such corners {_of_100(figures.as_welded)} keep every limit"
    if threads.rows:
        ends = [
            f"{what} ({name}, up to {fine(scenario, most)} each way)"
            for what, name, most in (
                ("static camber", "upper arm", threads.arm),
                ("static toe", "tie rod", threads.tie_rod),
            )
            if most
        ]
        words += (
            f" as welded, and {_of_100(figures.adjusted)} after the threads have been turned to bring back "
            f"{' and '.join(ends)}"
        )
    return (
        f"{words}. Each was measured exactly; the fast surface behind the column build_yield, which builds {BUILDS} "
        f"of every candidate, gives {_of_100(figures.on_surface)} for the same corners."
    )


def _columns(scenario: Scenario, figures: BuildFigures) -> list[Column]:
    measured = [goal for goal in scenario.measured if goal.name in figures.spreads]
    return [*measured, *STATIC_COLUMNS]


def _spread_table(scenario: Scenario, figures: BuildFigures) -> Table:
    threads = scenario.build.threads.rows
    head = ["", "as designed", "as welded: 5 of 100 below", "95 of 100 below"]
    head += ["after adjusting: 5 of 100 below", "95 of 100 below"] if threads else []
    rows = []
    for column in _columns(scenario, figures):
        welded, adjusted = figures.spreads_welded[column.name], figures.spreads[column.name]
        values = [welded.design, welded.low, welded.high, *((adjusted.low, adjusted.high) if threads else ())]
        rows.append([column.title, *(_say(scenario, column, value) for value in values)])
    return Table(head, rows)


def _say(scenario: Scenario, column: Column, value: float) -> str:
    assert column.quantity != "text"
    words = scenario.unit.brief(value, column.quantity) if np.isfinite(value) else "-"
    return words.removeprefix("-") if words.startswith("-0.0") and float(words.split()[0]) == 0.0 else words


def _share_table(scenario: Scenario, figures: BuildFigures) -> Table:
    rows = []
    for column in _columns(scenario, figures):
        shares = figures.shares[column.name]
        most = max(shares.values())
        cells = [
            f"{100.0 * shares[part]:.0f}{' (most)' if most > 0.0 and shares[part] == most else ''}" for part in TITLES
        ]
        rows.append([column.title, *(cells if most > 0.0 else ["-"] * len(TITLES))])
    return Table(("scatter of, % by", *TITLES.values()), rows)


def _allowance_table(scenario: Scenario, figures: BuildFigures) -> Table:
    rows = []
    for part, found in figures.allowances.items():
        if found.allowed is None:
            allowed = "not even perfect"
        elif found.allowed >= WIDEST:
            allowed = f"{fine(scenario, WIDEST)} or more"
        else:
            allowed = f"+-{scenario.unit.brief(found.allowed)}"
        given = f"+-{_tolerance(scenario, found.given)}"
        rows.append([TITLES[part].capitalize(), given, allowed, _of_100(found.yield_if_perfect)])
    return Table(("", "given", "may have", "keep every limit if perfect"), rows)


def _tolerance(scenario: Scenario, value: float) -> str:
    return f"{scenario.unit.show(value, 'length'):.3g} {scenario.unit.symbol}"


def build_numbers(scenario: Scenario, figures: BuildFigures, region: WeldRegion) -> dict[str, Any]:
    """The same for a file, in the scenario's unit and degrees, shares from 0 to 1."""
    columns = _columns(scenario, figures)

    def length(value: float | None) -> float | None:
        return None if value is None else float(scenario.unit.show(value, "length"))

    def spread(spreads: Mapping[str, Spread]) -> dict[str, Any]:
        return {column.column: _numbers(scenario, column, spreads[column.name]) for column in columns}

    y, z, radius = (length(value) for value in region.circle)
    ends = dict(zip(("y_min", "y_max", "z_min", "z_max"), (length(value) for value in region.rectangle), strict=True))
    return {
        "builds": figures.builds,
        "yield_as_welded": figures.as_welded,
        "yield_adjusted": figures.adjusted,
        "yield_on_surface": figures.on_surface,
        "required_yield": scenario.build.required_yield,
        "spread_as_welded": spread(figures.spreads_welded),
        "spread_adjusted": spread(figures.spreads),
        "variance_shares": {column.column: dict(figures.shares[column.name]) for column in columns},
        "allowances": {
            part: {"given": length(a.given), "allowed": length(a.allowed), "yield_if_perfect": a.yield_if_perfect}
            for part, a in figures.allowances.items()
        },
        "weld_region": {
            "circle": {"y": y, "z": z, "radius": radius} if radius else None,
            "rectangle": ends if region.rectangle[1] > region.rectangle[0] else None,
            "holds_pick": region.holds_pick,
            "cut_off": region.cut_off,
            "least_exact_yield": region.checked,
        },
    }


def _numbers(scenario: Scenario, column: Column, spread: Spread) -> dict[str, float]:
    quantity: Quantity = "angle" if column.quantity == "angle" else "length"
    places = {"as_designed": spread.design, "p05": spread.low, "p50": spread.middle, "p95": spread.high}
    return {name: float(scenario.unit.show(value, quantity)) for name, value in places.items()}
