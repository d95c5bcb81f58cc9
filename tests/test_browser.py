"""The front's page in a browser with the network off: what a builder does with it, against physics and front.csv."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from objectives.corner import Candidates
from objectives.curves import curves_at
from objectives.registry import OBJECTIVES
from objectives.tyre import Silhouette
from optimizer.candidate import baseline_of, shown
from optimizer.front_curves import steering_stops
from optimizer.front_search import ROWS, Front, search
from optimizer.scenario import parse_scenario
from tests.browsers import running_browser
from tests.fronts import NASTY, SCENARIOS, brief_front, steered_front, steered_results, write_with_page
from tests.opened_page import PHONE, Opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser

IN_16_BITS = 0.02  # mm: half a step of 65,534 in a range of some 1,300 mm is 0.01; as much again for both axes


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    yield from running_browser()


@pytest.fixture(scope="module")
def steered() -> Path:
    """A search's directory with a name that a shell takes apart, under a title that has to be kept as text."""
    return steered_results()


@pytest.fixture(scope="module")
def inches(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("inches")
    write_with_page(brief_front("buggy_inch"), folder)
    return folder


def held_its_peace(opened: Opened) -> None:
    """Whatever a test did with a page, there was no error and no request."""
    assert opened.troubles == []
    assert opened.asked[0].startswith("file:")
    assert all(url.startswith(("data:", "blob:")) for url in opened.asked[1:])


@pytest.fixture
def fresh(browser: Browser, steered: Path) -> Iterator[Opened]:
    """A page at a desk that nothing was done with yet."""
    opened = Opened(browser, steered)
    yield opened
    held_its_peace(opened)
    opened.context.close()


@pytest.fixture(scope="module")
def kept(browser: Browser, steered: Path) -> Iterator[Opened]:
    opened = Opened(browser, steered)
    yield opened
    opened.context.close()


@pytest.fixture
def desk(kept: Opened) -> Iterator[Opened]:
    """One page for several tests, each of which finds it at ride and straight ahead, with nothing picked, pinned,
    hidden or marked, and the axes and the colouring that it begins with.
    """
    page = kept.page
    page.click("#wishes-back")
    for clear in ("#let-go", "#unmark"):
        if page.is_enabled(clear):
            page.click(clear)
    for _ in range(5):
        word = page.inner_text("#steer-word")
        if word != "straight ahead":
            page.locator("#steer").press("ArrowRight" if "right" in word else "ArrowLeft")
    kept.move("0")
    for chooser, value in kept.chosen.items():
        page.select_option(f"#{chooser}", value)
    page.evaluate("scrollTo(0, 0)")
    yield kept
    held_its_peace(kept)


def one(front: Front, row: int) -> Candidates:
    return front.candidate(row).as_batch


def test_opens_with_the_title_as_text_and_nothing_picked(fresh: Opened) -> None:
    desk = fresh
    assert desk.page.inner_text("h1") == NASTY
    assert desk.page.title() == " ".join(NASTY.split())
    assert desk.page.evaluate("window.struck === undefined")
    assert desk.head() == "Nothing picked yet"
    table = steered_front().frame
    assert desk.page.locator("#table tbody tr").count() == len(table)
    rows = desk.source("rows")
    assert rows["view_x"] == table["pivot_y"].tolist()
    assert rows["view_y"] == table["pivot_z"].tolist()
    assert desk.rows("left") == list(range(len(table)))


def test_wishes_start_at_their_limits(desk: Opened) -> None:
    targets, unit = steered_front().scenario.targets, steered_front().scenario.unit
    for objective in OBJECTIVES:
        limit = targets[objective.name].limit
        if targets[objective.name].traded and limit is not None:
            shown_limit = unit.show(limit, objective.quantity)
            assert float(desk.entry(objective.column).input_value()) == pytest.approx(shown_limit)
    assert f"{ROWS} of {ROWS}" in desk.page.inner_text("#count")


def test_a_tap_picks_the_nearest_row_and_shows_it_everywhere(desk: Opened) -> None:
    table = steered_front().frame
    row = int(table["scrub"].idxmin())
    x, y = table["camber_error_deg"][row], table["scrub"][row]
    desk.page.mouse.click(*desk.pixel("trade_a", x, y))
    assert desk.head().startswith(f"\N{BLACK CIRCLE} Row {row + 1}")
    rings = desk.source("shown")
    assert (rings["a_x"], rings["a_y"]) == ([x], [y])
    assert rings["view_x"] == [table["pivot_y"][row]]
    assert desk.page.locator("#table tr[aria-current]").get_attribute("data-row") == str(row)
    # in the front view many lie on top of each other: the one under the finger is no farther than any other
    place = desk.pixel("view", table["pivot_y"][4], table["pivot_z"][4])
    desk.page.mouse.click(*place)
    picked = int(desk.page.locator("#table tr[aria-current]").get_attribute("data-row") or -1)
    there = desk.pixel("view", table["pivot_y"][picked], table["pivot_z"][picked])
    assert np.hypot(there[0] - place[0], there[1] - place[1]) < 1.0  # px: the mouse comes to whole ones


def test_wishes_hide_rows_and_say_which_costs_most(desk: Opened) -> None:
    from playwright.sync_api import expect

    table = steered_front().frame
    scrub, clearance = (round(float(table[name].median()), 1) for name in ("scrub", "fender_clearance"))
    desk.wish("scrub", str(scrub))
    desk.wish("fender_clearance", str(clearance))
    misses = {"scrub": table["scrub"] > scrub, "fender clearance": table["fender_clearance"] < clearance}
    left = ~(misses["scrub"] | misses["fender clearance"])
    assert 0 < left.sum() < len(table)
    costly = max(misses, key=lambda name: misses[name].sum())
    said = desk.page.inner_text("#count")
    assert f"{left.sum()} of {len(table)} rows" in said
    assert f"Costs most: {costly}" in said
    assert f"hides {misses[costly].sum()} by itself" in said
    # what is hidden stays, in grey, in the plots and at the end of the list
    assert desk.rows("left") == np.flatnonzero(left).tolist()
    assert desk.rows("hidden") == np.flatnonzero(~left).tolist()
    expect(desk.page.locator("#table tr.hidden")).to_have_count(int((~left).sum()))
    expect(desk.page.locator("#table tbody tr").last).to_have_class("hidden")
    assert "\N{MULTIPLICATION SIGN}" in desk.page.locator("#table tbody tr").last.inner_text()
    desk.page.click("#wishes-back")
    assert desk.rows("hidden") == []


def test_wish_that_is_no_number_is_said_so_and_changes_nothing(desk: Opened) -> None:
    desk.wish("scrub", "little")
    assert desk.entry("scrub").get_attribute("aria-invalid") == "true"
    assert desk.rows("hidden") == []
    desk.wish("scrub", "60")
    assert desk.entry("scrub").get_attribute("aria-invalid") is None


@pytest.mark.parametrize("steer", [0, 2, 3])
def test_corner_is_drawn_where_the_physics_puts_it(desk: Opened, steer: int) -> None:
    front = steered_front()
    corner = front.scenario.corner
    desk.pick(0)
    for _ in range(abs(steer - 2)):
        desk.page.locator("#steer").press("ArrowLeft" if steer < 2 else "ArrowRight")
    desk.move("-173")
    stop = steering_stops(corner)[0][steer]
    assert desk.page.inner_text("#steer-word") == stop.name
    exact = curves_at(corner, one(front, 0), np.array([-173.0]), stop.shift)
    lines = desk.source("corner_lines")
    ends = [np.array([xs, ys]).T for xs, ys in zip(lines["xs"], lines["ys"], strict=True)]
    lower, upper, kingpin, tie_rod, tyre = ends
    pairs = (
        (lower[0], corner.lower_arm.inner_pivot[1:]),
        (lower[1], exact.lower_outer[1:, 0, 0]),
        (upper[0], np.array([front.table["pivot_y"][0], front.table["pivot_z"][0]])),
        (upper[1], exact.upper_outer[1:, 0, 0]),
        (kingpin[1], exact.upper_outer[1:, 0, 0]),
        (tie_rod[0], exact.inner_joint[1:, 0, 0]),
        (tie_rod[1], exact.steering_outer[1:, 0, 0]),
    )
    for drawn, meant in pairs:
        assert np.abs(drawn - meant).max() < IN_16_BITS
    silhouette = Silhouette.of(corner.tyre, exact.wheel[:, 0], exact.spin[:, 0])
    assert np.abs(silhouette.gap(tyre.T)[0]).max() < IN_16_BITS
    said = desk.page.inner_text("#now")
    for angle in ("camber", "toe"):
        words = re.search(angle + r" (-?[\d.]+) deg", said)
        assert words
        # shown to a hundredth
        assert float(words.group(1)) == pytest.approx(np.degrees(getattr(exact, angle)[0, 0]), abs=0.0051)


def test_curves_come_beside_it_with_limits_and_targets(desk: Opened) -> None:
    front = steered_front()
    corner = front.scenario.corner
    desk.pick(2)
    desk.move("90")
    for kind in ("camber", "toe"):
        line = desk.source(f"lines_{kind}")
        exact = curves_at(corner, one(front, 2), np.array(line["xs"][0]))
        assert line["ys"][0] == pytest.approx(np.degrees(getattr(exact, kind)[0]), abs=1e-3)
        assert desk.source(f"dots_{kind}")["x"] == [90]
    target = desk.source("camber_target")
    assert target["x"] == corner.camber_curve[:, 0].tolist()
    assert target["y"] == pytest.approx(np.degrees(corner.camber_curve[:, 1]))
    largest = [ys[0] for ys in desk.source("bands_rod_ends")["ys"]]
    assert largest == pytest.approx([28.0, 30.0])
    low, high = (ys[0] for ys in desk.source("bands_toe")["ys"])
    aim = front.scenario.targets["bump_steer"].aim
    assert aim is not None
    assert high - low == pytest.approx(np.degrees(aim))
    path = desk.source("lines_contact")["xs"][0]
    assert max(path) - min(path) == pytest.approx(
        front.table["scrub"][2], abs=0.1
    )  # mm: the extreme lies between two of 33 travels


def test_pinned_rows_and_the_baseline_stand_beside_the_picked_one(desk: Opened) -> None:
    front = steered_front()
    desk.pick(7)
    desk.page.click("#pin")
    desk.page.click("#pin-baseline")
    desk.pick(1)
    lines = desk.source("corner_lines")
    assert len(lines["xs"]) == 3 * 5
    assert len(set(lines["dash"])) == len(set(lines["colour"])) == len(set(desk.source("shown")["marker"])) == 3
    assert len(desk.source("lines_camber")["xs"]) == 3
    heads = desk.page.locator("#compare thead th").all_inner_texts()
    assert [head.split("\u2715")[0].strip() for head in heads[1:4]] == [
        "\N{BLACK CIRCLE} row 2",
        "\N{BLACK SQUARE} row 8",
        "\N{BLACK UP-POINTING TRIANGLE} baseline",
    ]
    baseline = baseline_of(front.scenario)
    assert baseline is not None
    measured = shown(front.scenario, baseline.measures())
    line = desk.page.locator("#compare tr", has_text="Scrub (mm)").locator("td").all_inner_texts()
    values = (front.table["scrub"][1], front.table["scrub"][7], measured["scrub"])
    assert line[:3] == [f"{value:.1f}" for value in values]
    desk.page.locator("#compare button").first.click()
    assert len(desk.source("corner_lines")["xs"]) == 2 * 5


def test_command_is_copied_and_a_shell_reads_it(desk: Opened) -> None:
    desk.pick(11)
    desk.page.click("#copy")
    desk.page.wait_for_selector("#copied:has-text('copied')")
    copied = desk.page.evaluate("navigator.clipboard.readText()")
    assert copied == desk.page.locator("#command").input_value()
    assert shlex.split(copied) == ["pivotfront", "pick", str(desk.folder), "--id", "12"]


def test_saved_rows_are_lines_of_the_table(desk: Opened, tmp_path: Path) -> None:
    lines = (desk.folder / "front.csv").read_text(encoding="utf-8").splitlines()
    table = steered_front().frame
    bound = round(float(table["scrub"].quantile(0.2)), 1)
    desk.wish("scrub", str(bound))
    left = np.flatnonzero(table["scrub"] <= bound)
    assert save(desk, tmp_path / "left.csv") == [lines[0], *(lines[row + 1] for row in left)]
    for row in left[:2]:
        desk.page.locator(f'#table tr[data-row="{row}"] input').check()
    assert desk.marked() == left[:2].tolist()
    assert save(desk, tmp_path / "marked.csv") == [lines[0], *(lines[row + 1] for row in left[:2])]
    desk.page.click("#unmark")
    assert desk.marked() == []


def save(desk: Opened, file: Path) -> list[str]:
    with desk.page.expect_download() as started:
        desk.page.click("#save")
    started.value.save_as(file)
    return file.read_text(encoding="utf-8").splitlines()


def test_dragging_marks_rows_in_every_plot_and_in_the_list(desk: Opened) -> None:
    table = steered_front().frame
    x, y = table["camber_error_deg"], table["scrub"]
    corners = [(float(x.quantile(share)), float(y.quantile(share))) for share in (0.3, 0.7)]
    begin, end = (desk.pixel("trade_a", *corner) for corner in corners)
    desk.page.mouse.move(*begin)
    desk.page.mouse.down()
    for share in (0.3, 0.6, 1.0):
        desk.page.mouse.move(*(b + share * (e - b) for b, e in zip(begin, end, strict=True)))
    desk.page.mouse.up()
    desk.page.wait_for_selector("#save:has-text('marked')")
    (left, low), (right, high) = corners
    inside = set(np.flatnonzero(x.between(left, right) & y.between(low, high)))
    marked = set(desk.marked())
    # a pixel at the edge, and half a dot, decide a few either way
    assert len(inside ^ marked) <= 0.15 * len(inside)
    assert set(checked(desk)) == marked
    assert f"Save the {len(marked)} marked" in desk.page.inner_text("#save")


def checked(desk: Opened) -> list[int]:
    script = "boxes => boxes.filter(box => box.checked).map(box => Number(box.closest('tr').dataset.row))"
    found: list[int] = desk.page.locator("#table input").evaluate_all(script)
    return found


def test_everything_is_reached_with_the_keyboard(desk: Opened) -> None:
    press = desk.page.keyboard.press
    desk.page.locator("#first-list button").first.focus()
    press("Enter")
    assert desk.head().startswith("\N{BLACK CIRCLE} Row 1")
    desk.page.locator("#table tbody tr th button").first.focus()
    press("ArrowDown")
    press("ArrowDown")
    press("Enter")
    assert desk.head().startswith("\N{BLACK CIRCLE} Row 3")
    press("m")
    assert desk.marked() == [2]
    press("ArrowDown")
    press("p")
    assert "row 4" in desk.page.inner_text("#compare thead")
    desk.page.locator("#travel").focus()
    press("End")
    assert "full bump" in desk.page.inner_text("#travel-word")
    column = OBJECTIVES[1].column
    slider = desk.page.locator(f'[id="wish-{column}"]')
    slider.focus()
    press("PageDown")
    assert (
        desk.rows("hidden")
        == np.flatnonzero(steered_front().frame[column] > float(desk.entry(column).input_value())).tolist()
    )
    script = "controls => controls.filter(control => control.tabIndex < 0 && !control.closest('#table')).length"
    assert desk.page.locator("button, select, input").evaluate_all(script) == 0


def test_axes_and_colour_are_the_reader_s_choice(desk: Opened) -> None:
    table = steered_front().frame
    desk.page.select_option("#b-across", "arm_length")
    desk.page.select_option("#b-up", "bump_steer_deg")
    rows = desk.source("rows")
    assert (rows["b_x"], rows["b_y"]) == (table["arm_length"].tolist(), table["bump_steer_deg"].tolist())
    desk.page.select_option("#colour", "droop_limit")
    rows = desk.source("rows")
    best, worst = int(table["droop_limit"].idxmax()), int(table["droop_limit"].idxmin())
    # darker and larger: nobody has to tell colours apart
    assert sum(bytes.fromhex(rows["fill"][best][1:])) < sum(bytes.fromhex(rows["fill"][worst][1:]))
    assert rows["size"][best] > rows["size"][worst]


def test_lengths_are_fractions_of_an_inch_as_the_tape_shows_them(browser: Browser, inches: Path) -> None:
    front, opened = brief_front("buggy_inch"), Opened(browser, inches)
    unit, step = front.scenario.unit, front.scenario.build.round_to
    names = ["pivot_y", "pivot_z", "arm_length"]
    script = "rows => rows.map(row => [...row.cells].slice(2, 5).map(cell => cell.textContent))"
    cells = opened.page.locator("#table tbody tr").evaluate_all(script)
    meant = [[unit.tape(float(front.table[name][row]), step) for name in names] for row in range(len(front))]
    assert [[f"{cell} in" for cell in row] for row in cells] == meant
    opened.pick(0)
    opened.move("-3 5/8")
    assert opened.page.locator("#travel-text").input_value() == "-3 5/8"
    assert opened.source("dots_camber")["x"] == [-3.625]
    opened.wish("scrub", "2 1/2")
    assert opened.rows("hidden") == np.flatnonzero(front.frame["scrub"] > 2.5).tolist()
    assert opened.page.locator("#steer-line").is_hidden()
    assert opened.troubles == []
    opened.context.close()


@pytest.mark.parametrize("traded", ["scrub", "bump_steer_deg"])
def test_front_of_one_wish_without_bodywork_or_baseline(
    browser: Browser, tmp_path: Path, traded: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("optimizer.front_search.ROWS", 30)
    text = (SCENARIOS / "buggy.toml").read_text(encoding="utf-8")
    kept = re.sub(r"(?ms)^\[(bodywork|baseline|targets)\].*?(?=^\[|\Z)", "", text)
    curve = "camber_curve = [[-220.0, -2.0], [0.0, 0.0], [180.0, -1.0]]"
    off = "\n".join(
        f"{o.column} = {{ objective = {str(o.column == traded).lower()} }}" for o in OBJECTIVES if not o.needs
    )
    front = search(parse_scenario(f"{kept}\n[targets]\n{curve}\n{off}\n"), budget=400)
    assert [o.column for o in front.problem.traded] == [traded]
    write_with_page(front, tmp_path)
    opened = Opened(browser, tmp_path)
    assert opened.page.locator("#wish-list .wish").count() == 1
    assert opened.page.locator("#pin-baseline").is_hidden()
    opened.pick(0)
    assert "gap to bodywork" not in opened.page.inner_text("#now")
    assert len(opened.source("corner_lines")["xs"]) == 5
    assert opened.troubles == []
    opened.context.close()


def test_phone_held_sideways(browser: Browser, steered: Path) -> None:
    opened = Opened(browser, steered, PHONE, touch=True)
    page, table = opened.page, steered_front().frame
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.click("#closer")
    page.touchscreen.tap(*opened.pixel("view", table["pivot_y"][0], table["pivot_z"][0]))
    page.wait_for_selector("#card-head:has-text('Row')")
    for part in ("#view", "#travel", "#steer", "#now", "#card-head", "#pin"):
        box = page.locator(part).bounding_box()
        assert box is not None
        assert box["y"] >= 0, part
        assert box["y"] + box["height"] <= PHONE["height"], part
    page.locator("#trade_a").scroll_into_view_if_needed()
    view = page.locator("#view").bounding_box()
    assert view is not None
    assert view["y"] >= 0  # the corner stays in sight
    assert opened.troubles == []
    opened.context.close()
