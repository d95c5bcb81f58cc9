"""Two tables of measures of the same candidates, compared column by column."""

from __future__ import annotations

from collections.abc import Callable, Collection
from itertools import chain

import numpy as np

from objectives.corner import Corner
from objectives.evaluate import BUILT, REACHED, SHOCK, Measures
from objectives.registry import OBJECTIVES
from objectives.vectors import Array

LENGTHS = {
    column.name
    for column in chain(BUILT, REACHED, SHOCK, *((objective, *objective.explains) for objective in OBJECTIVES))
    if column.quantity == "length"
}

# What decides a length is settled on exact poses, to rounding over the slope there.
SETTLED = 1e-9  # relative
FLAT = 1e-6  # mm on a corner of a buggy's size, where what decides it is flat, as beside a lock
ANGLE = 1e-7  # radians: an angle near zero, read off its cosine, keeps half the digits
# A placed joint is polished to 1e-5 deg of the least bump steer, which leaves it some 1e-3 mm where that is flat.
PLACED = 1e-3
# The same, told in another way of the same corner: it may settle elsewhere on the flat, with as little bump steer.
AS_GOOD = np.radians(1e-4)

CLOSEST = frozenset({"closest_parts", "closest_travel", "closest_steering"})
"""Where parts are closest: any of several places that are equally close, as both legs of a level arm are."""
STOPPED = {"limited_by": "droop_limit", "bump_limited_by": "bump_limit"}
"""Words that may name any of several steering positions where the wheel has no travel at all in each of them."""


def same(word: str) -> str:
    return word


def assert_alike(found: Measures, expected: Measures, corner: Corner, renamed: Callable[[str], str] = same) -> None:
    """Same numbers and words, of candidates of one corner measured in another company."""
    if corner.steering.inner_region is None:
        _assert_columns(found, expected, found.keys() - CLOSEST, 0.0, corner, renamed)
    else:
        # what locks on its way has no bump steer to place a joint by
        assert (found["complete"] == expected["complete"]).all()
        found, expected = rows(found, found["complete"]), rows(expected, expected["complete"])
        _assert_columns(found, expected, found.keys() - CLOSEST, PLACED, corner, renamed)


def assert_retold(found: Measures, expected: Measures, corner: Corner, renamed: Callable[[str], str] = same) -> None:
    """The same of a corner described in another way; where the joint is placed, it need only be as good."""
    if corner.steering.inner_region is None:
        _assert_columns(found, expected, found.keys() - CLOSEST, 0.0, corner, renamed)
    else:
        _assert_columns(found, expected, {"arm_length"}, 0.0, corner, renamed)
        both = found["complete"] & expected["complete"]
        assert np.abs(found["bump_steer"] - expected["bump_steer"])[both].max(initial=0.0) <= AS_GOOD


def _assert_columns(
    found: Measures,
    expected: Measures,
    names: Collection[str],
    least_near: float,
    corner: Corner,
    renamed: Callable[[str], str],
) -> None:
    assert found.keys() == expected.keys()
    size = max(1.0, corner.half_track / 700.0)
    for name in names:
        one, other = found[name], expected[name]
        if one.dtype.kind == "f":
            near = size * max(FLAT if name in LENGTHS else ANGLE, least_near)
            np.testing.assert_allclose(one, other, rtol=SETTLED, atol=near, err_msg=name)
        else:
            told = found[STOPPED[name]] > 0.0 if name in STOPPED else np.ones(one.shape, dtype=bool)
            assert [renamed(str(word)) for word in one[told]] == [str(word) for word in other[told]], name


def rows(measured: Measures, index: Array) -> Measures:
    return {name: column[index] for name, column in measured.items()}
