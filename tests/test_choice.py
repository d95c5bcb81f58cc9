"""The shortlist: balanced, best in each cost, knee."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.choice import achievement, best_rows, complete_aims, farthest_aim, knee, shortlist
from optimizer.front import non_dominated

NONE = np.full(2, np.nan)


class TestAchievement:
    def test_worst_miss_in_steps_that_matter(self):
        # Misses (3 - 1)/2 = 1 and (10 - 4)/3 = 2: the larger, and a thousandth of their sum.
        found = achievement(np.array([[3.0, 10.0]]), np.array([1.0, 4.0]), np.array([2.0, 3.0]))
        assert found == pytest.approx([2.003])

    def test_negative_when_every_aim_is_bettered(self):
        assert achievement(np.array([[0.0, 0.0]]), np.ones(2), np.ones(2))[0] < 0

    def test_missing_aim_is_halfway(self):
        costs = np.array([[0.0, 10.0], [4.0, 0.0]])
        assert complete_aims(costs, np.array([1.0, np.nan])).tolist() == [1.0, 5.0]
        assert complete_aims(costs, NONE).tolist() == [2.0, 5.0]

    def test_no_rows(self):
        assert achievement(np.empty((0, 2)), NONE, np.ones(2)).shape == (0,)

    @pytest.mark.parametrize("seed", range(5))
    def test_its_least_is_never_dominated(self, seed):
        rng = np.random.default_rng(seed)
        costs = rng.integers(0, 5, (200, 3)).astype(float)
        aims = rng.uniform(-2, 6, 3)
        front = costs[non_dominated(costs)]
        assert costs[achievement(costs, aims, np.ones(3)).argmin()].tolist() in front.tolist()

    def test_moving_the_aims_moves_the_pick(self):
        x = np.linspace(0, 1, 101)
        costs = np.column_stack((x**2, (1 - x) ** 2))
        picks = [x[achievement(costs, np.array([a, 0.0]), np.ones(2)).argmin()] for a in (0.0, 0.25, 0.5)]
        # By hand: x^2 - a = (1 - x)^2, so x = (1 + a) / 2.
        assert picks == pytest.approx([0.5, 0.625, 0.75], abs=0.011)


class TestKnee:
    def test_corner_of_a_bent_line(self):
        t = np.linspace(0, 1, 51)
        bent = np.concatenate(
            (np.column_stack((0.2 * t, 1 - 0.9 * t)), np.column_stack((0.2 + 0.8 * t, 0.1 * (1 - t))))
        )
        assert bent[knee(bent)] == pytest.approx([0.2, 0.1])

    def test_units_do_not_matter(self):
        x = np.linspace(0, 1, 101)
        costs = np.column_stack((x**2, (1 - x) ** 2))
        assert knee(costs) == knee(costs * [1000.0, 0.01] + [5.0, -7.0]) == 50

    def test_degenerate_fronts(self):
        assert knee(np.array([[3.0, 4.0]])) == 0
        assert knee(np.ones((4, 3))) == 0
        assert knee(np.array([[1.0, 5.0, 2.0], [1.0, 0.0, 9.0], [1.0, 1.0, 3.0]])) == 2  # first cost flat

    def test_no_rows(self):
        with pytest.raises(ValueError, match="at least one row"):
            knee(np.empty((0, 3)))


class TestShortlist:
    def test_ends_balanced_and_knee(self):
        costs = np.array([[0.0, 10.0], [1.0, 3.0], [4.0, 2.0], [10.0, 0.0]])
        found = shortlist(costs, np.array([3.0, 0.0]), np.ones(2), ["scrub", "bump steer"])
        assert [(row, kind) for row, kind, _ in found] == [
            (2, "balanced"),
            (0, "best scrub"),
            (3, "best bump steer"),
            (1, "knee"),
        ]
        assert "misses scrub, bump steer" in found[0].why
        assert "better in scrub" in found[1].why
        # By hand, misses of the aims 3 and 0: (1, 2), (-3, 10), (7, 0), (-2, 3).
        assert [item.why.rpartition("Farthest")[2] for item in found] == [
            " from its aim in bump steer: 2, aim 0.",
            " from its aim in bump steer: 10, aim 0.",
            " from its aim in scrub: 10, aim 3.",
            " from its aim in bump steer: 3, aim 0.",
        ]

    def test_a_row_that_meets_every_aim_says_so_and_one_without_aims_nothing(self):
        costs = np.array([[0.0, 10.0], [1.0, 3.0], [4.0, 2.0], [10.0, 0.0]])
        found = shortlist(costs, np.array([5.0, 3.2]), np.ones(2), ["scrub", "bump steer"])
        said = {item.row: item.why for item in found}
        assert said[2].endswith("It meets every aim given, with the most in hand where it is tightest.")
        assert said[1].endswith("It meets every aim given.")
        assert said[0].endswith("bump steer: 10, aim 3.2.")
        assert not any("aim" in item.why for item in shortlist(costs, NONE, np.ones(2))[1:])

    def test_farthest_aim_counts_in_differences_that_matter(self):
        costs, aims = np.array([3.0, 10.0, 99.0]), np.array([1.0, 4.0, np.nan])
        assert farthest_aim(costs, aims, np.array([1.0, 4.0, 1.0])) == 0
        assert farthest_aim(costs, aims, np.array([1.0, 2.0, 1.0])) == 1
        assert farthest_aim(costs, np.array([3.0, 11.0, np.nan]), np.ones(3)) is None

    def test_one_entry_for_each_row_with_joined_reasons(self):
        found = shortlist(np.array([[1.0, 2.0]]), np.array([5.0, np.nan]), np.ones(2))
        assert [(row, kind) for row, kind, _ in found] == [(0, "balanced, best cost 1, best cost 2, knee")]
        assert found[0].why.startswith("It meets every aim given")
        assert "better in cost 2" in found[0].why

    def test_equally_good_ends_are_told_apart_by_the_aims(self):
        # A capped cost is equal for many candidates; the one that ruins the rest is not "the best".
        costs = np.array([[0.0, 9.0], [0.0, 3.0], [0.0, 5.0], [4.0, 0.0]])
        assert best_rows(costs, NONE, np.ones(2)) == [1, 3]

    def test_without_aims(self):
        x = np.linspace(0, 1, 21)
        costs = np.column_stack((x, 1 - x))
        found = shortlist(costs, NONE, np.ones(2))
        assert found[0].row == 10
        assert "no aims" in found[0].why

    def test_no_rows(self):
        assert shortlist(np.empty((0, 2)), NONE, np.ones(2)) == []
