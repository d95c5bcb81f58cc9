"""What the pick says of stops, steering locks, joints and shock."""

from __future__ import annotations

from typing import Any

import numpy as np

from objectives.corner import Shock
from objectives.joints import joints_of
from objectives.reach import CAP
from objectives.turning import turning_of
from optimizer.candidate import Candidate
from optimizer.page import Block, Heading, Points
from optimizer.stops import stops_of
from optimizer.units import Unit


def stopped(way: str, limited_by: str, reached: str, required: str) -> str:
    """Say what stops the wheel one way; lengths as the tape shows them."""
    if limited_by in CAP.values():
        return f"{way}: nothing stops the wheel within {reached}, as far as it is counted (required: {required})."
    return f"{way}: {limited_by} stops the wheel {reached} from ride (required: {required})."


def stop_advice(chosen: Candidate) -> list[str]:
    """Sentences that say where to stop the wheel, and with what."""
    scenario = chosen.scenario
    unit, step = scenario.unit, scenario.build.round_to
    stops, margin = stops_of(chosen), unit.brief(scenario.rod_end_margin, "angle")
    items = [
        f"Stop droop at {unit.tape(stops.droop, step)} below ride with a limit strap, bump at "
        f"{unit.tape(stops.bump, step)} above ride with a bump stop: at least {margin} (targets.rod_end_margin_deg) "
        f"from the largest angle of every joint, at any steering. Droop is set by {stops.droop_limited_by}, bump by "
        f"{stops.bump_limited_by}."
    ]
    if stops.strap is not None:
        items.append(f"Limit strap: {unit.tape(stops.strap, step)} between its two points, taut at the droop stop.")
    return items


def turning_advice(chosen: Candidate) -> list[Block]:
    """Blocks that say what both wheels do at full lock; none where the scenario gives no lock."""
    scenario = chosen.scenario
    corner, unit = scenario.corner, scenario.unit
    if not corner.steering.lock:
        return []
    turning = turning_of(corner, chosen.as_batch, np.array([1.0]), scenario.wheelbase)
    inside, outside, error = (float(part[0]) for part in (turning.left, turning.right, turning.ackermann_error))
    if not np.isfinite([inside, outside]).all():
        too_far = "At full lock the tie rod does not reach: the steering goes too far for it."
        return [Heading("At the steering locks"), Points([too_far])]
    items = [
        f"At full lock the inside wheel turns {unit.brief(inside, 'angle')}, the outside one "
        f"{unit.brief(outside, 'angle')} (the right-hand corner is the mirror image)."
    ]
    if np.isfinite(error):
        much = "more" if error > 0.0 else "less"
        items.append(
            f"The outside wheel turns {unit.brief(abs(error), 'angle')} {much} than it would roll true "
            f"(Ackermann, wheelbase {unit.say(scenario.wheelbase or 0.0)})."
        )
    return [Heading("At the steering locks"), Points(items)]


def part_advice(chosen: Candidate, found: dict[str, Any]) -> list[Block]:
    """Blocks about the angles of all joints and, where there is one, the shock."""
    corner, unit = chosen.scenario.corner, chosen.scenario.unit
    items = []
    for joint in joints_of(corner):
        worst = found[f"{joint.column}_worst"]
        if not np.isfinite(worst):
            continue
        left = joint.max_angle - worst
        room = f"{unit.brief(left, 'angle')} left" if left >= 0.0 else f"{unit.brief(-left, 'angle')} too far"
        items.append(
            f"{joint.name.capitalize()}: up to {unit.brief(worst, 'angle')} over the required travel and all steering, "
            f"of {unit.brief(joint.max_angle, 'angle')}: {room}."
        )
    sources = [
        f"{default.key}: {default.value}, {default.why}."
        for default in chosen.scenario.defaults
        if default.key.endswith(".max_angle")
    ]
    blocks: list[Block] = [Heading("Angles of the joints"), Points([*items, *sources])]
    return blocks + _shock_advice(chosen, found)


def _shock_advice(chosen: Candidate, found: dict[str, Any]) -> list[Block]:
    shock, unit = chosen.scenario.corner.shock, chosen.scenario.unit
    if shock is None:
        return []
    step = chosen.scenario.build.round_to
    items = [f"Motion ratio at ride: {found['motion_ratio']:.3f}, travel of the shock over that of the wheel centre."]
    items += [f"{words[0].upper()}{words[1:]}." for words in shock_cover(shock, found, unit, step)]
    return [Heading("Shock"), Points(items)]


def shock_cover(shock: Shock, found: dict[str, Any], unit: Unit, step: float) -> list[str]:
    """Say of both ends of the required travel whether the shock's stroke covers it."""
    words = []
    for end, asked, bound, beyond in (
        ("droop", found["shock_full_droop"], shock.extended, 1.0),
        ("bump", found["shock_full_bump"], shock.collapsed, -1.0),
    ):
        if np.isfinite(asked):
            short = beyond * (asked - bound)
            much = unit.tape(abs(short), step)
            covers = f"{much} in hand" if short <= 0.0 else f"{much} of stroke lacking"
            words.append(f"at full {end} the shock is {unit.tape(asked, step)} long: {covers}")
    return words
