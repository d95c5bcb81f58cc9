"""The search of a whole scenario: rows are usable, undominated and reproducible, whatever the unit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from objectives.corner import Candidates
from objectives.evaluate import CHUNK, measure
from objectives.inverse import static_camber_for
from objectives.ride import place
from optimizer import front_search
from optimizer.errors import NoUsableCandidate, ScenarioError
from optimizer.front_search import Front, search
from optimizer.problem import PivotProblem, broken_limits
from optimizer.rounding import rounded
from optimizer.scenario import Target, load_scenario
from tests.fronts import brief_front

SCENARIOS = Path(__file__).parent.parent / "scenarios"
BUDGET = 4000
SHIPPED = ["buggy", "buggy_inch", "tight", "published_corner"]


@pytest.fixture(scope="module", params=SHIPPED)
def front(request: pytest.FixtureRequest) -> Front:
    """Fronts of the shipped scenarios; the demo in inches, which differs by its unit alone, straight ahead only."""
    return brief_front(request.param, budget=BUDGET, locks=request.param != "buggy_inch")


@pytest.fixture
def few_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each row is built 512 times: where any row will do, a few."""
    monkeypatch.setattr(front_search, "ROWS", 30)


def test_rows_measured_again_keep_every_limit(front: Front) -> None:
    candidates = Candidates(*(front.table[name] for name in ("pivot_y", "pivot_z", "static_camber")))
    measured = measure(front.scenario.corner, candidates)
    for limit in front.problem.limits:
        assert (limit.excess(candidates, measured) <= 0.0).all(), limit.words
    space = front.scenario.space
    assert space.allows(candidates.pivot_y, candidates.pivot_z).all()
    assert measured["complete"].all()


def test_no_row_dominates_another(front: Front) -> None:
    costs = front.costs
    no_worse = (costs[:, None] <= costs[None]).all(axis=2)
    better = (costs[:, None] < costs[None]).any(axis=2)
    assert not (no_worse & better).any()


def test_the_best_of_each_objective_is_a_row(front: Front) -> None:
    """No usable candidate of an independent sweep is better in an objective by half a difference that matters."""
    problem = front.problem
    x = problem.lower + (problem.upper - problem.lower) * np.random.default_rng(5).random((3000, len(problem.lower)))
    judged = problem.judge(x)
    best = judged.costs[judged.usable].min(axis=0)
    assert (front.costs.min(axis=0) <= best + 0.5 * problem.scale).all()


@pytest.mark.usefixtures("few_rows")
def test_progress_rises_and_the_same_seed_gives_the_same_front() -> None:
    scenario = load_scenario(SCENARIOS / "buggy.toml")
    shown: list[float] = []
    one = search(scenario, budget=1200, seed=3, show=lambda progress: shown.append(progress.hypervolume))
    other = search(scenario, budget=1200, seed=3)
    assert shown == sorted(shown)
    assert shown[-1] > 0.0
    for name, column in one.table.items():
        np.testing.assert_array_equal(column, other.table[name])
    different = search(scenario, budget=1200, seed=4)
    assert not np.array_equal(one.table["pivot_y"], different.table["pivot_y"])


@pytest.mark.usefixtures("few_rows")
def test_an_objective_switched_off_is_still_measured() -> None:
    scenario = load_scenario(SCENARIOS / "buggy.toml")
    off = replace(scenario, targets={**scenario.targets, "scrub": Target(aim=None, limit=60.0, traded=False)})
    front = search(off, budget=1500)
    assert "scrub" not in [objective.name for objective in front.problem.traded]
    assert front.costs.shape[1] == len(PivotProblem(scenario).traded) - 1
    assert (front.table["scrub"] <= 60.0).all()


@pytest.mark.usefixtures("few_rows")
def test_a_fixed_arm_length_is_kept() -> None:
    scenario = load_scenario(SCENARIOS / "buggy.toml")
    fixed = replace(scenario, space=replace(scenario.space, length=(400.0, 400.0)))
    front = search(fixed, budget=1500)
    assert np.abs(front.table["arm_length"] - 400.0).max() < 1e-9
    low, high = scenario.space.static_camber
    assert ((front.table["static_camber"] >= low) & (front.table["static_camber"] <= high)).all()


def test_nothing_to_search_is_said() -> None:
    scenario = load_scenario(SCENARIOS / "buggy.toml")
    space = replace(scenario.space, pivot_y=(275.0, 275.0), pivot_z=(232.0, 232.0), static_camber=(0.0, 0.0))
    with pytest.raises(ScenarioError, match="nothing to search"):
        search(replace(scenario, space=space), budget=100)


def test_nothing_usable_says_why() -> None:
    scenario = load_scenario(SCENARIOS / "buggy.toml")
    targets = {**scenario.targets, "droop_limit": Target(aim=None, limit=329.0, traded=True)}
    with pytest.raises(NoUsableCandidate, match="droop limit below its limit of 329 mm"):
        search(replace(scenario, targets=targets), budget=1200)


def test_both_units_judge_alike() -> None:
    one, other = (PivotProblem(load_scenario(SCENARIOS / f"{name}.toml")) for name in ("buggy", "buggy_inch"))
    x = one.lower + (one.upper - one.lower) * np.random.default_rng(2).random((400, 3))
    first, second = one.judge(x), other.judge(x)
    usable = first.usable
    np.testing.assert_array_equal(usable, second.usable)
    np.testing.assert_allclose(first.costs[usable], second.costs[usable], rtol=1e-7, atol=1e-7)


class TestInverse:
    def test_finds_the_static_camber_again(self) -> None:
        corner = load_scenario(SCENARIOS / "buggy.toml").corner
        rng = np.random.default_rng(8)
        y, z, camber = rng.uniform(190, 400, 500), rng.uniform(160, 320, 500), np.radians(rng.uniform(-3, 3, 500))
        length = place(corner, Candidates(y, z, camber)).upper.radius
        assert np.degrees(np.abs(static_camber_for(corner, y, z, length) - camber)).max() < 1e-9

    def test_lower_arm_keeps_its_length_and_the_tyre_its_ground(self) -> None:
        corner = load_scenario(SCENARIOS / "buggy.toml").corner
        camber = np.radians(np.linspace(-4.0, 4.0, 9))
        placed = place(corner, Candidates(275.0, 232.0, camber))
        outer = placed.lower.at(placed.ride_angle)
        arm = outer - corner.lower_arm.inner_pivot[:, None]
        along = corner.lower_arm.direction @ arm
        length = np.sqrt((arm**2).sum(axis=0) - along**2)
        assert np.abs(length - placed.lower.radius).max() < 1e-9
        contact = placed.ride_height - corner.tyre.loaded_radius * np.cos(camber)
        assert np.abs(contact - corner.ground_z).max() < 1e-9


@pytest.mark.parametrize(("placed", "near"), [(False, 1e-6), (True, 1e-3)], ids=["joint fixed", "joint placed"])
def test_a_candidate_alone_is_the_candidate_in_a_batch(placed: bool, near: float) -> None:
    """To 1e-9 of its size, not to the last bit: matrix products sum in another order for other shapes.

    Where something locks is settled to 1e-6 mm, for what is left there is flat. A placed joint is polished to 1e-4 deg
    of the least bump steer, which leaves it some 1e-3 mm where that is flat.
    """
    corner = load_scenario(SCENARIOS / "buggy.toml").corner
    if not placed:
        corner = replace(corner, steering=replace(corner.steering, inner_region=None))
    rng = np.random.default_rng(4)
    count = CHUNK + 7
    batch = Candidates(
        rng.uniform(190, 400, count), rng.uniform(160, 320, count), np.radians(rng.uniform(-1, 1, count))
    )
    together = measure(corner, batch)
    for row in (0, 1, CHUNK - 1, CHUNK, count - 1):
        alone = measure(corner, batch.take(slice(row, row + 1)))
        for name, column in together.items():
            if column.dtype.kind == "f":
                np.testing.assert_allclose(alone[name][0], column[row], rtol=1e-9, atol=near, err_msg=name)
            else:
                assert alone[name][0] == column[row], name


def test_rounding_keeps_the_limits_that_the_row_kept(front: Front) -> None:
    step = front.scenario.build.round_to
    kept = 0
    rows = range(0, len(front), 75)
    for row in rows:
        built = rounded(front.problem, front.candidate(row))
        low, high = front.scenario.space.static_camber
        # where every mark around breaks something, a little of this may be the least
        assert low - np.radians(0.05) <= built.static_camber <= high + np.radians(0.05)
        found = built.measures()
        for length in (built.pivot_y, built.pivot_z, found["arm_length"]):
            assert length / step == pytest.approx(round(length / step), abs=1e-6)
        kept += not broken_limits(built)
        assert abs(np.degrees(built.static_camber - front.table["static_camber"][row])) < 0.35
    assert kept >= 0.85 * len(rows)


@pytest.mark.usefixtures("few_rows")
def test_what_is_held_fixed_is_not_rounded() -> None:
    scenario = load_scenario(SCENARIOS / "buggy.toml")
    space = replace(scenario.space, length=(400.3, 400.3), pivot_y=(277.25, 277.25))
    front = search(replace(scenario, space=space), budget=1500)
    built = rounded(front.problem, front.candidate(0))
    assert built.pivot_y == 277.25
    assert built.measures()["arm_length"] == pytest.approx(400.3, abs=1e-9)
    assert built.pivot_z == pytest.approx(round(built.pivot_z), abs=1e-9)
