"""The live page's HTML: the look and the script parts of the front's page, with what only a running Python can do."""

from __future__ import annotations

import html
from typing import Any

from optimizer.candidate import columns_of, shown
from optimizer.front_curves import front_travels
from optimizer.front_page import bokeh_script, filled, template
from optimizer.front_payload import LOOKS, as_script, bounds_of, column_of, place_of, plain_row, shades, unit_of
from optimizer.live_desk import free_name
from optimizer.live_session import LivePage
from optimizer.page import Points, html_of
from optimizer.rationale import CAUTIONS

SCRIPTS = (
    "live_data.js",
    "page_reading.js",
    "page_words.js",
    "page_state.js",
    "live_state.js",
    "page_figures.js",
    "live_talk.js",
    "live_view.js",
    "page_corner.js",
    "page_curves.js",
    "live_table.js",
    "live_card.js",
    "live_main.js",
)
"""The page's script, in the order in which its parts build on each other."""


def live_page(page: LivePage, host: str, token: str, roots: dict[str, str]) -> str:
    """Write the page of one session.

    Parameters
    ----------
    page
        Its state.
    host
        Where it is served: the only place it may speak to.
    token
        With which the page's script opens its session.
    roots
        Ids of the document's roots, in their order, with the names of the elements they go into.
    """
    parts = {
        "host": host,
        "title": html.escape(page.desk.scenario.title),
        "style": template("front_page.css") + template("live_page.css"),
        "cautions": html_of([Points(CAUTIONS)]),
        "bokeh": bokeh_script(),
        "session": as_script({"token": token, "roots": roots}),
        "payload": as_script(live_payload(page)),
        "script": "\n".join(template(name) for name in SCRIPTS),
    }
    return filled(template("live_page.html"), parts)


def live_payload(page: LivePage) -> dict[str, Any]:
    """What never changes while the page is open, in the scenario's unit and degrees."""
    scenario, desk = page.scenario, page.desk
    unit = scenario.unit
    columns = columns_of(scenario)
    holes = scenario.corner.spindle.upper_holes
    ranges = [
        float(unit.show(value, "length")) for span in (scenario.space.pivot_y, scenario.space.pivot_z) for value in span
    ]
    folder, stem = desk.file.parent, desk.file.stem
    return {
        "unit": unit_of(scenario),
        "columns": [column_of(column, unit) for column in columns],
        "baseline": None if page.baseline is None else plain_row(shown(scenario, page.baseline.measures())),
        "place": place_of(scenario) | {"bounds": bounds_of(page.numbers.candidate), "ranges": ranges},
        "curves": {
            "travel": unit.show(front_travels(scenario.corner), "length").tolist(),
            "positions": [stop.name for stop in page.stops],
            "straight": page.steer,
        },
        "looks": LOOKS,
        "shades": shades(),
        "holes": 1 if holes is None else int(holes.shape[1]),
        "step": unit.tape(scenario.build.round_to, scenario.build.round_to),
        "front": None if desk.results is None else str(desk.results),
        "file": str(desk.file),
        "names": {"use": free_name(folder, f"{stem}-pick"), "save": free_name(folder, stem, ".toml")},
    }
