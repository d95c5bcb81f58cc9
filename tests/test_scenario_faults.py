"""Every mistake a builder can make in a scenario: where it is said to be, and the words that help."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.errors import Fault, ScenarioError
from optimizer.scenario import load_scenario, parse_scenario
from tests.scenario_cases import BASE, CURVE, ONE_FAULT, OUTLINES, edited


def faults_of(text: str) -> tuple[Fault, ...]:
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(text)
    for fault in caught.value.faults:
        assert fault.sentence in str(caught.value)
        assert fault.key in str(caught.value)
        assert fault.line is None or f"line {fault.line}" in str(caught.value)
    return caught.value.faults


def line_of(text: str, part: str) -> int:
    lines = [number for number, line in enumerate(text.split("\n"), 1) if part in line]
    assert len(lines) == 1, f"{part!r} is on lines {lines}"
    return lines[0]


def test_the_base_scenario_is_sound_and_raises_no_doubt() -> None:
    assert parse_scenario(BASE).doubts == ()


@pytest.mark.parametrize(("old", "new", "key", "words"), ONE_FAULT, ids=lambda value: str(value)[:40])
def test_a_fault_names_key_line_value_and_what_to_do(old: str, new: str, key: str, words: list[str]) -> None:
    text = edited((old, new))
    (fault,) = faults_of(text)
    assert fault.key == key
    leaf = key.split("[")[0].split(".")[-1]
    named = next(line for line in new.split("\n") if leaf in line) if leaf in new else None
    marker = named or next(line for line in text.split("\n") if new in line)
    assert fault.line == line_of(text, marker)
    for word in words:
        assert word in fault.sentence


def one_fault(*changes: tuple[str, str]) -> Fault:
    (fault,) = faults_of(edited(*changes))
    return fault


def test_a_key_that_is_missing_is_said_at_its_table() -> None:
    text = edited(("upper_pivot = [-18.0, -112.0, 118.0]\n", ""))
    (fault,) = faults_of(text)
    assert (fault.key, fault.line) == ("spindle.upper_pivot", line_of(text, "[spindle]"))
    assert "is missing; it is the upper outer pivot [x, y, z] from the wheel centre" in fault.sentence


@pytest.mark.parametrize(
    ("lines", "key", "words"),
    [
        ("track = 1580.0\n", "vehicle.track", "lower_arm.length instead"),
        ("radius = 368.0\n", "tyre.radius", 'size = "235/75R15"'),
        ("width = 236.0\n", "tyre.width", "give radius and width"),
        ("max_angle = 28.0\n", "steering.outer_rod_end.max_angle", "maker's table"),
        ('units = "mm"\n', "units", 'write units = "mm" or units = "inch", above the first table'),
    ],
)
def test_what_must_be_given_is_said_when_it_is_not(lines: str, key: str, words: str) -> None:
    fault = one_fault((lines, ""))
    assert fault.key == key
    assert words in fault.sentence


def test_a_missing_table_is_said_with_its_keys() -> None:
    fault = one_fault(("[lower_arm]\ninner_pivot = [0.0, 225.0, 15.0]\n", ""))
    assert (fault.key, fault.line) == ("lower_arm", None)
    assert "this table is missing; it holds inner_pivot" in fault.sentence


def test_a_value_where_a_table_belongs() -> None:
    text = edited(("[build]\npivot_tolerance = 1.5\nround_to = 1.0\n", ""), ('units = "mm"', 'units = "mm"\nbuild = 3'))
    (fault,) = faults_of(text)
    assert (fault.key, fault.line, fault.value) == ("build", 3, "3")
    assert "[build] on a line of its own" in fault.sentence


def test_holding_length_and_camber_is_over_determined() -> None:
    held = one_fault(("[-0.5, 0.5]", "0.2"), ("[260.0, 520.0]", "400.0"))
    assert held.key == "upper_arm.length"
    assert "give one of the two a range" in held.sentence
    by_default = one_fault(("static_camber = [-0.5, 0.5]\n", ""), ("[260.0, 520.0]", "400.0"))
    assert by_default.key == "upper_arm.length"
    assert "vehicle.static_camber, since upper_arm.static_camber is not given" in by_default.sentence


def test_holding_the_length_alone_is_fine() -> None:
    space = parse_scenario(edited(("[260.0, 520.0]", "400.0"))).space
    assert space.length == (400.0, 400.0)
    assert space.static_camber[0] < space.static_camber[1]


def test_a_lower_arm_that_cannot_reach_the_spindle() -> None:
    fault = one_fault(("track = 1580.0\n", ""), ("[lower_arm]", "[lower_arm]\nlength = 20.0"))
    assert fault.key == "lower_arm.length"
    # the outer pivot stands 29 mm below the inner axis, which is level: 368 - 112 - 270 = -14, axis at 15
    assert "must be longer than 29.0 mm" in fault.sentence
    assert "give a longer arm or check inner_pivot" in fault.sentence


def test_a_lower_arm_that_puts_the_wheel_beyond_the_centre_plane() -> None:
    fault = one_fault(
        ("track = 1580.0\n", ""),
        ("inner_pivot = [0.0, 225.0, 15.0]", "length = 100\ninner_pivot = [0, -225, 15]"),
    )
    assert fault.key == "lower_arm.length"
    assert "far side of the vehicle's centre plane" in fault.sentence


def test_a_tie_rod_that_points_at_the_steering_axis() -> None:
    # the joint is put on the line from the outer joint (-118, 686, 68) through the middle of the kingpin
    fault = one_fault(
        ("[-118.0, 239.0, 91.0]", "[106.0, 694.0, 134.0]"), ("axis = [1.0, 0.0, 0.0]", "axis = [0, 1, 0]")
    )
    assert fault.key == "steering.inner_joint"
    assert "in line with the steering axis" in fault.sentence


@pytest.mark.parametrize(
    ("axis", "name", "frame"),
    [
        ("axis = [0.0, 0.0, 1.0]", "outer_rod_end", "the measured spindle's frame"),
        ("axis = [1.0, 0.0, 0.0]", "inner_rod_end", "the frame's axes"),
    ],
)
def test_a_rod_end_past_its_limit_before_the_wheel_moves(axis: str, name: str, frame: str) -> None:
    fault = one_fault((axis, "axis = [0.0, 1.0, 0.0]"))
    assert fault.key == f"steering.{name}.max_angle"
    # tie rod from (-118, 239, 91) to (-118, 686, 68), bolt along y: asin(447 / hypot(447, 23)) = 87.1 degrees
    assert "stands at 87.1 degrees at ride" in fault.sentence
    assert frame in fault.sentence


def test_outlines_of_bare_points_lack_a_pair_of_brackets() -> None:
    faults = faults_of(edited((OUTLINES, "outlines = [[470.0, 430.0], [560.0, 600.0]]")))
    assert "bodywork.outlines[0][0]" in {fault.key for fault in faults}
    assert all("must be a list of 2 numbers, [y, z]" in fault.sentence for fault in faults)


def test_clearance_without_bodywork_is_not_asked_for() -> None:
    faults = faults_of(edited((OUTLINES, "")))
    assert [fault.key for fault in faults] == [
        "targets.fender_clearance.aim",
        "targets.fender_clearance.limit",
    ]
    assert all("nothing to measure it from; give bodywork.outlines" in fault.sentence for fault in faults)
    on = one_fault((OUTLINES, ""), ("{ aim = 30.0, limit = 10.0 }", "{ objective = true }"))
    assert on.key == "targets.fender_clearance.objective"


def test_at_least_one_objective_stays_on() -> None:
    off = "{ objective = false }"
    text = edited(
        ("{ aim = 0.5, limit = 3.0 }", off),
        ("{ aim = 45.0, limit = 100.0 }", off),
        ("{ aim = 30.0, limit = 10.0 }", off),
        ("{ aim = 220.0, limit = 150.0 }", off),
        ("{ aim = 0.3 }", off),
    )
    (fault,) = faults_of(text)
    assert (fault.key, fault.line) == ("targets", line_of(text, "[targets]"))
    assert "every objective is switched off" in fault.sentence


def test_every_fault_is_reported_at_once_in_the_order_of_the_file() -> None:
    text = edited(
        ("track = 1580.0", "trak = 1580.0"),
        ("radius = 368.0", 'radius = "368"'),
        ("[190.0, 400.0]", "[400.0, 190.0]"),
        ("max_angle = 28.0", "max_angle = 95.0"),
        ("[560.0, 600.0]", "[560.0]"),
        ("bump = 180.0", "bump = -180.0"),
        ("aim = 45.0, limit = 100.0", "aim = nan, limit = inf"),
        ("round_to = 1.0", "round_to = 1.0\nround = 1.0"),
    )
    faults = faults_of(text)
    assert {fault.key for fault in faults} == {
        "vehicle.track",
        "vehicle.trak",
        "tyre.radius",
        "upper_arm.pivot_y",
        "steering.outer_rod_end.max_angle",
        "bodywork.outlines[0][1]",
        "travel.bump",
        "targets.scrub.aim",
        "targets.scrub.limit",
        "build.round",
    }
    lines = [fault.line for fault in faults]
    assert lines == sorted(line for line in lines if line is not None)


def test_faults_in_one_table_do_not_hide_contradictions_in_it_or_in_others() -> None:
    keys = {
        fault.key
        for fault in faults_of(
            edited(
                ("width = 236.0", "width = 236.0\nloaded_radius = 400.0\ncolour = 3"),
                ("bump = 180.0", "bump = -180.0"),
                ("\ndroop = 220.0", "\ndroop = 220.0\ndroop_cap = 100.0"),
                ("axis = [0.0, 0.0, 1.0]", "axis = [0.0, 0.0, 0.0]"),
                ("[190.0, 400.0]", "[190.0, 400.0]\nregion = [[0, 0], [1, 0], [1, 1]]"),
                ("aim = 30.0", "aim = 3.0"),
                ("aim = 0.5", "am = 0.5"),
            )
        )
    }
    assert keys == {
        "tyre.loaded_radius",
        "tyre.colour",
        "travel.bump",
        "travel.droop_cap",
        "steering.outer_rod_end.axis",
        "upper_arm.region",
        "targets.fender_clearance.aim",
        "targets.camber_error_deg.am",
    }


def test_the_geometry_is_judged_even_when_other_tables_are_faulty() -> None:
    faults = faults_of(
        edited(
            ("bump = 180.0", "bump = -180.0"),
            ("[260.0, 520.0]", "[1260.0, 1520.0]"),
            ("axis = [0.0, 0.0, 1.0]", "axis = [0.0, 1.0, 0.0]"),
            (CURVE, "camber_curve = 3"),
        )
    )
    assert [fault.key for fault in faults] == [
        "upper_arm.length",
        "steering.outer_rod_end.max_angle",
        "travel.bump",
        "targets.camber_curve",
    ]


def test_a_long_value_is_shown_in_one_short_line() -> None:
    many = ", ".join(["[470.0, 430.0]"] * 40)
    fault = faults_of(edited((OUTLINES, f"outlines = [\n  [{many}],\n]")))[0]
    assert len(fault.value) <= 60
    region = one_fault(("[260.0, 520.0]", f"[260.0, 520.0]\nregion = [\n{many},\n{many},\n{many}]"))
    assert "at most 100 corners" in region.sentence
    assert region.value.endswith("...")


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("track = 1580.0", "track = 1580,0", 5, "a point, not a comma"),
        ("track = 1580.0", "track = 14 3/8", 5, "fractions and text go in double quotes"),
        ("track = 1580.0", "track 1580.0", 5, 'followed by "="'),
        ("track = 1580.0", "track =", 5, "the value cannot be read"),
        ("track = 1580.0", "track = 1580.0\ntrack = 1580.0", 6, "written twice"),
        ("[tyre]", "[vehicle]", 8, "this table is written twice"),
        ("[tyre]", "[tyre", 8, "it reads [name]"),
        ('units = "mm"', 'units = "mm', 2, "a quote is opened and not closed"),
        ('units = "mm"', 'units = "m\\m"', 2, "a backslash"),
        ("track = 1580.0", "= 1580.0", 5, "start with a key"),
    ],
)
def test_a_file_that_is_not_toml_gets_one_sentence_with_its_line(old: str, new: str, line: int, words: str) -> None:
    (fault,) = faults_of(BASE.replace(old, new, 1))
    assert words in fault.sentence
    assert fault.line == line


def test_a_list_that_is_never_closed() -> None:
    (fault,) = faults_of(edited(("[6.0, -88.0, -112.0]", "[6.0, -88.0, -112.0")))
    assert "not closed" in fault.sentence
    assert fault.line is not None


def test_a_number_of_thousands_of_digits() -> None:
    (fault,) = faults_of(edited(("track = 1580.0", "track = 1" + "0" * 5000)))
    assert "digits" in fault.sentence


@pytest.mark.parametrize("text", ["", " \n\t\n"])
def test_an_empty_text(text: str) -> None:
    (fault,) = faults_of(text)
    assert "is empty" in fault.sentence
    assert "pivotfront new" in fault.sentence


def test_brackets_without_end() -> None:
    for opening in ("[", "{a="):
        (fault,) = faults_of("deep = " + opening * 100_000)
        assert "deep" in fault.sentence


def test_a_file_of_comments_only_misses_everything() -> None:
    keys = [fault.key for fault in faults_of("# nothing yet\n")]
    assert keys == ["units", "vehicle", "tyre", "spindle", "lower_arm", "upper_arm", "steering", "travel"]


def _refusal(path: Path) -> str:
    with pytest.raises(ScenarioError) as caught:
        load_scenario(path)
    assert caught.value.exit_code == 2
    assert path.name in str(caught.value)
    return str(caught.value)


def test_what_is_not_a_readable_file(tmp_path: Path) -> None:
    assert "there is no such file" in _refusal(tmp_path / "none.toml")
    assert "is a directory" in _refusal(tmp_path)
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 1_000_001)
    assert "larger than 1 MB" in _refusal(large)
    if (endless := Path("/dev/zero")).exists():
        with pytest.raises(ScenarioError, match="is a pipe or a device"):
            load_scenario(endless)
    latin = tmp_path / "latin.toml"
    latin.write_bytes(BASE.encode() + "# sch\xf6n\n".encode("latin-1"))
    assert f"line {BASE.count(chr(10)) + 1} is not UTF-8" in _refusal(latin)
    wide = tmp_path / "wide.toml"
    wide.write_bytes(BASE.encode("utf-16"))
    assert "UTF-8" in _refusal(wide)
    zeros = tmp_path / "zeros.toml"
    zeros.write_bytes(b"\0" * 10)
    assert "zero bytes" in _refusal(zeros)
    beyond = large / "inside.toml"
    assert "cannot be read" in _refusal(beyond)
    assert "cannot be read" in _refusal(tmp_path / ("n" * 300))


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + BASE.replace("\n", "\r\n").encode())
    assert load_scenario(path).corner.half_track == 790.0
    path.write_bytes(BASE.replace("\n", "\r\n").replace("bump = 180.0", "bump = -1").encode())
    with pytest.raises(ScenarioError) as caught:
        load_scenario(path)
    assert caught.value.faults[0].line == line_of(BASE, "bump = 180.0")
