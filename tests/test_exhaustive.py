"""The front held against even sweeps of whole design spaces, which know nothing of the search.

`tests/benchmarks/exhaustive.py` does the same with millions of candidates; its results are in scenarios/exhaustive.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import moocore
import numpy as np
import pytest

from optimizer import build_yield, front_search
from optimizer.front_search import Front, search
from optimizer.scenario import Scenario, load_scenario
from tests.conftest import ALL_ROWS
from tests.reference.dense import Box, epsilon, free_gain, sobol, undominated, usable_of

SCENARIOS = Path(__file__).parent.parent / "scenarios"
SWEPT = 2**14  # candidates of a sweep; at 3 % usable still some hundreds
EXTREME = 0.005  # of an objective's range: how near the best row has to come to the sweep's best
EPSILON = 0.02  # differences that matter: the most by which a swept candidate may better a row in everything
SHARE = 0.99  # of the sweep's hypervolume that a few hundred rows have to dominate


def tight() -> Scenario:
    return load_scenario(SCENARIOS / "tight.toml")


def joint_fixed() -> Scenario:
    scenario = load_scenario(SCENARIOS / "buggy.toml")
    steering = replace(scenario.corner.steering, inner_region=None, rack_travel=0.0)
    return replace(scenario, corner=replace(scenario.corner, steering=steering))


@dataclass(frozen=True)
class Pair:
    """A front, and the undominated costs of a sweep of the same space."""

    front: Front
    swept: np.ndarray


@cache
def pair(scenario: Callable[[], Scenario], budget: int) -> Pair:
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(front_search, "ROWS", ALL_ROWS)
        # what is not asked for here takes longest
        patched.setattr(build_yield, "build_yields", lambda _, candidates: np.zeros(candidates.count))
        front = search(scenario(), budget=budget)
    problem = front.problem
    _, costs = usable_of(problem, sobol(problem.lower, problem.upper, 0, SWEPT, seed=9))
    assert len(costs) > 100
    return Pair(front, undominated(costs))


SPACES = pytest.mark.parametrize(("scenario", "budget"), [(tight, 8000), (joint_fixed, 8000)], ids=["tight", "fixed"])


@SPACES
def test_the_best_of_each_objective_is_found(scenario: Callable[[], Scenario], budget: int) -> None:
    found = pair(scenario, budget)
    missing = found.front.costs.min(axis=0) - found.swept.min(axis=0)
    # 1e-9: an objective that is the same all along the front has no range
    assert (missing <= EXTREME * np.ptp(found.swept, axis=0) + 1e-9).all()


@SPACES
def test_no_swept_candidate_betters_a_row_in_everything(scenario: Callable[[], Scenario], budget: int) -> None:
    found = pair(scenario, budget)
    assert epsilon(found.front.costs, found.swept, found.front.problem.scale).max() <= EPSILON


@SPACES
def test_the_rows_dominate_what_the_sweep_does(scenario: Callable[[], Scenario], budget: int) -> None:
    found = pair(scenario, budget)
    scale = found.front.problem.scale
    box = Box.around(undominated(np.concatenate((found.swept, found.front.costs))), scale, scramblings=4, log2=12)
    assert (box.share(found.front.costs) > SHARE * box.share(found.swept)).all()


class TestTheMeasures:
    """What the comparisons above stand on, against values worked by hand and another library's volumes."""

    def test_epsilon_is_the_least_gain_of_the_candidate_whose_least_is_greatest(self) -> None:
        shown = np.array([[5.0, 5.0], [0.0, 9.0]])
        front = np.array([[4.0, 1.0], [2.0, 3.0], [9.0, 0.0]])
        # (5, 5) is bettered by (1, 4) and (3, 2): in units of 1 and 0.5 by (1, 8) and (3, 4)
        np.testing.assert_allclose(epsilon(shown, front, np.array([1.0, 0.5])), [3.0, 0.0])

    def test_free_gain_is_the_greatest_where_nothing_is_lost(self) -> None:
        shown = np.array([[5.0, 5.0], [0.0, 9.0]])
        front = np.array([[5.0, 2.0], [4.0, 4.5], [0.0, 9.0], [3.0, 6.0]])
        np.testing.assert_allclose(free_gain(shown, front, np.array([1.0, 2.0])), [1.5, 0.0])

    def test_share_is_the_dominated_volume_of_the_box(self) -> None:
        costs = undominated(np.random.default_rng(3).random((400, 4)))
        box = Box.around(costs, np.full(4, 0.01), scramblings=4, log2=13)
        low, high = costs.min(axis=0), costs.max(axis=0)
        reference = high + np.maximum(0.1 * (high - low), 0.01)
        exact = moocore.hypervolume(costs, ref=reference) / np.prod(reference - low)
        shares = box.share(costs)
        assert abs(shares.mean() - exact) < 5.0 * shares.std(ddof=1) / 2.0 + 1e-4  # 2: the root of four scramblings

    def test_undominated_is_what_a_comparison_of_all_pairs_leaves(self) -> None:
        costs = np.random.default_rng(4).integers(0, 6, (200, 3)).astype(float)
        no_worse = (costs[:, None] <= costs).all(axis=2)
        better = (costs[:, None] < costs).any(axis=2)
        expected = costs[~(no_worse & better).any(axis=0)]
        assert {tuple(row) for row in undominated(costs)} == {tuple(row) for row in expected}

    def test_a_sweep_in_pieces_is_the_sweep(self) -> None:
        low, high = np.array([1.0, -2.0]), np.array([3.0, 5.0])
        whole = sobol(low, high, 0, 64, seed=1)
        np.testing.assert_array_equal(whole[16:32], sobol(low, high, 16, 16, seed=1))
        assert (whole >= low).all()
        assert (whole <= high).all()
