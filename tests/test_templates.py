"""The 1:1 templates as they lie on paper: rasterised by a PDF engine of its own and measured on the dots.

What a length on paper ought to be is worked out here from the points in space: an arm is as long as its outer pivot is
far from the line of its inner axis, |(P - A) x d|; the axis' direction from kick-up k and plan angle p is
(cos k cos p, cos k sin p, sin k), as the README's table of words has them. A tenth of a mm is asked for on paper; a
dot is a twentieth.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from optimizer.arm_plane import ArmPlane
from optimizer.drawing import View
from optimizer.lettering import lettered
from optimizer.shop_corner import RIDE, ShopCorner
from optimizer.template_pages import PAPER_NAMES, write_template
from optimizer.template_views import plane_of, views_of
from optimizer.tiling import MARGIN, OVERLAP, PAPERS, STRIP, Tiling, ink, tiled, whole
from tests.printed import DOTS, Print
from tests.shop_cases import TEXTS, TITLE, candidate

ON_PAPER = 0.1  # mm, what the sheets promise
SIZES = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (8.5 * 25.4, 11.0 * 25.4)}  # ISO 216; 8 1/2 x 11 in
NAME = "row 3 of something"

Printed = Callable[[str, str], Print]
PRINTS = [("plain", "a4"), ("full", "a4"), ("full", "a3"), ("full", "letter"), ("full in inches", "letter")]
"""Candidate and paper of every print on sheets: views know no paper and sheets know no candidate."""
ROLLS = ("plain", "full in inches", "full")
WHOLE = {("plain", "a4"), ("full", "a3")}
"""Prints with the front view, which takes most sheets; arms and spindle, on several sheets and on one, stand for it."""


@cache
def shop_corner(name: str) -> ShopCorner:
    return ShopCorner(candidate(name))


@cache
def views(name: str) -> list[View]:
    return views_of(shop_corner(name))


@cache
def tiling(name: str, number: int, paper: str) -> Tiling:
    """How a view of a candidate lies on a paper; views are numbered from 0."""
    view = views(name)[number]
    return whole(view) if paper == "roll" else tiled(view, PAPERS[paper])


def first_view(name: str, paper: str) -> int:
    """Number of the first view that is printed."""
    return 0 if paper == "roll" or (name, paper) in WHOLE else 1


@pytest.fixture
def few_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the cautions of every sheet at one word: most of its letters, which all have to be drawn."""
    monkeypatch.setattr("optimizer.template_pages.SHORT_CAUTIONS", "Cautions")


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Printed:
    """Return a function that prints the templates of a candidate on a paper, once."""
    folder, done = tmp_path_factory.mktemp("templates"), {}

    def get(name: str, paper: str) -> Print:
        if (name, paper) not in done:
            path = folder / f"{name}_{paper}.pdf"
            shown = views(name)[first_view(name, paper) :]
            count = write_template(path, shop_corner(name), shown, paper, NAME)
            done[name, paper] = Print(path)
            assert len(done[name, paper]) == count
        return done[name, paper]

    return get


def direction(kick_up: float, plan_angle: float) -> np.ndarray:
    k, p = np.radians([kick_up, plan_angle])
    return np.array([np.cos(k) * np.cos(p), np.cos(k) * np.sin(p), np.sin(k)])


def arm_length(outer: np.ndarray, on_axis: Sequence[float], axis: np.ndarray) -> float:
    return float(np.linalg.norm(np.cross(outer - np.array(on_axis), axis)))


def on_sheet(tiling: Tiling, cell: tuple[int, int], at: np.ndarray) -> tuple[float, float]:
    """Where a place of a drawing should be on its sheet: only to know where to look."""
    x, y = np.array([MARGIN, MARGIN + STRIP]) + at - tiling.window(cell)[0]
    return float(x), float(y)


def sheet_with(tiling: Tiling, at: np.ndarray, clear: float) -> tuple[int, int]:
    """A sheet that shows a place, so far from its edges."""
    for cell in tiling.cells:
        low, high = tiling.window(cell)
        if (at > low + clear).all() and (at < high - clear).all():
            return cell
    raise AssertionError(f"no sheet shows {at}")


@pytest.mark.parametrize(("name", "paper"), PRINTS)
def test_every_sheet_has_its_size_and_both_bars(
    printed: Printed, name: str, paper: str, figures: Callable[[str, str], None]
) -> None:
    sheets, worst = printed(name, paper), 0.0
    for page in range(len(sheets)):
        size = sheets.size(page)
        assert size in (pytest.approx(SIZES[paper], abs=0.01), pytest.approx(SIZES[paper][::-1], abs=0.01))
        bars = _bars(sheets, page)
        assert bars == [pytest.approx(100.0, abs=ON_PAPER), pytest.approx(4.0 * 25.4, abs=ON_PAPER)]
        worst = max(worst, abs(bars[0] - 100.0), abs(bars[1] - 101.6))
    figures(f"check bars of the {name} candidate on {paper}", f"{worst:.3f} mm off")


def _bars(sheets: Print, page: int) -> list[float]:
    """Lengths of the two bars of a page, from below: the rows in which the dark reaches from the margin over 90 mm."""
    dark = sheets.dark(page, (MARGIN - 2.0, MARGIN), (MARGIN + 104.0, MARGIN + STRIP - 4.0))
    edges = np.flatnonzero(dark.sum(axis=1) > 90 * DOTS)  # a bar's lower and upper edge are dark all along
    bars = np.split(edges, np.flatnonzero(np.diff(edges) > 4 * DOTS) + 1)
    assert len(bars) == 2
    ink = [np.flatnonzero(dark[rows[0] : rows[-1] + 1].any(axis=0)) for rows in bars]
    return [float(columns[-1] - columns[0] + 1) / DOTS for columns in ink]


def test_the_roll_has_both_bars(printed: Printed) -> None:
    for name in ROLLS:
        sheets = printed(name, "roll")
        assert len(sheets) == 1
        assert _bars(sheets, 0) == [pytest.approx(100.0, abs=ON_PAPER), pytest.approx(101.6, abs=ON_PAPER)]


@pytest.mark.parametrize("paper", PAPER_NAMES)
def test_the_file_asks_to_be_printed_unscaled(printed: Printed, paper: str) -> None:
    root = PdfReader(printed("full", paper).path).trailer["/Root"]
    assert root["/ViewerPreferences"]["/PrintScaling"] == "/None"


@pytest.mark.parametrize("paper", ["a4", "roll"])
def test_the_same_pick_gives_the_same_bytes(printed: Printed, paper: str, tmp_path: Path) -> None:
    built = ShopCorner(candidate("full"))
    write_template(tmp_path / "two", built, views_of(built)[first_view("full", paper) :], paper, NAME)
    assert printed("full", paper).path.read_bytes() == (tmp_path / "two").read_bytes()


@pytest.mark.parametrize(("name", "paper"), PRINTS)
def test_arms_are_as_long_on_taped_sheets_as_in_space(
    printed: Printed, name: str, paper: str, figures: Callable[[str, str], None]
) -> None:
    """Eye to eye over several sheets, each place measured from a cross that both sheets have."""
    built, sheets, worst = shop_corner(name), printed(name, paper), 0.0
    arms, axes = views(name)[1], ((0, 0), (0, 0)) if name == "plain" else ((9, 3), (6, -2))
    taped, first = tiling(name, 1, paper), 1 if first_view(name, paper) else 1 + len(tiling(name, 0, paper).cells)
    outers = (built.at("upper_outer"), built.at("lower_outer"))
    inners = ((0.0, 275.0, 232.0), (0.0, 225.0, 15.0))
    crosses = _cross_places(sheets, taped, first)
    for outer, on_axis, angles, drawn in zip(outers, inners, axes, _arm_ends(arms), strict=True):
        length = arm_length(outer, on_axis, direction(*angles))
        inner_at, outer_at = (_taped(sheets, taped, first, crosses, at) for at in drawn)
        worst = max(worst, abs(float(np.linalg.norm(outer_at - inner_at)) - length))
    figures(f"arms of the {name} candidate on {paper}, eye to eye on paper", f"{worst:.3f} mm off")
    assert worst < ON_PAPER


def _arm_ends(view: View) -> list[tuple[np.ndarray, np.ndarray]]:
    """Where the arm templates' ends are drawn, the upper arm's first: only to know where to look."""
    lines = [next(line for line in view.lines if line.part == part) for part in ("upper_arm", "lower_arm")]
    return [(line.points[0], line.points[1]) for line in lines]


def _cross_places(sheets: Print, tiling: Tiling, first: int) -> dict[tuple[int, int], np.ndarray]:
    """Where every cross lies when the sheets are taped, from the dots alone: sheet by sheet from the first."""
    across, up = tiling.lines()
    placed: dict[tuple[int, int], np.ndarray] = {}
    waiting = list(tiling.cells)
    while waiting:
        for cell in waiting:
            corners = [(i, j) for i in (cell[0], cell[0] + 1) for j in (cell[1], cell[1] + 1)]
            seen = {
                (i, j): sheets.cross(
                    first + tiling.cells.index(cell), on_sheet(tiling, cell, np.array([across[i], up[j]]))
                )
                for i, j in corners
            }
            shared = [corner for corner in corners if corner in placed]
            if shared or not placed:
                shift = np.mean([placed[c] - seen[c] for c in shared], axis=0) if shared else np.zeros(2)
                placed |= {corner: at + shift for corner, at in seen.items() if corner not in placed}
                waiting.remove(cell)
                break
        else:
            raise AssertionError("the sheets do not hang together")
    return placed


def _taped(
    sheets: Print, tiling: Tiling, first: int, crosses: dict[tuple[int, int], np.ndarray], at: np.ndarray
) -> np.ndarray:
    """Where a centre mark lies on the taped sheets, from the dots: measured from a cross of its own sheet."""
    cell = sheet_with(tiling, at, 5.0) if len(tiling.cells) > 1 else tiling.cells[0]
    page = first + tiling.cells.index(cell)
    across, up = tiling.lines()
    if len(tiling.cells) == 1:
        return sheets.cross(page, on_sheet(tiling, cell, at))
    corner = sheets.cross(page, on_sheet(tiling, cell, np.array([across[cell[0]], up[cell[1]]])))
    return crosses[cell] + sheets.cross(page, on_sheet(tiling, cell, at)) - corner


def test_front_view_on_the_roll_measures_what_space_gives(printed: Printed) -> None:
    """Distances between holes of the front view, both axes alike and level: the view is that along x itself."""
    built, sheets = shop_corner("plain"), printed("plain", "roll")
    roll = tiling("plain", 0, "roll")
    places = {
        "upper inner": np.array([275.0, 232.0]),
        "lower inner": np.array([225.0, 15.0]),
        "inner joint": np.array([239.0, 91.0]),
        "upper outer": built.at("upper_outer")[1:],
        "lower outer": built.at("lower_outer")[1:],
        "contact in bump": built.at("contact", 4)[1:],
        "contact in droop": built.at("contact", 0)[1:],
    }
    low = roll.window((0, 0))[0]
    height = sheets.size(0)[1]
    top = _front_top(sheets, roll)
    found = {name: sheets.cross(0, tuple(at - low + np.array([MARGIN, top]))) for name, at in places.items()}
    assert top < height
    for one, other in combinations(places, 2):
        on_paper = np.linalg.norm(found[one] - found[other])
        assert on_paper == pytest.approx(np.linalg.norm(places[one] - places[other]), abs=ON_PAPER), (one, other)


def _front_top(sheets: Print, tiling: Tiling) -> float:
    """How far above the paper's lower edge the front view begins: found from its long level line, the datum.

    The front view comes first, so that this is the uppermost; arms are drawn level, too.
    """
    width, height = sheets.size(0)
    low, high = tiling.window((0, 0))
    dark = sheets.dark(0, (MARGIN, MARGIN + STRIP), (min(width - MARGIN, MARGIN + 700.0), height - MARGIN))
    needed = 0.5 * (high - low)[0] * DOTS
    rows = np.flatnonzero(dark.sum(axis=1) > needed)
    assert rows.size, "line D is not drawn"
    datum = rows[rows > rows[-1] - DOTS]
    return float(MARGIN + STRIP + (datum.mean() + 0.5) / DOTS + low[1])


@pytest.mark.parametrize(("kick_up", "plan_angle"), [(0.0, 0.0), (6.0, 0.0), (9.0, 3.0), (-4.0, -5.0)])
def test_the_plane_is_square_to_the_axis_and_crosses_datum_and_centre_plane(kick_up: float, plan_angle: float) -> None:
    """Rays along the axis and along x, by solving for where they meet the plane."""
    from objectives.corner import UpperAxis

    axis, pivot = direction(kick_up, plan_angle), np.array([10.0, 275.0, 232.0])
    plane = ArmPlane.of(UpperAxis(10.0, axis), pivot)

    def in_space(flat: np.ndarray) -> np.ndarray:
        return plane.zero + flat[0] * plane.across + flat[1] * plane.up

    rng = np.random.default_rng(5)
    for point in rng.uniform(-500.0, 500.0, (20, 3)):
        seen = in_space(plane.seen(point))
        assert np.cross(seen - point, axis) == pytest.approx(np.zeros(3), abs=1e-9)  # moved along the axis only
        assert (seen - pivot) @ axis == pytest.approx(0.0, abs=1e-9)  # into the plane through the pivot
        cut = in_space(plane.cut(point[None, 1:])[0])
        assert cut[1:] == pytest.approx(point[1:], abs=1e-9)  # moved along x only
        assert (cut - pivot) @ axis == pytest.approx(0.0, abs=1e-9)
    assert plane.zero[1:] == pytest.approx(np.zeros(2), abs=1e-12)
    assert plane.across[2] == 0.0
    assert plane.across[1] > 0.0
    assert plane.up[2] > 0.0


def test_the_upper_arm_keeps_its_length_through_its_swing_and_the_lower_is_said_to_be_short() -> None:
    built = ShopCorner(candidate("full"))
    plane, upper = plane_of(built), direction(9.0, 3.0)
    inner = plane.seen(built.upper_pivot)
    length = arm_length(built.at("upper_outer"), (0.0, 275.0, 232.0), upper)
    reach = np.linalg.norm(plane.seen(built.dense.upper_outer[:, 0]) - inner, axis=1)
    assert reach == pytest.approx(np.full(reach.shape, length), abs=1e-9)
    lower = arm_length(built.at("lower_outer"), (0.0, 225.0, 15.0), direction(6.0, -2.0))
    notes = " ".join(views_of(built)[0].notes)
    assert f"its real length is {lower:.1f} mm" in notes
    assert "leaning back 9.00 deg" in notes
    assert "turned 3.00 deg so that its outboard edge is further back" in notes
    assert "real length" not in " ".join(views("plain")[0].notes)


def test_the_spindle_is_laid_flat_in_its_true_lengths() -> None:
    built = ShopCorner(candidate("plain"))
    lower, upper, joint = np.array([[6, -88, -112], [-18, -112, 118], [-118, -104, -30]], dtype=float)
    view = views_of(built)[2]
    drawn = next(line for line in view.lines if line.part == "spindle").points
    for (a, b), (p, q) in zip(combinations((lower, upper, joint), 2), combinations(drawn[:3], 2), strict=True):
        assert np.linalg.norm(p - q) == pytest.approx(np.linalg.norm(a - b), abs=1e-9)
        assert any(f"{np.linalg.norm(a - b):.1f} mm" == label.text for label in view.labels)
    normal = np.cross(upper - lower, joint - lower)
    off = abs(normal @ lower) / np.linalg.norm(normal)
    assert any(f"{off:.1f} mm square off this plane" in label.text for label in view.labels)
    for point in (lower, upper, joint):
        assert f"{np.linalg.norm(point):.1f} mm" in view.notes[1]


def test_legs_are_drawn_eye_to_eye() -> None:
    built = ShopCorner(candidate("full"))
    for arm, at_x, on_axis, angles, outer in (
        (built.arms[0], (120.0, -120.0), (0.0, 275.0, 232.0), (9, 3), built.at("upper_outer")),
        (built.arms[1], (150.0, -150.0), (0.0, 225.0, 15.0), (6, -2), built.at("lower_outer")),
    ):
        axis = direction(*angles)
        bushings = [np.array(on_axis) + (x - on_axis[0]) / axis[0] * axis for x in at_x]
        assert arm.legs == pytest.approx([np.linalg.norm(outer - b) for b in bushings], abs=1e-9)
        part = "upper_arm" if arm.name == "upper arm" else "lower_arm"
        drawn = [line.points for line in views_of(built)[1].lines if line.part == part and line.look == "heavy"]
        assert [np.linalg.norm(p[1] - p[0]) for p in drawn] == pytest.approx(list(arm.legs), abs=1e-9)


@pytest.mark.parametrize("name", TEXTS)
@pytest.mark.parametrize("paper", ["a4", "a3", "letter", "roll"])
def test_words_lie_clear_of_each_other_and_on_paper(name: str, paper: str) -> None:
    for number, view in enumerate(views(name)):
        paper_as_it_lies = tiling(name, number, paper)
        words = lettered(view, paper_as_it_lies)
        assert len(words) == len(view.labels) > 3
        low, high = (np.array([getattr(placed, edge) for placed in words]) for edge in ("low", "high"))
        beside = (low[:, None] >= high - 1e-9).any(axis=2)
        apart = beside | beside.T | np.eye(len(words), dtype=bool)
        assert apart.all(), [words[place] for place in np.argwhere(~apart)[0]]
        off = np.flatnonzero(~_are_on_paper(low, high, paper_as_it_lies))
        assert not off.size, words[off[0]].label.text


def _are_on_paper(low: np.ndarray, high: np.ndarray, tiling: Tiling) -> np.ndarray:
    """Whether each box has every corner on one sheet or another."""
    corners = np.array([np.stack((x, y), axis=1) for x in (low[:, 0], high[:, 0]) for y in (low[:, 1], high[:, 1])])
    windows = [tiling.window(cell) for cell in tiling.cells]
    shown = [((corners >= left_bottom) & (corners <= right_top)).all(axis=2) for left_bottom, right_top in windows]
    return np.any(shown, axis=0).all(axis=0)


@pytest.mark.parametrize("name", TEXTS)
def test_nothing_drawn_falls_between_sheets(name: str) -> None:
    for number, view in enumerate(views(name)):
        drawn = ink(view)
        for paper in PAPERS:
            sheets, shown = tiling(name, number, paper), np.zeros(len(drawn), dtype=bool)
            for cell in sheets.cells:
                low, high = sheets.window(cell)
                shown |= ((drawn >= low - 1e-9) & (drawn <= high + 1e-9)).all(axis=1)
            assert shown.all()
            assert len(set(sheets.cells)) == len(sheets.cells)


@pytest.mark.parametrize(("name", "paper"), [*PRINTS, *((name, "roll") for name in ROLLS)])
def test_every_sheet_says_what_must_stand_on_it(printed: Printed, name: str, paper: str) -> None:
    sheets = printed(name, paper)
    for page in range(len(sheets)):
        text = sheets.text(page)
        for words in (
            "Print at 100 % (actual size)",
            "100 mm long",
            "4 in long",
            "not a strength check",
            "springs off",
            "never a rod end",
            "qualified people",
            "Local rules",
            NAME,
        ):
            assert words in text, (page, words)
        if paper != "roll":
            assert f"Sheet {page + 1} of {len(sheets)}" in text
        assert sheets.margin(page) > 10.0


def test_neighbours_are_named_and_share_their_crosses(printed: Printed) -> None:
    sheets, front = printed("plain", "a4"), tiling("plain", 0, "a4")
    for number, (column, row) in enumerate(front.cells, 2):
        text = sheets.text(number - 1)
        for step in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            beside = (column + step[0], row + step[1])
            if beside in front.cells:
                assert f"sheet {2 + front.cells.index(beside)}" in text
        for i in (column, column + 1):
            for j in (row, row + 1):
                assert f"{'ABCDEFG'[i]}{j + 1}" in text
    _, high = front.window((0, 0))
    assert np.array(front.window((1, 1))[0]) == pytest.approx(high - OVERLAP, abs=1e-9)


@pytest.mark.usefixtures("few_words")
@pytest.mark.parametrize(
    "name", [TITLE, "", "\x07\x1b[31m\n\ttabs", "x" * 4000, "\N{RIGHT-TO-LEFT OVERRIDE}abc", "a^b%%c\\P{\\H3;}"]
)
def test_any_title_prints(name: str, tmp_path: Path) -> None:
    # a title stands on the first page and on every sheet: few show as much as many, and so they do with little on them
    spindle = replace(views("plain")[2], labels=[], notes=[])
    for paper in ("letter", "roll"):
        write_template(tmp_path / "one.pdf", shop_corner("plain"), [spindle], paper, name)
        assert "Print at 100 %" in Print(tmp_path / "one.pdf").text(0)


@pytest.mark.usefixtures("few_words")
def test_dollar_signs_stay_dollar_signs(tmp_path: Path) -> None:
    title = "cheap at $5 & <b>$x^2$</b> for $6"  # dollars in pairs would begin and end formulas
    write_template(tmp_path / "one.pdf", shop_corner("plain"), views("plain")[2:], "a4", title)
    assert title in Print(tmp_path / "one.pdf").text(0)


@pytest.mark.usefixtures("few_words")
def test_a_candidate_that_locks_is_drawn_as_far_as_it_gets(tmp_path: Path) -> None:
    locking = replace(candidate("plain"), pivot_y=395.0, pivot_z=315.0)
    built = ShopCorner(locking)
    assert not np.isfinite(built.at("upper_outer", 0)).all()
    assert np.isfinite(built.at("upper_outer", RIDE)).all()
    drawn = views_of(built)
    assert "locks before it gets there: full droop" in " ".join(drawn[0].notes)
    write_template(tmp_path / "one.pdf", built, drawn, "a3", NAME)
    assert len(Print(tmp_path / "one.pdf")) > 2


def test_holes_are_as_large_as_their_bearings() -> None:
    view = views("full")[0]
    diameters = {hole.diameter for hole in view.holes}
    assert {10.0, 12.0, 16.0} <= diameters
    assert views("plain")[0].holes
    assert {hole.diameter for hole in views("plain")[0].holes} == {None}


def test_marks_at_round_distances_follow_the_unit() -> None:
    texts = [label.text for label in views("inches")[0].labels]
    assert "y 12 in" in texts
    assert "y 300 mm" in [label.text for label in views("plain")[0].labels]
