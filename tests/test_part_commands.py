"""A scenario with steering box, holes, joints, shock and strap, from the file to the pick, as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from optimizer.front_search import Front, search
from optimizer.outputs import read_front
from optimizer.results import new_directory
from optimizer.scenario import load_scenario
from tests.commands import draw_only, pick_in_words, print_nothing, run
from tests.fronts import write_with_page
from tests.part_cases import BEARING, STEERING_BOX, changed

BUDGET = 400
ADDED = [
    "outer_rod_end_worst_deg",
    "inner_rod_end_worst_deg",
    "upper_outer_joint_worst_deg",
    "lower_outer_joint_worst_deg",
    "shock_full_droop",
    "shock_full_bump",
    "motion_ratio",
    "upper_hole",
]
ADDED_CURVES = ["upper_outer_joint_deg", "lower_outer_joint_deg", "shock_length", "motion_ratio"]


def reachable(text: str) -> str:
    """The same parts with angles, clearance and travel that some candidates reach."""
    for old, new in (
        (BEARING, "max_angle = 45.0"),
        ("max_angle = 40.0", "max_angle = 60.0"),
        ("{ aim = 30.0, limit = 10.0 }", "{ aim = 30.0 }"),
        ("bump = 180.0\ndroop = 220.0", "bump = 100.0\ndroop = 120.0"),
        ("{ aim = 220.0, limit = 150.0 }", "{ aim = 120.0, limit = 60.0 }"),
    ):
        text = changed(old, new, text)
    return text


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("box") / "box.toml"
    place.write_text(reachable(STEERING_BOX))
    return place


@pytest.fixture(scope="module")
def found(file: Path) -> Front:
    return search(load_scenario(file), budget=BUDGET)


@pytest.fixture(scope="module")
def front(file: Path, found: Front) -> Path:
    """What the search command leaves, of fewer candidates."""
    place = file.with_name("front")
    with new_directory(place, kind="search", force=False) as folder:
        write_with_page(found, folder)
    return place


def test_check_shows_what_follows(file: Path) -> None:
    said = run("check", file).stdout
    for words in (
        "upper outer joint, angle at ride and largest",
        "lower outer joint, angle at ride and largest",
        "inside and outside wheel at full lock",
        "shock at ride, stroke",
        "310 mm to 560 mm",
        "motion ratio at ride",
    ):
        assert words in said
    assert "left out, so taken: joints.upper_outer.housing_axis" in said
    assert "nan" not in said


def test_check_of_a_lock_out_of_reach(tmp_path: Path) -> None:
    far = tmp_path / "far.toml"
    far.write_text(changed("rack_travel = 35.0", "rack_travel = 300.0"))
    said = run("check", far).stdout
    assert "the tie rod does not reach" in said
    assert "nan" not in said


def test_try_in_each_hole(file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pictures = ("steering", "shock", "joint_angles", "front_view")
    draw_only(monkeypatch, *pictures)
    out = tmp_path / "second"
    second = run("try", file, "--pivot", 275, 232, "--upper-hole", 2, "--out", out).stdout
    measures = json.loads((out / "measures.json").read_text())
    assert measures["upper_hole"] == 2
    assert set(ADDED) <= set(measures)
    for said in ("in upper hole 2 of the spindle's 2", f"droop limited by {measures['limited_by']}, bump by "):
        assert said in second
    steering = pd.read_csv(out / "steering.csv")
    assert list(steering.columns) == ["pitman_angle_deg", "left_wheel_deg", "right_wheel_deg", "ackermann_error_deg"]
    assert steering["pitman_angle_deg"].iloc[[0, 20, 40]].tolist() == pytest.approx([-16.0, 0.0, 16.0], abs=1e-9)
    assert steering["left_wheel_deg"].is_monotonic_increasing
    curves = pd.read_csv(out / "curves.csv")
    assert list(curves.columns[-4:]) == ADDED_CURVES
    ends = [measures["shock_full_droop"], measures["shock_full_bump"]]
    assert curves["shock_length"].iloc[[0, -1]].tolist() == pytest.approx(ends)
    assert curves.loc[curves["travel"] == 0.0, "motion_ratio"].item() == pytest.approx(measures["motion_ratio"])
    for joint in ("outer_rod_end", "inner_rod_end", "upper_outer_joint", "lower_outer_joint"):
        # straight ahead is one of the steering positions over which the worst is taken
        assert curves[f"{joint}_deg"].max() <= measures[f"{joint}_worst_deg"] + 1e-9
    for stem in pictures:
        assert (out / f"{stem}.png").read_bytes().startswith(b"\x89PNG")
    first = run("try", file, "--pivot", 275, 232).stdout
    assert "in upper hole 1 of the spindle's 2" in first
    assert first.split(" from the outer pivot")[0] != second.split(" from the outer pivot")[0], "another arm length"


@pytest.mark.parametrize("hole", ["0", "3", "two"])
def test_a_hole_that_is_none(file: Path, hole: str) -> None:
    said = run("try", file, "--pivot", 275, 232, "--upper-hole", hole, code=2).stderr
    assert "--upper-hole" in said
    if hole == "3":
        assert "spindle.upper_pivot holds 2, counted from 1" in said


def test_front_of_a_search(front: Path) -> None:
    rows = pd.read_csv(front / "front.csv")
    assert list(rows.columns[-len(ADDED) :]) == ADDED
    assert rows["limited_by"].str.contains("lock|ahead|droop cap").all()
    assert set(rows["upper_hole"]) <= {1, 2}
    largest = {"upper_outer_joint": 45.0, "lower_outer_joint": 60.0, "outer_rod_end": 34.0, "inner_rod_end": 30.0}
    full = (rows["droop_limit"] >= 120.0) & (rows["bump_limit"] >= 100.0)
    for joint, most in largest.items():
        # with the required travel reached at the worst steering; 0.02 deg for what lies between two positions
        assert (rows.loc[full, f"{joint}_worst_deg"] <= most + 0.02).all(), joint
    assert full.any()


def test_a_front_read_back_is_the_front(front: Path, found: Front) -> None:
    again = read_front(front)
    assert set(found.table["upper_hole"]) == {1, 2}, "rows of both holes"
    for name, column in found.table.items():
        if column.dtype.kind == "f":
            # through degrees and back, over the slope of a limit
            np.testing.assert_allclose(again.table[name], column, rtol=1e-8, atol=1e-8, err_msg=name)
        else:
            assert (again.table[name] == column).all(), name


def test_pick_says_the_numbers_it_wrote(front: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pick_in_words(monkeypatch)  # a try above draws the same
    print_nothing(monkeypatch)
    out = tmp_path / "pick"
    run("pick", front, "--out", out)
    pivot = json.loads((out / "pivot.json").read_text())
    built, words = pivot["as_built"], (out / "rationale.md").read_text(encoding="utf-8").replace("\\", "")
    for heading in ("At the steering locks", "Angles of the joints", "Shock", "What stops the wheel"):
        assert heading in words
    assert f"in upper hole {built['upper_hole']} of the spindle's 2" in words
    assert built["upper_hole"] == pivot["before_rounding"]["upper_hole"]
    for joint in ("outer_rod_end", "inner_rod_end", "upper_outer_joint", "lower_outer_joint"):
        name = joint.replace("_", " ").capitalize()
        assert f"{name}: up to {built[f'{joint}_worst_deg']:.2f} deg" in words
    assert f"Motion ratio at ride: {built['motion_ratio']:.3f}" in words
    assert f"At full droop the shock is {built['shock_full_droop']:.0f} mm long" in words
    assert f"At full bump the shock is {built['shock_full_bump']:.0f} mm long" in words
    assert "Stop droop at" in words
    assert "3.00 deg (targets.rod_end_margin_deg)" in words
    assert "Limit strap:" in words
    steering = pd.read_csv(out / "steering.csv").iloc[-1]
    assert f"inside wheel turns {steering['left_wheel_deg']:.2f} deg" in words
    assert f"outside one {steering['right_wheel_deg']:.2f} deg" in words
    assert f"turns {abs(steering['ackermann_error_deg']):.2f} deg" in words
    if built["limited_by"] != "droop cap":
        assert f"Droop: {built['limited_by']} stops the wheel {built['droop_limit']:.0f} mm from ride" in words
    assert "nan" not in words
    assert np.isfinite(built["motion_ratio"])
