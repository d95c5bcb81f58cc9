"""What cannot be of tolerances: a class that has no figure for the length it is asked for."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from objectives.corner import Corner
from optimizer.build import HELD_BY, TITLES, Build
from optimizer.faults import FaultList
from optimizer.iso_tolerances import ToleranceClass
from optimizer.space import PivotSpace
from optimizer.units import Unit


def check_build(build: Build, corner: Corner, space: PivotSpace, unit: Unit, faults: FaultList) -> None:
    """Note every tolerance class whose table does not reach the length concerned."""
    noted = set()
    for part, shortest, longest in _lengths(corner, space):
        key = HELD_BY[part]
        held = build.tolerances[key].held
        if not isinstance(held, ToleranceClass) or key in noted:
            continue
        for length in (shortest, longest):
            if held.shortest <= length <= held.longest:
                continue
            noted.add(key)
            faults.add(
                ("build", key),
                f"has no figure for {unit.say(length)}, the length concerned of the {TITLES[part]}; {held.name} goes "
                f"from {unit.say(held.shortest)} to {unit.say(held.longest)}: give plus or minus as a length instead",
            )
            break


def _lengths(corner: Corner, space: PivotSpace) -> Iterator[tuple[str, float, float]]:
    """Least and greatest length concerned of each part, mm, over all that may be searched."""
    x = abs(corner.upper_axis.pivot_x)
    spans = [_from_zero(span) for span in (space.pivot_y, space.pivot_z)]
    yield "pivot", max(x, *(low for low, _ in spans)), max(x, *(high for _, high in spans))
    spindle = corner.spindle
    holes = spindle.upper_pivot[:, None] if spindle.upper_holes is None else spindle.upper_holes
    points = (
        ("lower_pivot", corner.lower_arm.inner_pivot),
        ("spindle_lower", spindle.lower_pivot),
        ("spindle_upper", holes),
        ("spindle_steering", spindle.steering_pivot),
        ("inner_joint", corner.steering.inner_joint),
    )
    for name, point in points:
        length = np.abs(point).max(axis=0)
        yield name, float(length.min()), float(length.max())
    shortest, longest = space.length
    if math.isfinite(longest):
        yield "arm_length", shortest or longest, longest


def _from_zero(span: tuple[float, float]) -> tuple[float, float]:
    """Least and greatest distance from zero in a range."""
    low, high = (abs(end) for end in span)
    return (0.0 if span[0] < 0.0 < span[1] else min(low, high)), max(low, high)
