"""The build sheet: one page, every number on it that of the candidate, both ways to measure, room to write."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from objectives.inverse import static_camber_for
from optimizer.build_page import write_page
from optimizer.build_sheet import build_blocks, spread, stand_height
from optimizer.candidate import Candidate, with_inner_joint
from optimizer.page import Block, Heading, Points, Table, Text, as_html, as_markdown
from optimizer.rationale import CAUTIONS
from optimizer.shop_corner import HEIGHTS, ShopCorner
from optimizer.shop_words import decimal, fraction, shop
from optimizer.tiling import PAPERS
from optimizer.units import INCH, MM
from tests.printed import Print
from tests.shop_cases import TEXTS, TITLE, candidate


@cache
def blocks_of(name: str) -> list[Block]:
    return build_blocks(ShopCorner(candidate(name)))


def tables(name: str) -> list[Table]:
    return [block for block in blocks_of(name) if isinstance(block, Table)]


def printed(name: str, paper: str, folder: Path, blocks: Sequence[Block], title: str = "row 3 of something") -> Print:
    write_page(folder / "sheet.pdf", candidate(name).scenario, "Build sheet", title, blocks, PAPERS[paper])
    return Print(folder / "sheet.pdf")


def with_cautions(blocks: Sequence[Block]) -> list[Block]:
    return [*blocks, Heading("Cautions"), Points(CAUTIONS)]


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, str], Print]:
    """Return a function that prints the sheet of a candidate on a paper, once."""
    folder = tmp_path_factory.mktemp

    return cache(lambda name, paper: printed(name, paper, folder("sheet"), with_cautions(blocks_of(name))))


# what has most to say in the widest columns, on both papers; the others have less, and one each shows that it fits
@pytest.mark.parametrize(
    ("name", "paper"),
    [("plain", "letter"), ("inches", "a4"), ("full", "a4"), ("full in inches", "a4"), ("full in inches", "letter")],
)
def test_one_page_that_fits_the_paper_with_every_caution(
    name: str, paper: str, sheets: Callable[[str, str], Print]
) -> None:
    sheet = sheets(name, paper)
    assert len(sheet) == 1
    assert sheet.size(0) == pytest.approx((PAPERS[paper].width, PAPERS[paper].height), abs=0.01)
    assert sheet.margin(0) > 10.0
    text = sheet.text(0)
    for words in (*CAUTIONS, "Where the brackets go", "Lengths and stops", "Measure the tacked car", "measured by"):
        assert words in text
    for height in HEIGHTS:
        assert height in text


def test_the_same_pick_gives_the_same_bytes(sheets: Callable[[str, str], Print], tmp_path: Path) -> None:
    again = printed("full", "a4", tmp_path, with_cautions(build_blocks(ShopCorner(candidate("full")))))
    assert sheets("full", "a4").path.read_bytes() == again.path.read_bytes()


@pytest.mark.parametrize("title", [TITLE, "", "\x07\n\x1b", "y" * 3000, "$\\frac{1}$"])
def test_any_title_prints(title: str, tmp_path: Path) -> None:
    assert "Where the brackets go" in printed("plain", "letter", tmp_path, blocks_of("plain")[:3], title).text(0)


def test_brackets_from_the_datum_and_from_the_second_reference() -> None:
    head, rows = tables("full")[0].head, {row[0]: row for row in tables("full")[0].rows}
    assert head[1:8] == ["x", "y", "z", "x from 2nd", "y from 2nd", "z from 2nd", "held to"]
    pivot = rows["upper inner pivot"]
    assert pivot[1:8] == ["0.0", "275.0", "232.0", "-20.0", "70.0", "197.0", "\N{PLUS-MINUS SIGN}1.5"]
    assert pivot[8:] == ["", "", ""]
    assert "inner tie-rod joint, hole 10 mm" in rows
    # bushing on the axis through (0, 275, 232): kick-up 9, plan angle 3 deg, at x = 120
    y, z = 275.0 + 120.0 * np.tan(np.radians(3.0)), 232.0 + 120.0 * np.tan(np.radians(9.0)) / np.cos(np.radians(3.0))
    assert rows["upper inner pivot, front bushing"][1:4] == ["120.0", f"{y:.1f}", f"{z:.1f}"]
    words = " ".join(block.text for block in blocks_of("full") if isinstance(block, Text))
    assert "Second reference: lower front tube, at x 20 mm, y 205 mm, z 35 mm" in words
    plain = tables("plain")[0]
    assert plain.head[1:5] == ["x", "y", "z", "held to"]


def test_inches_stand_as_decimals_and_as_fractions_of_the_tape() -> None:
    pivot = next(row for row in tables("inches")[0].rows if row[0] == "upper inner pivot")
    assert pivot[2:4] == ["10.827\n10 13/16", "9.134\n9 1/8"]
    lengths = {row[0]: row[1:] for row in tables("inches")[1].rows}
    arm = next(cells for words, cells in lengths.items() if words.startswith("upper arm, eye to eye"))
    length = candidate("inches").measures()["arm_length"]
    assert arm[:2] == [f"{length:.1f}", f"{length / 25.4:.3f}"]
    whole, part = arm[2].split()
    assert abs(float(Fraction(whole) + Fraction(part)) * 25.4 - length) <= 25.4 / 32.0


@pytest.mark.parametrize("name", TEXTS)
def test_check_list_is_what_the_curves_say(name: str) -> None:
    asked = candidate(name)
    built, unit, travel = ShopCorner(asked), asked.scenario.unit, asked.scenario.corner.travel
    rows = tables(name)[2].rows
    assert [row[0] for row in rows] == list(HEIGHTS)
    at = [-travel.droop, -travel.droop / 2, 0.0, travel.bump / 2, travel.bump]
    curves = asked.curves(np.array(at))
    half = 0.051 if unit is MM else 0.00051
    for row, cells in enumerate(rows):
        numbers = [float(cell.split("\n")[0]) for cell in cells[1:8]]
        wheel, contact = unit.from_mm(curves.wheel[:, 0, row]), unit.from_mm(curves.contact[:, 0, row])
        stand = unit.from_mm(stand_height(built))
        lengths = [unit.from_mm(np.array(at[row])), stand + wheel[2], wheel[2], contact[1], contact[0]]
        assert [*numbers[:3], *numbers[5:]] == pytest.approx([float(v) for v in lengths], abs=half)
        angles = np.degrees([curves.camber[0, row], curves.toe[0, row]])
        assert numbers[3:5] == pytest.approx(angles, abs=0.0051)
        assert cells[8:] == ["", "", "", ""]


def test_on_the_stands_the_wheel_hangs_free_at_full_droop() -> None:
    for name in ("plain", "inches"):
        built = ShopCorner(candidate(name))
        lowest = built.at("wheel", 0)[2] - 368.0
        free = stand_height(built) + lowest
        assert 50.0 <= free < 50.0 + 51.0
        assert built.scenario.unit.from_mm(stand_height(built)) % (50.0 if name == "plain" else 2.0) == 0.0


def test_lengths_are_those_measured_and_those_of_the_stops() -> None:
    built = ShopCorner(candidate("full"))
    rows = {row[0]: float(row[1]) for row in tables("full")[1].rows}
    stops = built.stops
    curves = candidate("full").curves(np.array([-stops.droop, stops.bump]))
    for words, length in (
        ("tie rod, eye to eye", built.found["tie_rod_length"]),
        ("droop stop: wheel centre below ride", stops.droop),
        ("bump stop: wheel centre above ride", stops.bump),
        ("limit strap between its points, taut at the droop stop", stops.strap),
        ("shock, eye to eye at the droop stop", curves.shock_length[0, 0]),
        ("shock, eye to eye at the bump stop", curves.shock_length[0, 1]),
    ):
        assert rows[words] == pytest.approx(length, abs=0.051)


def test_what_tolerances_do_is_reached_and_hardly_passed_at_the_corners_of_the_squares() -> None:
    """Every combination of the upper bracket and the inner joint at their tolerances, measured as candidates."""
    asked = candidate("plain")
    built, worst = ShopCorner(asked), np.zeros(3)
    signs = np.array(np.meshgrid(*[(-1.5, 1.5)] * 4)).reshape(4, -1)
    y, z = 275.0 + signs[0], 232.0 + signs[1]
    cambers = static_camber_for(asked.scenario.corner, y, z, np.full(y.size, built.found["arm_length"]))
    for *bracket, joint_y, joint_z in zip(y, z, cambers, 239.0 + signs[2], 91.0 + signs[3], strict=True):
        pivot = Candidate(asked.scenario, *(float(value) for value in bracket))
        moved = with_inner_joint(pivot, float(joint_y), float(joint_z))
        curves = moved.curves(built.travels)
        change = [
            np.abs(curves.camber - built.curves.camber).max(),
            np.abs(curves.toe - built.curves.toe).max(),
            np.abs(curves.contact[1] - built.curves.contact[1]).max(),
        ]
        worst = np.maximum(worst, change)
    # first order only, and the parts' signs need not agree: no more than a tenth over, never below half
    said = np.array(spread(built))
    assert (said > 0.5 * worst).all()
    assert (worst < 1.1 * said).all()


@pytest.mark.parametrize(
    ("length", "words"),
    [(480.0, "18 29/32 in"), (25.4, "1 in"), (-12.7, "-1/2 in"), (0.0, "0 in"), (0.3, "0 in"), (0.5, "1/32 in")],
)
def test_fractions_of_a_metric_length_are_the_nearest_32nds(length: float, words: str) -> None:
    assert fraction(candidate("plain").scenario, length) == words


def test_decimals_never_show_a_minus_zero() -> None:
    assert decimal(MM, -0.01) == "0.0 mm"
    assert decimal(INCH, -0.001) == "0.000 in"
    assert decimal(MM, -10.0) == "-10.0 mm"
    assert shop(candidate("inches").scenario, 480.0) == "18.898 in (18 7/8 in)"


def test_a_height_the_wheel_does_not_get_to_is_said(tmp_path: Path) -> None:
    from dataclasses import replace

    built = ShopCorner(replace(candidate("plain"), pivot_y=395.0, pivot_z=315.0))
    blocks = build_blocks(built)
    check_list = [block for block in blocks if isinstance(block, Table)][2]
    assert "locks" in check_list.rows[0]
    assert "locks" not in check_list.rows[2]
    write_page(tmp_path / "a.pdf", built.scenario, "Build sheet", "x", blocks, PAPERS["a4"])
    assert len(Print(tmp_path / "a.pdf")) == 1


def test_in_a_report_a_fraction_stands_below_its_decimal() -> None:
    blocks = blocks_of("inches")
    assert "<td>10.827<br>10 13/16</td>" in as_html("x", blocks)
    assert "| 10.827 = 10 13/16 |" in as_markdown(blocks)
