"""The drawing file and the table of points: read back by the drawing library and by pandas, and measured.

Distances that ought to be there are worked out from the points in space, as in `test_templates.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import combinations
from pathlib import Path

import ezdxf
import numpy as np
import pandas as pd
import pytest
from ezdxf.document import Drawing
from ezdxf.entitydb import EntityDB

from optimizer.drawing_file import point_table, write_dxf
from optimizer.rationale import CAUTIONS
from optimizer.shop_corner import HEIGHTS, ShopCorner
from optimizer.template_views import views_of
from tests.shop_cases import TEXTS, TITLE, candidate

MM = {"mm": 1.0, "inch": 25.4}


Drawn = Callable[[str], Drawing]


def drawn(name: str, folder: Path, title: str = "row 3 of something", first: int = 0) -> Drawing:
    built = ShopCorner(candidate(name))
    write_dxf(folder / "drawing.dxf", built, views_of(built)[first:], title, CAUTIONS)
    return ezdxf.readfile(folder / "drawing.dxf")


@pytest.fixture(scope="module")
def drawing_of(tmp_path_factory: pytest.TempPathFactory) -> Drawn:
    """Return a function that writes the drawing of a candidate and reads it back, once."""
    return cache(lambda name: drawn(name, tmp_path_factory.mktemp("drawing")))


def points(drawing: Drawing, layer: str) -> np.ndarray:
    found = [p.dxf.location for p in drawing.modelspace().query("POINT") if p.dxf.layer == layer]
    return np.array([(p.x, p.y) for p in found])


@pytest.mark.parametrize("name", TEXTS)
def test_header_says_version_and_unit_and_the_audit_is_clean(name: str, drawing_of: Drawn) -> None:
    """$INSUNITS: 1 inches, 4 millimetres; $MEASUREMENT: 0 imperial, 1 metric (DXF reference, header variables)."""
    drawing = drawing_of(name)
    inches = candidate(name).scenario.unit.name == "inch"
    assert drawing.dxfversion == "AC1024"  # R2010
    assert drawing.header["$INSUNITS"] == (1 if inches else 4)
    assert drawing.header["$MEASUREMENT"] == (0 if inches else 1)
    auditor = drawing.audit()
    assert not auditor.errors
    assert not auditor.fixes


@pytest.mark.parametrize("name", TEXTS)
def test_parts_lie_on_layers_of_their_own(name: str, drawing_of: Drawn) -> None:
    drawing = drawing_of(name)
    used = {entity.dxf.layer for entity in drawing.modelspace()}
    wanted = {"upper_arm", "lower_arm", "kingpin", "tie_rod", "brackets", "contact_path", "frame", "spindle", "words"}
    assert wanted <= used
    assert ({"tubes", "obstacles"} <= used) == name.startswith("full")
    assert used <= {layer.dxf.name for layer in drawing.layers}


@pytest.mark.parametrize("name", ["plain", "inches"])
def test_distances_read_back_are_those_of_space(name: str, drawing_of: Drawn) -> None:
    built, unit = ShopCorner(candidate(name)), MM[candidate(name).scenario.unit.name]
    drawing = drawing_of(name)
    brackets = np.array([(275.0, 232.0), (225.0, 15.0), (239.0, 91.0)]) / unit
    found = points(drawing, "brackets")
    for place in brackets:  # the front view keeps y and z of the frame, where the axes run straight fore and aft
        assert np.linalg.norm(found - place, axis=1).min() < 1e-9
    contacts = points(drawing, "contact_path")
    expected = np.array([built.at("contact", row)[1:] for row in range(len(HEIGHTS))]) / unit
    assert contacts == pytest.approx(expected, abs=1e-9)
    lower, upper, joint = np.array([[6, -88, -112], [-18, -112, 118], [-118, -104, -30]], dtype=float) / unit
    spindle = points(drawing, "spindle")[:3]
    for (a, b), (p, q) in zip(combinations((lower, upper, joint), 2), combinations(spindle, 2), strict=True):
        assert np.linalg.norm(p - q) == pytest.approx(np.linalg.norm(a - b), abs=1e-9)


def test_arms_of_leaning_axes_read_back_eye_to_eye(drawing_of: Drawn) -> None:
    for name in ("full", "full in inches"):
        built, unit = ShopCorner(candidate(name)), MM[candidate(name).scenario.unit.name]
        drawing = drawing_of(name)
        k, p = np.radians([9.0, 3.0])
        axis = np.array([np.cos(k) * np.cos(p), np.cos(k) * np.sin(p), np.sin(k)])
        length = np.linalg.norm(np.cross(built.at("upper_outer") - np.array([0.0, 275.0, 232.0]), axis)) / unit
        heavy = [line for line in drawing.modelspace().query("LINE") if line.dxf.layer == "upper_arm"]
        lengths = [line.dxf.start.distance(line.dxf.end) for line in heavy if line.dxf.lineweight in (35, 50)]
        close = [found for found in lengths if abs(found - length) < 1e-9]
        assert len(close) == 4  # at droop, ride and bump in the front view, once more in the arm's own template
        holes = {round(2.0 * c.dxf.radius * unit, 6) for c in drawing.modelspace().query("CIRCLE")}
        assert {10.0, 12.0, 16.0} <= holes


def test_the_same_pick_gives_the_same_bytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In another process, too, where the drawing library's set of kinds goes through them in another order."""
    kinds_in_use = EntityDB.dxf_types_in_use
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    for folder, backwards in (("a", False), ("b", True)):
        monkeypatch.setattr(
            EntityDB, "dxf_types_in_use", lambda self, turn=backwards: sorted(kinds_in_use(self), reverse=turn)
        )
        drawn("full", tmp_path / folder)
    assert (tmp_path / "a/drawing.dxf").read_bytes() == (tmp_path / "b/drawing.dxf").read_bytes()


@pytest.mark.parametrize("title", [TITLE, "", "\x00\x07\n\ttabs", "%%c %%d ^J \\P {\\H9;", "\N{AUTOMOBILE}" * 300])
def test_any_title_is_written_and_read_back(title: str, tmp_path: Path) -> None:
    drawing = drawn("plain", tmp_path, title, first=2)  # the spindle alone: a title stands beside any view
    texts = [text.dxf.text for text in drawing.modelspace().query("TEXT")]
    assert any("not a strength check" in text for text in texts)
    assert not any("%%" in text for text in texts)
    assert not drawing.audit().errors


@pytest.mark.parametrize("name", TEXTS)
def test_table_of_points(name: str) -> None:
    asked = candidate(name)
    table, unit = pd.DataFrame(point_table(ShopCorner(asked))), asked.scenario.unit
    assert list(table.columns[:6]) == ["point", "carried_by", "wheel_height", "x", "y", "z"]
    pivot = table[table["point"] == "upper inner pivot"].iloc[0]
    assert unit.to_mm(pivot[["x", "y", "z"]].to_numpy(float)) == pytest.approx([0.0, 275.0, 232.0], abs=1e-9)
    assert unit.to_mm(pivot["tolerance"]) == pytest.approx(1.5)
    if name.startswith("full"):
        away = pivot[["x_from_reference", "y_from_reference", "z_from_reference"]].to_numpy(float)
        assert unit.to_mm(away) == pytest.approx([-20.0, 70.0, 197.0], abs=1e-9)
        joint = table[table["point"] == "inner tie-rod joint"].iloc[0]
        assert unit.to_mm(joint["hole"]) == pytest.approx(10.0)
    else:
        assert "x_from_reference" not in table.columns
    upper, lower = (table[table["point"] == f"{which} outer pivot"] for which in ("upper", "lower"))
    assert upper["wheel_height"].tolist() == list(HEIGHTS)
    apart = np.linalg.norm(upper[["x", "y", "z"]].to_numpy(float) - lower[["x", "y", "z"]].to_numpy(float), axis=1)
    kingpin = np.linalg.norm(np.array([-18, -112, 118]) - np.array([6, -88, -112]))
    assert unit.to_mm(apart) == pytest.approx(np.full(len(HEIGHTS), kingpin), abs=1e-8)  # the spindle is rigid
