"""The best of each cost, on problems whose ends are known."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.ends import settle, starts
from optimizer.seeker import Judged, seek


class Ridge:
    """Two costs on a bent ridge 0.002 wide, which ends at a third limit: at x0 = 0.9, by hand the least first cost.

    The ridge is x1 = 0.2 + 0.5 x0^2; along it the first cost falls with x0 and the second rises.
    """

    lower = np.zeros(3)
    upper = np.ones(3)
    scale = np.full(2, 0.01)

    def judge(self, x):
        aside = x[:, 1] - 0.2 - 0.5 * x[:, 0] ** 2
        bowl = (x[:, 2] - 0.3) ** 2
        costs = np.column_stack((1.0 - x[:, 0] + bowl, x[:, 0] + 0.5 * bowl))
        return Judged(costs, np.column_stack((aside - 0.001, -aside - 0.001, x[:, 0] - 0.9)))


def look_of(problem, seen):
    def look(x):
        assert x.min() >= 0.0
        assert x.max() <= 1.0
        judged = problem.judge(x)
        seen.append((judged.costs[judged.usable], len(x)))
        return judged.costs, judged.excess

    return look


def test_climbs_a_narrow_bent_ridge_to_where_it_ends():
    x = np.array([[0.3, 0.245, 0.5]])
    assert Ridge().judge(x).usable.all()
    seen = []
    settle(look_of(Ridge(), seen), x, Ridge().judge(x).costs, 2000, np.random.default_rng(1))
    best = np.concatenate([costs for costs, _ in seen]).min(axis=0)
    np.testing.assert_allclose(best, [0.1, 0.0], atol=1e-3)
    assert sum(count for _, count in seen) <= 2000


def test_a_search_reaches_both_ends():
    found = seek(Ridge(), budget=20_000)
    np.testing.assert_allclose(found.costs.min(axis=0), [0.1, 0.0], atol=1e-3)


def test_starts_are_the_best_and_the_best_away_from_it():
    x = np.array([[0.5, 0.5], [0.52, 0.5], [0.9, 0.5], [0.1, 0.1]])
    costs = np.array([[1.0, 9.0], [1.1, 3.0], [1.5, 4.0], [2.0, 1.0]])
    at, which = starts(x, costs)
    np.testing.assert_array_equal(at, x[[0, 2, 3, 1]])
    assert which.tolist() == [0, 0, 1, 1]


@pytest.mark.parametrize("budget", [0, 5, 60])
def test_never_looks_more_often_than_allowed(budget):
    x, seen = np.array([[0.3, 0.245, 0.5]]), []
    settle(look_of(Ridge(), seen), x, Ridge().judge(x).costs, budget, np.random.default_rng(1))
    assert sum(count for _, count in seen) <= budget
