"""The templates on paper: a first page that says how, then every view at 1:1 over as many sheets as it takes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from objectives.vectors import Array
from optimizer.drawing import CROSS, Look, View, circle_at, cross_at
from optimizer.lettering import SIZE, Lettered, lettered, text_size
from optimizer.printing import Page, Window, broken, shortened, write_pdf, write_png
from optimizer.shop_corner import ShopCorner
from optimizer.tiling import MARGIN, OVERLAP, PAPERS, STRIP, Paper, Tiling, tiled, whole
from optimizer.units import INCH

ROLL = "roll"
PAPER_NAMES = (*PAPERS, ROLL)
LOOKS: dict[Look, tuple[float, object]] = {
    "heavy": (0.5, "-"),
    "plain": (0.3, "-"),
    "thin": (0.13, "-"),
    "dashed": (0.35, (0, (9, 4))),
    "chained": (0.35, (0, (14, 3, 2, 3))),
    "dotted": (0.25, (0, (1.5, 2.5))),
}
"""Weight in mm and dashes (in line weights) of each look."""
PREVIEW = 230.0  # mm across of a view's picture, so that its words can be read
SCALE_WORDS = 'Print at 100 % (actual size), never "fit to page". Measure both bars before you use this sheet.'
SHORT_CAUTIONS = (
    "Cautions: a computed geometry is not a strength check. Before driving, cycle the real parts by hand through full "
    "travel and both steering locks with springs off. Limit straps and bump stops must stop the travel, never a rod "
    "end. Welds and steering parts are work for qualified people. Local rules and event rulebooks come first."
)


@dataclass(frozen=True)
class Laid:
    """One view laid out on paper: where its sheets lie, its words in their places, the number of its first sheet."""

    view: View
    tiling: Tiling
    words: list[Lettered]
    first: int

    def number(self, cell: tuple[int, int]) -> int | None:
        """Number of a sheet, or None where there is none."""
        return self.first + self.tiling.cells.index(cell) if cell in self.tiling.cells else None


def write_template(path: Path, built: ShopCorner, views: Sequence[View], paper: str, name: str) -> int:
    """Write the templates for one paper, "a4", "a3", "letter" or "roll"; return how many sheets they take.

    Parameters
    ----------
    path
        File to write.
    built
        What is built.
    views
        What is drawn.
    paper
        One of `PAPER_NAMES`.
    name
        What the sheets are called by, such as the scenario's title and the row of the front.
    """
    pages = list(_roll(views, name) if paper == ROLL else _sheets(views, PAPERS[paper], name))
    write_pdf(path, built.scenario, f"{name}: 1:1 templates", pages)
    return len(pages)


def write_previews(folder: Path, built: ShopCorner, views: Sequence[View]) -> list[Path]:
    """Write each view as a picture of a screen's width, no longer at 1:1; return the files."""
    written = []
    for view in views:
        low, high = view.bounds()
        small = view.scaled(PREVIEW / float((high - low)[0]))
        tiling = whole(small)
        page = Page(*tiling.paper.window)
        low, high = tiling.window((0, 0))
        _draw(page, Laid(small, tiling, lettered(small, tiling), 1), -low, (np.zeros(2), high - low))
        written.append(folder / f"{_stem(view)}.png")
        write_png(written[-1], built.scenario, page)
    return written


def _stem(view: View) -> str:
    """Name of a view's picture: "template_front", "template_arm", "template_spindle"."""
    return f"template_{view.name.split()[0].lower()}"


def _sheets(views: Sequence[View], paper: Paper, name: str) -> Iterator[Page]:
    laid, number = [], 2
    for view in views:
        tiling = tiled(view, paper)
        laid.append(Laid(view, tiling, lettered(view, tiling), number))
        number += len(tiling.cells)
    total = number - 1
    yield _first_page(laid, paper, name, total)
    for part in laid:
        for cell in part.tiling.cells:
            yield _sheet(part, cell, name, total)


def _sheet(laid: Laid, cell: tuple[int, int], name: str, total: int) -> Page:
    """One sheet of a view: the drawing inside its window, register marks, and the strip below."""
    paper = laid.tiling.paper
    page = Page(paper.width, paper.height)
    low, high = laid.tiling.window(cell)
    shift = np.array([MARGIN, MARGIN + STRIP]) - low
    _draw(page, laid, shift, (low + shift, high + shift))
    if len(laid.tiling.cells) > 1:
        _register(page, laid, cell, shift)
    _strip(page, name, f"Sheet {laid.number(cell)} of {total}: {laid.view.name}", _cross_words(laid))
    return page


def _draw(page: Page, laid: Laid, shift: Array, window: Window) -> None:
    """Draw what of a view, moved by `shift`, meets a window of the page."""
    for line in laid.view.lines:
        weight, dashes = LOOKS[line.look]
        page.line(line.points + shift, weight, dashes, window)
    for hole in laid.view.holes:
        for stroke in cross_at(hole.at, 0.5 * (hole.diameter or 0.0) + CROSS):
            page.line(stroke + shift, 0.18, "-", window)
        if hole.diameter:
            page.line(circle_at(hole.at, hole.diameter) + shift, 0.35, "-", window)
        else:
            page.line(circle_at(hole.at, 1.0) + shift, 0.18, "-", window)
    for words in laid.words:
        if words.leader is not None:
            page.line(words.leader + shift, 0.13, "-", window)
        if (words.high + shift > window[0]).all() and (words.low + shift < window[1]).all():
            at = 0.5 * (words.low + words.high) + shift
            bold = "bold" if words.label.bold else "normal"
            page.text(at, words.label.text, SIZE, ha="center", va="center", weight=bold, window=window, clear=True)


def _letter(column: int) -> str:
    """A column by letters, A to Z, then AA and on."""
    return chr(ord("A") + column) if column < 26 else _letter(column // 26 - 1) + _letter(column % 26)


def _register(page: Page, laid: Laid, cell: tuple[int, int], shift: Array) -> None:
    """Draw where sheets meet: a line to cut or fold along, named crosses upon it, the neighbours' numbers."""
    across, up = laid.tiling.lines()
    column, row = cell
    (left, bottom), (right, top) = (part + shift for part in laid.tiling.window(cell))
    sides = (
        ((column - 1, row), 0, across[column] + shift[0], 1),
        ((column + 1, row), 0, across[column + 1] + shift[0], -1),
        ((column, row - 1), 1, up[row] + shift[1], 1),
        ((column, row + 1), 1, up[row + 1] + shift[1], -1),
    )
    for neighbour, axis, at, inward in sides:
        number = laid.number(neighbour)
        if number is None:
            continue
        page.line([[at, bottom], [at, top]] if axis == 0 else [[left, at], [right, at]], 0.13, (0, (20, 12)))
        middle = np.array([0.5 * (left + right), 0.5 * (bottom + top)])
        middle[axis] = at + 3.0 * inward
        page.text(middle, f"sheet {number}", 6.5, ha="center", va="center", rotation=90 * (1 - axis), clear=True)
    for i in (column, column + 1):
        for j in (row, row + 1):
            at = np.array([across[i], up[j]]) + shift
            for stroke in cross_at(at, 4.5):
                page.line(stroke, 0.25)
            page.line(circle_at(at, 4.0), 0.18)
            page.text(at + np.array([2.2, 1.2]), f"{_letter(i)}{j + 1}", 6.5, clear=True)


def _cross_words(laid: Laid) -> str:
    """Say how far the crosses of a sheet are apart, to check the paper both ways."""
    if len(laid.tiling.cells) == 1:
        return ""
    across, up = laid.tiling.pitch
    return f"Crosses: {across:.1f} mm ({across / INCH.mm:.2f} in) apart across, {up:.1f} mm ({up / INCH.mm:.2f} in) up."


def _strip(page: Page, name: str, what: str, more: str = "") -> None:
    """Fill the lower edge: check bars, what this is, how to print it, the cautions."""
    top = MARGIN + STRIP - 3.0
    page.line([[MARGIN, top], [page.width - MARGIN, top]], 0.13)
    width = page.width - 2.0 * MARGIN
    size = 6.5
    lines = broken(SHORT_CAUTIONS, width, size)
    page.text((MARGIN, MARGIN), "\n".join(lines), size)
    bars = MARGIN + text_size("\n".join(lines), size)[1] + 2.0
    page.check_bars(MARGIN, bars)
    x = MARGIN + 108.0
    beside = page.width - MARGIN - x
    at = page.paragraph(x, top - 1.0, beside, what, 7.5, weight="bold")
    at = page.paragraph(x, at, beside, shortened(name, beside, 6.5), 6.5)
    at = page.paragraph(x, at - 0.5, beside, SCALE_WORDS, 6.5, weight="bold")
    if more:
        page.paragraph(x, at - 0.5, beside, more, 6.5)


def _first_page(laid: Sequence[Laid], paper: Paper, name: str, total: int) -> Page:
    """The page that says how to use the rest, with the map of the sheets."""
    page = Page(paper.width, paper.height)
    width = paper.width - 2.0 * MARGIN
    at = page.paragraph(MARGIN, paper.height - MARGIN, width, "1:1 templates", 14.0, weight="bold") - 1.0
    at = page.paragraph(MARGIN, at, width, shortened(name, width, 9.0, True), 9.0, weight="bold") - 2.0
    for words in _how_to(total, paper):
        at = page.paragraph(MARGIN, at, width, words, 8.0) - 0.8
    for part in laid:
        at = page.paragraph(MARGIN, at - 1.5, width, f"{part.view.name}, {_sheet_words(part)}", 8.5, weight="bold")
        for words in part.view.notes:
            at = page.paragraph(MARGIN, at - 0.3, width, words, 8.0)
    _map(page, laid, np.array([MARGIN, MARGIN + STRIP]), np.array([paper.width - MARGIN, at - 3.0]))
    _strip(page, name, f"Sheet 1 of {total}: how to use them, and the map of the sheets")
    return page


def _how_to(total: int, paper: Paper) -> list[str]:
    return [
        f"{total} sheets of {paper.name}. {SCALE_WORDS} If a bar is wrong by more than 0.2 mm, the printer scales: set "
        "scaling to none, or have them printed elsewhere.",
        f"Neighbours overlap by {OVERLAP:.0f} mm. Lay sheet over sheet so that crosses of the same name lie on each "
        "other (a light or a pin through both helps), then tape. Thin dashes show where to cut if you would rather "
        "butt the sheets. Check a long distance over several sheets against the build sheet before you trust it.",
    ]


def _sheet_words(laid: Laid) -> str:
    count = len(laid.tiling.cells)
    return f"sheet {laid.first}" if count == 1 else f"sheets {laid.first} to {laid.first + count - 1}"


def _map(page: Page, laid: Sequence[Laid], low: Array, high: Array) -> None:
    """Draw every view small, side by side, under the outlines of its sheets with their numbers."""
    spans = []
    for part in laid:
        lows, highs = zip(*(part.tiling.window(cell) for cell in part.tiling.cells), strict=True)
        spans.append((np.min(lows, axis=0), np.max(highs, axis=0)))
    sizes = np.array([top - bottom for bottom, top in spans])
    gap = 8.0
    room = high - low - np.array([gap * (len(laid) - 1), 5.0])
    scale = min(room[0] / sizes[:, 0].sum(), room[1] / sizes[:, 1].max())
    left = low[0]
    for part, (bottom, top) in zip(laid, spans, strict=True):
        origin = np.array([left, low[1]]) - scale * bottom
        for line in part.view.lines:
            page.line(origin + scale * line.points, 0.13, "-", (np.array([left, low[1]]), origin + scale * top))
        for cell in part.tiling.cells:
            inner_low, inner_high = part.tiling.inner(cell)
            page.box(origin + scale * inner_low, origin + scale * inner_high, 0.3)
            middle = origin + scale * 0.5 * (inner_low + inner_high)
            page.text(middle, str(part.number(cell)), 9.0, ha="center", va="center", weight="bold", clear=True)
        page.text((left, origin[1] + scale * top[1] + 0.5), part.view.name, 6.5)
        left += scale * (top - bottom)[0] + gap


def _roll(views: Sequence[View], name: str) -> Iterator[Page]:
    """One sheet for everything, views one above the other, as wide as the widest of them."""
    laid = []
    for view in views:
        tiling = whole(view)
        laid.append(Laid(view, tiling, lettered(view, tiling), 1))
    spans = [part.tiling.window((0, 0)) for part in laid]
    width = max(300.0, *(float((high - low)[0]) for low, high in spans)) + 2.0 * MARGIN
    beside = width - 2.0 * MARGIN
    notes = [[line for words in part.view.notes for line in broken(words, beside, 9.0)] for part in laid]
    heights = [float((high - low)[1]) + 8.0 + 4.2 * len(words) for (low, high), words in zip(spans, notes, strict=True)]
    page = Page(width, sum(heights) + 2.0 * MARGIN + STRIP + 14.0)
    top = page.height - MARGIN
    top = (
        page.paragraph(
            MARGIN, top, beside, shortened(f"1:1 templates: {name}", beside, 12.0, True), 12.0, weight="bold"
        )
        - 3.0
    )
    for part, (low, high), words in zip(laid, spans, notes, strict=True):
        top = page.paragraph(MARGIN, top, beside, part.view.name, 11.0, weight="bold")
        top = page.paragraph(MARGIN, top, beside, "\n".join(words), 9.0)
        corner = np.array([MARGIN, top - (high - low)[1]])
        _draw(page, part, corner - low, (corner, np.array([page.width - MARGIN, top])))
        top = corner[1]
    size = f"{page.width:.0f} x {page.height:.0f} mm ({page.width / INCH.mm:.1f} x {page.height / INCH.mm:.1f} in)"
    _strip(page, name, f"One sheet of {size}: use a roll at least {min(page.width, page.height):.0f} mm wide")
    yield page
