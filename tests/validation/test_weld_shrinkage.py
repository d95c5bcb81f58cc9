"""How far a fillet weld pulls.

TWI (The Welding Institute), frequently asked question on allowances for shrinkage, twi-global.com (figure seen; title
and date not noted): transverse shrinkage of about 0.8 mm for each fillet weld. "About", to one digit: half a unit of it
is the tolerance. A pull is the same in every build: a bias, and not only scatter.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from objectives.as_built import COUNT, OFFSETS, designed
from optimizer.candidate import baseline_of
from optimizer.scenario import Scenario, load_scenario, parse_scenario
from optimizer.starter import starter_text
from tests.reference import rigid_body

PER_WELD, PRINTED = 0.8, 0.05  # mm
EXACT = 1e-9  # mm
SCENARIOS = Path(__file__).parents[2] / "scenarios"


def in_the_starter(units: str) -> Scenario:
    """The starter with its example of a shrinkage switched on."""
    text = starter_text(units)
    assert text.count("# weld_shrinkage") == 1
    return parse_scenario(text.replace("# weld_shrinkage", "weld_shrinkage"))


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_the_figure_in_scenarios_and_starter(units: str) -> None:
    shipped = load_scenario(SCENARIOS / ("buggy_inch.toml" if units == "inch" else "buggy.toml"))
    for scenario in (shipped, in_the_starter(units)):
        assert scenario.build.weld_shrinkage == pytest.approx(PER_WELD, abs=PRINTED)


def test_one_weld_pulls_the_bracket_along_the_arm_another_shortens_the_arm() -> None:
    """The pull on the brackets: along the line that is square to the inner axis and ends at the outer pivot."""
    scenario = load_scenario(SCENARIOS / "buggy.toml")
    candidate = baseline_of(scenario)
    assert candidate is not None
    points = rigid_body.hardpoints(scenario.corner, candidate.as_batch)
    along = points.upper_axis[1] - points.upper_axis[0]
    arm = points.upper_outer - points.upper_axis[0]
    arm -= (arm @ along) / (along @ along) * along
    expected = np.zeros(COUNT)
    expected[OFFSETS["pivot"]] = -scenario.build.weld_shrinkage * arm / np.linalg.norm(arm)
    expected[OFFSETS["arm_length"]] = -scenario.build.weld_shrinkage
    pull = scenario.build.pull(designed(scenario.corner, candidate.as_batch))
    assert pull == pytest.approx(expected[:, None], abs=EXACT)
