"""Lengths as the shop reads them off a sheet: decimals, the nearest fraction of an inch, both units."""

from __future__ import annotations

import math

from optimizer.scenario import Scenario
from optimizer.units import INCH, MM, Unit

FINE = INCH.mm / 32.0
"""What a good tape or rule shows in inches; a scenario in inches says its own."""
FINEST = INCH.mm / 64.0
"""What a machinist's rule shows."""


def decimal(unit: Unit, length: float) -> str:
    """Length in decimals: a tenth of a mm, a thousandth of an inch."""
    digits = 1 if unit is MM else 3
    return f"{unit.from_mm(length) + 0.0:.{digits}f} {unit.symbol}".replace("-0.0 ", "0.0 ").replace(
        "-0.000 ", "0.000 "
    )


def fraction(scenario: Scenario, length: float) -> str:
    """Length as the nearest fraction of an inch: in a scenario in inches that of its own tape, if it has fractions."""
    step = scenario.build.round_to
    if scenario.unit is not INCH or INCH.division(step) is None:
        step = FINE
    return INCH.tape(length, step)


def at_most(length: float) -> str:
    """Say the greatest fraction of an inch, to 64ths, that is not more than a tolerance; none where it is less."""
    count = math.floor(length / FINEST + 1e-6)
    return INCH.tape(count * FINEST, FINEST) if count else ""


def shop(scenario: Scenario, length: float) -> str:
    """Length in the scenario's unit: "480.0 mm", or '18.938 in (18 15/16 in)'."""
    if scenario.unit is MM:
        return decimal(MM, length)
    return f"{decimal(INCH, length)} ({fraction(scenario, length)})"


def short(scenario: Scenario, length: float) -> str:
    """Length in the fewest words: as the tape shows it where it is a mark of the tape, else in decimals."""
    unit, step = scenario.unit, scenario.build.round_to
    if abs(float(unit.snap(length, step)) - length) < 0.005:
        return unit.tape(length, step)
    return decimal(unit, length)
