"""The weld region in tape dimensions and in sentences."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.scenario import Scenario
from optimizer.weld_region import WIDEST, WeldRegion


@dataclass(frozen=True)
class Shape:
    """A shape on tape marks: its numbers, mm, in a few words and in a sentence."""

    place: tuple[float, ...]
    short: str
    words: str


def tape_circle(scenario: Scenario, region: WeldRegion) -> Shape | None:
    """The largest circle about a tape mark in it, as far as the mark leaves; None where there is none."""
    unit, step = scenario.unit, scenario.build.round_to
    centre = np.array(region.circle[:2])
    mark = np.array([unit.snap(float(value), step) for value in centre])
    left = region.circle[2] - float(np.hypot(*(mark - centre)))
    if left <= 0.0:
        mark, left = centre, region.circle[2]
    if left <= 0.0:
        return None
    y, z = (fine(scenario, float(value)) for value in mark)
    return Shape(
        (*(float(value) for value in mark), left),
        f"circle of {fine(scenario, left)} about {y}, {z}",
        f"within {fine(scenario, left)} of the point {y} from the vehicle centre plane and {z} above the frame datum",
    )


def tape_rectangle(scenario: Scenario, region: WeldRegion) -> Shape | None:
    """The largest rectangle, its sides moved in to tape marks where that leaves any of it."""
    step = scenario.build.round_to
    ends = region.rectangle
    if ends[1] <= ends[0] or ends[3] <= ends[2]:
        return None
    marks = tuple(
        (math.ceil if side % 2 == 0 else math.floor)(end / step + (-1e-9 if side % 2 == 0 else 1e-9)) * step
        for side, end in enumerate(ends)
    )
    place = marks if marks[0] < marks[1] and marks[2] < marks[3] else ends
    left, right, low, high = (fine(scenario, end) for end in place)
    return Shape(
        place,
        f"rectangle y {left} to {right}, z {low} to {high}",
        f"between {left} and {right} from the vehicle centre plane, and between {low} and {high} above the frame datum",
    )


def fine(scenario: Scenario, value: float) -> str:
    """Say a length to a tenth of a mm or a hundredth of an inch; on a tape mark of an inch as a fraction."""
    unit, step = scenario.unit, scenario.build.round_to
    if unit.division(step) is not None and abs(value - unit.snap(value, step)) < 1e-6:
        return unit.tape(value, step)
    return unit.brief(value)


def region_words(scenario: Scenario, region: WeldRegion) -> list[str]:
    """Where the pivot may be welded, in sentences."""
    share = f"{100.0 * scenario.build.required_yield:.3g} of 100 builds"
    circle, rectangle = tape_circle(scenario, region), tape_rectangle(scenario, region)
    if circle is None:
        return [
            f"Nowhere near this pivot do {share} keep every limit, however exactly it is placed: hold the other parts "
            "closer, take a more forgiving candidate, or loosen a limit."
        ]
    items = [
        f"Weld the upper inner pivot {circle.words}: anywhere in that circle {share} keep every limit. On exact "
        f"corners, at its centre and where its rim has the fewest, the least was {100.0 * region.checked:.3g} of 100."
    ]
    if rectangle is not None:
        items.append(f"Or as a rectangle: {rectangle.words}.")
    items.append(
        "Measure where the pivot stands after welding, along its axis at pivot_x. The arm is the one that was cut; "
        "everything else may be off by its tolerance."
    )
    if not region.holds_pick:
        items.append("The pick itself lies outside that region: aim for the middle of the circle, not for the pick.")
    if region.cut_off:
        items.append(f"Nothing farther than {fine(scenario, WIDEST)} from the pick was looked at; there may be more.")
    return items
