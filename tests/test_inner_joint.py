"""The inner joint placed by the tool: as good as an independent optimiser finds, inside its region, used everywhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import minimize

from objectives.corner import Candidates, Corner, Travel
from objectives.curves import curves_at
from objectives.evaluate import measure
from objectives.inner_joint import _first_guess
from objectives.minimax import least_range
from objectives.ride import place
from optimizer.candidate import Candidate
from optimizer.errors import ScenarioError
from optimizer.front_search import search
from optimizer.page import Points
from optimizer.problem import PivotProblem
from optimizer.rounding import rounded
from optimizer.scenario import Scenario, parse_scenario
from optimizer.steering_advice import steering_advice
from tests.reference.planar import parallel_arms

Figures = Callable[[str, str], None]
OPTIMUM = 1e-4  # deg: how near to the least bump steer the placed joint comes
TEXT = (Path(__file__).parent.parent / "scenarios" / "buggy.toml").read_text(encoding="utf-8")
LINE = next(line for line in TEXT.splitlines() if line.startswith("inner_region"))
WIDE, NARROW = "{ y = [180.0, 300.0], z = [50.0, 150.0] }", "{ y = [235.0, 243.0], z = [88.0, 94.0] }"


def scenario(region: str) -> Scenario:
    return parse_scenario(TEXT.replace(LINE, f"inner_region = {region}"))


def fixed_joint() -> Scenario:
    return parse_scenario(TEXT.replace(LINE, ""))


def drawn(count: int) -> Candidates:
    rng = np.random.default_rng(17)
    return Candidates(
        rng.uniform(190, 400, count), rng.uniform(190, 300, count), np.radians(rng.uniform(-0.5, 0.5, count))
    )


def bump_steer(corner: Corner, candidate: Candidates, joint: np.ndarray) -> float:
    """Degrees, with the joint fixed at y and z."""
    inner = np.array([corner.steering.inner_joint[0], *joint])
    steering = replace(corner.steering, inner_joint=inner, inner_region=None, rack_travel=0.0)
    found = measure(replace(corner, steering=steering), candidate, only=["bump_steer"])
    return float(np.degrees(found["bump_steer"][0]))


@pytest.mark.parametrize("region", [WIDE, NARROW], ids=["wide", "narrow"])
def test_no_worse_than_an_independent_optimiser(region: str, figures: Figures) -> None:
    """Nelder and Mead's simplex from two starts, on the measured bump steer itself (scipy)."""
    corner = scenario(region).corner
    low, high = corner.steering.inner_region.T
    batch = drawn(40)
    measured = measure(corner, batch)
    worst, compared = 0.0, 0
    for row in np.flatnonzero(measured["complete"])[:3]:
        candidate = batch.take(slice(row, row + 1))
        joint = np.array([measured["inner_joint_y"][row], measured["inner_joint_z"][row]])
        assert ((joint >= low) & (joint <= high)).all()

        def cost(x: np.ndarray, candidate: Candidates = candidate) -> float:
            found = bump_steer(corner, candidate, np.clip(x, low, high))
            return found if np.isfinite(found) else 1e3

        options = {"xatol": 1e-6, "fatol": 1e-9, "maxiter": 150}
        starts = (joint + np.array([2.0, -1.0]), 0.5 * (low + high))
        best = min(minimize(cost, start, method="Nelder-Mead", options=options).fun for start in starts)
        placed = np.degrees(measured["bump_steer"][row])
        assert placed == pytest.approx(cost(joint), abs=1e-7)
        worst, compared = max(worst, placed - best), compared + 1
    figures(
        f"inner joint vs simplex search, {compared} candidates", f"at most {worst:.1e} deg above the least bump steer"
    )
    assert compared == 3
    assert worst <= OPTIMUM


def test_the_first_guess_is_exact_for_equal_parallel_arms() -> None:
    """The spindle only shifts, so every point of it runs on an arc like the arms' own: the rod is to be one of them."""
    radius, ride = 400.0, np.radians(-12.0)
    corner, candidate = parallel_arms(radius, ride)
    spindle = corner.spindle
    for lower_pivot_to_outer in ([-110.0, 14.0, 60.0], [95.0, -60.0, 120.0]):
        pivot = spindle.lower_pivot + np.array(lower_pivot_to_outer)
        turned = replace(corner, spindle=replace(spindle, steering_pivot=pivot), travel=Travel(100.0, 120.0, 200.0))
        placed = place(turned, candidate)
        expected = placed.steering_outer[1:, 0] - radius * np.array([np.cos(ride), np.sin(ride)])
        assert _first_guess(placed)[:, 0] == pytest.approx([turned.steering.inner_joint[0], *expected], abs=1e-8)


def test_every_measure_uses_the_placed_joint() -> None:
    corner = scenario(WIDE).corner
    batch = drawn(8)
    together = measure(corner, batch)
    for row in np.flatnonzero(together["complete"])[:4]:
        joint = (together["inner_joint_y"][row], together["inner_joint_z"][row])
        inner = np.array([corner.steering.inner_joint[0], *joint])
        fixed = replace(corner, steering=replace(corner.steering, inner_joint=inner, inner_region=None))
        candidate = batch.take(slice(row, row + 1))
        alone = measure(fixed, candidate)
        for name, column in together.items():
            if column.dtype.kind == "f":
                assert alone[name][0] == pytest.approx(column[row], rel=1e-6, abs=1e-6, nan_ok=True), name
        travel = np.array([-200.0, 0.0, 250.0])
        np.testing.assert_allclose(
            curves_at(corner, candidate, travel).toe, curves_at(fixed, candidate, travel).toe, atol=1e-7
        )


def test_a_joint_to_choose_never_makes_bump_steer_worse() -> None:
    free, fixed = scenario("{ y = [180.0, 300.0], z = [50.0, 150.0] }").corner, fixed_joint().corner
    batch = drawn(200)
    with_region, without = measure(free, batch), measure(fixed, batch)
    both = with_region["complete"] & without["complete"]
    assert both.sum() > 100
    assert (with_region["bump_steer"][both] <= without["bump_steer"][both] + 1e-9).all()


def test_search_pick_and_advice() -> None:
    chosen_scenario = scenario(WIDE)
    front = search(chosen_scenario, budget=1000)
    for axis, name in enumerate(("inner_joint_y", "inner_joint_z")):
        low, high = chosen_scenario.corner.steering.inner_region[axis]
        assert ((front.table[name] >= low) & (front.table[name] <= high)).all()
    built = rounded(PivotProblem(chosen_scenario), front.candidate(0))
    found = built.measures()
    assert found["inner_joint_y"] == round(found["inner_joint_y"])
    _, points = steering_advice(chosen_scenario, built, found)
    assert isinstance(points, Points)
    text = " ".join(points.items)
    assert f"y {found['inner_joint_y']:.0f} mm" in text
    assert "too far up" in text
    fixed = fixed_joint()
    assert steering_advice(fixed, Candidate(fixed, 275.0, 232.0, 0.0), found) == []


@pytest.mark.parametrize(
    ("region", "words"),
    [
        ("{ y = [300.0, 180.0], z = [50.0, 150.0] }", "min below its max"),
        ("{ y = 240.0, z = [50.0, 150.0] }", r"must be \[min, max\]"),
        ("{ y = [180.0, 300.0] }", "inner_region.z"),
        ("{ y = [180.0, 300.0], z = [50.0, nan] }", "not a number"),
        ("{ y = [180.0, 300.0], zz = [50.0, 150.0] }", "did you mean z"),
    ],
)
def test_a_wrong_region_is_said(region: str, words: str) -> None:
    with pytest.raises(ScenarioError, match=words):
        scenario(region)


@pytest.mark.parametrize(
    ("low", "high"),
    [
        pytest.param((-6.0, -2.0), (3.0, 5.0), id="bounds of which few are reached"),
        pytest.param((-0.1, 0.05), (0.3, 0.1), id="narrow ones, where the curve hardly bends from one to the other"),
    ],
)
def test_least_range_against_linear_programming(low: tuple[float, float], high: tuple[float, float]) -> None:
    """Random curves: the least range of e + a g + b h, as a linear programme solved by scipy's HiGHS."""
    from scipy.optimize import linprog

    rng = np.random.default_rng(3)
    places, count = 25, 60
    u = np.linspace(-1.0, 1.0, places)[:, None]
    e = np.cumsum(rng.normal(size=(places, count)), axis=0)
    g, h = u * rng.normal(1.0, 0.3, count) + 0.2, u * u * rng.normal(1.0, 0.3, count)
    step = least_range(e, g, h, *(np.repeat(np.array(ends)[:, None], count, axis=1) for ends in (low, high)))
    assert np.clip(step.T, low, high) == pytest.approx(step.T, abs=1e-12)
    found = np.ptp(e + step[0] * g + step[1] * h, axis=0)
    for column in range(count):
        # least t - s with s <= e + a g + b h <= t
        rise = np.column_stack((g[:, column], h[:, column], -np.ones(places), np.zeros(places)))
        fall = np.column_stack((-g[:, column], -h[:, column], np.zeros(places), np.ones(places)))
        limits = np.concatenate((-e[:, column], e[:, column]))
        bounds = [*zip(low, high, strict=True), (None, None), (None, None)]
        exact = linprog([0, 0, 1, -1], A_ub=np.vstack((rise, fall)), b_ub=limits, bounds=bounds).fun
        assert found[column] >= exact - 1e-9
        assert found[column] <= 1.02 * exact + 1e-9
