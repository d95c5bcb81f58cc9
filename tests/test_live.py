"""The live page without a browser: the map, what may be asked, moves that pile up, undo, and text written back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bokeh.document import Document

from objectives.evaluate import measure
from objectives.registry import OBJECTIVES
from optimizer.candidate import baseline_of, candidate_at
from optimizer.errors import ResultsError
from optimizer.goals import BUILD_YIELD
from optimizer.live_asks import Ask, Move, read_ask
from optimizer.live_desk import Desk, free_name, named, save_scenario
from optimizer.live_map import PivotMap, mapped
from optimizer.live_numbers import Rows, at_once, exactly
from optimizer.live_point import first_point
from optimizer.live_session import STEPS_BACK, LivePage
from optimizer.live_targets import with_target
from optimizer.problem import PivotProblem, broken_limits
from optimizer.scenario import Scenario, parse_scenario
from tests.fronts import SCENARIOS

COLUMNS = {objective.column: objective for objective in OBJECTIVES}
CELLS = 7  # few, so that a map takes no time; what is checked does not depend on how many


def demo(*changes: tuple[str, str], name: str = "buggy") -> Scenario:
    text = (SCENARIOS / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return parse_scenario(text, f"{name}.toml")


STRAIGHT = (("rack_travel = 62.0", "rack_travel = 0.0"),)


def map_of(scenario: Scenario) -> PivotMap:
    *_, last = mapped(scenario, first_point(scenario, baseline_of(scenario)), CELLS)
    assert isinstance(last, PivotMap)
    return last


def ask(**what: Any) -> dict[str, list[str]]:
    return {"text": [json.dumps(what)]}


class Heard:
    """A live page on a document without a server, and all it was told."""

    def __init__(self, scenario: Scenario, file: Path = Path("buggy.toml")) -> None:
        self.document = Document()
        self.desk = Desk(file, scenario)
        self.page = LivePage(self.document, self.desk)
        self.told: list[dict[str, Any]] = []
        self.page.channel.told.on_change("data", lambda _, __, data: self.told.append(json.loads(data["text"][0])))

    def last(self, kind: str) -> dict[str, Any]:
        return next(what for what in reversed(self.told) if what["kind"] == kind)

    def due(self) -> int:
        """Pieces of work that wait for the server's thread."""
        return len(self.document.session_callbacks)


@pytest.fixture(scope="module")
def untouched() -> Heard:
    """A page that does nothing of what is asked."""
    return Heard(demo(*STRAIGHT))


@pytest.fixture(scope="module")
def straight() -> Heard:
    """A page whose state does not matter."""
    return Heard(demo(*STRAIGHT))


# the map


def test_map_at_its_places_is_what_is_measured_there() -> None:
    scenario = demo(*STRAIGHT)
    around = map_of(scenario)
    y, z = around.grid.y[3], around.grid.z[2]
    found = around.at(float(y), float(z))
    alone = candidate_at(scenario, float(y), float(z)).measures()
    assert found is not None
    for name in {objective.name for objective in scenario.measured} - {"build_yield"}:  # that one only where asked for
        assert found[name] == pytest.approx(alone[name], rel=1e-9), name
    assert found["limited_by"] == alone["limited_by"]


def test_map_between_its_places_is_linear_each_way() -> None:
    scenario = demo(*STRAIGHT)
    around = map_of(scenario)
    y, z = around.grid.y, around.grid.z
    four = around.table["scrub"].reshape(around.shape)[2:4, 3:5]
    middle = around.at(float(y[3] + y[4]) / 2, float(z[2] + z[3]) / 2)
    assert middle is not None
    assert middle["scrub"] == pytest.approx(four.mean())
    quarter = around.at(0.75 * float(y[3]) + 0.25 * float(y[4]), float(z[2]))
    assert quarter is not None
    assert quarter["scrub"] == pytest.approx(0.75 * four[0, 0] + 0.25 * four[0, 1])


def test_map_says_nothing_outside_and_beside_what_locks() -> None:
    scenario = demo(*STRAIGHT, ("pivot_z = [160.0, 320.0]", "pivot_z = [160.0, 800.0]"))
    around = map_of(scenario)
    assert around.at(189.0, 200.0) is None
    assert around.at(300.0, 801.0) is None
    complete = around.table["complete"].reshape(around.shape)
    up, across = np.argwhere(~complete)[0]
    assert around.at(float(around.grid.y[across]), float(around.grid.z[up])) is None


def test_map_is_usable_where_no_limit_is_broken() -> None:
    scenario = demo(*STRAIGHT)
    around = map_of(scenario)
    usable = around.usable(PivotProblem(scenario))
    assert usable.any()
    assert not usable.all()
    for up, across in ((0, 0), (2, 2), (3, 1), (3, 3), (6, 4)):
        place = candidate_at(scenario, float(around.grid.y[across]), float(around.grid.z[up]))
        assert usable[up, across] == (broken_limits(place) == [])


def test_map_of_a_held_arm_has_that_arm_everywhere() -> None:
    scenario = demo(*STRAIGHT)
    point = first_point(scenario, baseline_of(scenario)).typed(scenario, "arm_length", "400")
    *_, around = mapped(scenario, point, CELLS)
    assert isinstance(around, PivotMap)
    stands = np.isfinite(around.candidates.static_camber)
    assert stands.any()
    assert around.table["arm_length"][stands] == pytest.approx(400.0)


def test_a_fixed_pivot_still_has_surroundings() -> None:
    scenario = demo(*STRAIGHT, ("pivot_y = [190.0, 400.0]", "pivot_y = 275.0"))
    around = map_of(scenario)
    assert around.grid.y[0] < 275.0 < around.grid.y[-1]


def test_at_once_and_exactly_agree_where_the_map_has_a_place() -> None:
    scenario = demo()
    around = map_of(scenario)
    unit, point = scenario.unit, first_point(scenario, baseline_of(scenario))
    point = point.moved(scenario, float(unit.from_mm(around.grid.y[2])), float(unit.from_mm(around.grid.z[3])), False)
    quick, exact = at_once(scenario, point, around), exactly(point.candidate(scenario))
    assert not quick.exact
    assert exact.exact
    problem = PivotProblem(scenario)
    assert quick.costs(problem) == pytest.approx(exact.costs(problem), rel=1e-3)  # the place is rounded to 0.01 mm
    assert quick.broken(problem) == exact.broken(problem)


# what may be asked


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"text": []},
        {"text": [1]},
        {"text": ["{}"], "more": [1]},
        {"text": ["["]},
        {"text": ["[" * 1500]},
        {"text": ["{}"]},
        {"text": ["x" * 3000]},
        ask(do="explode", n=1),
        ask(do="__init__", n=1),
        ask(do="move", n=1, hand=1, y="1", z=2.0, last=False),
        ask(do="move", n=1, hand=1, y=1e300, z=2.0, last=False),
        {"text": ['{"do": "move", "n": 1, "hand": 1, "y": NaN, "z": 2.0, "last": false}']},
        ask(do="move", n=-1, hand=1, y=1.0, z=2.0, last=False),
        ask(do="move", n=True, hand=1, y=1.0, z=2.0, last=False),
        ask(do="undo", n=1, more=1),
        ask(do="type", n=1, field="hole", text="1"),
        ask(do="hold", n=1, field="y"),
        ask(do="target", n=1, field="scrub", which="objective", text="1"),
        ask(do="row", n=1, index=-1),
        [1, 2],
        None,
    ],
)
def test_what_is_no_ask_is_refused(untouched: Heard, data: object) -> None:
    with pytest.raises(ValueError, match=r"ask|asked|JSON|field"):
        read_ask(data)
    heard = untouched
    before = heard.page.point
    heard.page.heard(data)
    assert heard.last("said")["text"].startswith("refused")
    assert heard.last("said")["refused"] is True
    assert (heard.page.point, heard.due()) == (before, 0)


def test_an_ask_is_read_as_it_is_meant() -> None:
    assert read_ask(ask(do="move", n=7, hand=2, y=1, z=2.5, last=True)) == Move(7, 2, 1.0, 2.5, True)
    assert read_ask(ask(do="row", n=8, index=3)) == Ask(8, "row", index=3)


@pytest.mark.parametrize(
    "what",
    [
        {"do": "hello"},
        {"do": "type", "field": "y", "text": "260"},
        {"do": "type", "field": "y", "text": "far"},
        {"do": "nudge", "y": 1, "z": 0},
        {"do": "hold", "field": "arm_length"},
        {"do": "hole", "index": 7},
        {"do": "snap", "on": True},
        {"do": "row", "index": 0},
        {"do": "baseline"},
        {"do": "undo"},
        {"do": "steer", "index": 0},
        {"do": "shade", "text": "scrub"},
        {"do": "shade", "text": ""},
        {"do": "target", "field": "scrub", "which": "limit", "text": "90"},
        {"do": "use", "text": "../no"},
        {"do": "save", "text": "../no"},
    ],
    ids=lambda what: "-".join(str(part) for part in what.values()),
)
def test_every_ask_is_answered(straight: Heard, what: dict[str, Any]) -> None:
    """The page asks one thing after the other, so an ask without an answer would be its last."""
    number = straight.page.channel.answers + 1
    straight.told.clear()
    straight.page.heard(ask(n=number, **what))
    assert any(told["answers"] == number for told in straight.told)


def test_what_goes_wrong_inside_is_said_and_answered(straight: Heard, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_: object) -> None:
        raise KeyError("lost")

    monkeypatch.setattr(straight.page, "_do_hello", broken)
    number = straight.page.channel.answers + 1
    straight.page.heard(ask(do="hello", n=number))
    said = straight.last("said")
    assert (said["answers"], said["tone"]) == (number, "bad")
    assert "lost" in said["text"]


def test_a_limit_of_what_the_map_has_not_measured() -> None:
    heard = Heard(demo(*STRAIGHT))
    heard.page.around.put(heard.page.point, map_of(heard.page.scenario))
    heard.page.around.want(heard.page.point)
    assert heard.last("map")["usable"] > 0.0
    heard.page.heard(ask(do="target", n=1, field="build_yield", which="limit", text="0.5"))
    assert heard.last("asked")["targets"]["build_yield"]["limit"] == 0.5
    assert heard.last("map")["usable"] is None  # it is measured anew
    heard.page.wanted = Move(2, 1, heard.page.point.y - 1.0, heard.page.point.z, False)
    heard.page._move()
    assert heard.last("here")["answers"] == 2
    assert heard.last("here")["broken"] is None


def test_a_build_yield_under_other_limits_is_counted_anew() -> None:
    scenario = demo(*STRAIGHT)
    candidate = candidate_at(scenario, 275.0, 232.0)
    rows = Rows(candidate.as_batch, exactly(candidate).batch(), scenario)
    heard = Heard(scenario)
    heard.page.heard(ask(do="target", n=1, field="scrub", which="limit", text="67"))
    here = heard.last("here")
    assert (here["values"]["build_yield"], here["exact"]) == (None, False)
    other = heard.page.scenario
    assert rows.knows(PivotProblem(other))  # nothing is asked of it
    asked = parse_scenario(with_target(other.text, other.unit, BUILD_YIELD, "limit", "0.2"))
    assert not rows.knows(PivotProblem(asked))
    rebuilt = rows.rebuilt(asked)
    assert rebuilt.knows(PivotProblem(asked))
    alone = candidate_at(asked, 275.0, 232.0).measures()
    assert rebuilt.table["build_yield"][0] == pytest.approx(alone["build_yield"])
    assert rebuilt.table["build_yield"][0] < rows.table["build_yield"][0]


def test_moves_never_pile_up() -> None:
    heard = Heard(demo(*STRAIGHT))
    for n in range(500):
        heard.page.heard(ask(do="move", n=n, hand=1, y=250.0 + 0.01 * n, z=232.0, last=False))
    assert heard.due() == 1
    assert heard.told == []
    heard.page._move()
    assert heard.last("here")["answers"] == 499
    assert heard.page.point.y == 254.99
    assert len(heard.page.steps) == 1
    heard.page._move()  # nothing is wanted any more
    assert len([what for what in heard.told if what["kind"] == "here"]) == 1


def test_steps_back_are_bounded() -> None:
    heard = Heard(demo(*STRAIGHT))
    heard.page.seconds = 0.0  # everything is measured at once
    for n in range(STEPS_BACK + 20):
        heard.page._remember()
        heard.page.point = heard.page.point.moved(heard.page.scenario, 200.0 + n, 232.0, False)
    assert len(heard.page.steps) == STEPS_BACK


def test_a_limit_that_is_moved_and_undone() -> None:
    heard = Heard(demo(*STRAIGHT))
    heard.page.heard(ask(do="target", n=1, field="scrub", which="limit", text="50"))
    assert heard.last("asked")["targets"]["scrub"]["limit"] == 50.0
    assert heard.last("asked")["changed"] is True
    assert any("scrub above its limit of 50 mm" in words for words in heard.last("here")["broken"])
    assert broken_limits(heard.page.numbers.candidate) == heard.last("here")["broken"]
    heard.page.heard(ask(do="undo", n=2))
    assert heard.last("asked")["targets"]["scrub"]["limit"] == 100.0
    assert heard.last("asked")["changed"] is False
    assert heard.page.scenario.text == heard.desk.scenario.text


def test_a_limit_that_contradicts_is_refused_and_nothing_changes() -> None:
    heard = Heard(demo(*STRAIGHT))
    heard.page.heard(ask(do="target", n=1, field="scrub", which="limit", text="10"))
    assert heard.last("said")["tone"] == "bad"
    assert heard.page.scenario is heard.desk.scenario
    assert heard.page.steps == []


def test_holding_the_arm_keeps_the_candidate() -> None:
    heard = Heard(demo(*STRAIGHT))
    camber = heard.page.numbers.candidate.static_camber
    heard.page.heard(ask(do="hold", n=1, field="arm_length"))
    assert heard.page.point.static_camber is None
    assert heard.page.point.candidate(heard.page.scenario).static_camber == pytest.approx(camber, abs=1e-7)


def test_a_nudge_is_a_mark_of_the_tape_to_the_last_digit() -> None:
    inches = demo(name="buggy_inch")
    point = first_point(inches, baseline_of(inches)).typed(inches, "y", "10 3/4")
    assert point.y == 10.75
    assert point.nudged(inches, 1, -10, False).y == 10.8125
    between = point.typed(inches, "y", "10.76")
    assert between.nudged(inches, 1, 0, False).y == pytest.approx(10.8225, abs=1e-9)
    assert between.nudged(inches, 1, 0, True).y == 10.8125


# files


def test_names_stay_in_the_folder(tmp_path: Path) -> None:
    for name in ("", " ", "../x", "a/b", "a\\b", ".hidden", "/etc/x", "x.", "n" * 81, "a\nb", "a\0b", "-x"):
        with pytest.raises(ResultsError, match="plain name"):
            named(tmp_path, name)
    assert named(tmp_path, " second try ", ".toml") == tmp_path / "second try.toml"
    assert named(tmp_path, "x.toml", ".toml") == tmp_path / "x.toml"


def test_a_file_that_exists_is_left_alone(tmp_path: Path) -> None:
    place = tmp_path / "x-2.toml"
    save_scenario(place, "one")
    with pytest.raises(ResultsError, match="exists already"):
        save_scenario(place, "two")
    assert place.read_text(encoding="utf-8") == "one"
    assert free_name(tmp_path, "x", ".toml") == "x-3.toml"


# aims and limits written back


def changed(scenario: Scenario, column: str, which: Any, typed: str) -> tuple[list[str], list[str]]:
    """Lines that went and lines that came."""
    text = with_target(scenario.text, scenario.unit, COLUMNS[column], which, typed)
    parse_scenario(text)
    old, new = scenario.text.split("\n"), text.split("\n")
    return [line for line in old if line not in new], [line for line in new if line not in old]


def test_one_number_changes_and_nothing_else() -> None:
    gone, come = changed(demo(), "scrub", "limit", "90")
    assert gone == ["scrub = { aim = 45.0, limit = 100.0 }"]
    assert come == ["scrub = { aim = 45.0, limit = 90.0 }"]


def test_a_comment_behind_the_line_stays() -> None:
    noted = demo(("scrub = { aim = 45.0, limit = 100.0 }", "scrub = { limit = 100, aim = 45.0 }   # measured twice"))
    assert changed(noted, "scrub", "limit", "90")[1] == ["scrub = { aim = 45.0, limit = 90 }   # measured twice"]
    assert changed(noted, "scrub", "limit", "")[1] == ["scrub = { aim = 45.0 }   # measured twice"]


def test_what_was_not_there_comes_to_the_end_of_the_table() -> None:
    assert changed(demo(), "bump_limit", "limit", "150") == ([], ["bump_limit = { limit = 150.0 }"])
    assert changed(demo(), "bump_steer_deg", "limit", "0.4")[1] == ["bump_steer_deg = { aim = 0.3, limit = 0.4 }"]


def test_fractions_stay_fractions() -> None:
    inches = demo(name="buggy_inch")
    assert 'limit = "3 5/8"' in changed(inches, "scrub", "limit", "3 5/8")[1][0]
    quoted = demo(("aim = 1.7716535433070868", 'aim = "1 3/4"'), name="buggy_inch")
    assert 'aim = "1.5"' in changed(quoted, "scrub", "aim", "1.5")[1][0]


def test_tables_and_dotted_keys_keep_their_form() -> None:
    dotted = demo(("bump_steer_deg = { aim = 0.3 }", "bump_steer_deg.aim = 0.3  # dotted"))
    assert changed(dotted, "bump_steer_deg", "limit", "0.4") == ([], ["bump_steer_deg.limit = 0.4"])
    table = demo(
        ("scrub = { aim = 45.0, limit = 100.0 }\n", ""),
        ("[build]", "[targets.scrub]  # side\naim = 45  # hope\n\n[build]"),
    )
    assert changed(table, "scrub", "aim", "40") == (["aim = 45  # hope"], ["aim = 40  # hope"])


def test_a_scenario_without_targets_gets_the_table() -> None:
    text = demo().text
    bare = parse_scenario(text[: text.index("[targets]")] + text[text.index("[build]") :])
    assert changed(bare, "scrub", "limit", "90")[1] == ["[targets]", "scrub = { limit = 90.0 }"]


def test_windows_line_ends_stay() -> None:
    text = with_target(demo().text.replace("\n", "\r\n"), demo().unit, COLUMNS["bump_limit"], "limit", "150")
    assert text.count("\n") == text.count("\r\n")


@pytest.mark.parametrize(("column", "typed"), [("scrub", "wide"), ("bump_steer_deg", "1/2"), ("scrub", "nan")])
def test_what_is_no_number_is_refused(column: str, typed: str) -> None:
    with pytest.raises(ResultsError, match="is not a"):
        with_target(demo().text, demo().unit, COLUMNS[column], "aim", typed)


def test_rows_are_measured_in_the_scenario_of_the_page() -> None:
    from tests.fronts import brief_front

    front = brief_front("buggy")
    other = demo(*STRAIGHT, ("ride_height = 270.0", "ride_height = 265.0"))
    rows = Desk(Path("x.toml"), other, front, Path("front")).rows
    assert rows is not None
    alone = measure(other.corner, rows.candidates.take(slice(4, 5)))
    assert rows.table["fender_clearance"][4] == pytest.approx(alone["fender_clearance"][0], rel=1e-9)
    assert rows.table["fender_clearance"][4] != pytest.approx(front.table["fender_clearance"][4], rel=1e-3)
