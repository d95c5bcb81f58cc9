"""A report's blocks on one printed page: headings, paragraphs and tables with room to write, as large as they fit."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from optimizer.lettering import LEADING, MM_PER_POINT, text_size
from optimizer.page import Block, Heading, Points, Table, Text
from optimizer.printing import Page, broken, shortened, write_pdf
from optimizer.scenario import Scenario
from optimizer.tiling import MARGIN, Paper

SIZES = (8.5, 8.0, 7.5, 7.0, 6.5, 6.2, 5.9, 5.6, 5.3, 5.0, 4.7, 4.4)
"""Letter sizes tried, largest first, points."""
CELL = 1.1  # mm between a cell's words and its lines
LEAST_FIRST = 25.0  # mm: width of the first column, whose words may break into lines
LEAST_TO_WRITE = 12.0  # mm: width of a cell to write into
LOWEST_ROW = 5.2  # mm, so that a pencil finds room


def write_page(path: Path, scenario: Scenario, title: str, name: str, blocks: Sequence[Block], paper: Paper) -> None:
    """Write blocks to a PDF of one page, under a title and the name of what it is of."""
    for size in SIZES:
        page = Page(paper.width, paper.height)
        left = _fill(page, title, name, blocks, size)
        if left >= MARGIN:
            break
    write_pdf(path, scenario, f"{name}: {title.lower()}", [page])


def _fill(page: Page, title: str, name: str, blocks: Sequence[Block], size: float) -> float:
    """Put everything on a page; return how far above its lower edge it ends, mm, negative where it does not fit."""
    width, top = page.width - 2.0 * MARGIN, page.height - MARGIN
    top = page.paragraph(MARGIN, top, width, title, 1.8 * size, weight="bold")
    top = page.paragraph(MARGIN, top, width, shortened(name, width, 1.2 * size, True), 1.2 * size, weight="bold") - 0.5
    for block in blocks:
        match block:
            case Heading(text):
                top = page.paragraph(MARGIN, top - 1.0, width, text, 1.2 * size, weight="bold") - 0.3
            case Text(text):
                top = page.paragraph(MARGIN, top, width, text, size) - 0.5
            case Points(items):
                for item in items:
                    top = page.paragraph(MARGIN, top, width, f"\N{BULLET} {item}", size)
            case Table():
                top = _table(page, top, block, size) - 1.0
            case _:
                raise TypeError(f"{type(block).__name__} has no place on a printed page")
    return top


def _table(page: Page, top: float, table: Table, size: float) -> float:
    """Draw a table over the page's whole width; empty columns share what is left, to be written into.

    Returns where the next may begin, or minus infinity where the table is wider than the page.
    """
    full = page.width - 2.0 * MARGIN
    columns = [[row[n] for row in table.rows] for n in range(len(table.head))]
    empty = np.array([not any(column) for column in columns])
    needed = np.array([max((text_size(cell, size)[0] for cell in column), default=0.0) for column in columns])
    # a head may break into lines, but not inside a word
    words = [max((text_size(word, size, True)[0] for word in head.split()), default=0.0) for head in table.head]
    widths = np.maximum(np.maximum(needed, words), np.where(empty, LEAST_TO_WRITE, 0.0)) + 2.0 * CELL + 0.05
    spare = full - widths.sum()
    if spare >= 0.0:
        widths = widths + (spare * empty / empty.sum() if empty.any() else spare / len(widths))
    else:  # the first column breaks into lines
        widths[0] = max(LEAST_FIRST, widths[0] + spare)
        if widths.sum() > full + 0.01:
            return -np.inf  # too wide in letters of this size
    heads = [broken(head, width - 2.0 * CELL, size, bold=True) for head, width in zip(table.head, widths, strict=True)]
    to_left = [number == 0 or bool(blank) for number, blank in enumerate(empty)]
    top = _row(page, top, heads, widths, to_left, size, bold=True, least=0.0)
    for row in table.rows:
        cells = [broken(cell, width - 2.0 * CELL, size) for cell, width in zip(row, widths, strict=True)]
        top = _row(page, top, cells, widths, to_left, size, bold=False, least=LOWEST_ROW * size / 8.0)
    return top


def _row(
    page: Page,
    top: float,
    cells: list[list[str]],
    widths: np.ndarray,
    to_left: list[bool],
    size: float,
    *,
    bold: bool,
    least: float,
) -> float:
    height = max(least, max(map(len, cells)) * size * LEADING * MM_PER_POINT + 0.8)
    x = MARGIN
    for lines, width, left in zip(cells, widths, to_left, strict=True):
        page.box(np.array([x, top - height]), np.array([x + width, top]), 0.35 if bold else 0.13)
        at, side = (x + CELL, "left") if left else (x + width - CELL, "right")
        look: dict[str, Any] = {
            "ha": side,
            "va": "center",
            "multialignment": side,
            "weight": "bold" if bold else "normal",
        }
        if any(lines):
            page.text((at, top - 0.5 * height), "\n".join(lines), size, **look)
        x += float(width)
    return top - height
