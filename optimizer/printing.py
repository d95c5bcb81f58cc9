"""Pages in exact millimetres: figures without axes or layout, drawn in mm from the paper's lower left corner."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle
from matplotlib.text import Text
from matplotlib.transforms import Affine2D

from objectives.vectors import Array
from optimizer.lettering import FONT, LEADING, MM_PER_POINT, text_size
from optimizer.scenario import Scenario
from optimizer.sheet import paper as settings
from optimizer.units import INCH

BLACK = "#000000"
CHECK_BARS = ((100.0, 10.0, "100 mm"), (4.0 * INCH.mm, 0.5 * INCH.mm, "4 in"))
"""Length, division, both mm, and words of each check bar."""
BAR_LINE = 0.15  # mm

Window = tuple[Array, Array]
"""Least and greatest corner of a part of a page, mm, shape (2,) each."""


@dataclass
class Page:
    """One page, mm, y upwards. Everything drawn on it is exact: no layout moves it, nothing is cut off to fit."""

    width: float
    height: float

    def __post_init__(self) -> None:
        self.figure = Figure(figsize=(self.width / INCH.mm, self.height / INCH.mm))
        self._mm = Affine2D().scale(1.0 / INCH.mm) + self.figure.dpi_scale_trans

    def _add(self, artist: Any, window: Window | None) -> None:
        artist.set_transform(self._mm)
        self.figure.add_artist(artist)
        if window is not None:
            low, high = window
            artist.set_clip_path(Rectangle((low[0], low[1]), *(high - low), transform=self._mm))

    def line(self, points: object, weight: float = 0.25, dashes: object = "-", window: Window | None = None) -> None:
        """Draw a line, its weight in mm, inside a window where one is given."""
        across, up = np.asarray(points, dtype=float).T
        if window is not None and not _meets(across, up, window):
            return
        style: dict[str, Any] = {"color": BLACK, "linewidth": weight / MM_PER_POINT, "linestyle": dashes}
        self._add(Line2D(across, up, **style, solid_capstyle="butt", dash_capstyle="butt"), window)

    def box(self, low: Array, high: Array, weight: float = 0.25) -> None:
        """Draw a rectangle."""
        (x, y), (right, top) = low, high
        self.line([[x, y], [right, y], [right, top], [x, top], [x, y]], weight)

    def area(self, points: object, shade: str = BLACK) -> None:
        """Fill an area."""
        self._add(Polygon(np.asarray(points, dtype=float), closed=True, facecolor=shade, edgecolor="none"), None)

    def text(self, at: object, words: str, size: float = 8.0, window: Window | None = None, **style: Any) -> None:
        """Write words at a point; it is the lower left of their box unless `ha` and `va` say otherwise."""
        (x, y), clear = np.asarray(at, dtype=float), style.pop("clear", False)
        look = {"ha": "left", "va": "bottom", "linespacing": LEADING, "family": FONT, **style}
        if clear:
            look["bbox"] = {"facecolor": "white", "edgecolor": "none", "pad": 0.6}
        self._add(Text(x, y, printable(words), fontsize=size, color=BLACK, parse_math=False, **look), window)

    def paragraph(self, x: float, top: float, width: float, words: str, size: float = 8.0, **style: Any) -> float:
        """Write words broken to a width, from the top down; return where the next may begin."""
        lines = broken(words, width, size, style.get("weight") == "bold")
        self.text((x, top), "\n".join(lines), size, va="top", **style)
        return top - len(lines) * size * LEADING * MM_PER_POINT

    def check_bars(self, x: float, y: float) -> None:
        """Draw both check bars, one above the other, from (x, y) up."""
        for number, (length, division, words) in enumerate(CHECK_BARS):
            low = y + 9.0 * number
            edge = 0.5 * BAR_LINE  # the line's own ink ends where the bar does
            self.box(np.array([x + edge, low + edge]), np.array([x + length - edge, low + 3.0 - edge]), BAR_LINE)
            for step in range(0, round(length / division), 2):
                left, right = x + step * division, x + min((step + 1) * division, length)
                self.area([[left, low], [right, low], [right, low + 3.0], [left, low + 3.0]])
            self.text((x, low + 3.3), f"this bar is {words} long, end to end", 6.5)


def _meets(across: Array, up: Array, window: Window) -> bool:
    """Whether the box around some points reaches into a window."""
    (left, bottom), (right, top) = window
    beside = across.max() < left or across.min() > right or up.max() < bottom or up.min() > top
    return not beside


def printable(words: str) -> str:
    """Words as one font can show them: no control characters, line ends kept."""
    return "".join(letter if letter.isprintable() or letter == "\n" else " " for letter in words)


def broken(words: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Break words into lines no wider than `width`, mm."""
    lines: list[str] = []
    for paragraph in words.split("\n"):
        line = ""
        for word in paragraph.split():
            for piece in _pieces(word, width, size, bold):
                longer = f"{line} {piece}".strip()
                if line and text_size(longer, size, bold)[0] > width:
                    lines.append(line)
                    line = piece
                else:
                    line = longer
        lines.append(line)
    return lines


def _pieces(word: str, width: float, size: float, bold: bool) -> list[str]:
    """A word that is wider than the line, in pieces that fit; else the word."""
    if text_size(word, size, bold)[0] <= width:
        return [word]
    share = max(1, int(len(word) * width / text_size(word, size, bold)[0] * 0.8))
    return textwrap.wrap(word, share)


def shortened(words: str, width: float, size: float, bold: bool = False) -> str:
    """Words on one line, cut where they do not fit."""
    line = " ".join(printable(words).split())
    while line and text_size(line, size, bold)[0] > width:
        line = line[: max(0, len(line) - 2 - len(line) // 20)].rstrip() + "…" if len(line) > 2 else ""
    return line


def write_pdf(path: Path, scenario: Scenario, title: str, pages: Sequence[Page]) -> None:
    """Write pages to one PDF file that asks to be printed unscaled; the same pages give the same bytes."""
    from pypdf import PdfReader, PdfWriter
    from pypdf.generic import DictionaryObject, NameObject

    draft = BytesIO()
    with settings(scenario), mpl.rc_context({"pdf.fonttype": 3}), PdfPages(draft, metadata=_METADATA) as pdf:
        for page in pages:
            pdf.savefig(page.figure)
    writer = PdfWriter(clone_from=PdfReader(draft))
    writer.add_metadata({"/Title": printable(title), "/Producer": "pivotfront"})
    writer.root_object[NameObject("/ViewerPreferences")] = DictionaryObject(
        {NameObject("/PrintScaling"): NameObject("/None")}
    )
    writer.write(path)


def write_png(path: Path, scenario: Scenario, page: Page) -> None:
    """Write one page as a picture for the screen."""
    with settings(scenario):
        page.figure.savefig(path, dpi=150)


_METADATA: dict[str, Any] = {"CreationDate": None, "ModDate": None, "Creator": None, "Producer": None}
