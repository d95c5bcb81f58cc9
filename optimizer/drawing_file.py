"""The templates' views as a drawing file (DXF R2010), a layer for each part, and the points in space as a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from objectives.vectors import Array
from optimizer.drawing import CROSS, Hole, Line, Look, View, cross_at
from optimizer.lettering import LEADING, MM_PER_POINT, SIZE, Lettered, lettered
from optimizer.shop_corner import ShopCorner
from optimizer.tiling import whole
from optimizer.units import INCH

WORDS = "words"
LINETYPES: dict[Look, tuple[str, int]] = {
    "heavy": ("Continuous", 50),
    "plain": ("Continuous", 30),
    "thin": ("Continuous", 13),
    "dashed": ("DASHED", 35),
    "chained": ("DASHDOT", 35),
    "dotted": ("DOT", 25),
}
"""Line type, and weight in hundredths of a mm."""
GAP = 60.0  # mm between views
TEXT_HEIGHT = 0.72 * SIZE * MM_PER_POINT  # of capitals


def write_dxf(path: Path, built: ShopCorner, views: Sequence[View], name: str, cautions: Sequence[str]) -> None:
    """Write the views to one drawing at 1:1 in the scenario's unit, one below the other.

    The first view keeps its own (0, 0), where the vehicle's centre plane and the frame datum meet.

    Raises
    ------
    ValueError
        The drawing does not stand the audit.
    """
    with _without_dates():
        document = _drawing(built, views, name, cautions)
        auditor = document.audit()
        if auditor.has_errors or auditor.has_fixes:
            raise ValueError(f"the drawing is not sound: {[e.message for e in auditor.errors + auditor.fixes]}")
        document.saveas(path)


@contextmanager
def _without_dates() -> Iterator[None]:
    """Keep dates and random marks out of drawings, so that the same drawing gives the same bytes."""
    import ezdxf

    options: Any = vars(ezdxf)["options"]
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _drawing(built: ShopCorner, views: Sequence[View], name: str, cautions: Sequence[str]) -> Any:
    from ezdxf import units
    from ezdxf.filemanagement import new

    inches = built.scenario.unit is INCH
    document = new("R2010", setup=["linetypes"], units=units.IN if inches else units.MM)
    document.header["$MEASUREMENT"] = 0 if inches else 1
    document.header["$LTSCALE"] = built.scenario.unit.from_mm(12.0)
    sheet = _Sheet(document.modelspace(), 1.0 / built.scenario.unit.mm)
    parts = {line.part for view in views for line in view.lines} | {hole.part for view in views for hole in view.holes}
    for layer in (*sorted(parts), WORDS):
        document.layers.add(layer)
    foot = 0.0
    for number, view in enumerate(views):
        low, high = view.bounds()
        shift = np.zeros(2) if number == 0 else np.array([-low[0], foot - GAP - high[1]])
        sheet.draw(view, shift)
        foot = float(low[1] + shift[1])
    where = "1:1; in the front view across the arm axes 0, 0 is where centre plane and frame datum meet"
    sheet.words([name, where, *cautions], foot - GAP)
    for kind in sorted(document.entitydb.dxf_types_in_use()):  # a set, in another order in each process
        document.classes.add_class(kind)
    return document


class _Sheet:
    """Draws views into a model space, mm times `scale`."""

    def __init__(self, space: Any, scale: float) -> None:
        self.space, self.scale = space, scale

    def draw(self, view: View, shift: Array) -> None:
        """Draw everything of a view, moved by `shift`."""
        for line in view.lines:
            self._line(line, shift)
        for hole in view.holes:
            self._hole(hole, shift)
        for words in lettered(view, whole(view)):
            self._label(words, shift)

    def _line(self, line: Line, shift: Array) -> None:
        kind, weight = LINETYPES[line.look]
        style = {"layer": line.part, "linetype": kind, "lineweight": weight}
        points = (line.points + shift) * self.scale
        if len(points) == 2:
            self.space.add_line(points[0].tolist(), points[1].tolist(), dxfattribs=style)
        else:
            self.space.add_lwpolyline(points.tolist(), dxfattribs=style)

    def _hole(self, hole: Hole, shift: Array) -> None:
        at = hole.at + shift
        style = {"layer": hole.part, "lineweight": 13}
        for begin, end in cross_at(at, 0.5 * (hole.diameter or 0.0) + CROSS):
            self.space.add_line((begin * self.scale).tolist(), (end * self.scale).tolist(), dxfattribs=style)
        self.space.add_point((at * self.scale).tolist(), dxfattribs=style)
        if hole.diameter:
            self.space.add_circle((at * self.scale).tolist(), 0.5 * hole.diameter * self.scale, dxfattribs=style)

    def _label(self, words: Lettered, shift: Array) -> None:
        if words.leader is not None:
            begin, end = (words.leader + shift) * self.scale
            self.space.add_line(begin.tolist(), end.tolist(), dxfattribs={"layer": WORDS, "lineweight": 13})
        top = words.high[1] + shift[1]
        for number, line in enumerate(words.label.text.split("\n")):
            y = top - (number + 1) * SIZE * LEADING * MM_PER_POINT + 0.25 * TEXT_HEIGHT
            self._text(line, words.low[0] + shift[0], y)

    def words(self, lines: Sequence[str], top: float) -> None:
        """Write lines one below the other."""
        for number, line in enumerate(lines):
            self._text(line, 0.0, top - 2.0 * TEXT_HEIGHT * number)

    def _text(self, line: str, x: float, y: float) -> None:
        entity = self.space.add_text(_plain(line), height=TEXT_HEIGHT * self.scale, dxfattribs={"layer": WORDS})
        entity.set_placement((x * self.scale, y * self.scale))


def _plain(line: str) -> str:
    """One line of words as a drawing's text shows it: no control characters, and no code behind two percent signs."""
    letters = "".join(letter if letter.isprintable() else " " for letter in line)
    return letters.replace("%%", "% %").replace("^", "^ ")


def point_table(built: ShopCorner) -> Iterator[dict[str, Any]]:
    """Rows of the table of points, in the scenario's unit; what is welded to the frame first."""
    unit, reference = built.scenario.unit, built.scenario.build.reference
    for point in (*built.frame_points, *built.moving_points):
        row: dict[str, Any] = {"point": point.name, "carried_by": point.carried_by, "wheel_height": point.height}
        row |= {axis: unit.from_mm(float(value)) for axis, value in zip("xyz", point.at, strict=True)}
        if reference is not None:
            away = point.at - np.array([reference.x, reference.y, reference.z])
            row |= {f"{axis}_from_reference": unit.from_mm(float(v)) for axis, v in zip("xyz", away, strict=True)}
        row["tolerance"] = None if point.tolerance is None else unit.from_mm(point.tolerance)
        row["hole"] = None if point.hole is None else unit.from_mm(point.hole)
        yield row
