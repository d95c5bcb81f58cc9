"""A spindle with several holes for its upper pivot: each is the spindle with that hole alone, and all are searched."""

from __future__ import annotations

import numpy as np
import pytest

from objectives.corner import Candidates
from objectives.curves import curves_at
from objectives.evaluate import measure
from objectives.inverse import static_camber_for
from optimizer.candidate import candidate_at, evaluate
from optimizer.derived import derived_geometry
from optimizer.errors import NoUsableCandidate
from optimizer.front_search import Front, search
from optimizer.problem import PivotProblem
from optimizer.rounding import rounded
from optimizer.scenario import Scenario, parse_scenario
from tests.part_cases import FULL, HOLES, changed
from tests.reference import rigid_body
from tests.scenario_cases import BASE

FIRST, SECOND = "[-18.0, -112.0, 118.0]", "[-14.0, -108.0, 140.0]"
BUDGET = 2500
# A batch and one by itself differ by the order of sums in matrix products.
ALONE = 1e-9
RIGID = 1e-9  # mm and degrees, as for every corner


def with_holes(*holes: str) -> Scenario:
    written = holes[0] if len(holes) == 1 else f"[{', '.join(holes)}]"
    roomy = BASE.replace("{ aim = 30.0, limit = 10.0 }", "{ aim = 30.0 }")
    return parse_scenario(roomy.replace(f"upper_pivot = {FIRST}", f"upper_pivot = {written}"))


def assert_same(one: dict, other: dict, leave: tuple[str, ...] = ()) -> None:
    assert set(one) - set(leave) == set(other) - set(leave)
    for name in set(one) - set(leave):
        expected = other[name]
        same = expected if isinstance(expected, str) else pytest.approx(expected, rel=ALONE, abs=ALONE, nan_ok=True)
        assert one[name] == same, name


@pytest.fixture(scope="module")
def front() -> Front:
    return search(with_holes(FIRST, SECOND), budget=BUDGET)


def test_a_list_of_one_point_is_that_point() -> None:
    listed, bare = with_holes(f"[{FIRST}]"), with_holes(FIRST)
    found = [candidate_at(scenario, 262.0, 241.0, 0.004).measures() for scenario in (listed, bare)]
    for name, value in found[0].items():
        other = found[1][name]
        assert value == other or (np.isnan(value) and np.isnan(other)), name
    assert "upper_hole" not in evaluate(listed, 262.0, 241.0)
    fronts = [search(scenario, budget=600).frame for scenario in (listed, bare)]
    assert fronts[0].equals(fronts[1])


def test_each_hole_is_the_spindle_with_that_hole_alone() -> None:
    both = with_holes(FIRST, SECOND)
    for hole, point in enumerate((FIRST, SECOND)):
        alone = with_holes(point)
        for camber, arm in ((0.006, None), (None, 410.0)):
            found = candidate_at(both, 262.0, 241.0, camber, arm, hole)
            expected = candidate_at(alone, 262.0, 241.0, camber, arm)
            assert found.static_camber == pytest.approx(expected.static_camber, abs=1e-14)
            assert_same(found.measures(), expected.measures(), leave=("upper_hole",))
            travel = np.array([-220.0, -50.0, 0.0, 180.0])
            ours, theirs = found.curves(travel), expected.curves(travel)
            for name in ("camber", "toe", "outer_rod_end", "contact"):
                np.testing.assert_allclose(getattr(ours, name), getattr(theirs, name), rtol=0, atol=1e-9)
        assert evaluate(both, 262.0, 241.0, upper_hole=hole + 1)["upper_hole"] == hole + 1


def test_holes_of_a_batch_against_the_rigid_body() -> None:
    """Candidates of both holes in one batch, in no order; toe too, for the steering arm turns about the kingpin."""
    corner = with_holes(FIRST, SECOND).corner
    hole = np.array([1, 0, 0, 1, 1])
    many = Candidates(np.linspace(250, 290, 5), np.linspace(225, 245, 5), np.radians(np.linspace(-0.4, 0.4, 5)), hole)
    travel = np.array([-150.0, -40.0, 0.0, 120.0])
    curves = curves_at(corner, many, travel)
    for row in range(5):
        sweep = rigid_body.solve(rigid_body.hardpoints(corner, many, row), travel)
        for name in ("wheel", "contact", "upper_outer", "steering_outer"):
            assert np.abs(getattr(curves, name)[:, row] - getattr(sweep, name)).max() <= RIGID, name
        for name in ("camber", "toe", "caster", "kingpin", "outer_rod_end"):
            assert np.degrees(np.abs(getattr(curves, name)[row] - getattr(sweep, name)).max()) <= RIGID, name
    separate = measure(corner, many.take(np.array([3])))
    together = measure(corner, many)
    for name, column in together.items():
        if column.dtype.kind == "f":
            assert separate[name][0] == pytest.approx(column[3], rel=ALONE, abs=ALONE, nan_ok=True), name


def test_static_camber_for_an_arm_in_each_hole() -> None:
    corner = with_holes(FIRST, SECOND).corner
    y, z, hole = np.full(4, 265.0), np.full(4, 238.0), np.array([0, 1, 0, 1])
    arm = np.array([400.0, 400.0, 420.0, 420.0])
    camber = static_camber_for(corner, y, z, arm, hole)
    found = measure(corner, Candidates(y, z, camber, hole))["arm_length"]
    assert found == pytest.approx(arm, abs=1e-9)
    assert camber[0] != pytest.approx(camber[1], abs=1e-3)


def test_every_row_of_a_search_is_the_scenario_with_its_hole_alone(front: Front) -> None:
    rows = {hole: np.flatnonzero(front.table["upper_hole"] == hole) for hole in (1, 2)}
    assert len(rows[1]) + len(rows[2]) == len(front)
    assert all(len(found) >= 3 for found in rows.values()), "rows of both holes"
    assert front.frame["upper_hole"].tolist() == front.table["upper_hole"].tolist()
    for hole, point in ((1, FIRST), (2, SECOND)):
        alone = with_holes(point)
        index = rows[hole]
        batch = Candidates(*(front.table[name][index] for name in ("pivot_y", "pivot_z", "static_camber")))
        expected = measure(alone.corner, batch)
        for name, column in expected.items():
            found = front.table[name][index]
            if column.dtype.kind == "f":
                np.testing.assert_allclose(found, column, rtol=ALONE, atol=ALONE, err_msg=name)
            else:
                assert (found == column).all(), name
        assert (PivotProblem(alone).excess(batch, expected) <= 0.0).all()


def only_bump_steer(*holes: str) -> Scenario:
    text = with_holes(*holes).text
    for words in ("{ aim = 0.5, limit = 3.0 }", "{ aim = 45.0, limit = 100.0 }", "{ aim = 220.0, limit = 150.0 }"):
        text = changed(words, words.replace(" }", ", objective = false }"), text)
    return parse_scenario(changed("{ aim = 30.0 }", "{ aim = 30.0, objective = false }", text))


def test_the_better_hole_wins() -> None:
    """With bump steer alone asked for, the best row lies in the hole whose own search comes out better."""
    other = "[-18.0, -60.0, 60.0]"
    alone = {
        hole: float(search(only_bump_steer(hole), budget=BUDGET).table["bump_steer"][0]) for hole in (FIRST, other)
    }
    assert alone[other] > 1.5 * alone[FIRST]
    for number, holes in ((2, (other, FIRST)), (1, (FIRST, other))):
        mixed = search(only_bump_steer(*holes), budget=BUDGET)
        assert mixed.table["upper_hole"][0] == number
        assert mixed.table["bump_steer"][0] < alone[other]


def test_a_search_of_holes_only() -> None:
    held = (
        FULL.replace("pivot_y = [190.0, 400.0]", "pivot_y = 275.0")
        .replace("pivot_z = [160.0, 320.0]", "pivot_z = 232.0")
        .replace("static_camber = [-0.5, 0.5]", "static_camber = 0.0")
        .replace("limit = 3.0", "limit = 30.0")
        .replace("limit = 100.0", "limit = 400.0")
        .replace("{ aim = 30.0, limit = 10.0 }", "{ aim = 30.0 }")
        .replace("{ aim = 220.0, limit = 150.0 }", "{ aim = 220.0, limit = 1.0 }")
        .replace("[targets]", "[targets]\nbump_limit = { limit = 1.0 }")
    )
    scenario = parse_scenario(held)
    assert not any("nothing to search" in doubt for doubt in scenario.doubts)
    alone = parse_scenario(changed(HOLES, f"upper_pivot = {SECOND}", held).replace("upper_hole = 2", ""))
    assert any("nothing to search" in doubt for doubt in alone.doubts)
    found = search(scenario, budget=300)
    assert set(found.table["upper_hole"]) <= {1, 2}
    # the same candidate twice may differ by rounding, and then neither row betters the other
    assert len({tuple(row) for row in (found.costs / found.problem.scale).round(6)}) <= 2


def test_rounding_keeps_the_hole(front: Front) -> None:
    row = int(np.flatnonzero(front.table["upper_hole"] == 2)[0])
    assert front.candidate(row).hole == 1
    built = rounded(front.problem, front.candidate(row))
    assert built.hole == 1
    assert built.measures()["upper_hole"] == 2


def test_a_hole_that_is_none() -> None:
    both = with_holes(FIRST, SECOND)
    for hole in (0, 3):
        with pytest.raises(ValueError, match=f"holds 2, counted from 1; there is no {hole}"):
            evaluate(both, 262.0, 241.0, upper_hole=hole)
    with pytest.raises(NoUsableCandidate):
        evaluate(both, 262.0, 241.0, arm_length=20.0, upper_hole=2)


def test_check_shows_the_baselines_hole() -> None:
    """Kingpin length and caster of the same hole by their definitions, the spindle as measured."""
    shown = dict(derived_geometry(parse_scenario(FULL)))
    lower, upper = np.array([6.0, -88.0, -112.0]), np.array([-14.0, -108.0, 140.0])
    assert shown["kingpin length"] == f"{np.linalg.norm(upper - lower):.0f} mm"
    assert shown["caster"] == f"{np.degrees(np.arctan2(20.0, 252.0)):.2f} deg"
