"""Which parts come closest, where in travel and at which steering position, in a sentence."""

from __future__ import annotations

from typing import Any

import numpy as np

from optimizer.page import Block, Heading, Text
from optimizer.scenario import Scenario


def say_closest(scenario: Scenario, found: dict[str, Any]) -> str:
    """Say which parts of a measured candidate come closest; nothing where none is measured."""
    gap, unit = found["parts_clearance"], scenario.unit
    if not np.isfinite(gap):
        return ""
    apart = f"a gap of {unit.brief(gap)}" if gap >= 0.0 else f"they overlap by {unit.brief(-gap)}"
    where = _say_travel(scenario, found["closest_travel"])
    return f"closest parts: {found['closest_parts']}, {where}, steering {found['closest_steering']}: {apart}"


def _say_travel(scenario: Scenario, travel: float) -> str:
    height = scenario.unit.tape(abs(travel), scenario.build.round_to)
    if height == scenario.unit.tape(0.0, scenario.build.round_to):
        return "at ride"
    return f"{height} {'above' if travel > 0.0 else 'below'} ride"


def closest_parts(scenario: Scenario, found: dict[str, Any]) -> list[Block]:
    """Which parts come closest, as blocks; nothing where the scenario has none that may meet."""
    sentence = say_closest(scenario, found)
    if not sentence:
        return []
    parts = scenario.corner.parts
    seen = ["tyre"] + [
        name
        for name, given in (
            ("upper arm", parts.upper_arm),
            ("lower arm", parts.lower_arm),
            ("tie rod", parts.tie_rod_radius),
            ("rim", parts.rim),
        )
        if given is not None
    ]
    seen += [obstacle.name for obstacle in parts.obstacles]
    return [
        Heading("What comes closest to what"),
        Text(
            f"{sentence[0].upper()}{sentence[1:]}. Looked at over the required travel, as round tubes between the "
            f"pivots: {', '.join(seen)}. Brackets, bolts, joints and anything not listed are not."
        ),
    ]
