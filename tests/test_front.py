"""Filter, reference point, dominated volume and the choice of a few rows, by their definitions.

Published volumes are in tests/validation.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from optimizer import front
from optimizer.front import (
    Archive,
    Coverage,
    greedy_hypervolume,
    hypervolume,
    non_dominated,
    reference_point,
    thin_on_grid,
)


def brute_force_front(costs):
    """Indices of rows that no other row dominates, by the definition; the first of equal rows."""
    kept = []
    for i, row in enumerate(costs):
        dominated = any(np.all(other <= row) and np.any(other < row) for other in costs)
        repeated = any(np.array_equal(other, row) for other in costs[:i])
        if not dominated and not repeated:
            kept.append(i)
    return kept


def coarse_costs(seed, rows=150, costs=4):
    """Costs on few levels, so that ties and copies abound."""
    return np.random.default_rng(seed).integers(0, 6, (rows, costs)).astype(float)


def sphere(rows, costs, seed=3):
    """Rows on the unit sphere's positive part: none dominates another."""
    direction = np.abs(np.random.default_rng(seed).standard_normal((rows, costs)))
    return direction / np.linalg.norm(direction, axis=1, keepdims=True)


class TestHypervolume:
    def test_rows_beyond_the_reference_add_nothing(self):
        inside = np.array([[1.0, 2.0]])
        outside = np.array([[1.0, 2.0], [0.0, 3.0], [5.0, 0.0]])
        reference = np.array([3.0, 3.0])
        assert hypervolume(outside, reference) == hypervolume(inside, reference) == 2.0
        assert hypervolume(outside[1:], reference) == 0.0
        assert hypervolume(np.empty((0, 2)), reference) == 0.0


class TestArchive:
    @pytest.mark.parametrize("seed", range(4))
    @pytest.mark.parametrize("batch", [1, 7, 150])
    @pytest.mark.parametrize("few", [0, 10**9])
    def test_equals_the_definition_whatever_the_batches(self, seed, batch, few, monkeypatch):
        """New rows held against the kept one by one, always and never."""
        monkeypatch.setattr(front, "FEW", few)
        monkeypatch.setattr(front, "CHUNK", 40)
        costs = coarse_costs(seed)
        order = np.random.default_rng(seed + 100).permutation(len(costs))
        archive = Archive(1, np.ones(4))
        for start in range(0, len(costs), batch):
            rows = order[start : start + batch]
            archive.add(rows[:, None].astype(float), costs[rows])
        expected = costs[brute_force_front(costs)]
        assert {tuple(row) for row in archive.costs} == {tuple(row) for row in expected}
        assert len(archive) == len(expected)
        assert np.array_equal(costs[archive.x[:, 0].astype(int)], archive.costs)
        assert archive.grid == 0.0

    @pytest.mark.parametrize("few", [0, 10**9])
    def test_first_of_equal_candidates_stays(self, few, monkeypatch):
        monkeypatch.setattr(front, "FEW", few)
        archive = Archive(1, np.ones(2))
        archive.add(np.array([[1.0], [2.0]]), np.ones((2, 2)))
        archive.add(np.array([[3.0]]), np.ones((1, 2)))
        assert archive.x.tolist() == [[1.0]]

    def test_nothing_to_add(self):
        archive = Archive(3, np.ones(2))
        assert len(archive.add(np.empty((0, 3)), np.empty((0, 2)))) == 0
        assert archive.x.shape == (0, 3)

    def test_past_its_bound_it_is_thinned_and_says_so(self):
        costs = sphere(3000, 4)
        archive = Archive(4, np.full(4, 0.05), most=1000)
        for start in range(0, 3000, 500):
            archive.add(costs[start : start + 500], costs[start : start + 500])
        assert len(archive) <= 1000
        assert archive.grid > 0
        assert np.array_equal(archive.costs.min(axis=0), costs.min(axis=0))
        assert np.array_equal(archive.x, archive.costs)


class TestThinning:
    @pytest.mark.parametrize("cell", [0.02, 0.1, 0.5, 10.0])
    def test_each_dropped_row_is_within_a_cell_of_one_that_stays(self, cell):
        costs = sphere(800, 3)
        kept = thin_on_grid(costs, np.full(3, cell))
        gap = np.abs(costs[:, None] - costs[kept][None]).max(axis=2).min(axis=1)
        assert gap.max() <= cell
        assert set(costs.argmin(axis=0)) <= set(kept)
        assert len(kept) < len(costs) or cell < 0.05

    def test_one_row_a_cell(self):
        costs = np.array([[0.0, 9.0], [4.6, 4.7], [4.1, 4.2], [4.4, 4.9], [9.0, 0.0]])
        assert thin_on_grid(costs, np.ones(2)).tolist() == [0, 2, 4]


class TestReferencePoint:
    def test_a_tenth_beyond_the_nadir_of_the_non_dominated(self):
        costs = np.array([[0.0, 10.0], [5.0, 5.0], [10.0, 0.0], [90.0, 90.0]])
        assert reference_point(costs, np.array([0.1, 0.1])) == pytest.approx([11.0, 11.0])

    def test_flat_or_single(self):
        scale = np.array([0.5, 2.0])
        assert reference_point(np.array([[1.0, 7.0]]), scale).tolist() == [1.5, 9.0]
        assert hypervolume(np.array([[1.0, 7.0]]), np.array([1.5, 9.0])) == 1.0

    def test_no_rows(self):
        with pytest.raises(ValueError, match="at least one row"):
            reference_point(np.empty((0, 2)), np.ones(2))


def plain_greedy(costs, count, reference):
    """The choice by its definition: every row's exact gain at every step."""
    chosen = []
    for _ in range(count):
        together = [-1.0 if i in chosen else hypervolume(costs[[*chosen, i]], reference) for i in range(len(costs))]
        chosen.append(int(np.argmax(together)))
    return chosen


class TestGreedyHypervolume:
    @pytest.mark.parametrize("costs", [2, 3, 4, 5])
    def test_equals_the_definition(self, costs):
        rows = sphere(70, costs, seed=costs)
        reference = np.full(costs, 1.1)
        assert greedy_hypervolume(rows, 15, reference).tolist() == plain_greedy(rows, 15, reference)

    def test_close_to_the_best_choice(self):
        rows = sphere(13, 3)
        reference = np.full(3, 1.1)
        best = max(hypervolume(rows[list(some)], reference) for some in combinations(range(13), 4))
        found = hypervolume(rows[greedy_hypervolume(rows, 4, reference)], reference)
        assert (1 - 1 / np.e) * best <= found <= best

    def test_better_than_chance(self):
        rows = sphere(2000, 5)
        reference = reference_point(rows, np.full(5, 0.01))
        chosen = hypervolume(rows[greedy_hypervolume(rows, 60, reference)], reference)
        chance = [hypervolume(rows[np.random.default_rng(s).permutation(2000)[:60]], reference) for s in range(5)]
        assert chosen > 1.1 * max(chance)

    def test_rows_asked_for_come_first_and_the_rest_follows_from_them(self):
        rows = sphere(200, 4)
        reference = np.full(4, 1.1)
        always = rows.argmin(axis=0)
        chosen = greedy_hypervolume(rows, 30, reference, always=[*always, always[0]])
        assert chosen[:4].tolist() == always.tolist()
        assert len(set(chosen.tolist())) == 30
        gains = [hypervolume(rows[chosen[:k]], reference) for k in range(4, 31)]
        left = [i for i in range(200) if i not in chosen[:4]]
        fifth = max(left, key=lambda i: hypervolume(rows[[*always, i]], reference))
        assert chosen[4] == fifth
        assert np.all(np.diff(gains, 2) <= 1e-12)  # each next row adds no more than the one before

    def test_all_rows_asked_for_come_back_even_past_the_count(self):
        assert greedy_hypervolume(sphere(9, 3), 2, np.full(3, 1.1), always=[5, 3, 8]).tolist() == [5, 3, 8]

    def test_fewer_rows_than_wanted_or_none(self):
        rows = sphere(6, 3)
        assert sorted(greedy_hypervolume(rows, 50, np.full(3, 1.1)).tolist()) == list(range(6))
        assert greedy_hypervolume(np.empty((0, 3)), 5, np.ones(3)).tolist() == []

    def test_rows_that_add_nothing_are_still_chosen_last(self):
        rows = np.array([[0.9, 0.9], [0.1, 0.5], [0.5, 0.1], [0.1, 0.5], [7.0, 0.0]])
        assert greedy_hypervolume(rows, 5, np.ones(2)).tolist() == [1, 2, 0, 3, 4]

    def test_the_units_do_not_matter(self):
        rows = sphere(300, 5)
        units = np.array([1e-3, 1.0, 25.4, 1e4, 0.3])
        plain = greedy_hypervolume(rows, 40, np.full(5, 1.1))
        assert np.array_equal(greedy_hypervolume(rows * units, 40, 1.1 * units), plain)


class TestCoverage:
    def test_share_is_near_the_exact_one_and_never_falls(self):
        rows = sphere(400, 3)
        scale = np.full(3, 0.01)
        coverage = Coverage(rows, scale)
        lower, upper = rows.min(axis=0) - 0.1 * np.ptp(rows, axis=0), reference_point(rows, scale)
        shares = []
        for start in range(0, 400, 50):
            coverage.add(rows[start : start + 50])
            shares.append(coverage.share)
        exact = hypervolume(rows, upper) / np.prod(upper - lower)
        assert shares[-1] == pytest.approx(exact, abs=0.01)  # 2048 even points: about 1/2048^(2/3)
        assert np.all(np.diff(shares) >= 0)
        coverage.add(rows[:0])
        assert coverage.share == shares[-1]


def test_non_dominated_of_nothing():
    assert non_dominated(np.empty((0, 3))).tolist() == []
