"""The same corner told another way: in inches, or with front and rear swapped."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import example, given

from objectives.evaluate import measure
from optimizer.scenario import load_scenario
from tests.properties import pinned
from tests.properties.alike import assert_retold
from tests.properties.drafts import Case
from tests.properties.strategies import cases, examples


def other_lock(word: str) -> str:
    return word.replace("left", "right") if "left" in word else word.replace("right", "left")


@examples(0.6)
@given(cases())
@example(pinned.LIFTED)
def test_front_and_rear_swapped(case: Case) -> None:
    """Toe and caster change sign, left lock becomes right lock, and nothing else knows front from rear."""
    corner, candidates = case.scenario.corner, case.standing()
    other = case.draft.mirrored().read().corner
    assert_retold(measure(corner, candidates), measure(other, candidates), corner, other_lock)


@examples(0.6)
@given(cases())
@example(pinned.LOCKED)
@example(pinned.PARALLEL)
def test_both_units(case: Case) -> None:
    """The scenario written in inches gives the same figures."""
    corner, candidates = case.scenario.corner, case.standing()
    with tempfile.TemporaryDirectory() as directory:
        path = Path(directory) / "scenario.toml"
        path.write_text(case.draft.text("inch"), encoding="utf-8")
        other = load_scenario(path).corner
    assert_retold(measure(corner, candidates), measure(other, candidates), corner)
