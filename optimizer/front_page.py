"""The front's page: one file that opens offline, in which everything shown of a search is linked."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping, Sequence
from importlib.resources import files

from optimizer.front_figures import figures_document
from optimizer.front_payload import as_script, front_payload
from optimizer.front_search import Front
from optimizer.page import Heading, Points, Table, Text, html_of

SCRIPTS = (
    "front_data.js",
    "page_reading.js",
    "page_words.js",
    "page_state.js",
    "front_state.js",
    "page_figures.js",
    "front_wishes.js",
    "front_plots.js",
    "page_corner.js",
    "page_curves.js",
    "front_card.js",
    "front_table.js",
    "front_main.js",
)
"""The page's script, in the order in which its parts build on each other."""


def front_page(front: Front, shortlist: tuple[Sequence[str], Sequence[Sequence[str]]], cautions: Sequence[str]) -> str:
    """Write the page.

    Parameters
    ----------
    front
        What a search found.
    shortlist
        Head and rows of the table of candidates to look at first.
    cautions
        Sentences.
    """
    parts = {
        "title": html.escape(front.scenario.title),
        "intro": html.escape(
            f"{len(front)} candidates that no other found betters in everything, out of {front.evaluated:,} tried."
        ),
        "style": template("front_page.css"),
        "shortlist": _shortlist(front, shortlist),
        "cautions": html_of([Points(cautions)]),
        "bokeh": bokeh_script(),
        "figures": as_script(figures_document(front)),
        "payload": as_script(front_payload(front)),
        "script": "\n".join(template(name) for name in SCRIPTS),
    }
    return filled(template("front_page.html"), parts)


def filled(text: str, parts: Mapping[str, str]) -> str:
    """Fill a template's gaps, in one pass, so that nothing inside a part is taken for a gap."""
    return re.sub(r"\{\{(\w+)\}\}", lambda gap: parts[gap.group(1)], text)


def _shortlist(front: Front, table: tuple[Sequence[str], Sequence[Sequence[str]]]) -> str:
    why = [f"Row {item.row + 1}, {item.kind}: {item.why}" for item in front.shortlist]
    return html_of([Heading("Look at these first: the figures"), Table(*table), Text("Why these:"), Points(why)])


def template(name: str) -> str:
    """Text of one of the files under `templates`."""
    return (files("optimizer") / "templates" / name).read_text(encoding="utf-8")


def bokeh_script() -> str:
    """The figures' library, without the parts that the page does not use."""
    from bokeh.resources import Resources

    whole = "\n".join(Resources(mode="inline", components=["bokeh"], log_level="warn").js_raw)
    return whole.replace("</script", "<\\/script")
