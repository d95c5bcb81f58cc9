"""What was measured on the tacked car: camber and contact position at some wheel heights, read from a CSV file."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from objectives.vectors import Array
from optimizer.errors import ResultsError
from optimizer.scenario import LARGEST_FILE, Scenario

COLUMNS = ("travel", "camber_deg", "contact_y")
FEWEST = 2  # wheel heights
NARROWEST = 0.05  # of the required travel, from the lowest to the highest of them


@dataclass(frozen=True)
class Measurement:
    """Camber (radians) and contact-centre y (mm) at travels (mm), shape (P,) each; NaN where not measured."""

    travel: Array
    camber: Array
    contact_y: Array


def read_measurement(path: Path, scenario: Scenario) -> Measurement:
    """Read a measurement in the scenario's unit and degrees.

    Raises
    ------
    ResultsError
        With every fault of the file, each with its line and what to do.
    """
    lines = _lines(path)
    head = [name.strip().lower() for name in lines[0]] if lines else []
    if "travel" not in head or not {"camber_deg", "contact_y"} & set(head):
        raise ResultsError(
            f"{path}: line 1 must name the columns: travel, and camber_deg, contact_y or both; "
            "travel is the wheel centre's height from ride, bump +, in the scenario's unit"
        )
    if twice := sorted({name for name in head if head.count(name) > 1}):
        raise ResultsError(f"{path}: line 1 names {', '.join(twice)} more than once; leave one column of each")
    unknown = [name for name in head if name not in COLUMNS]
    if unknown:
        raise ResultsError(f"{path}: line 1 names {', '.join(unknown)}; known are {', '.join(COLUMNS)}")
    rows, faults = [], []
    for number, line in enumerate(lines[1:], 2):
        if not any(cell.strip() for cell in line):
            continue
        if len(line) > len(head):
            faults.append(f"line {number} holds {len(line)} values for {len(head)} columns; a decimal takes a point")
            continue
        cells = dict(zip(head, (cell.strip() for cell in line), strict=False))
        found, wrong = _row(cells, scenario)
        faults += [f"line {number}, {words}" for words in wrong]
        rows.append(found)
    if not faults and len({row[0] for row in rows}) < FEWEST:
        faults.append(f"at least {FEWEST} wheel heights are needed, better five or more from droop to bump")
    elif not faults and (narrow := _narrow([row[0] for row in rows], scenario)):
        faults.append(narrow)
    if faults:
        raise ResultsError("\n".join(f"{path}: {fault}" for fault in faults))
    travel, camber, contact = (np.array(column) for column in zip(*rows, strict=True))
    return Measurement(travel, camber, contact)


def _narrow(travels: list[float], scenario: Scenario) -> str:
    """What to say of wheel heights that are all near each other, as those in another unit would be; else nothing."""
    travel, unit = scenario.corner.travel, scenario.unit
    span, whole = max(travels) - min(travels), travel.droop + travel.bump
    if span >= NARROWEST * whole:
        return ""
    return (
        f"the wheel heights span {unit.say(span)} of {unit.say(whole)} of travel, which tells nothing; write travel in "
        f"{unit.name}, and measure from droop to bump"
    )


def _lines(path: Path) -> list[list[str]]:
    """Cells of each line. Where semicolons or tabs part them, as in many countries, a comma is a decimal point."""
    try:
        if path.exists() and not path.is_file():
            raise ResultsError(f"{path} is no file; name the CSV file that holds the measurement")
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
        if len(content) > LARGEST_FILE:
            raise ResultsError(f"{path} is larger than 1 MB, far too long for a measurement; is it the right file?")
        text = content.decode("utf-8-sig")
        first = text.partition("\n")[0]
        mark = next((mark for mark in (";", "\t") if mark in first), ",")
        lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark))
    except FileNotFoundError:
        raise ResultsError(f"{path}: there is no such file") from None
    except UnicodeDecodeError:
        raise ResultsError(f"{path}: is no CSV text in UTF-8; save it as such") from None
    except (OSError, csv.Error) as error:
        raise ResultsError(f"{path}: cannot be read as CSV text: {error}") from None
    return lines if mark == "," else [[cell.replace(",", ".") for cell in line] for line in lines]


def _row(cells: dict[str, str], scenario: Scenario) -> tuple[tuple[float, float, float], list[str]]:
    """Travel, camber and contact y of one line, mm and radians, and what is wrong with it."""
    wrong: list[str] = []

    def read(name: str, least: float, most: float, what: str) -> float:
        written = " ".join(cells.get(name, "").split())
        if not written:
            return math.nan
        try:
            value = math.radians(float(written)) if name == "camber_deg" else scenario.unit.parse_length(written)
        except ValueError as fault:
            wrong.append(f"{name} {written}: {fault if name != 'camber_deg' else 'is not a number of degrees'}")
            return math.nan
        if not least <= value <= most:
            wrong.append(f"{name} {written}: {what}")
            return math.nan
        return value

    travel = scenario.corner.travel
    farthest = max(travel.droop_cap, travel.most_bump)
    said = scenario.unit.say(farthest)
    half, upright = scenario.corner.half_track, math.radians(45.0)
    far = f"is far from where the tyre meets the ground, {scenario.unit.say(half)} out from the centre plane; write it "
    found = (
        read("travel", -farthest, farthest, f"is more than {said} from ride, beyond what the scenario counts"),
        read("camber_deg", -upright, upright, "must lie within plus or minus 45 degrees"),
        read("contact_y", 0.5 * half, 1.5 * half, f"{far}in {scenario.unit.name}"),
    )
    if not wrong and math.isnan(found[0]):
        wrong.append("travel is missing")
    elif not wrong and math.isnan(found[1]) and math.isnan(found[2]):
        wrong.append("nothing is measured at this travel; give camber_deg or contact_y, or take the line out")
    return found, wrong
