"""Where the words of a drawing go: beside what they name, clear of each other, of lines and of the joints of sheets."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import cache

import numpy as np

from objectives.vectors import Array
from optimizer.drawing import Label, View
from optimizer.tiling import Tiling, ink

FONT = "DejaVu Sans"  # comes with matplotlib, so that words are as wide everywhere
SIZE = 8.0  # points
LEADING = 1.25  # of the size, from line to line
MM_PER_POINT = 25.4 / 72.0
CLEAR = 1.0  # mm kept around words
NEAR = 2.5  # mm kept from every place that words belong to, so that its mark stays free
AWAY = (4.0, 6.5, 10.0, 15.0, 21.0, 28.0, 36.0, 45.0)  # mm from the place named
LEADER = 8.0  # mm: words farther from their place than this get a line to it


@dataclass(frozen=True)
class Lettered:
    """Words in their place: lower left and upper right of their box, mm, and both ends of the line that leads there."""

    label: Label
    low: Array
    high: Array
    leader: Array | None


def text_size(text: str, size: float = SIZE, bold: bool = False) -> Array:
    """Width and height of words, of one line or more, mm."""
    lines = text.split("\n")
    width = max(_width(line, size, bold) for line in lines)
    return np.array([width, len(lines) * size * LEADING * MM_PER_POINT])


def _width(line: str, size: float, bold: bool) -> float:
    """Width of one line, mm: each letter's own advance, kerning left aside."""
    return sum(_advance(letter, bold) for letter in line) * size


@cache
def _advance(letter: str, bold: bool) -> float:
    """Advance of a letter of one point, mm."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family=FONT, size=100.0, weight="bold" if bold else "normal")
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")  # a letter the font lacks shows as a box
        return float(text_to_path.get_text_width_height_descent(letter, font, ismath=False)[0]) * MM_PER_POINT / 100.0


def lettered(view: View, tiling: Tiling) -> list[Lettered]:
    """Place every label of a view, those in bold first; each takes the place that disturbs least."""
    drawn = ink(view, core=False)
    anchors = np.array([label.at for label in view.labels])
    placed: list[Lettered] = []
    for label in sorted(view.labels, key=lambda label: not label.bold):
        places = _Places.around(label)
        row = int(np.argmin(places.cost(drawn, anchors, placed, tiling)))
        low, high, edge = places.low[row], places.high[row], places.leader[row, -1]
        far = float(np.hypot(*(edge - label.at))) > LEADER
        placed.append(Lettered(label, low, high, np.array([label.at, edge]) if far else None))
    return placed


@dataclass(frozen=True)
class _Places:
    """Where one label could go: boxes (K, 2) each, and points along the line that leads to each, (K, L, 2)."""

    low: Array
    high: Array
    leader: Array

    @staticmethod
    def around(label: Label) -> _Places:
        turn = np.arange(16) * (np.pi / 8.0)
        towards = np.stack((np.cos(turn), np.sin(turn)), axis=1)
        size = text_size(label.text, bold=label.bold)
        # the box's own middle lies so far out that its nearest edge or corner is that far away
        reach = 0.5 * size * np.sign(np.where(np.abs(towards) < 0.4, 0.0, towards))
        middle = (label.at + np.array(AWAY)[:, None, None] * towards + reach).reshape(-1, 2)
        low, high = middle - 0.5 * size, middle + 0.5 * size
        edge = np.clip(label.at, low, high)
        along = np.linspace(0.0, 1.0, 25)[:, None]
        return _Places(low, high, label.at + along * (edge[:, None] - label.at))

    def cost(self, drawn: Array, anchors: Array, placed: list[Lettered], tiling: Tiling) -> Array:
        """What each place costs, (K,): words over words most, then off the paper, over marks, joints and lines, far."""
        low, high = self.low - CLEAR, self.high + CLEAR
        away = np.hypot(*(self.leader[:, -1] - self.leader[:, 0]).T)
        cost = 300.0 * _within(anchors, low - NEAR, high + NEAR) + 12.0 * _within(drawn, low, high) + away
        cost += 1e5 * _off_paper(low, high, tiling)
        for other in placed:
            over = (low < other.high).all(axis=1) & (other.low < high).all(axis=1)
            inside = ((self.leader > other.low) & (self.leader < other.high)).all(axis=2)
            crossing = np.asarray(inside).any(axis=1)
            cost += 1e6 * over + 1e5 * crossing
            if other.leader is not None:
                cost += 1e5 * (_within(np.linspace(other.leader[0], other.leader[1], 25), low, high) > 0)
        return np.asarray(cost)


def _within(points: Array, low: Array, high: Array) -> Array:
    """How many points lie in each box, (K,)."""
    near = points[((points > low.min(axis=0)) & (points < high.max(axis=0))).all(axis=1)]
    inside = ((near > low[:, None]) & (near < high[:, None])).all(axis=2)
    return np.asarray(inside.sum(axis=1), dtype=float)


def _off_paper(low: Array, high: Array, tiling: Tiling) -> Array:
    """How badly boxes sit on sheets, (K,): 0 whole on one, a little where a joint cuts, 1 where a part is on none."""
    corners = np.stack([np.stack((x, y), axis=1) for x in (low[:, 0], high[:, 0]) for y in (low[:, 1], high[:, 1])])
    on_one, covered = np.zeros(len(low), dtype=bool), np.zeros((4, len(low)), dtype=bool)
    for cell in tiling.cells:
        bottom, top = tiling.window(cell)
        inside = ((corners >= bottom) & (corners <= top)).all(axis=2)
        on_one |= inside.all(axis=0)
        covered |= inside
    return np.where(on_one, 0.0, np.where(covered.all(axis=0), 0.002, 1.0))
