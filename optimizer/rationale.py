"""Why this pivot: what it reaches, what its neighbours would give, what binds, how exact it must be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from objectives.corner import Candidates
from objectives.evaluate import measure
from objectives.inverse import static_camber_for
from objectives.objective import Goal
from optimizer.candidate import Candidate, baseline_of
from optimizer.closest_parts import closest_parts
from optimizer.front_search import Front
from optimizer.page import Block, Heading, Picture, Points, Table, Text
from optimizer.part_advice import part_advice, stop_advice, stopped, turning_advice
from optimizer.problem import sign
from optimizer.roll_advice import roll_centre_words, when_rolled
from optimizer.scenario import Scenario
from optimizer.steering_advice import steering_advice

CAUTIONS = (
    "A computed geometry is not a strength check: nothing here says that an arm, bracket, weld or joint holds.",
    "Before driving, cycle the real parts by hand through full travel and both steering locks with springs off.",
    "Limit straps and bump stops must stop the travel, never a rod end; leave a margin on rod-end angle.",
    "Welds and steering parts are work for qualified people.",
    "Local vehicle construction rules and event rulebooks come first.",
)
CAPTIONS = {
    "front_view": "Front view at full droop, ride and full bump",
    "camber": "Camber against travel, with its target",
    "contact_path": "Path of the contact centre beside a plumb line",
    "joint_angles": "Angles of the joints against travel, with their limits",
    "toe": "Toe against travel",
    "steering": "Steer angles of both wheels, and the Ackermann error",
    "shock": "Shock length and motion ratio against travel",
    "roll_centre": "Height of the roll centre against travel",
    "template_front": "Front view across the arm axes, as on the templates; 1:1 only on the printed sheets",
    "template_arm": "Arm templates, eye to eye; 1:1 only on the printed sheets",
    "template_spindle": "Spindle check template; 1:1 only on the printed sheets",
    "roll_camber": "Camber of both wheels to the ground against body roll",
    "weld_region": "Where the upper inner pivot may be welded",
}
NEIGHBOURS = 6


def say(scenario: Scenario, objective: Goal, value: float | None) -> str:
    """Say an objective's value as a builder reads it; a dash where there is none."""
    if value is None or not np.isfinite(value):
        return "-"
    return scenario.unit.brief(value, objective.quantity)


def say_pivot(candidate: Candidate, arm_length: float) -> str:
    """Say where the pivot is and how long the arm, as a tape shows it."""
    unit, step = candidate.scenario.unit, candidate.scenario.build.round_to
    holes = candidate.scenario.corner.spindle.upper_holes
    hole = "" if holes is None else f", in upper hole {candidate.hole + 1} of the spindle's {holes.shape[1]}"
    return (
        f"pivot y {unit.tape(candidate.pivot_y, step)}, z {unit.tape(candidate.pivot_z, step)}, "
        f"arm {unit.tape(arm_length, step)} from the outer pivot to the inner axis{hole}"
    )


def rationale(
    front: Front,
    chosen: Candidate,
    as_found: Candidate,
    why: str,
    shop: list[Block],
    pictures: list[Path],
    for_shop: Sequence[Block] = (),
    build_sheet: Sequence[Block] = (),
) -> list[Block]:
    """Everything that explains a pick, as blocks.

    Parameters
    ----------
    front
        Where it was picked from.
    chosen
        What gets built: rounded to the tape, measured again.
    as_found
        The row of the front before rounding.
    why
        Why it was proposed, in sentences.
    shop
        What comes out of the shop.
    pictures
        PNG files, named as in `CAPTIONS`.
    for_shop
        What stands first after the pivot itself: the files for the shop.
    build_sheet
        What the printed build sheet says.
    """
    scenario, found = front.scenario, chosen.measures()

    def tape(length: float) -> str:
        return scenario.unit.tape(length, scenario.build.round_to)

    blocks: list[Block] = [
        Heading(f"{scenario.title}: the upper inner pivot", 1),
        Text(f"Build it at {say_pivot(chosen, found['arm_length'])}. {why}"),
        Text(
            f"The axis is measured at x = {tape(scenario.corner.upper_axis.pivot_x)}; "
            f"static camber comes out at {np.degrees(chosen.static_camber):.2f} deg, and the tie rod at "
            f"{tape(found['tie_rod_length'])} between its joints' centres. "
            "Unless it says otherwise, every figure below is of these rounded dimensions, measured again."
        ),
        *for_shop,
        Heading("What it reaches"),
        _reached(front, found, as_found),
        Text(roll_centre_words(scenario, found)),
        *when_rolled(scenario, found),
        Heading("What stops the wheel, and which limits bind"),
        Points(_stops(front, chosen, found)),
        *closest_parts(scenario, found),
        *steering_advice(scenario, chosen, found),
        *turning_advice(chosen),
        *part_advice(chosen, found),
        Heading("What its neighbours would gain and cost"),
        *_neighbours(front, chosen),
        Heading("How exact it must be"),
        *_sensitivity(chosen, found),
        *shop,
    ]
    blocks += _against_baseline(scenario, found)
    if build_sheet:
        blocks += [Heading("Build sheet"), *_one_lower(build_sheet)]
    blocks += [Heading("Pictures")]
    blocks += [Picture(path, CAPTIONS.get(path.stem, path.stem)) for path in pictures]
    return [*blocks, Heading("Cautions"), Points(CAUTIONS)]


def _one_lower(blocks: Sequence[Block]) -> list[Block]:
    """The same blocks as part of a report: their headings one level down."""
    return [replace(block, level=block.level + 1) if isinstance(block, Heading) else block for block in blocks]


def _reached(front: Front, found: dict[str, Any], as_found: Candidate) -> Table:
    scenario, exact = front.scenario, as_found.measures()
    rows = []
    for objective in scenario.measured:
        target, column = scenario.targets[objective.name], front.table[objective.name]
        best = (sign(objective) * column).min() * sign(objective)
        values = (found[objective.name], exact[objective.name], target.aim, target.limit, float(best))
        rows.append(
            [
                f"{objective.title} ({objective.better} is better)",
                *(say(scenario, objective, v) for v in values),
            ]
        )
    return Table(("", "as built", "before rounding", "aim", "limit", "best on the front"), rows)


def _stops(front: Front, chosen: Candidate, found: dict[str, Any]) -> list[str]:
    scenario = front.scenario
    unit, step, travel = scenario.unit, scenario.build.round_to, scenario.corner.travel
    items = [
        stopped("Droop", found["limited_by"], unit.tape(found["droop_limit"], step), unit.tape(travel.droop, step)),
        stopped("Bump", found["bump_limited_by"], unit.tape(found["bump_limit"], step), unit.tape(travel.bump, step)),
        *stop_advice(chosen),
    ]
    for objective in scenario.measured:
        target = scenario.targets[objective.name]
        at_cap = objective.most is not None and found[objective.name] >= objective.most[1](travel)
        if target.limit is None or at_cap or not np.isfinite(found[objective.name]):
            continue
        room = sign(objective) * (target.limit - found[objective.name])
        if room < 0.0:
            items.append(f"{objective.title} is past its limit by {say(scenario, objective, -room)}.")
        elif room < front.problem.difference(objective):
            items.append(f"{objective.title} is close to its limit: {say(scenario, objective, room)} left.")
    return items


def _neighbours(front: Front, chosen: Candidate) -> list[Block]:
    names = ("pivot_y", "pivot_z", "static_camber")
    place = np.stack([front.table[name] for name in names], axis=1)
    extent = np.where(np.ptp(place, axis=0) > 0.0, np.ptp(place, axis=0), 1.0)
    here_at = np.array([getattr(chosen, name) for name in names])
    distance = (((place - here_at) / extent) ** 2).sum(axis=1)
    nearest = [row for row in np.argsort(distance, kind="stable") if distance[row] > 1e-12][:NEIGHBOURS]
    if not nearest:
        return [Text("The front has no other row.")]
    scenario, here = front.scenario, chosen.measures()
    rows = []
    for row in nearest:
        cells = [f"id {row + 1}: {_shift(scenario, chosen, front.candidate(row))}"]
        for objective in front.problem.traded:
            change = front.table[objective.name][row] - here[objective.name]
            better = sign(objective) * change < 0.0
            cells.append(f"{_signed(scenario, objective, change)} {'better' if better else 'worse'}")
        rows.append(cells)
    return [Table(("move", *(objective.title for objective in front.problem.traded)), rows)]


def _shift(scenario: Scenario, here: Candidate, there: Candidate) -> str:
    show = scenario.unit.show
    y, z = (show(getattr(there, part) - getattr(here, part), "length") for part in ("pivot_y", "pivot_z"))
    camber = np.degrees(there.static_camber - here.static_camber)
    digits = scenario.unit.digits("length")
    hole = "" if there.hole == here.hole else f", upper hole {there.hole + 1}"
    return f"y {y:+.{digits}f}, z {z:+.{digits}f} {scenario.unit.symbol}, static camber {camber:+.2f} deg{hole}"


def _signed(scenario: Scenario, objective: Goal, change: float) -> str:
    return f"{scenario.unit.show(change, objective.quantity):+.{scenario.unit.digits(objective.quantity)}f}"


def _sensitivity(chosen: Candidate, found: dict[str, Any]) -> list[Block]:
    """How each result moves per millimetre: the arm keeps its length, so static camber follows the pivot."""
    scenario = chosen.scenario
    step = 0.5  # mm each way
    at = np.array([chosen.pivot_y, chosen.pivot_z, found["arm_length"]])
    moves = at + step * np.concatenate((np.eye(3), -np.eye(3)))
    camber = static_camber_for(scenario.corner, moves[:, 0], moves[:, 1], moves[:, 2], chosen.hole)
    if np.isnan(camber).any():
        return [Text("The arm only just reaches here: the least error leaves it too short or too long.")]
    moved = Candidates(moves[:, 0], moves[:, 1], camber, np.full(camber.shape, chosen.hole))
    measured = measure(scenario.corner, moved)
    of_the_wheel = [objective for objective in scenario.measured if objective.name in measured]
    per, words = scenario.unit.slip
    rows = [
        [
            "Static camber",
            *(f"{np.degrees(v) * per:+.3f} deg" for v in (camber[:3] - camber[3:]) / (2 * step)),
        ]
    ]
    for objective in of_the_wheel:
        rates = (measured[objective.name][:3] - measured[objective.name][3:]) / (2.0 * step) * per
        shown = scenario.unit.show(rates, objective.quantity)
        symbol = scenario.unit.symbol_of(objective.quantity)
        rows.append([objective.title, *(f"{v:+.3f} {symbol}" if np.isfinite(v) else "-" for v in shown)])
    tolerance = scenario.build.tolerance_of("pivot").say(scenario.unit)
    return [
        Text(
            f"Change of each result for {words} of error, the arm's length kept, the tie rod cut to keep toe. "
            f"Brackets are held to +-{tolerance}."
        ),
        Table(("", f"pivot {words} outboard", f"pivot {words} up", f"arm {words} longer"), rows),
    ]


def _against_baseline(scenario: Scenario, found: dict[str, Any]) -> list[Block]:
    baseline = baseline_of(scenario)
    if baseline is None:
        return []
    first = baseline.measures()
    rows = []
    for objective in scenario.measured:
        change = found[objective.name] - first[objective.name]
        before, after = (say(scenario, objective, measured[objective.name]) for measured in (first, found))
        if not np.isfinite(change):
            verdict = "-"
        elif before == after:
            verdict = "the same"
        else:
            verdict = "better" if sign(objective) * change < 0.0 else "worse"
        rows.append([objective.title, before, after, verdict])
    where = say_pivot(baseline, first["arm_length"])
    return [
        Heading("Against the baseline"),
        Text(f"The baseline: {where}."),
        Table(("", "baseline", "this pick", ""), rows),
    ]
