"""A scenario read as it should be: units, defaults, tyre sizes, lines, the starter and the shipped files."""

from __future__ import annotations

import math
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import ScenarioError
from optimizer.scenario import load_scenario, parse_scenario
from optimizer.starter import starter_text
from optimizer.toml_lines import KeyPath, locate
from optimizer.tyre_size import parse_tyre_size
from optimizer.units import UNITS
from tests.scenario_cases import BASE, edited

SCENARIOS = Path(__file__).parent.parent / "scenarios"


def numbers_in(thing: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Every number inside a dataclass, mapping, tuple or array, with its path; a word counts as its letters."""
    if is_dataclass(thing):
        for field in fields(thing):
            yield from numbers_in(getattr(thing, field.name), f"{path}.{field.name}")
    elif isinstance(thing, dict):
        for key, value in thing.items():
            yield from numbers_in(value, f"{path}.{key}")
    elif isinstance(thing, tuple | np.ndarray):
        for index, value in enumerate(thing):
            yield from numbers_in(value, f"{path}[{index}]")
    elif isinstance(thing, str):
        yield from numbers_in(tuple(map(ord, thing)), path)
    elif thing is not None:
        yield path, float(thing)


def test_the_same_vehicle_in_inches_is_the_same_physics() -> None:
    metric, inch = load_scenario(SCENARIOS / "buggy.toml"), load_scenario(SCENARIOS / "buggy_inch.toml")
    for part in ("corner", "space", "targets", "baseline", "lower_arm_length"):
        in_mm, in_inches = dict(numbers_in(getattr(metric, part))), dict(numbers_in(getattr(inch, part)))
        assert in_mm.keys() == in_inches.keys()
        assert in_mm
        for path, value in in_mm.items():
            assert in_inches[path] == pytest.approx(value, rel=1e-9, abs=1e-12), path


@pytest.mark.parametrize("path", sorted(SCENARIOS.glob("*.toml")), ids=lambda path: path.name)
def test_every_shipped_scenario_is_sound(path: Path) -> None:
    assert load_scenario(path).doubts == ()


@pytest.mark.parametrize("units", sorted(UNITS))
def test_the_starter_is_a_sound_scenario_in_either_unit(units: str) -> None:
    text = starter_text(units)
    scenario = parse_scenario(text)
    assert scenario.unit.name == units
    assert scenario.doubts == ()
    assert "$" not in text


@pytest.mark.parametrize("units", sorted(UNITS))
def test_every_key_the_starter_keeps_in_a_comment_can_be_used(units: str) -> None:
    text = starter_text(units)
    for key in ("radius", "width", "kick_up", "plan_angle", "region", "droop_cap", "static_camber"):
        used, count = re.subn(rf"^# ({key} = )", r"\1", text, flags=re.MULTILINE)
        assert count == 1, key
        assert parse_scenario(used).doubts == ()
    by_length = re.sub(r"^track = .*$", "", text, flags=re.MULTILINE)
    by_length = re.sub(r"^# (length = )", r"\1", by_length, flags=re.MULTILINE)
    assert parse_scenario(by_length).corner.half_track > 0.0


def test_an_unknown_unit_has_no_starter() -> None:
    with pytest.raises(ValueError, match='"mm" or "inch"'):
        starter_text("cm")


@pytest.mark.parametrize("size", ["P235/75R15", "LT235/75R15", "235/75ZR15", "235/75 R15 105S", "235/75r15"])
def test_prefixes_and_ratings_change_nothing(size: str) -> None:
    assert parse_tyre_size(size) == parse_tyre_size("235/75R15")


@pytest.mark.parametrize("size", ["31x10.50R15", "31X10.50R15LT", "31 x 10.5 - 15"])
def test_flotation_sizes_start_with_the_diameter_in_inches(size: str) -> None:
    assert parse_tyre_size(size) == pytest.approx((31 * 25.4 / 2, 10.5 * 25.4))


def test_measured_values_win_over_the_size() -> None:
    tyre = parse_scenario(edited(("radius = 368.0\nwidth = 236.0", 'size = "235/75R15"\nradius = 360.0'))).corner.tyre
    assert (tyre.radius, tyre.width) == (360.0, 235.0)


def test_every_default_is_named_with_its_value_and_reason() -> None:
    text = edited(
        ("static_camber = [-0.5, 0.5]\n", ""),
        ("camber_curve = [[-220.0, -2.0], [0.0, 0.0], [180.0, -1.0]]\n", ""),
        ("pivot_tolerance = 1.5\nround_to = 1.0\n", ""),
    )
    scenario = parse_scenario(text)
    shown = {default.key: default.value for default in scenario.defaults}
    assert shown == {
        "vehicle.static_camber": "0 deg",
        "vehicle.static_toe": "0 deg",
        "tyre.loaded_radius": "368 mm",
        "tyre.shoulder_radius": "35.4 mm",
        "spindle.pitch": "0 deg",
        "lower_arm.kick_up": "0 deg",
        "lower_arm.plan_angle": "0 deg",
        "upper_arm.pivot_x": "0 mm",
        "upper_arm.kick_up": "0 deg",
        "upper_arm.plan_angle": "0 deg",
        "upper_arm.static_camber": "0 deg",
        "steering.rack_travel": "0 mm",
        "travel.droop_cap": "330 mm",
        "travel.bump_cap": "180 mm",
        "targets.bump_limit.limit": "180 mm",
        "targets.rod_end_margin_deg": "2 deg",
        "targets.camber_curve": "0 deg at every travel",
        "build.pivot_tolerance": "1.5 mm",
        "build.lower_pivot_tolerance": "1.5 mm",
        "build.spindle_tolerance": "0.5 mm",
        "build.inner_joint_tolerance": "1.5 mm",
        "build.arm_length_tolerance": "1 mm",
        "build.required_yield": "0.95",
        "build.round_to": "1 mm",
        "baseline.static_camber": "0 deg",
    }
    assert all(default.why for default in scenario.defaults)
    assert scenario.corner.travel.droop_cap == 330.0
    assert scenario.space.static_camber == (0.0, 0.0)


def test_the_upper_axis_follows_the_lower_arm_unless_it_says_otherwise() -> None:
    tilted = parse_scenario(edited(("[lower_arm]", "[lower_arm]\nkick_up = 6.0\nplan_angle = 3.0"))).corner
    k, p = math.radians(6.0), math.radians(3.0)
    expected = [math.cos(k) * math.cos(p), math.cos(k) * math.sin(p), math.sin(k)]
    assert tilted.lower_arm.direction == pytest.approx(expected)
    assert tilted.upper_axis.direction == pytest.approx(expected)


def test_track_and_lower_arm_length_name_the_same_corner() -> None:
    by_track = parse_scenario(BASE)
    length = repr(by_track.lower_arm_length)
    by_length = parse_scenario(edited(("track = 1580.0\n", ""), ("[lower_arm]", f"[lower_arm]\nlength = {length}")))
    assert by_length.corner.half_track == pytest.approx(790.0, rel=1e-12)
    # outer pivot (6, 702, -14) and the level axis through (., 225, 15)
    assert by_track.lower_arm_length == pytest.approx(math.hypot(477.0, 29.0), rel=1e-12)


def test_an_objective_switched_off_keeps_its_limit() -> None:
    target = parse_scenario(edited(("aim = 45.0, limit = 100.0", "objective = false, limit = 100.0"))).targets["scrub"]
    assert (target.traded, target.aim, target.limit) == (False, None, 100.0)


def test_without_bodywork_clearance_is_not_traded() -> None:
    text = BASE.split("[bodywork]")[0] + "[targets]\n" + BASE.split("[targets]\n")[1]
    scenario = parse_scenario(re.sub("fender_clearance.*\n", "", text))
    assert not scenario.targets["fender_clearance"].traded
    assert "targets.fender_clearance.objective" in {default.key for default in scenario.defaults}


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('units = "mm"', 'units = "inch"', ["tyre.radius 368 in", "really in inch"]),
        ("track = 1580.0", "track = 1580.0\nstatic_camber = 12.0", ["vehicle.static_camber of 12 degrees"]),
        ("width = 236.0", "width = 236.0\nloaded_radius = 250.0", ["squashes the tyre"]),
        ("[6.0, -88.0, -112.0]", "[6.0, 8.0, -112.0]", ["spindle.lower_pivot lies outboard"]),
        ("[190.0, 400.0]", "[190.0, 700.0]", ["outboard of the upper outer pivot", "678 mm"]),
        ("[190.0, 400.0]", "[-190.0, 400.0]", ["upper_arm.pivot_y lies beyond the vehicle's centre plane"]),
        ("pivot_y = 275.0", "pivot_y = 175.0", ["baseline.pivot_y of 175 mm lies outside"]),
    ],
)
def test_what_looks_like_a_slip_is_doubted_and_not_refused(old: str, new: str, words: list[str]) -> None:
    doubts = "\n".join(parse_scenario(edited((old, new))).doubts)
    for word in words:
        assert word in doubts


def test_nothing_to_search_is_doubted() -> None:
    text = edited(("[190.0, 400.0]", "275.0"), ("[160.0, 320.0]", "232.0"), ("[-0.5, 0.5]", "0.0"))
    assert "nothing to search" in "\n".join(parse_scenario(text).doubts)


def test_regions_and_keep_outs_are_measured_from_their_edges() -> None:
    room = "length = [260.0, 520.0]\nregion = [[200, 200], [300, 200], [300, 300], [200, 300]]\n"
    room += "keep_out = [{ y = 250, z = 250, diameter = 20 }]"
    space = parse_scenario(edited(("length = [260.0, 520.0]", room))).space
    y, z = np.array([250.0, 190.0, 250.0, 303.0]), np.array([230.0, 250.0, 250.0, 304.0])
    assert space.outside_region(y, z) == pytest.approx([-30.0, 10.0, -50.0, 5.0])
    assert space.inside_keep_out(y, z) == pytest.approx([-10.0, -50.0, 10.0, 10 - math.hypot(53, 54)])
    assert space.allows(y, z).tolist() == [True, False, False, False]


names = st.one_of(st.sampled_from("abcdef"), st.text("xy. \"'#[]=é", min_size=1, max_size=4))
leaves = st.one_of(st.integers(-9, 9), st.booleans(), st.text("ab#[]{}=,.\"'\\\n é", max_size=6))
values = st.recursive(
    leaves,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(names, inner, max_size=3)),
    max_leaves=8,
)
documents = st.dictionaries(names, st.one_of(st.dictionaries(names, values, max_size=4), values), max_size=4)


def quoted(name: str) -> str:
    letters = {"\\": "\\\\", '"': '\\"', "\n": "\\n"}
    return '"' + "".join(letters.get(letter, letter) for letter in name) + '"'


class Writer:
    """Writes TOML and notes the line of everything it writes."""

    def __init__(self) -> None:
        self.text = ""
        self.lines: dict[KeyPath, int] = {}

    def note(self, path: KeyPath) -> None:
        self.lines[path] = self.text.count("\n") + 1

    def value(self, value: Any, path: KeyPath, inline: bool = False) -> None:
        self.note(path)
        if isinstance(value, list):
            self.text += "["
            for index, item in enumerate(value):
                self.text += " " if inline else "  # a ] comment\n  "
                self.value(item, (*path, index), inline)
                self.text += ","
            self.text += "]"
        elif isinstance(value, dict):
            self.text += "{"
            for index, (name, item) in enumerate(value.items()):
                self.text += (", " if index else " ") + quoted(name) + " = "
                self.value(item, (*path, name), inline=True)
            self.text += " }"
        else:
            self.text += quoted(value) if isinstance(value, str) else str(value).lower()

    def document(self, data: dict[str, Any]) -> None:
        tables = {name: table for name, table in data.items() if isinstance(table, dict)}
        for name, value in data.items():
            if name not in tables:
                self.pair(name, value, ())
        for name, table in tables.items():
            self.note((name,))
            self.text += f"[ {quoted(name)} ] # heading\n"
            for key, value in table.items():
                self.pair(key, value, (name,))

    def pair(self, name: str, value: Any, table: KeyPath) -> None:
        self.text += f"\n{quoted(name)} = "
        self.value(value, (*table, name))
        self.text += "  # = [\n"


@given(documents)
def test_every_value_is_found_on_the_line_it_is_written_on(data: dict[str, Any]) -> None:
    writer = Writer()
    writer.document(data)
    assert tomllib.loads(writer.text) == data
    assert {path: spot.line for path, spot in locate(writer.text).items()} == writer.lines


def test_lists_of_tables_dotted_keys_and_long_strings_are_found() -> None:
    text = 'a.b = 1\nlong = """\n[x]\n y = \\"""\n"""\n'
    text += "[[t]]\nu = 1\n[[t]]\nu = 2\n[t.v]\nw = 1979-05-27 07:32:00\n"
    tomllib.loads(text)
    spots = locate(text)
    expected = {
        ("a", "b"): 1,
        ("long",): 2,
        ("t", 0, "u"): 7,
        ("t", 1, "u"): 9,
        ("t", 1, "v"): 10,
        ("t", 1, "v", "w"): 11,
    }
    assert {path: spots[path].line for path in expected} == expected
    assert spots["t", 1, "v", "w"].written == "1979-05-27 07:32:00"


@given(st.text("ab.=[]{}\"'#,\n \\1", max_size=60))
def test_the_line_finder_survives_any_text(text: str) -> None:
    assert all(1 <= spot.line <= text.count("\n") + 1 for spot in locate(text).values())


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_damaged_file_is_read_or_refused_in_words(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    raw = bytearray((starter_text("inch") if data.draw(st.booleans()) else BASE).encode())
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(raw) - 1))
        raw[at : at + data.draw(st.integers(0, 3))] = data.draw(
            st.one_of(
                st.binary(max_size=3),
                st.sampled_from([b"9", b"-", b"e9", b"[", b"]", b'"', b"nan", b"\n", b"0"]),
            )
        )
    path = tmp_path_factory.mktemp("damaged") / "damaged.toml"
    path.write_bytes(bytes(raw))
    try:
        corner = load_scenario(path).corner
    except ScenarioError as error:
        faults = error.faults
    else:
        faults = ()
        assert all(math.isfinite(number) for _, number in numbers_in(corner))
    assert all(fault.sentence for fault in faults)


def test_reading_a_scenario_loads_nothing_heavy() -> None:
    heavy = ["pandas", "matplotlib", "pymoo", "moocore", "scipy.optimize", "rich", "typer"]
    code = (
        "import sys; from optimizer.scenario import load_scenario; load_scenario(sys.argv[1]); "
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    command = [sys.executable, "-c", code, str(SCENARIOS / "buggy.toml")]
    run = subprocess.run(command, capture_output=True, text=True, check=True, cwd=SCENARIOS.parent)
    assert run.stdout.strip() == "[]"
