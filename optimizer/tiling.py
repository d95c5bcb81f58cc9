"""A drawing at 1:1 cut into sheets of paper that overlap; sheets on which nothing would be are left out."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from objectives.vectors import Array
from optimizer.drawing import CROSS, View, circle_at, cross_at, resampled

MARGIN = 12.0  # mm that no printer has to reach
OVERLAP = 12.0  # mm that neighbouring sheets share
STRIP = 32.0  # mm below the drawing: check bars and words
PAD = 6.0  # mm around what is drawn, beyond its centre marks
SHIFTS = 7  # places tried, each way, for the grid of sheets
FINE = 2.0  # mm between the points that tell what lies on a sheet


@dataclass(frozen=True)
class Paper:
    """A sheet of paper: its name, width and height upright, mm."""

    name: str
    width: float
    height: float

    def turned(self) -> Paper:
        """The same sheet lying on its side."""
        return Paper(self.name, self.height, self.width)

    @property
    def window(self) -> tuple[float, float]:
        """Width and height of what it leaves for the drawing."""
        return self.width - 2.0 * MARGIN, self.height - 2.0 * MARGIN - STRIP


PAPERS = {
    "a4": Paper("A4", 210.0, 297.0),
    "a3": Paper("A3", 297.0, 420.0),
    "letter": Paper("US Letter", 215.9, 279.4),
}
"""Paper by the name of the option: ISO 216 and ANSI/ASME Y14.1 size A."""


@dataclass(frozen=True)
class Tiling:
    """Sheets of one view: the paper as it lies, the drawing's point at the lower left of the grid, and which sheets.

    `cells` are column and row of each sheet, from the left and from the bottom, in the order they are numbered.
    """

    paper: Paper
    start: Array
    cells: tuple[tuple[int, int], ...]

    @property
    def pitch(self) -> Array:
        """How far the sheets are apart, across and up, mm."""
        return np.array(self.paper.window) - OVERLAP

    def window(self, cell: tuple[int, int]) -> tuple[Array, Array]:
        """Least and greatest point of the drawing on a sheet."""
        low = self.start + np.array(cell) * self.pitch
        return low, low + np.array(self.paper.window)

    def inner(self, cell: tuple[int, int]) -> tuple[Array, Array]:
        """The same up to the middle of each overlap: what is left when the sheets are cut and taped."""
        low, high = self.window(cell)
        return low + 0.5 * OVERLAP, high - 0.5 * OVERLAP

    def lines(self) -> tuple[Array, Array]:
        """Where sheets meet: across and up, between the neighbours' middles of the overlap."""
        columns, rows = (np.arange(n + 2) for n in np.max(self.cells, axis=0))
        return (
            self.start[0] + 0.5 * OVERLAP + columns * self.pitch[0],
            self.start[1] + 0.5 * OVERLAP + rows * self.pitch[1],
        )


def ink(view: View, core: bool = True) -> Array:
    """Points no more than `FINE` apart along everything drawn, shape (points, 2); core lines and holes, or all."""
    lines = [resampled(line.points, FINE) for line in view.lines if line.core or not core]
    for hole in view.holes:
        lines += [resampled(stroke, FINE) for stroke in cross_at(hole.at, 0.5 * (hole.diameter or 0.0) + CROSS)]
        if hole.diameter:
            lines.append(circle_at(hole.at, hole.diameter))
    return np.vstack(lines)


def tiled(view: View, paper: Paper) -> Tiling:
    """Cut a view into the fewest sheets, upright or lying; of equally few the ones whose joints spare the holes."""
    drawn, holes = ink(view), np.array([hole.at for hole in view.holes])
    options = [option for lying in (paper, paper.turned()) for option in _options(view, lying, drawn)]
    return min(options, key=lambda tiling: (len(tiling.cells), _holes_cut(tiling, holes)))


def _options(view: View, paper: Paper, drawn: Array) -> list[Tiling]:
    low, high = view.bounds()
    size, window = high - low + 2.0 * PAD, np.array(paper.window)
    pitch = window - OVERLAP
    count = np.maximum(1, np.ceil((size - OVERLAP) / pitch)).astype(int)
    spare = count * pitch + OVERLAP - size
    found = []
    for share in product(np.linspace(0.0, 1.0, SHIFTS), repeat=2):
        start = low - PAD - spare * np.array(share)
        place = (drawn - start - 0.5 * OVERLAP) / pitch
        column, row = np.clip(np.floor(place).astype(int), 0, count - 1).T
        used: NDArray[np.bool_] = np.zeros(count, dtype=bool)
        used[column, row] = True
        order = sorted(((int(c), int(r)) for c, r in np.argwhere(used)), key=lambda cell: (-cell[1], cell[0]))
        found.append(Tiling(paper, start, tuple(order)))
    return found


def _holes_cut(tiling: Tiling, holes: Array) -> int:
    """How many holes lie so near to a joint of sheets that their mark is cut."""
    near: NDArray[np.bool_] = np.zeros(len(holes), dtype=bool)
    for axis, lines in enumerate(tiling.lines()):
        for line in lines[1:-1]:
            near |= np.abs(holes[:, axis] - line) < OVERLAP
    return int(near.sum())


def whole(view: View) -> Tiling:
    """Put a view on one sheet just large enough."""
    low, high = view.bounds()
    width, height = high - low + 2.0 * PAD
    paper = Paper("roll", width + 2.0 * MARGIN, height + 2.0 * MARGIN + STRIP)
    return Tiling(paper, low - PAD, ((0, 0),))
