"""What stands on a printed sheet: pages drawn by an independent PDF engine, and measured on the dots."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
from numpy.typing import NDArray

MM = 25.4 / 72.0  # of a point
DOTS = 20  # to the mm, so that a dot is half of the tenth that is asked for


class Print:
    """One PDF file, its pages measured in mm from the lower left corner of the paper."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file = pdfium.PdfDocument(path)
        self.pages = list(self._file)

    def __len__(self) -> int:
        return len(self.pages)

    def size(self, page: int) -> tuple[float, float]:
        """Width and height, mm."""
        width, height = self.pages[page].get_size()
        return width * MM, height * MM

    def text(self, page: int) -> str:
        """All words of a page, on one line."""
        return " ".join(self.pages[page].get_textpage().get_text_bounded().split())

    def margin(self, page: int) -> float:
        """Least distance of anything dark from the edge of a page, mm, to a quarter of one."""
        width, height = self.size(page)
        dark = self.dark(page, (0.0, 0.0), (width, height), 4)
        rows, columns = (np.flatnonzero(dark.any(axis=axis)) for axis in (1, 0))
        beyond = (rows[0], columns[0], dark.shape[0] - rows[-1] - 1, dark.shape[1] - columns[-1] - 1)
        return float(min(beyond)) / 4

    def dark(
        self, page: int, low: tuple[float, float], high: tuple[float, float], dots: int = DOTS
    ) -> NDArray[np.bool_]:
        """Which dots of a part of a page are dark, row 0 at the bottom."""
        width, height = self.size(page)
        crop = (low[0] / MM, low[1] / MM, (width - high[0]) / MM, (height - high[1]) / MM)
        picture = self.pages[page].render(scale=dots * MM, crop=crop, grayscale=True).to_numpy()
        return np.asarray(picture).reshape(picture.shape[0], picture.shape[1])[::-1] < 128

    def cross(self, page: int, near: tuple[float, float], reach: float = 3.0) -> NDArray[np.float64]:
        """Centre of the cross whose strokes pass near a place: the fullest column and the fullest row of dots, mm.

        It fails where there is none: on blank paper all columns are alike, and their middle would be the place itself.
        A quarter of what is looked at has to be dark, as along a dotted line.
        """
        x, y = near
        dark = self.dark(page, (x - reach, y - reach), (x + reach, y + reach))
        counts = dark.sum(axis=0), dark.sum(axis=1)
        assert min(count.max() for count in counts) > 0.5 * reach * DOTS, f"no cross near {near} on page {page + 1}"
        found = [_fullest(count) for count in counts]
        return np.array([x - reach, y - reach]) + (np.array(found) + 0.5) / DOTS


def _fullest(counts: NDArray[np.int_]) -> float:
    return float(np.flatnonzero(counts >= 0.97 * counts.max()).mean())
