"""A front and a candidate as a notebook shows them: a table, sentences, a picture."""

from __future__ import annotations

from functools import singledispatch

from optimizer.candidate import Candidate
from optimizer.front_pictures import tradeoffs_png
from optimizer.front_search import Front
from optimizer.on_screen import against_targets, remarks_on
from optimizer.outputs import shortlist_table, target_rows
from optimizer.page import Points, Table, Text, figure_of, html_of
from optimizer.pictures import front_view_png
from optimizer.rationale import say_pivot

DPI = 72  # of pictures between text; small, so that a saved notebook stays small


@singledispatch
def as_text(shown: object) -> str:
    """One line of plain text about a front or a candidate."""
    raise TypeError(f"nothing is known of how to show a {type(shown).__name__}")


@singledispatch
def as_html(shown: object) -> str:
    """HTML of a front or a candidate, its picture inside it."""
    raise TypeError(f"nothing is known of how to show a {type(shown).__name__}")


@as_text.register
def _(front: Front) -> str:
    return f"{len(front)} candidates that no other found betters in everything, out of {front.evaluated:,} tried."


@as_html.register
def _(front: Front) -> str:
    head, rows = shortlist_table(front)
    blocks = (
        Text(f"{as_text(front)} Look at these first:"),
        Table(head, [*rows, *target_rows(front)]),
        Points([f"{item.row + 1}: {item.why}" for item in front.shortlist]),
    )
    picture = tradeoffs_png(front.scenario, front.table, front.marked, DPI)
    return f"{html_of(blocks)}\n{figure_of(picture, 'Every pair of objectives')}"


@as_text.register
def _(candidate: Candidate) -> str:
    camber = candidate.scenario.unit.brief(candidate.static_camber, "angle")
    return f"{say_pivot(candidate, candidate.measures()['arm_length'])}, static camber {camber}"


@as_html.register
def _(candidate: Candidate) -> str:
    blocks = (
        Text(as_text(candidate)),
        Table(("", "reached", "aim", "limit"), against_targets(candidate)),
        Points(remarks_on(candidate)),
    )
    picture = front_view_png(candidate, DPI)
    return f"{html_of(blocks)}\n{figure_of(picture, 'Front view at full droop, ride and full bump')}"
