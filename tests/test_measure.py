"""The tacked car measured: the file, the suspects, the report and the command."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from objectives.as_built import COUNT, OFFSETS
from optimizer.build import HELD_BY, Tolerance
from optimizer.candidate import Candidate, candidate_at
from optimizer.errors import ResultsError
from optimizer.front_search import search
from optimizer.measurement import Measurement, read_measurement
from optimizer.outputs import read_pick, write_pick
from optimizer.page import as_markdown, as_text
from optimizer.rationale import CAUTIONS
from optimizer.results import new_directory
from optimizer.scenario import Scenario, load_scenario, parse_scenario
from optimizer.shop_files import ShopFiles
from optimizer.suspect_words import measured_blocks, measured_numbers, rivals
from optimizer.suspects import CAMBER_ERROR, CONTACT_ERROR, WITHIN, Story, suspects, verdict
from tests.commands import pick_in_words, run
from tests.fronts import changed
from tests.reference import as_built
from tests.scenario_cases import edited

SCENARIOS = Path(__file__).parent.parent / "scenarios"
HEIGHTS = np.linspace(-190.0, 165.0, 7)
ERRORS = (CAMBER_ERROR, CONTACT_ERROR)
NOTHING = Measurement(HEIGHTS, np.zeros(7), np.zeros(7))
FEW = 64  # builds, where their number does not matter


def _said(candidate: Candidate, stories: Mapping[str, Story]) -> str:
    """The report as the screen shows it."""
    blocks = measured_blocks(candidate, NOTHING, ERRORS, stories, verdict(candidate, stories, FEW), CAUTIONS)
    assert "Which point is most likely off" in as_markdown(blocks)
    return as_text(blocks)


def _candidate(**changes: object) -> Candidate:
    """A candidate of a scenario whose inner joint is fixed, so that the reference needs no search for it."""
    scenario = parse_scenario(edited())
    build = replace(scenario.build, **changes)  # type: ignore[arg-type]
    return candidate_at(replace(scenario, build=build), 285.0, 228.0)


def _measure(
    candidate: Candidate,
    offsets: np.ndarray,
    noise: np.random.Generator | None = None,
    heights: np.ndarray = HEIGHTS,
) -> Measurement:
    """What the constraint equations of the reference say would be measured."""
    reference = as_built.Built(candidate.scenario.corner, candidate.as_batch, offsets)
    found = [reference.attitude(float(travel)) for travel in heights]
    camber, contact = np.array([one[0] for one in found]), np.array([one[2][1] for one in found])
    if noise is not None:
        camber = camber + noise.normal(0.0, CAMBER_ERROR, camber.size)
        contact = contact + noise.normal(0.0, CONTACT_ERROR, contact.size)
    return Measurement(heights, camber, contact)


@pytest.mark.parametrize(
    ("part", "axis", "amount"),
    [
        ("pivot", 2, 7.0),
        ("pivot", 1, -7.0),
        ("lower_pivot", 1, 6.0),
        ("arm_length", 0, 7.0),
        ("spindle_upper", 2, -6.0),
    ],
)
def test_the_part_that_is_off_is_among_the_suspects_by_what_it_is_off(part: str, axis: int, amount: float) -> None:
    candidate = _candidate()
    offsets = np.zeros(COUNT)
    row = OFFSETS[part].start + axis
    offsets[row] = amount
    stories = suspects(candidate, _measure(candidate, offsets, np.random.default_rng(5)))
    assert sum(story.likelihood for story in stories.values()) == pytest.approx(1.0)
    assert part in rivals(stories)
    assert WITHIN not in rivals(stories)
    story = stories[part]
    assert story.seen(row)
    # three standard deviations
    assert abs(story.offsets[row] - amount) < 3.0 * story.spread[row]
    assert story.spread[row] < 0.35 * abs(amount)
    assert story.misfit < 2.0


def test_a_bracket_moved_along_its_level_axis_is_not_told_to_be_seen() -> None:
    """The pivot's x hardly moves camber or contact: what was possible before still is."""
    candidate = _candidate()
    story = suspects(candidate, _measure(candidate, np.zeros(COUNT)))["pivot"]
    along = OFFSETS["pivot"].start
    assert not story.seen(along)
    assert story.spread[along] > 0.8 * story.before[along]


def test_a_good_corner_is_not_accused() -> None:
    candidate = _candidate()
    stories = suspects(candidate, _measure(candidate, np.zeros(COUNT), np.random.default_rng(8)))
    assert next(iter(stories)) == WITHIN
    words = _said(candidate, stories)
    assert "nothing is off by more than its tolerance" in words
    assert "It would not show if" in words


def test_a_straight_problem_has_the_solution_of_ridge_regression() -> None:
    """Errors of hundredths of a mm, measured to match: numpy's least squares with a row for every tolerance.

    Slopes are those of the constraint equations; their solver leaves some 1e-9 mm over steps of 0.05 mm.
    """
    tiny, camber_error, contact_error = 0.02, np.radians(5e-4), 0.005
    held = {key: Tolerance(tiny) for key in dict.fromkeys(HELD_BY.values())}
    candidate = _candidate(tolerances=held, normal=True)
    offsets = np.zeros(COUNT)
    offsets[:19] = np.random.default_rng(2).uniform(-tiny, tiny, 19)
    heights = HEIGHTS[::2]
    measured = _measure(candidate, offsets, heights=heights)
    story = suspects(candidate, measured, camber_error, contact_error)[WITHIN]

    def read(values: Measurement) -> np.ndarray:
        return np.concatenate((values.camber / camber_error, values.contact_y / contact_error))

    def at(offsets: np.ndarray) -> np.ndarray:
        return read(_measure(candidate, offsets, heights=heights))

    nominal, step = at(np.zeros(COUNT)), 0.05
    ends = [[at(way * step * np.eye(COUNT)[row]) for way in (1, -1)] for row in range(19)]
    slopes = np.transpose([(up - down) / (2.0 * step) for up, down in ends])
    spread = 0.5 * tiny
    table = np.vstack((slopes, np.eye(19) / spread))
    wanted = np.concatenate((read(measured) - nominal, np.zeros(19)))
    solution, *_ = np.linalg.lstsq(table, wanted, rcond=None)
    assert story.offsets[:19] == pytest.approx(solution, abs=1e-3 * tiny)
    deviation = np.sqrt(np.diag(np.linalg.inv(table.T @ table)))
    assert story.spread[:19] == pytest.approx(deviation, rel=1e-3)


def test_what_no_part_explains_is_said_and_nothing_concluded() -> None:
    candidate = _candidate()
    measured = _measure(candidate, np.zeros(COUNT))
    jumpy = replace(measured, camber=measured.camber + np.radians(3.0) * np.array([1, -1, 1, -1, 1, -1, 1]))
    stories = suspects(candidate, jumpy)
    words = _said(candidate, stories)
    assert "No part that is off by itself explains what was measured" in words
    assert "That cannot be said" in words


def _story(likelihood: float, offsets: np.ndarray, spread: float = 0.5) -> Story:
    deviation = np.full(COUNT, spread)
    return Story(likelihood, offsets, deviation, np.diag(deviation**2), np.full(COUNT, 10.0), 0.9)


def test_one_clear_suspect_and_several_read_differently() -> None:
    candidate = _candidate()
    offsets = np.zeros(COUNT)
    offsets[OFFSETS["pivot"]] = [0.0, -6.0, 2.0]
    clear = {"pivot": _story(0.99, offsets), WITHIN: _story(0.01, 0.0 * offsets)}
    by = "0.0 mm +- 0.5 forward, 6.0 mm +- 0.5 inboard, 2.0 mm +- 0.5 up"
    assert f"Most likely off is the upper inner pivot: {by}." in _said(candidate, clear)
    both = {"pivot": _story(0.6, offsets), "arm_length": _story(0.4, offsets)}
    unclear = "the data cannot tell which: the upper inner pivot and the upper arm's length explain it"
    assert unclear in _said(candidate, both)
    numbers = measured_numbers(candidate, NOTHING, both, verdict(candidate, both, FEW))
    assert numbers["cannot_tell_between"] == ["pivot", "arm_length"]
    assert numbers["stories"]["pivot"]["off"] == {"x": 0.0, "y": -6.0, "z": 2.0}
    assert json.dumps(numbers)


def test_the_verdict_is_the_limits_own() -> None:
    """The demo's baseline keeps every limit with much in hand; with a pivot far off it does not."""
    scenario = load_scenario(SCENARIOS / "buggy.toml")
    candidate = candidate_at(scenario, 275.0, 232.0)
    offsets = np.zeros(COUNT)
    good = {WITHIN: _story(1.0, offsets.copy(), 0.01)}
    assert verdict(candidate, good, FEW).as_tacked == 1.0
    offsets[OFFSETS["pivot"].start + 2] = 60.0
    bad = {"pivot": _story(1.0, offsets, 0.01)}
    assert verdict(candidate, bad, FEW).as_tacked == 0.0
    for stories, words in ((good, "it still does"), (bad, "it no longer does")):
        assert words in _said(candidate, stories)


FAULTS = [
    ("travel,camber\n0,1\n", ["line 1 must name the columns", "camber_deg"]),
    ("travel,camber_deg,toe\n0,1,2\n", ["line 1 names toe", "known are travel, camber_deg, contact_y"]),
    ("travel,camber_deg\n0,1\n", ["at least 2 wheel heights"]),
    ("travel,camber_deg\n0,1\n0,1.1\n", ["at least 2 wheel heights"]),
    ("travel,camber_deg\n0,1,5\n10,2\n", ["line 2 holds 3 values for 2 columns", "a decimal takes a point"]),
    ("travel,camber_deg\n0,x\n10,2\n", ["line 2, camber_deg x", "not a number of degrees"]),
    ("travel,camber_deg\n0,50\n10,2\n", ["line 2, camber_deg 50", "45 degrees"]),
    ("travel,camber_deg\n900,0\n10,2\n", ["line 2, travel 900", "330 mm from ride"]),
    ("travel,camber_deg\n,0\n10,2\n", ["line 2, travel is missing"]),
    ("travel,contact_y\n0,\n10,790\n", ["line 2, nothing is measured at this travel"]),
    ('travel,contact_y\n0,"31 1/4"\n10,790\n', ["line 2, contact_y 31 1/4", "only a scenario in inches"]),
    ("", ["line 1 must name the columns"]),
    ("travel,travel,camber_deg\n1,2,3\n", ["line 1 names travel more than once"]),
    ("travel,contact_y\n-200,28.7\n10,790\n", ["line 2, contact_y 28.7", "790 mm out from the centre plane", "in mm"]),
    ("travel,contact_y\n-200,-790\n10,790\n", ["line 2, contact_y -790", "790 mm out from the centre plane"]),
    ("travel,camber_deg\n-8.5,1\n0,0\n7,-1\n", ["span 15.5 mm of 400 mm", "write travel in mm", "droop to bump"]),
    ("travel;camber_deg\n-200;1,x\n0;0,2\n", ["line 2, camber_deg 1.x", "not a number of degrees"]),
    ('travel,camber_deg\n-200,"1\n0,2\n', ["line 2, camber_deg 1 0,2: is not a number of degrees"]),
]


@pytest.mark.parametrize(("text", "words"), FAULTS)
def test_every_fault_of_a_file_is_said_with_its_line(tmp_path: Path, text: str, words: list[str]) -> None:
    file = tmp_path / "tacked.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ResultsError) as caught:
        read_measurement(file, load_scenario(SCENARIOS / "buggy.toml"))
    for word in words:
        assert word in str(caught.value)


def test_a_file_is_read_in_the_scenarios_unit_with_gaps(tmp_path: Path) -> None:
    file = tmp_path / "tacked.csv"
    file.write_text('travel, camber_deg, contact_y\n\n-4,"-0.5","31 1/8"\n0,,31.1\n5,-1.5,\n', encoding="utf-8")
    found = read_measurement(file, load_scenario(SCENARIOS / "buggy_inch.toml"))
    assert found.travel == pytest.approx([-101.6, 0.0, 127.0])
    assert np.degrees(found.camber) == pytest.approx([-0.5, np.nan, -1.5], nan_ok=True)
    assert found.contact_y == pytest.approx([31.125 * 25.4, 31.1 * 25.4, np.nan], nan_ok=True)
    for text in ("travel;Camber_deg\n-200;1,25\n100;-0,5\n", "\ufefftravel\tcamber_deg\r\n-200\t1.25\r\n100\t-0,5\r\n"):
        file.write_bytes(text.encode())
        from_abroad = read_measurement(file, load_scenario(SCENARIOS / "buggy.toml"))
        assert from_abroad.travel.tolist() == [-200.0, 100.0]
        assert np.degrees(from_abroad.camber) == pytest.approx([1.25, -0.5])
    file.write_bytes("travel,camber_deg\n-200,1\n".encode("utf-16"))
    with pytest.raises(ResultsError, match="save it as such"):
        read_measurement(file, load_scenario(SCENARIOS / "buggy.toml"))
    with pytest.raises(ResultsError, match="no such file"):
        read_measurement(tmp_path / "none.csv", load_scenario(SCENARIOS / "buggy.toml"))
    file.write_bytes(b"0,0,0\n" * 200_000)
    with pytest.raises(ResultsError, match="larger than 1 MB"):
        read_measurement(file, load_scenario(SCENARIOS / "buggy.toml"))


def test_the_command_reads_a_pick_and_writes_a_report(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # what a pick spends its time on, and a measurement does not read
    pick_in_words(monkeypatch)
    monkeypatch.setattr("optimizer.shop_files.write_shop_files", lambda *_: ShopFiles([], [], []))
    monkeypatch.setattr("optimizer.front_search.ROWS", 10)
    scenario: Scenario = parse_scenario(changed("buggy"))  # what is measured stands straight ahead
    pick, file, out = tmp_path / "pick", tmp_path / "tacked.csv", tmp_path / "report"
    with new_directory(pick, kind="pick", force=False) as folder:
        chosen = write_pick(search(scenario, budget=100, seed=1), 0, None, folder)
    again = read_pick(pick)
    assert again.measures() == pytest.approx(chosen.measures(), nan_ok=True)
    curves = chosen.curves(HEIGHTS)
    rows = zip(HEIGHTS, np.degrees(curves.camber[0]), curves.contact[1, 0], strict=True)
    lines = ["travel,camber_deg,contact_y", *(f"{t},{c:.3f},{y:.2f}" for t, c, y in rows)]
    file.write_text("\n".join(lines), encoding="utf-8")
    done = run("measure", pick, file, "--out", out)
    assert "nothing is off by more than its tolerance" in done.stdout
    numbers = json.loads((out / "measured.json").read_text(encoding="utf-8"))
    assert max(numbers["stories"], key=lambda part: numbers["stories"][part]["likelihood"]) == WITHIN
    assert "Which point is most likely off" in (out / "measured.html").read_text(encoding="utf-8")
    for words, sentence in (
        ((tmp_path, file), "holds no results"),
        ((pick, file, "--camber-error", "0"), "--camber-error 0"),
        ((pick, file, "--contact-error", "-1"), "--contact-error -1"),
    ):
        assert sentence in run("measure", *words, code=2).stderr
