"""Every mistake with steering box, holes, joints, shock and strap, and what is taken where they say nothing."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from objectives.evaluate import measure
from optimizer.candidate import candidate_at
from optimizer.errors import ScenarioError
from optimizer.scenario import load_scenario, parse_scenario
from tests.part_cases import BEARING, BOX_FAULTS, FULL, PART_FAULTS, STEERING_BOX, changed
from tests.scenario_cases import BASE


def test_the_full_scenarios_are_sound() -> None:
    for text in (FULL, STEERING_BOX):
        assert parse_scenario(text).doubts == ()


def check_fault(text: str, new: str, key: str, words: list[str]) -> None:
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(text)
    (fault,) = caught.value.faults
    assert fault.key.startswith(key)
    for word in words:
        assert word in f"{fault.key} {fault.sentence}"
    leaf = key.split("[")[0].split(".")[-1]
    lines = text.split("\n")
    if leaf in new:
        written = next(line for line in new.split("\n") if leaf in line)
        assert fault.line == lines.index(written) + 1
    else:
        assert fault.line is not None


@pytest.mark.parametrize(("old", "new", "key", "words"), PART_FAULTS, ids=lambda value: str(value)[:40])
def test_a_fault_names_key_line_and_what_to_do(old: str, new: str, key: str, words: list[str]) -> None:
    check_fault(changed(old, new), new, key, words)


@pytest.mark.parametrize(("old", "new", "key", "words"), BOX_FAULTS, ids=lambda value: str(value)[:40])
def test_a_fault_of_the_steering_box(old: str, new: str, key: str, words: list[str]) -> None:
    check_fault(changed(old, new, STEERING_BOX), new, key, words)


def test_all_faults_of_the_parts_at_once() -> None:
    text = FULL
    for old, new in (
        ("collapsed = 310.0", "collapsed = 600.0"),
        ("frame_point = [40.0, 420.0, 330.0]", "frame_point = [40, 540, 10]"),
        ("max_angle = 40.0", "max_angle = 95.0"),
        (BEARING, 'bearing = { series = "Q", bore = 12 }'),
        ("upper_hole = 2", "upper_hole = 3"),
        ("axis = [1.0, 0.0, 0.0]", "axis = [0, 0, 0]"),
    ):
        text = changed(old, new, text)
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(text)
    assert {fault.key for fault in caught.value.faults} == {
        "shock.collapsed",
        "strap.frame_point",
        "joints.lower_outer.max_angle",
        "joints.upper_outer.bearing.series",
        "baseline.upper_hole",
        "steering.inner_rod_end.axis",
    }


def test_what_is_left_out_is_said_with_its_reason() -> None:
    defaults = {default.key: default for default in parse_scenario(FULL).defaults}
    bearing = defaults["joints.upper_outer.max_angle"]
    assert bearing.value == "13 deg"  # series K, bore 12
    assert "INA catalogue 238, 2006" in bearing.why
    assert "series K, bore 12 mm" in bearing.why
    assert defaults["joints.upper_outer.housing_axis"].why.startswith("the arm's side is set in line")
    assert "targets.rod_end_margin_deg" not in defaults
    plain = {default.key: default for default in parse_scenario(BASE).defaults}
    assert plain["steering.rack_travel"].value == "0 mm"
    assert plain["steering.rack_travel"].why == "checked straight ahead only"
    assert plain["targets.rod_end_margin_deg"].value == "2 deg"
    assert "no source" in plain["targets.rod_end_margin_deg"].why
    box = {default.key for default in parse_scenario(STEERING_BOX).defaults}
    assert "steering.rack_travel" not in box
    two = parse_scenario(changed("upper_hole = 2", "")).defaults
    assert {d.key: d.value for d in two}["baseline.upper_hole"] == "1"


def test_a_bearing_without_spacers_says_what_spacers_would_give() -> None:
    cramped = changed(BEARING, 'bearing = { series = "K", bore = 12, spacers = false, eye_diameter = 32.0 }')
    scenario = parse_scenario(cramped)
    (found,) = (default for default in scenario.defaults if default.key == "joints.upper_outer.max_angle")
    # asin(16 / hypot(32, 12)) - atan(12 / 32): ball 16, ring 12 wide
    expected = np.arcsin(16.0 / np.hypot(32.0, 12.0)) - np.arctan(12.0 / 32.0)
    assert scenario.corner.upper_outer_joint.max_angle == pytest.approx(expected, abs=1e-12)
    assert float(re.findall(r"[\d.]+", found.value)[0]) == pytest.approx(np.degrees(expected), abs=0.005)
    assert "without spacers" in found.why
    assert "13" in found.why.split("with spacers")[1]


def test_which_part_carries_which_direction() -> None:
    """The stud goes with what carries it, the housing with the other; one that is left out stands in line at ride."""
    joints = parse_scenario(FULL).corner
    housing = np.array([0.0, -0.2, 1.0]) / np.hypot(0.2, 1.0)
    assert joints.lower_outer_joint.arm_axis == pytest.approx([0.0, 0.0, 1.0])
    assert joints.lower_outer_joint.spindle_axis == pytest.approx(housing)
    assert joints.upper_outer_joint.spindle_axis == pytest.approx(np.array([0.0, 0.1, 1.0]) / np.hypot(0.1, 1.0))
    assert joints.upper_outer_joint.arm_axis is None
    alone = changed("housing_axis = [0.0, -0.2, 1.0]", "")
    for carrier in ("arm", "spindle"):
        text = changed('carried_by = "arm"', f'carried_by = "{carrier}"', alone)
        scenario = parse_scenario(
            text.replace("track = 1580.0", "track = 1580.0\nstatic_camber = 0.4\nstatic_toe = 0.3")
        )
        curves = candidate_at(scenario, 275.0, 232.0).curves(np.array([0.0, 100.0]))
        assert curves.lower_outer_joint[0, 0] == pytest.approx(0.0, abs=1e-12)
        assert curves.upper_outer_joint[0, 0] == pytest.approx(0.0, abs=1e-12)
        assert curves.lower_outer_joint[0, 1] > np.radians(5.0)


def in_inches(text: str) -> str:
    """The same scenario with every length over 25.4; directions, angles, degrees and bores stay."""
    kept = (
        "axis",
        "max_angle",
        "angle",
        "static_camber",
        "upper_hole",
        "camber",
        "bearing",
        "bump_steer",
        "rod_end_margin",
    )
    lines = []
    for line in text.split("\n"):
        if line.startswith("camber_curve"):
            points = re.findall(r"\[(-?[\d.]+), (-?[\d.]+)\]", line)
            pairs = ", ".join(f"[{float(travel) / 25.4!r}, {degrees}]" for travel, degrees in points)
            line = f"camber_curve = [{pairs}]"
        elif "=" in line and not line.startswith((*kept, "housing_axis", "kick_up", "title", "units")):
            head, values = line.split("=", 1)
            line = head + "=" + re.sub(r"-?\d+(\.\d+)?", lambda number: repr(float(number[0]) / 25.4), values)
        lines.append(line)
    return "\n".join(lines).replace('units = "mm"', 'units = "inch"')


@pytest.mark.parametrize("text", [FULL, STEERING_BOX], ids=["rack", "steering box"])
def test_a_file_in_inches_is_the_same_corner(text: str) -> None:
    one, other = parse_scenario(text), parse_scenario(in_inches(text))
    assert other.wheelbase == pytest.approx(one.wheelbase)
    assert other.rod_end_margin == one.rod_end_margin
    for end in ("arm_point", "frame_point"):
        assert getattr(other.strap, end) == pytest.approx(getattr(one.strap, end), rel=1e-14)
    for hole in (0, 1):
        found, same = (candidate_at(s, 275.0, 232.0, 0.0, None, hole) for s in (one, other))
        expected = found.measures()
        for name, value in same.measures().items():
            if isinstance(value, str):
                assert value == expected[name]
            else:
                # inches to 17 digits, over the slope of a droop limit
                assert value == pytest.approx(expected[name], rel=1e-8, abs=1e-8, nan_ok=True), name


def test_a_rod_end_from_its_bearing(tmp_path: Path) -> None:
    file = tmp_path / "bearing.toml"
    file.write_text(changed("max_angle = 34.0", 'bearing = { series = "G", bore = 8 }'))
    scenario = load_scenario(file)
    assert np.degrees(scenario.corner.steering.outer_rod_end.max_angle) == pytest.approx(21.0)
    found = measure(scenario.corner, candidate_at(scenario, 275.0, 232.0).as_batch)
    given = parse_scenario(changed("max_angle = 34.0", "max_angle = 21.0"))
    assert found["droop_limit"][0] == pytest.approx(
        measure(given.corner, candidate_at(given, 275.0, 232.0).as_batch)["droop_limit"][0], abs=1e-9
    )
