"""The live page in a browser: what a builder does with it, against `try`, the physics and the files it leaves."""

from __future__ import annotations

import json
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from playwright.sync_api import expect

from objectives.curves import curves_at
from optimizer.candidate import candidate_at
from optimizer.front_curves import front_travels
from optimizer.outputs import read_front
from optimizer.problem import PivotProblem, sign
from optimizer.scenario import load_scenario
from tests.browsers import running_browser
from tests.commands import PICKED, PICKED_WITH_A_SHOCK, PICKED_WITH_LOCKS
from tests.fronts import NASTY, SCENARIOS, steered_front, steered_results
from tests.live_server import PATIENCE, Live, Served
from tests.opened_page import DESK, PHONE
from tests.test_command_line import run

if TYPE_CHECKING:
    from playwright.sync_api import Browser

expect.set_options(timeout=PATIENCE)
DRAWN = 1e-6  # mm or deg: curves travel to the page with six decimals
SAME = 1e-12  # relative: the same work in another process, in threads of its own


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    yield from running_browser()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo buggy with its rack under a title that has to be kept as text."""
    folder = tmp_path_factory.mktemp("live")
    (folder / "my buggy.toml").write_text(steered_front().scenario.text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def served(folder: Path) -> Iterator[Served]:
    running = Served(folder / "my buggy.toml", "--results", steered_results())
    yield running
    running.stop()


@pytest.fixture(scope="module")
def second(browser: Browser, served: Served) -> Iterator[Live]:
    opened = Live(browser, served)
    yield opened
    opened.context.close()


@pytest.fixture
def undone(second: Live) -> Iterator[Live]:
    """Another page for several tests, each of which finds everything as it was at first, and no step to take back."""
    second.settled()
    while second.page.is_enabled("#undo"):
        second.page.click("#undo")
        second.settled()
    assert second.pivot() == (275.0, 232.0)
    yield second
    held_its_peace(second)


@pytest.fixture(scope="module")
def kept(browser: Browser, served: Served) -> Iterator[Live]:
    opened = Live(browser, served)
    yield opened
    opened.context.close()


@pytest.fixture
def desk(kept: Live) -> Iterator[Live]:
    """One page for several tests, each of which finds the pivot at the baseline."""
    kept.page.uncheck("#snap")
    kept.page.click("#to-baseline")
    kept.settled()
    assert kept.pivot() == (275.0, 232.0)
    yield kept
    held_its_peace(kept)


def held_its_peace(opened: Live) -> None:
    """Whatever a test did with a page, there was no error and it asked nobody else."""
    assert opened.troubles == []
    assert re.match(r"http://127\.0\.0\.1:\d+/\?token=", opened.asked[0])
    assert all(url.startswith(("data:", "blob:")) for url in opened.asked[1:])


@pytest.fixture(scope="module")
def inches(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo in inches, without a front beside it."""
    file = tmp_path_factory.mktemp("inches") / "inch.toml"
    file.write_text((SCENARIOS / "buggy_inch.toml").read_text(encoding="utf-8"), encoding="utf-8")
    running = Served(file)
    yield running
    if running.process.poll() is None:
        running.stop()


@pytest.fixture(scope="module")
def inch_page(browser: Browser, inches: Served) -> Live:
    return Live(browser, inches)


def test_numbers_after_a_drag_are_those_of_try_at_the_same_point(
    desk: Live, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("optimizer.pictures.draw_candidate", lambda *_: [])  # its numbers are read, no picture
    before = desk.pivot()
    desk.mapped()
    desk.drag(desk.pixel("view", *before), 12, (-2.0, 0.5))
    desk.settled()
    assert desk.pivot()[0] < before[0] - 5.0
    command = shlex.split(desk.value("command"))
    assert command[0] == "pivotfront"
    run(*command[1:], "--out", tmp_path / "try")
    tried = json.loads((tmp_path / "try" / "measures.json").read_text(encoding="utf-8"))
    shown = desk.figures()
    assert set(shown) == set(tried)
    for name, value in tried.items():
        if isinstance(value, str):
            assert shown[name] == value
        else:
            assert float(shown[name]) == pytest.approx(value, rel=SAME), name


def test_curves_are_those_of_the_physics(desk: Live, folder: Path) -> None:
    scenario = load_scenario(folder / "my buggy.toml")
    desk.type("type-y", "260.5")
    desk.type("type-camber", "0.25")
    desk.settled()
    candidate = candidate_at(scenario, 260.5, 232.0, np.radians(0.25))
    curves = curves_at(scenario.corner, candidate.as_batch, front_travels(scenario.corner))
    for kind, want in (("camber", np.degrees(curves.camber[0])), ("toe", np.degrees(curves.toe[0]))):
        lines = desk.source(f"lines_{kind}")
        assert np.array(lines["xs"][-1]) == pytest.approx(curves.travel[0])
        assert np.array(lines["ys"][-1], dtype=float) == pytest.approx(want, abs=DRAWN)
    joints = desk.source("corner_joints")
    assert joints["x"][1] == pytest.approx(260.5)
    assert joints["x"][3] == pytest.approx(np.interp(0.0, curves.travel[0], curves.upper_outer[1, 0]), abs=DRAWN)


def test_while_the_hand_is_down_numbers_come_from_the_map_and_say_so(desk: Live) -> None:
    desk.mapped()
    seen = """() => { window.seen = []; new MutationObserver(() => window.seen.push(
        document.querySelector('#exact').textContent)).observe(
        document.querySelector('#exact'), { childList: true, characterData: true, subtree: true }) }"""
    desk.page.evaluate(seen)
    desk.drag(desk.pixel("view", *desk.pivot()), 15, (1.0, 0.0), let_go=False)
    desk.settled()  # when the hand pauses, let go or not
    desk.page.mouse.up()
    assert any("\N{ALMOST EQUAL TO}" in words for words in desk.page.evaluate("window.seen"))


def test_title_is_text(desk: Live) -> None:
    assert desk.page.inner_text("h1") == NASTY
    assert desk.page.title() == " ".join(NASTY.split())
    assert desk.page.evaluate("window.struck === undefined")


def test_two_pages_at_once_have_a_pivot_each(desk: Live, undone: Live) -> None:
    other = undone
    other.type("type-z", "250")
    other.settled()
    assert other.pivot() == (275.0, 250.0)
    desk.type("type-y", "240")
    desk.settled()
    assert desk.pivot() == (240.0, 232.0)
    assert other.pivot() == (275.0, 250.0)


def test_keys_move_the_pivot_and_undo_takes_every_step_back(undone: Live) -> None:
    desk = undone
    desk.page.focus("#view")
    desk.page.keyboard.press("ArrowLeft")
    expect(desk.page.locator("#type-y")).to_have_value("274")
    desk.page.keyboard.press("Shift+ArrowUp")
    expect(desk.page.locator("#type-z")).to_have_value("242")
    desk.page.click("#undo")
    expect(desk.page.locator("#type-z")).to_have_value("232")
    desk.page.click("#undo")
    expect(desk.page.locator("#type-y")).to_have_value("275")
    expect(desk.page.locator("#undo")).to_be_disabled()


def test_a_drag_is_one_step_back_and_snaps_to_the_tape(desk: Live) -> None:
    desk.page.check("#snap")
    desk.drag(desk.pixel("view", *desk.pivot()), 10, (-1.5, -1.1))
    desk.settled()
    y, z = desk.pivot()
    assert (y, z) != (275.0, 232.0)
    assert (y, z) == (round(y), round(z))
    desk.page.click("#undo")
    expect(desk.page.locator("#type-y")).to_have_value("275")
    expect(desk.page.locator("#type-z")).to_have_value("232")


def test_what_cannot_be_is_refused_in_a_sentence_and_the_pivot_stays(desk: Live) -> None:
    for id, text, words in (
        ("type-y", "far", "is not a length"),
        ("type-z", "1 3/8", "only a scenario in inches"),
        ("type-camber", "60", "between -45 and 45"),
        ("type-arm", "-5", "more than 0"),
        ("type-arm", "900", "no static camber"),
        ("limit-scrub", "10", "is worse than the limit"),
    ):
        before = desk.value(id)
        desk.type(id, text)
        expect(desk.page.locator("#said")).to_contain_text(words)
        expect(desk.page.locator(f"#{id}")).to_have_value(before)
    assert desk.pivot() == (275.0, 232.0)


def test_the_arrow_leads_to_the_nearest_row_that_betters_it(desk: Live) -> None:
    front = read_front(steered_results())
    problem = PivotProblem(front.scenario)
    desk.settled()
    here = candidate_at(front.scenario, 275.0, 232.0).measures()
    better = []
    for row in range(len(front)):
        gain = [
            sign(o) * (here[o.name] - front.table[o.name][row]) / s
            for o, s in zip(problem.traded, problem.scale, strict=True)
        ]
        if min(gain) >= 0.0 and max(gain) > 0.0:
            far = np.hypot(front.table["pivot_y"][row] - 275.0, front.table["pivot_z"][row] - 232.0)
            better.append((far, row))
    assert better
    row = min(better)[1]
    said = desk.page.inner_text("#better-text")
    assert said.startswith(f"Row {row + 1} betters it in everything")
    arrow = desk.source("arrow")
    assert (arrow["x_end"], arrow["y_end"]) == ([front.table["pivot_y"][row]], [front.table["pivot_z"][row]])
    desk.page.click("#to-better")
    expect(desk.page.locator("#better-text")).to_contain_text("No usable row")
    assert desk.source("arrow")["x_end"] == []
    assert desk.pivot() == (front.table["pivot_y"][row], front.table["pivot_z"][row])


def test_limits_move_and_are_saved_with_every_comment(undone: Live, folder: Path) -> None:
    desk = undone
    original = (folder / "my buggy.toml").read_text(encoding="utf-8")
    expect(desk.page.locator("#save")).to_be_disabled()
    desk.settled()
    desk.type("limit-scrub", "60")
    expect(desk.page.locator("#verdict-text")).to_contain_text("scrub above its limit of 60 mm")
    expect(desk.page.locator("#use")).to_be_disabled()
    desk.type("aim-bump_steer_deg", "0.25")
    expect(desk.page.locator("#save")).to_be_enabled()
    desk.page.fill("#save-name", "tighter")
    desk.page.click("#save")
    expect(desk.page.locator("#said")).to_contain_text("tighter.toml")
    saved = (folder / "tighter.toml").read_text(encoding="utf-8")
    assert saved == original.replace("limit = 100.0 }", "limit = 60.0 }").replace("aim = 0.3 }", "aim = 0.25 }")
    assert (folder / "my buggy.toml").read_text(encoding="utf-8") == original
    desk.page.click("#save")
    expect(desk.page.locator("#said")).to_contain_text("exists already")
    assert (folder / "tighter.toml").read_text(encoding="utf-8") == saved
    desk.page.fill("#save-name", "../elsewhere")
    desk.page.click("#save")
    expect(desk.page.locator("#said")).to_contain_text("plain name")
    desk.page.click("#undo")
    desk.page.click("#undo")
    expect(desk.page.locator("#verdict-text")).to_contain_text("it keeps every limit")
    expect(desk.page.locator("#limit-scrub")).to_have_value("100.0")


def test_use_this_pivot_leaves_what_pick_leaves(desk: Live, folder: Path) -> None:
    desk.page.fill("#use-name", "mine")
    desk.page.click("#use")
    expect(desk.page.locator("#said")).to_contain_text("rationale.html")
    assert {path.name for path in (folder / "mine").iterdir()} == PICKED | PICKED_WITH_A_SHOCK | PICKED_WITH_LOCKS
    pivot = json.loads((folder / "mine" / "pivot.json").read_text(encoding="utf-8"))
    assert (pivot["before_rounding"]["pivot_y"], pivot["before_rounding"]["pivot_z"]) == (275.0, 232.0)
    assert "by hand" in (folder / "mine" / "rationale.md").read_text(encoding="utf-8")
    desk.page.click("#use")
    expect(desk.page.locator("#said")).to_contain_text("exists already")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_everything_fits_the_window(desk: Live, size: dict[str, int]) -> None:
    desk.page.set_viewport_size(size)
    desk.page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    wide = desk.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= size["width"]
    view = desk.page.locator("#view").bounding_box()
    assert view is not None
    assert view["y"] + view["height"] <= size["height"]
    assert min(view["width"], view["height"]) > 240


def test_every_choice_is_answered_and_the_page_goes_on(desk: Live) -> None:
    desk.mapped()
    desk.page.select_option("#shade", "scrub")
    expect(desk.page.locator("#shade-key")).to_contain_text("mm")
    desk.page.select_option("#shade", "")
    expect(desk.page.locator("#shade-key")).to_be_empty()
    desk.type("type-y", "2" * 3000)  # too long to be asked
    expect(desk.page.locator("#said")).to_contain_text("refused")
    desk.type("type-y", "260")
    desk.settled()
    assert desk.pivot() == (260.0, 232.0)


def test_inches_take_fractions(inch_page: Live) -> None:
    page = inch_page
    page.type("type-y", "10 3/4")
    page.settled()
    assert page.value("type-y") == "10 3/4"
    assert page.pivot()[0] == 10.75
    expect(page.page.locator("#better-text")).to_contain_text("No front to compare with")
    page.page.focus("#view")
    page.page.keyboard.press("ArrowRight")
    expect(page.page.locator("#type-y")).to_have_value("10 13/16")
    assert page.troubles == []


def test_a_server_that_stops_is_told_on_the_open_page(inches: Served, inch_page: Live) -> None:
    running, page = inches, inch_page
    code, rest = running.stop()
    assert code == 0
    assert rest.rstrip().endswith("stopped")
    assert "Traceback" not in rest
    expect(page.page.locator("#lost")).to_contain_text("pivotfront has stopped")
    expect(page.page.locator("#type-y")).to_be_disabled()
    page.context.close()
