"""What a measurement says of a tacked corner, as a report and as numbers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from objectives.as_built import OFFSETS
from optimizer.build import TITLES
from optimizer.candidate import Candidate
from optimizer.measurement import Measurement
from optimizer.page import Block, Heading, Points, Table, Text
from optimizer.scenario import Scenario
from optimizer.suspects import TELLS, WITHIN, Story, Verdict

NO_FIT = 2.0  # measuring errors: what is left beyond this no story explains
_AXES = {3: ("forward", "outboard", "up"), 1: ("longer",)}
_OPPOSITE = {"forward": "rearward", "outboard": "inboard", "up": "down", "longer": "shorter"}


def measured_blocks(
    candidate: Candidate,
    measured: Measurement,
    errors: tuple[float, float],
    stories: Mapping[str, Story],
    found: Verdict,
    cautions: tuple[str, ...],
) -> list[Block]:
    """Report on a measured corner: which point is most likely off, by how much, and whether the limits still hold."""
    scenario = candidate.scenario
    unit = scenario.unit
    return [
        Heading(f"{scenario.title}: the tacked corner", 1),
        Text(
            f"{measured.travel.size} wheel heights were measured. A camber reading is taken to be good to "
            f"{unit.brief(errors[0], 'angle')}, a contact position to {unit.brief(errors[1])} (one standard deviation)."
        ),
        Heading("Which point is most likely off"),
        Points(_which(scenario, stories)),
        *([] if _unexplained(stories) else _weighed(scenario, stories)),
        Heading("Whether it still keeps the limits"),
        Text(_limits(scenario, stories, found)),
        Heading("Cautions"),
        Points(cautions),
    ]


def _unexplained(stories: Mapping[str, Story]) -> bool:
    """Whether even the likeliest story leaves more than measuring does."""
    return next(iter(stories.values())).misfit > NO_FIT


def _weighed(scenario: Scenario, stories: Mapping[str, Story]) -> list[Block]:
    """All stories side by side."""
    rows = [
        [
            _title(part).capitalize(),
            f"{100.0 * story.likelihood:.0f}",
            _off(scenario, part, story),
            f"{story.misfit:.1f}",
        ]
        for part, story in stories.items()
    ]
    return [
        Table(("what is off", "likely, of 100", "by how much", "left over, measuring errors"), rows),
        Text(
            "Every part may besides be off within its tolerance. Behind plus or minus stands one standard deviation; "
            "a direction that is not seen moves nothing that was measured."
        ),
    ]


def _title(part: str) -> str:
    return "nothing beyond its tolerance" if part == WITHIN else TITLES[part]


def rivals(stories: Mapping[str, Story]) -> list[str]:
    """The likeliest story, and all that the measurement cannot tell from it."""
    most = max(story.likelihood for story in stories.values())
    return [part for part, story in stories.items() if story.likelihood * TELLS >= most]


def _which(scenario: Scenario, stories: Mapping[str, Story]) -> list[str]:
    first, story = next(iter(stories.items()))
    if _unexplained(stories):
        return [
            f"No part that is off by itself explains what was measured: {story.misfit:.1f} measuring errors are left. "
            "Check the wheel heights, the reference lines, that the steering stands straight ahead, and the file; two "
            "parts may be off at once."
        ]
    others = [part for part in rivals(stories) if part != first]
    if first == WITHIN:
        items = ["What was measured fits a corner on which nothing is off by more than its tolerance."]
        if others:
            items.append(
                f"It would not show if one of these were off by what the table says: {_listed(others)}. Measure at "
                "more wheel heights, or check those points by themselves."
            )
        return items
    if not others:
        return [f"Most likely off is the {TITLES[first]}: {_off(scenario, first, story)}."]
    words = "the data cannot tell which" if WITHIN not in others else "nor can the data tell whether anything is"
    return [
        f"Most likely off is the {TITLES[first]} ({_off(scenario, first, story)}), but {words}: "
        f"{_listed([first, *others])} explain it within a factor of {TELLS:.0f} of each other. Check these points by "
        "themselves before you cut anything, or measure at more wheel heights."
    ]


def _listed(parts: list[str]) -> str:
    words = [f"the {TITLES[part]}" if part != WITHIN else _title(part) for part in parts]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _off(scenario: Scenario, part: str, story: Story) -> str:
    """By how much a part is off, direction by direction."""
    if part == WITHIN:
        return "-"
    unit, rows = scenario.unit, range(OFFSETS[part].start, OFFSETS[part].stop)
    words = []
    for row, way in zip(rows, _AXES[len(rows)], strict=True):
        if not story.seen(row):
            words.append(f"{way} not seen")
            continue
        value = float(story.offsets[row])
        side = way if value >= 0.0 else _OPPOSITE[way]
        spread = f"{unit.show(float(story.spread[row]), 'length'):.{unit.digits('length')}f}"
        words.append(f"{unit.brief(abs(value))} +- {spread} {side}")
    return ", ".join(words)


def _limits(scenario: Scenario, stories: Mapping[str, Story], found: Verdict) -> str:
    if _unexplained(stories):
        return "That cannot be said while nothing explains the measurement."
    words = f"Of corners that fit what was measured, {_share(found.as_tacked)} keep every limit as they stand"
    if scenario.build.threads.rows:
        words += f", and {_share(found.adjusted)} after the threads have been turned"
    best = found.adjusted if scenario.build.threads.rows else found.as_tacked
    required = scenario.build.required_yield
    if best >= required:
        return f"{words}: it still does, as far as that can be told."
    if best <= 1.0 - required:
        return f"{words}: it no longer does; move the bracket before you weld it."
    return f"{words}: the data cannot tell; measure the suspected points themselves."


def _share(share: float) -> str:
    return f"{100.0 * share:.3g} of 100"


def measured_numbers(
    candidate: Candidate, measured: Measurement, stories: Mapping[str, Story], found: Verdict
) -> dict[str, Any]:
    """The same for a file, lengths in the scenario's unit."""

    def each(part: str, values: np.ndarray) -> dict[str, float]:
        if part == WITHIN:
            return {}
        own = values[OFFSETS[part]]
        names = "xyz" if len(own) == 3 else ("length",)
        show = candidate.scenario.unit.show
        return {name: float(show(float(value), "length")) for name, value in zip(names, own, strict=True)}

    return {
        "heights": int(measured.travel.size),
        "stories": {
            part: {
                "likelihood": story.likelihood,
                "misfit": story.misfit,
                "off": each(part, story.offsets),
                "standard_deviation": each(part, story.spread),
            }
            for part, story in stories.items()
        },
        "cannot_tell_between": rivals(stories),
        "yield_as_tacked": found.as_tacked,
        "yield_adjusted": found.adjusted,
    }
