"""Everything on paper and for other programs that a pick leaves: templates, build sheet, drawing, points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from optimizer.build_page import write_page
from optimizer.build_sheet import build_blocks
from optimizer.candidate import Candidate
from optimizer.csv_text import write_csv
from optimizer.drawing_file import point_table, write_dxf
from optimizer.page import Block, Files, Heading, Points, Text
from optimizer.rationale import CAUTIONS
from optimizer.shop_corner import ShopCorner
from optimizer.template_pages import ROLL, write_previews, write_template
from optimizer.template_views import views_of
from optimizer.tiling import PAPERS
from optimizer.units import INCH

SHEET_PAPERS = ("a4", "letter")
"""Paper of the build sheet."""


@dataclass(frozen=True)
class ShopFiles:
    """What was written: every file with what it is, pictures of the templates, the build sheet as blocks."""

    files: list[tuple[str, str]]
    pictures: list[Path]
    sheet: list[Block]

    @property
    def blocks(self) -> list[Block]:
        """What a report says of it, above everything else."""
        words = "Print templates at 100 % (actual size) and measure both check bars on every sheet."
        return [Heading("For the shop"), Text(words), Files(self.files)]


def default_paper(candidate: Candidate) -> str:
    """Paper that goes with the scenario's unit."""
    return "letter" if candidate.scenario.unit is INCH else "a4"


def write_shop_files(candidate: Candidate, folder: Path, name: str, papers: Sequence[str] = ()) -> ShopFiles:
    """Write templates, build sheet, drawing and points of one candidate.

    Parameters
    ----------
    candidate
        What gets built.
    folder
        Where to write.
    name
        What the sheets are headed by.
    papers
        Of the templates: any of "a4", "a3", "letter" and "roll"; none for the one that goes with the unit.
    """
    built, scenario = ShopCorner(candidate), candidate.scenario
    views, files = views_of(built), []
    for paper in dict.fromkeys(papers or (default_paper(candidate),)):
        file = f"template_{paper}.pdf"
        count = write_template(folder / file, built, views, paper, name)
        what = "one sheet from the roll" if paper == ROLL else f"{count} sheets of {PAPERS[paper].name}"
        files.append((file, f"1:1 templates of the front view, both arms and the spindle, {what}"))
    sheet = build_blocks(built)
    for paper in SHEET_PAPERS:
        file = f"build_sheet_{paper}.pdf"
        printed = [*sheet, Heading("Cautions"), Points(CAUTIONS)]
        write_page(folder / file, scenario, "Build sheet", name, printed, PAPERS[paper])
        files.append((file, f"the build sheet below, to write on, one page of {PAPERS[paper].name}"))
    write_dxf(folder / "drawing.dxf", built, views, name, CAUTIONS)
    files.append(
        ("drawing.dxf", f"the templates as a drawing (DXF R2010, {scenario.unit.name}), a layer for each part")
    )
    write_csv(folder / "points.csv", list(point_table(built)))
    files.append(("points.csv", "every point in space, those that move at five wheel heights"))
    return ShopFiles(files, write_previews(folder, built, views), sheet)
