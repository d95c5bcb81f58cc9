"""From the shop's tolerances to what a front, a pick and its files say of them."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from objectives.as_built import OFFSETS, Threads, designed
from objectives.corner import Candidates
from optimizer.build import Tolerance
from optimizer.build_figures import build_figures
from optimizer.build_surface import BUILDS
from optimizer.build_words import build_blocks, build_numbers
from optimizer.build_yield import build_yields
from optimizer.candidate import candidate_at, columns_of
from optimizer.choice import shortlist
from optimizer.errors import ScenarioError
from optimizer.front_search import search
from optimizer.iso_tolerances import CLASSES, read_class
from optimizer.outputs import FRONT, read_front, write_front, write_pick
from optimizer.page import Table, as_markdown
from optimizer.problem import PivotProblem
from optimizer.scenario import Scenario, load_scenario, parse_scenario
from optimizer.shop_files import ShopFiles
from optimizer.weld_region import WeldRegion, exact_shares, largest_circle, largest_rectangle, weld_region
from optimizer.weld_words import region_words, tape_circle, tape_rectangle
from tests.scenario_cases import edited

SCENARIOS = Path(__file__).parent.parent / "scenarios"
FEW = 512  # builds, where their number does not matter


@cache
def _demo(name: str = "buggy") -> Scenario:
    return load_scenario(SCENARIOS / f"{name}.toml")


@cache
def _region() -> WeldRegion:
    """The weld region of the demo's baseline."""
    return weld_region(candidate_at(_demo(), 275.0, 232.0))


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("ISO 13920-B", "ISO 13920-B"),
        ("iso 13920 b", "ISO 13920-B"),
        ("ISO 2768-1 M", "ISO 2768-m"),
        ("ISO2768-c", "ISO 2768-c"),
    ],
)
def test_a_class_is_read_as_it_stands_on_drawings(written: str, name: str) -> None:
    assert read_class(written).name == name


def test_coarser_classes_and_longer_lengths_are_never_held_closer() -> None:
    lengths = np.array([10.0, 31.0, 121.0, 401.0, 1001.0, 1999.0])
    for classes in CLASSES.values():
        rows = np.stack([held.at(lengths) for held in classes.values()])
        assert (np.diff(rows, axis=0) >= 0.0).all()
        assert (np.diff(rows, axis=1) >= 0.0).all()


def test_a_class_goes_by_the_length_concerned() -> None:
    scenario = parse_scenario(
        edited(("pivot_tolerance = 1.5", 'pivot_tolerance = "ISO 13920-D"\narm_length_tolerance = "ISO 13920-C"'))
    )
    # the pivot's greatest distance from centre plane and datum: 350 mm, then 410 mm; the arm: shorter, longer than 400
    design = designed(
        scenario.corner, Candidates(np.array([350.0, 410.0, 200.0]), np.array([230.0, 230.0, 240.0]), np.zeros(3))
    )
    bands = scenario.build.bands(design)
    assert bands[OFFSETS["pivot"]].tolist() == [[7.0, 9.0, 7.0]] * 3
    assert (design.upper.radius < 400.0).tolist() == [True, True, False]
    assert bands[OFFSETS["arm_length"]].tolist() == [[4.0, 4.0, 6.0]]
    assert bands[OFFSETS["spindle_upper"]].tolist() == [[0.5] * 3] * 3
    assert not bands[OFFSETS["tie_rod"]].any()


def test_a_class_that_does_not_reach_is_a_fault_with_its_length() -> None:
    text = edited(
        ("pivot_tolerance = 1.5", 'pivot_tolerance = "ISO 2768-v"'),
        ("pivot_y = [190.0, 400.0]", "pivot_y = [0.0, 400.0]"),
        ("pivot_z = [160.0, 320.0]", "pivot_z = [0.0, 320.0]"),
    )
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(text)
    (fault,) = caught.value.faults
    assert fault.key == "build.pivot_tolerance"
    assert "no figure for 0 mm, the length concerned of the upper inner pivot" in fault.sentence
    assert "from 3 mm to 4000 mm" in fault.sentence


def test_units_change_no_yield() -> None:
    batch = Candidates(np.array([240.0, 285.0]), np.array([250.0, 228.0]), np.zeros(2))
    in_mm, in_inches = (build_yields(_demo(name), batch) for name in ("buggy", "buggy_inch"))
    assert in_mm == pytest.approx(in_inches, abs=1.5 / BUILDS)


def test_perfect_parts_keep_the_limits_that_the_design_keeps() -> None:
    keys = ("pivot", "lower_pivot", "spindle", "inner_joint", "arm_length")
    perfect = "\n".join(f"{key}_tolerance = 0.0" for key in keys)
    scenario = parse_scenario(
        edited(("pivot_tolerance = 1.5", perfect), ("[470.0, 430.0], [560.0, 600.0]", "[470.0, 480.0], [560.0, 650.0]"))
    )
    y, z = np.linspace(200.0, 380.0, 15), np.linspace(170.0, 310.0, 15)
    problem, batch = PivotProblem(scenario), Candidates(y, z, np.zeros(15))
    wheel_only = [limit.objective is not None or "lock" in limit.words for limit in problem.limits]
    good = (problem.excess(batch, problem.measure(batch))[:, wheel_only] <= 0.0).all(axis=1)
    assert build_yields(scenario, batch).tolist() == good.astype(float).tolist()
    assert good.any()


def test_wider_tolerances_keep_fewer_builds() -> None:
    scenario = _demo()
    batch = Candidates(np.array([275.0]), np.array([232.0]), np.zeros(1))
    shares = []
    for tolerance in (0.0, 1.5, 3.0, 6.0, 12.0):
        held = {key: Tolerance(tolerance) for key in scenario.build.tolerances}
        shares.append(float(build_yields(replace(scenario, build=replace(scenario.build, tolerances=held)), batch)[0]))
    assert shares == sorted(shares, reverse=True)
    assert shares[0] == 1.0
    assert shares[-1] < 0.5


def test_the_yield_is_a_column_of_every_scenario() -> None:
    for name in ("buggy", "buggy_inch", "tight", "published_corner"):
        assert "build_yield" in [column.column for column in columns_of(_demo(name))]


def test_the_shortlist_names_the_most_forgiving() -> None:
    costs = np.array([[0.0, 2.0], [1.0, 1.0], [2.0, 0.0], [1.5, 1.5]])
    yields = np.array([0.2, 0.5, 0.1, 0.9])
    listed = shortlist(costs, np.full(2, np.nan), np.ones(2), yields=yields)
    (found,) = (item for item in listed if "most forgiving" in item.kind)
    assert found.row == 3
    assert "90 of 100" in found.why
    assert not any(
        "forgiving" in item.kind for item in shortlist(costs, np.full(2, np.nan), np.ones(2), yields=0.0 * yields)
    )


@pytest.mark.parametrize(("target", "traded"), [("{ limit = 0.9 }", False), ("{ aim = 1.0, objective = true }", True)])
def test_a_search_can_hold_the_yield_to_a_limit_or_trade_it_off(target: str, traded: bool) -> None:
    text = (SCENARIOS / "buggy.toml").read_text(encoding="utf-8")
    scenario = parse_scenario(text.replace("[build]", f"build_yield = {target}\n\n[build]"))
    front = search(scenario, budget=100, seed=3)
    assert ("build_yield" in [goal.name for goal in front.problem.traded]) == traded
    if traded:
        assert np.ptp(front.table["build_yield"]) > 0.0
    else:
        assert front.table["build_yield"].min() >= 0.9
    candidates = Candidates(*(front.table[name] for name in ("pivot_y", "pivot_z", "static_camber")))
    assert front.table["build_yield"] == pytest.approx(build_yields(scenario, candidates), abs=1.5 / BUILDS)


def test_a_pick_says_what_comes_out_of_the_shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # of the front the table is read, no picture and no page; of the pick what is said of builds
    monkeypatch.setattr("optimizer.front_pictures.PICTURES", {})
    monkeypatch.setattr("optimizer.front_page.front_page", lambda *_: "")
    monkeypatch.setattr("optimizer.pictures.draw_candidate", lambda *_: [])
    monkeypatch.setattr("optimizer.shop_files.write_shop_files", lambda *_: ShopFiles([], [], []))
    front = search(_demo(), budget=100, seed=1)
    written = tmp_path / "front"
    written.mkdir()
    write_front(front, written, 1)
    again = read_front(written)
    assert np.array_equal(again.table["build_yield"], front.table["build_yield"])
    assert "build_yield" in (written / FRONT).read_text(encoding="utf-8").splitlines()[0].split(",")
    pick = tmp_path / "pick"
    pick.mkdir()
    chosen = write_pick(again, 0, None, pick)
    numbers = json.loads((pick / "pivot.json").read_text(encoding="utf-8"))["build"]
    assert numbers["builds"] == 4096
    assert abs(numbers["yield_adjusted"] - numbers["yield_on_surface"]) < 0.02
    assert numbers["yield_on_surface"] == pytest.approx(chosen.measures()["build_yield"], abs=0.03)
    spread = numbers["spread_as_welded"]["scrub"]
    assert spread["p05"] < spread["p50"] < spread["p95"]
    assert set(numbers["allowances"]) == set(numbers["variance_shares"]["scrub"])
    page = (pick / "rationale.html").read_text(encoding="utf-8")
    for words in ("What comes out of the shop", "Where the pivot may be welded", "after the threads have been turned"):
        assert words in page
    assert (pick / "weld_region.png").stat().st_size > 20_000
    assert (pick / "weld_region.svg").exists()
    assert page.count("data:image/png;base64") == len(list(pick.glob("*.png")))


def test_what_adjustment_saves_is_said_before_and_after() -> None:
    scenario = replace(_demo(), build=replace(_demo().build, threads=Threads(20.0, 20.0)))
    candidate = candidate_at(scenario, 240.0, 246.0)
    figures = build_figures(candidate, FEW)
    welded, adjusted = figures.spreads_welded["static_toe"], figures.spreads["static_toe"]
    assert welded.high - welded.low > np.radians(0.1)
    assert adjusted.high - adjusted.low < 1e-9
    assert abs(adjusted.middle - adjusted.design) < 1e-9
    without = replace(candidate, scenario=replace(scenario, build=replace(scenario.build, threads=Threads())))
    plain = build_figures(without, FEW)
    assert plain.as_welded == plain.adjusted == figures.as_welded
    region = _region()
    text = as_markdown(build_blocks(scenario, figures, region))
    assert "after the threads have been turned to bring back static camber" in text
    assert "after adjusting" in text
    assert "after adjusting" not in as_markdown(build_blocks(without.scenario, plain, region))


def test_allowances_in_words_where_a_part_does_not_matter_and_where_none_helps() -> None:
    scenario = _demo()
    figures, region = build_figures(candidate_at(scenario, 275.0, 232.0), FEW), _region()
    some = next(iter(figures.allowances.values()))
    changed = replace(
        figures,
        allowances={
            "pivot": replace(some, allowed=None, yield_if_perfect=0.8),
            "lower_pivot": replace(some, allowed=25.0),
            "arm_length": replace(some, allowed=2.04),
        },
    )
    tables = [block for block in build_blocks(scenario, changed, region) if isinstance(block, Table)]
    cells = {row[0]: row[2] for row in tables[-1].rows}
    assert cells == {
        "Upper inner pivot": "not even perfect",
        "Lower inner pivot": "25.0 mm or more",
        "Upper arm's length": "+-2.0 mm",
    }
    assert json.dumps(build_numbers(scenario, changed, region))


def test_inside_the_weld_region_builds_keep_the_limits_and_outside_they_do_not() -> None:
    """On exact corners, away from the edge by more than the map's mesh."""
    scenario = _demo()
    candidate = candidate_at(scenario, 275.0, 232.0)
    region = _region()
    assert region.holds_pick
    assert region.checked >= scenario.build.required_yield - 0.01
    design = designed(scenario.corner, candidate.as_batch)
    rows, columns = np.nonzero(region.share < 0.5)
    some = np.random.default_rng(2).choice(rows.size, 4, replace=False)
    y, z = region.y[columns[some]] - candidate.pivot_y, region.z[rows[some]] - candidate.pivot_z
    assert (exact_shares(scenario, design, y, z) < scenario.build.required_yield).all()
    y0, y1, z0, z1 = region.rectangle
    corners = np.array([(y, z) for y in (y0, y1) for z in (z0, z1)]) - [candidate.pivot_y, candidate.pivot_z]
    assert (exact_shares(scenario, design, *corners.T) >= scenario.build.required_yield - 0.02).all()
    assert (region.share[region.inside] >= scenario.build.required_yield).all()


def test_no_bracket_is_welded_where_none_fits() -> None:
    text = (SCENARIOS / "buggy.toml").read_text(encoding="utf-8")
    scenario = parse_scenario(
        text.replace("# region = [[y, z], ...]", "region = [[190, 160], [277, 160], [277, 320], [190, 320]]")
    )
    region = weld_region(candidate_at(scenario, 275.0, 232.0))
    assert region.y[region.inside.any(axis=0)].max() <= 277.0
    assert region.share[:, region.y > 277.5].max() == 0.0


def _disc(radius: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    y, z = np.linspace(-10.0, 10.0, 201), np.linspace(-8.0, 8.0, 161)
    return (y[None] - 1.0) ** 2 + (z[:, None] + 2.0) ** 2 < radius**2, y, z


def test_the_largest_circle_in_a_disc_is_the_disc() -> None:
    inside, y, z = _disc(4.0)
    found = largest_circle(inside, y, z)
    # never too large; too small by at most two steps of the mesh
    assert found == pytest.approx((1.0, -2.0, 4.0), abs=0.21)
    assert found[2] <= 4.0
    assert largest_circle(np.zeros_like(inside), y, z)[2] == 0.0
    assert largest_circle(np.ones_like(inside), y, z)[2] <= 8.0


def test_the_largest_rectangle_in_a_disc_is_its_square() -> None:
    inside, y, z = _disc(4.0)
    y0, y1, z0, z1 = largest_rectangle(inside, y, z)
    # of all rectangles in a circle the square is the largest, 2 r^2
    assert (y1 - y0) * (z1 - z0) == pytest.approx(2.0 * 4.0**2, rel=0.05)
    assert largest_rectangle(np.zeros_like(inside), y, z) == (0.0, 0.0, 0.0, 0.0)


def test_the_largest_rectangle_is_that_of_a_search_through_all() -> None:
    rng = np.random.default_rng(6)
    for _ in range(30):
        inside = rng.random((7, 9)) < 0.75
        y, z = np.arange(9.0), np.arange(7.0)
        every = [
            float((right - left) * (high - low))
            for left in range(9)
            for right in range(left, 9)
            for low in range(7)
            for high in range(low, 7)
            if inside[low : high + 1, left : right + 1].all()
        ]
        y0, y1, z0, z1 = largest_rectangle(inside, y, z)
        assert (y1 - y0) * (z1 - z0) == max(every)
        assert inside[int(z0) : int(z1) + 1, int(y0) : int(y1) + 1].all()


def test_shapes_on_tape_marks_lie_within_those_found() -> None:
    region = _region()  # of the same vehicle, in mm for either tape
    for name in ("buggy", "buggy_inch"):
        scenario = _demo(name)
        circle, rectangle = tape_circle(scenario, region), tape_rectangle(scenario, region)
        assert circle is not None
        assert rectangle is not None
        y, z, radius = circle.place
        assert np.hypot(y - region.circle[0], z - region.circle[1]) + radius <= region.circle[2] + 1e-9
        step = scenario.build.round_to
        assert y / step == pytest.approx(round(y / step), abs=1e-9)
        inner, outer = np.array(rectangle.place), np.array(region.rectangle)
        assert (inner[::2] >= outer[::2] - 1e-6).all()
        assert (inner[1::2] <= outer[1::2] + 1e-6).all()


def test_a_region_that_holds_nothing_or_not_the_pick_is_said() -> None:
    scenario = _demo()
    region = _region()
    nothing = replace(region, circle=(0.0, 0.0, 0.0), rectangle=(0.0,) * 4)
    assert "Nowhere near this pivot" in region_words(scenario, nothing)[0]
    words = " ".join(region_words(scenario, replace(region, holds_pick=False, cut_off=True)))
    assert "The pick itself lies outside" in words
    assert "64.0 mm from the pick" in words


def test_a_corner_that_cannot_be_set_down_keeps_no_limit() -> None:
    scenario = _demo()
    far = Candidates(np.array([275.0]), np.array([232.0]), np.radians([44.0]))
    assert build_yields(scenario, far)[0] == 0.0
