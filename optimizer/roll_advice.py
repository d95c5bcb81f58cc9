"""What the wheels do when the body rolls, in sentences and as a table."""

from __future__ import annotations

from typing import Any

import numpy as np

from objectives.roll import roll_curves
from optimizer.candidate import Candidate
from optimizer.page import Block, Heading, Points
from optimizer.scenario import Scenario

ROWS = 21  # of the table, from no roll to the one given


def roll_table(candidate: Candidate) -> dict[str, Any]:
    """Both wheels from no roll to the scenario's, in its unit and degrees, by column; no columns without a roll."""
    scenario = candidate.scenario
    if not scenario.corner.travel.roll:
        return {}
    roll, show = np.linspace(0.0, scenario.corner.travel.roll, ROWS), scenario.unit.show
    found = roll_curves(scenario.corner, candidate.as_batch, roll)
    return {
        "roll_deg": show(roll, "angle"),
        "travel_outer": show(found.travel[0], "length"),
        "travel_inner": show(-found.travel[0], "length"),
        "camber_outer_deg": show(found.outer[0], "angle"),
        "camber_inner_deg": show(found.inner[0], "angle"),
    }


def roll_centre_words(scenario: Scenario, found: dict[str, Any]) -> str:
    """Where the roll centre is at ride and how far it moves, in a sentence; none where a candidate locks."""
    height, moves = found["roll_centre_height"], found["roll_centre_migration"]
    if not np.isfinite(height):
        return ""
    unit, step = scenario.unit, scenario.build.round_to
    side = "above" if height >= 0.0 else "below"
    if np.isfinite(moves):
        far = f"it moves {unit.tape(moves, step)} up and down in the frame"
    else:
        far = "it runs off without end, for the contact centre somewhere stops rising with the wheel"
    return (
        f"At ride the roll centre lies {unit.tape(abs(height), step)} {side} the ground; over the required travel, "
        f"both wheels alike, {far}."
    )


def when_rolled(scenario: Scenario, found: dict[str, Any]) -> list[Block]:
    """Blocks of the rationale; none where the scenario gives no roll.

    Parameters
    ----------
    scenario
        With the roll.
    found
        What was measured of the candidate to build.
    """
    roll = scenario.corner.travel.roll
    if not roll:
        return []
    unit, said = scenario.unit, scenario.unit.say(roll, "angle")
    heading = Heading("When the body rolls")
    if not np.isfinite(found["roll_camber"]):
        return [heading, Points([f"The required travel ends before the body has rolled by {said}: nothing to judge."])]
    travel = unit.tape(found["roll_travel"], scenario.build.round_to)
    return [
        heading,
        Points(
            [
                f"With the body rolled by {said} in a bend, the outer wheel is {travel} up from ride and the inner one "
                f"{travel} down.",
                f"The outer wheel then leans {_lean(scenario, found['roll_camber_outer'])} to the ground, the inner "
                f"one {_lean(scenario, found['roll_camber_inner'])}. Equal and parallel arms would lean both by the "
                "roll itself, the outer top outboard and the inner top inboard, on top of static camber.",
            ]
        ),
    ]


def _lean(scenario: Scenario, camber: float) -> str:
    return f"{scenario.unit.brief(abs(camber), 'angle')} top {'outboard' if camber >= 0.0 else 'inboard'}"
