"""Obstacles, tubes and rim from the scenario to every place where their clearance is shown."""

from __future__ import annotations

from dataclasses import replace
from html import unescape
from pathlib import Path

import numpy as np
import pytest
import shapely
from typer.testing import CliRunner

from objectives import parts_clearance
from objectives.corner import Candidates
from objectives.curves import curves_at
from objectives.evaluate import measure
from objectives.parts import Obstacle, Parts, Rim
from optimizer import front_search
from optimizer.candidate import Candidate, candidate_at
from optimizer.cli import app
from optimizer.closest_parts import closest_parts, say_closest
from optimizer.front_search import search
from optimizer.outputs import curve_table, write_pick
from optimizer.part_view import rim_profile, tube_outline
from optimizer.scenario import Scenario, load_scenario, parse_scenario
from optimizer.starter import starter_text
from optimizer.units import UNITS
from tests.commands import draw_only, pick_in_words, print_nothing
from tests.fronts import write_with_page
from tests.scenario_cases import BASE, LENGTHS, WHEEL, edited

OBSTACLES = """\
[[obstacles]]
name = "shock tower"
points = [[430.0, 360.0], [400.0, 520.0]]
diameter = 50.0

[[obstacles]]
name = "rail & $5"
points = [[240.0, 380.0]]
diameter = 40.0

[build]"""


def furnished(target: str = "") -> Scenario:
    return parse_scenario(
        edited(
            (LENGTHS, WHEEL.replace("tube_diameter = 25.0", "tube_diameter = 25.0\nlegs_x = [120.0, -120.0]")),
            ("[lower_arm]", "[lower_arm]\ntube_diameter = 30.0"),
            ("inner_joint", "tie_rod_diameter = 20.0\ninner_joint"),
            ("[build]", OBSTACLES),
            ("scrub =", f"{target}\nscrub ="),
            ("fender_clearance = { aim = 30.0, limit = 10.0 }\n", ""),
        )
    )


def sound(scenario: Scenario) -> Candidate:
    return candidate_at(scenario, 275.0, 232.0)


def test_what_is_given_reaches_the_corner_and_what_is_not_has_its_reason() -> None:
    parts = furnished().corner.parts
    assert [(o.name, o.points.shape, o.radius) for o in parts.obstacles] == [
        ("shock tower", (2, 2), 25.0),
        ("rail & $5", (1, 2), 20.0),
    ]
    assert parts.upper_arm is not None
    assert parts.lower_arm is not None
    assert (parts.upper_arm.radius, parts.upper_arm.legs_x) == (12.5, (120.0, -120.0))
    assert (parts.lower_arm.radius, parts.lower_arm.legs_x) == (15.0, None)
    assert parts.tie_rod_radius == 10.0
    assert parts.rim == Rim(radius=190.5, width=178.0, inner_radius=178.5, offset=-20.0)
    (wall,) = (default for default in furnished().defaults if default.key == "wheel.rim_wall")
    assert (wall.value, "no source" in wall.why) == ("12 mm", True)


def test_without_parts_there_is_nothing_to_measure_or_say() -> None:
    plain = parse_scenario(BASE)
    assert plain.corner.parts == Parts()
    assert not plain.targets["parts_clearance"].measured
    measured = measure(plain.corner, sound(plain).as_batch)
    assert np.isnan(measured["parts_clearance"][0])
    assert measured["closest_parts"][0] == ""
    found = sound(plain).measures()
    assert (say_closest(plain, found), closest_parts(plain, found)) == ("", [])
    assert "parts_clearance" not in curve_table(sound(plain))


def test_curves_hold_the_clearance_straight_ahead() -> None:
    candidate = sound(furnished())
    table, found = curve_table(candidate), candidate.measures()
    assert found["closest_steering"] == "straight ahead"
    # 10 mm of travel between rows, and nothing here moves nearly as fast as the wheel
    assert found["parts_clearance"] <= table["parts_clearance"].min() <= found["parts_clearance"] + 0.5
    nearest = table["travel"][table["parts_clearance"].argmin()]
    assert nearest == pytest.approx(found["closest_travel"], abs=11.0)


def test_an_obstacle_moved_by_the_gap_is_met() -> None:
    """The gap that is said: moved towards the arm by that much, the obstacle touches, by more it overlaps."""
    text = furnished().text
    disc = "points = [[430.0, 360.0], [400.0, 520.0]]\ndiameter = 50.0"
    gap = sound(furnished()).measures()["parts_clearance"]
    assert gap > 1.0
    for more, expected in ((gap, 0.0), (gap + 2.0, -2.0)):
        thicker = parse_scenario(text.replace(disc, disc.replace("50.0", f"{50.0 + 2.0 * more}")))
        assert sound(thicker).measures()["parts_clearance"] == pytest.approx(expected, abs=1e-6)


def test_the_sentence_says_who_where_and_how_near() -> None:
    scenario = furnished()
    found = sound(scenario).measures()
    said = say_closest(scenario, found)
    assert said.startswith("closest parts: upper arm's front leg and shock tower, 180 mm above ride, steering straight")
    assert f"a gap of {found['parts_clearance']:.1f} mm" in said
    overlap = {**found, "parts_clearance": -3.0, "closest_travel": 0.2}
    assert "at ride" in say_closest(scenario, overlap)
    assert say_closest(scenario, overlap).endswith("they overlap by 3.0 mm")
    assert "below ride" in say_closest(scenario, {**found, "closest_travel": -40.0})


def test_a_try_prints_it_and_draws_the_parts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    draw_only(monkeypatch, "front_view")
    file = tmp_path / "parts.toml"
    file.write_text(furnished().text, encoding="utf-8")
    result = CliRunner().invoke(
        app, ["try", str(file), "--pivot", "275", "232", "--out", str(tmp_path / "idea")], catch_exceptions=False
    )
    assert result.exit_code == 0
    assert "closest parts: upper arm's front leg and shock tower" in result.output
    seen = unescape((tmp_path / "idea" / "front_view.svg").read_text(encoding="utf-8"))
    for word in ("obstacle", "shock tower", "rail & $5", "rim, cut through its axis", "thickness of arms and tie rod"):
        assert f"<!-- {word} -->" in seen.replace(r"\$", "$"), word


def test_a_search_trades_it_off_and_keeps_its_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(front_search, "ROWS", 60)
    pick_in_words(monkeypatch)
    print_nothing(monkeypatch)
    scenario = furnished("parts_clearance = { aim = 20.0, limit = 5.0, objective = true }")
    front = search(scenario, budget=700)
    assert "parts_clearance" in [objective.name for objective in front.problem.traded]
    assert len(front) > 5
    assert (front.table["parts_clearance"] >= 5.0).all()
    assert (front.table["closest_parts"] != "").all()
    write_with_page(front, tmp_path)
    assert "parts_clearance" in (tmp_path / "front.csv").read_text(encoding="utf-8").split("\n")[0].split(",")
    write_pick(front, 0, None, tmp_path)
    page = (tmp_path / "rationale.md").read_text(encoding="utf-8")
    assert "What comes closest to what" in page
    assert "parts_clearance" in (tmp_path / "pivot.json").read_text(encoding="utf-8")


def test_drawn_outlines_are_those_of_the_solids() -> None:
    rim = Rim(radius=190.0, width=180.0, inner_radius=178.0, offset=-20.0)
    section = shapely.box(-90.0, 178.0, 90.0, 190.0).union(shapely.box(-90.0, -190.0, 90.0, -178.0))
    assert (
        shapely.Polygon(rim_profile(rim)).symmetric_difference(section.union(shapely.box(-20, -190, 90, 190))).area
        < 1e-6
    )
    begin, end = np.array([3.0, 4.0]), np.array([50.0, -20.0])
    tube = shapely.LineString([begin, end]).buffer(12.0, quad_segs=64)
    assert shapely.Polygon(tube_outline(begin, end, 12.0)).symmetric_difference(tube).area < 0.01 * tube.area


@pytest.mark.parametrize("units", sorted(UNITS))
def test_the_starters_parts_can_be_used_as_they_stand(units: str) -> None:
    kept = ("tube_diameter", "legs_x", "tie_rod_diameter", "[wheel]", "rim_diameter", "rim_width", "offset")
    kept += ("[[obstacles]]", 'name = "shock', "points", "diameter", "parts_clearance")
    lines = starter_text(units).split("\n")
    used = [line[2:] if line.startswith(tuple(f"# {key}" for key in kept)) else line for line in lines]
    scenario = parse_scenario("\n".join(used))
    assert scenario.doubts == ()
    assert scenario.targets["parts_clearance"].limit is not None
    parts = scenario.corner.parts
    assert None not in (parts.upper_arm, parts.lower_arm, parts.tie_rod_radius, parts.rim)
    assert len(parts.obstacles) == 1
    assert np.isfinite(candidate_at(scenario, 275.0, 232.0).measures()["parts_clearance"])


def test_shipped_scenarios_have_no_parts() -> None:
    for path in (Path(__file__).parent.parent / "scenarios").glob("*.toml"):
        assert load_scenario(path).corner.parts == Parts()


def test_looks_left_out_by_their_rough_gaps_hold_no_least(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every pair at every steering position followed exactly, against only those that may be the nearest."""
    asked = furnished()
    corner = replace(asked.corner, steering=replace(asked.corner.steering, rack_travel=40.0))
    rng = np.random.default_rng(6)
    spans = (asked.space.pivot_y, asked.space.pivot_z, asked.space.static_camber)
    candidates = Candidates(*(rng.uniform(low, high, 400) for low, high in spans))
    quick = measure(corner, candidates)
    monkeypatch.setattr(parts_clearance, "ROUGH", np.inf)
    every = measure(corner, candidates)
    np.testing.assert_allclose(quick["parts_clearance"], every["parts_clearance"], rtol=0.0, atol=1e-9)
    assert len(set(every["closest_parts"])) > 3
    assert (quick["closest_parts"] == every["closest_parts"]).all()


def test_a_gap_that_is_least_in_the_middle_of_travel_is_found() -> None:
    """A disc outboard of the tyre: the wheel swings out towards it and back; a dense table says how near it comes."""
    plain = parse_scenario(BASE).corner
    corner = replace(plain, parts=Parts(obstacles=(Obstacle("post", np.array([[1000.0, 40.0]]), 15.0),)))
    candidate = Candidates(275.0, 232.0, 0.0)
    travel = np.linspace(-plain.travel.droop, plain.travel.bump, 8001)
    gaps = curves_at(corner, candidate, travel).parts_clearance[0]
    assert 0 < gaps.argmin() < gaps.size - 1
    measured = measure(corner, candidate)
    # a row lies within 0.025 mm of the least, where the curve bends with a radius of some hundred mm
    assert measured["parts_clearance"][0] == pytest.approx(gaps.min(), abs=1e-5)
    assert measured["closest_travel"][0] == pytest.approx(travel[gaps.argmin()], abs=0.1)
