"""What each command leaves in its directory."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from objectives.corner import Candidates
from objectives.curves import Curves
from objectives.evaluate import measure
from objectives.joints import joints_of
from objectives.turning import turning_of
from optimizer.candidate import Candidate, baseline_of, shown, with_pivots
from optimizer.choice import Listed
from optimizer.errors import ResultsError
from optimizer.front_search import Front
from optimizer.page import as_html, as_markdown
from optimizer.rationale import CAPTIONS, CAUTIONS, rationale, say
from optimizer.results import RECORD, digest, read_record, write_json, write_record
from optimizer.roll_advice import roll_table
from optimizer.rounding import rounded
from optimizer.scenario import Scenario, load_scenario

SCENARIO = "scenario.toml"
FRONT = "front.csv"
ROWS_OF_CURVES = 41  # at least; ride is always among them


def travels(scenario: Scenario) -> np.ndarray:
    """Travels of a curve table, mm, from full droop to full bump, evenly spaced each side of ride."""
    travel = scenario.corner.travel
    each = (ROWS_OF_CURVES + 1) // 2
    below, above = np.linspace(-travel.droop, 0.0, each), np.linspace(0.0, travel.bump, each)
    return np.concatenate((below, above[1:]))


def curve_table(candidate: Candidate) -> dict[str, Any]:
    """Curve table of one candidate in the scenario's unit and degrees, by column."""
    curves: Curves = candidate.curves(travels(candidate.scenario))
    show = candidate.scenario.unit.show
    table: dict[str, Any] = {"travel": show(curves.travel[0], "length")}
    for name in ("camber", "toe", "caster", "kingpin"):
        table[f"{name}_deg"] = show(getattr(curves, name)[0], "angle")
    for name in ("wheel", "contact"):
        for axis, values in zip("xyz", getattr(curves, name)[:, 0], strict=True):
            table[f"{name}_{axis}"] = show(values, "length")
    angles = {
        f"{j.column}_deg": show(getattr(curves, j.column)[0], "angle") for j in joints_of(candidate.scenario.corner)
    }
    table |= {name: angles.pop(name) for name in ("outer_rod_end_deg", "inner_rod_end_deg")}
    for name in ("fender_clearance", "kingpin_offset", "roll_centre_z"):
        values = show(getattr(curves, name)[0], "length")
        table[name] = np.where(np.isfinite(values), values, np.nan)
    table |= angles  # those of the ball joints, behind the columns every table has
    if candidate.scenario.corner.shock is not None:
        table["shock_length"] = show(curves.shock_length[0], "length")
        table["motion_ratio"] = curves.motion_ratio[0]
    if candidate.scenario.targets["parts_clearance"].measured:
        table["parts_clearance"] = show(curves.parts_clearance[0], "length")
    return table


def steering_table(candidate: Candidate) -> dict[str, Any]:
    """What both wheels do as the steering is turned, in the scenario's unit and degrees, by column."""
    scenario = candidate.scenario
    steering, show = scenario.corner.steering, scenario.unit.show
    turning = turning_of(scenario.corner, candidate.as_batch, np.linspace(-1.0, 1.0, 41), scenario.wheelbase)
    rack = steering.pitman is None
    return {
        "rack_travel" if rack else "pitman_angle_deg": show(turning.input, "length" if rack else "angle"),
        "left_wheel_deg": show(turning.left, "angle"),
        "right_wheel_deg": show(turning.right, "angle"),
        "ackermann_error_deg": show(turning.ackermann_error, "angle"),
    }


def write_curves(candidate: Candidate, folder: Path) -> None:
    """Write the curve tables of one candidate: through travel, with the steering turned, as the body rolls."""
    import pandas as pd

    pd.DataFrame(curve_table(candidate)).to_csv(folder / "curves.csv", index=False)
    if candidate.scenario.corner.steering.lock:
        pd.DataFrame(steering_table(candidate)).to_csv(folder / "steering.csv", index=False)
    if roll := roll_table(candidate):
        pd.DataFrame(roll).to_csv(folder / "roll.csv", index=False)


def write_try(candidate: Candidate, folder: Path) -> None:
    """Write measures, curves and pictures of one candidate."""
    from optimizer.pictures import draw_candidate

    scenario = candidate.scenario
    write_json(folder / "measures.json", shown(scenario, candidate.measures()))
    write_curves(candidate, folder)
    baseline = baseline_of(scenario)
    draw_candidate(candidate, folder, baseline)
    _copy_scenario(scenario, folder)
    write_record(folder, "try", {"title": scenario.title, "units": scenario.unit.name})


def _copy_scenario(scenario: Scenario, folder: Path) -> None:
    with (folder / SCENARIO).open("w", encoding="utf-8", newline="") as file:
        file.write(scenario.text)


def write_front(front: Front, folder: Path, seed: int) -> None:
    """Write a search's front: table, record, a copy of the scenario, pictures and a page that shows them."""
    from optimizer.front_page import front_page
    from optimizer.front_pictures import draw_front

    scenario = front.scenario
    front.frame.to_csv(folder / FRONT, index=False)
    _copy_scenario(scenario, folder)
    record = {
        "title": scenario.title,
        "units": scenario.unit.name,
        "seed": seed,
        "evaluated": front.evaluated,
        "usable": front.usable,
        "kept": front.kept,
        "rows": len(front),
        "hypervolume_share": front.hypervolume_share,
        "history": [list(step) for step in front.history],
        "sha256": {name: digest(folder / name) for name in (FRONT, SCENARIO)},
        "shortlist": [{"id": item.row + 1, "kind": item.kind, "why": item.why} for item in front.shortlist],
    }
    write_record(folder, "search", record)
    draw_front(scenario, front.table, front.marked, folder)
    page = front_page(front, shortlist_table(front), CAUTIONS)
    with (folder / "front.html").open("w", encoding="utf-8", newline="") as file:
        file.write(page)


def shortlist_table(front: Front) -> tuple[list[str], list[list[str]]]:
    """Head and rows of the shortlist as a builder reads it."""
    scenario, table = front.scenario, front.table
    unit, step = scenario.unit, scenario.build.round_to
    head = ["id", "what", "pivot y", "pivot z", "arm length", *(objective.title for objective in scenario.asked)]
    rows = []
    for item in front.shortlist:
        lengths = (unit.tape(float(table[name][item.row]), step) for name in ("pivot_y", "pivot_z", "arm_length"))
        values = (say(scenario, objective, float(table[objective.name][item.row])) for objective in scenario.asked)
        rows.append([str(item.row + 1), item.kind, *lengths, *values])
    return head, rows


def target_rows(front: Front) -> list[list[str]]:
    """Rows of aims and of limits, to stand below those of `shortlist_table`."""
    scenario = front.scenario
    named = ["", "", "", ""]
    targets = [(objective, scenario.targets[objective.name]) for objective in scenario.asked]
    aims = [say(scenario, objective, target.aim) for objective, target in targets]
    limits = [say(scenario, objective, target.limit) for objective, target in targets]
    return [[named[0], "aim", *named[1:], *aims], [named[0], "limit", *named[1:], *limits]]


def read_front(folder: Path) -> Front:
    """Read a search's directory back.

    Raises
    ------
    ResultsError
        It is no such directory, or its front has been damaged.
    """
    record = read_record(folder)
    if record.get("kind") != "search":
        raise ResultsError(f'{folder} holds no results of "pivotfront search"; name the directory a search wrote')
    _refuse_changed(folder, record)
    scenario = load_scenario(folder / SCENARIO)
    candidates = _read_candidates(folder / FRONT, scenario)
    table = with_pivots(candidates, measure(scenario.corner, candidates))
    try:
        kept, evaluated, usable = (int(record[name]) for name in ("kept", "evaluated", "usable"))
        share = float(record["hypervolume_share"])
        history = tuple((int(done), float(part)) for done, part in record["history"])
    except (KeyError, TypeError, ValueError):
        raise ResultsError(f"{folder / RECORD} was changed by hand; undo the change, or run the search again") from None
    return Front(scenario, table, kept, evaluated, usable, share, history)


def _refuse_changed(folder: Path, record: dict[str, Any]) -> None:
    """Raise ResultsError where the front or its scenario is not what the search wrote."""
    prints = record.get("sha256")
    for name in (FRONT, SCENARIO):
        try:
            same = isinstance(prints, dict) and prints.get(name) == digest(folder / name)
        except OSError as error:
            raise ResultsError(f"{folder / name} cannot be read: {error.strerror}; run the search again") from None
        if not same:
            raise ResultsError(
                f"{folder / name} was changed since the search; undo the change, or run the search again"
            )


def _read_candidates(path: Path, scenario: Scenario) -> Candidates:
    import pandas as pd

    columns = pd.read_csv(path, dtype=str)  # every digit: Python's own float is exact, pandas' need not be

    def numbers(name: str) -> np.ndarray:
        return np.array([float(text) for text in columns[name]])

    y, z = (scenario.unit.to_mm(numbers(name)) for name in ("pivot_y", "pivot_z"))
    hole = numbers("upper_hole").astype(np.intp) - 1 if "upper_hole" in columns else np.zeros(1, dtype=np.intp)
    return Candidates(y, z, np.radians(numbers("static_camber_deg")), hole)


def write_pick(front: Front, row: int, listed: Listed | None, folder: Path) -> Candidate:
    """Write everything about the chosen row; return the candidate that gets built."""
    import pandas as pd

    from optimizer.pictures import draw_candidate

    scenario = front.scenario
    as_found = front.candidate(row)
    chosen = rounded(front.problem, as_found)
    built, found = (shown(scenario, candidate.measures()) for candidate in (chosen, as_found))
    unit, step = scenario.unit, scenario.build.round_to
    tape = {
        name: unit.tape(chosen.measures()[name], step)
        for name in ("pivot_y", "pivot_z", "arm_length", "tie_rod_length", "inner_joint_y", "inner_joint_z")
    }
    content = {"id": row + 1, "tape": tape, "as_built": built, "before_rounding": found}
    write_json(folder / "pivot.json", content)
    columns = {
        "value": built.keys(),
        "tape": [tape.get(name, "") for name in built],
        "as_built": built.values(),
        "before_rounding": found.values(),
    }
    pd.DataFrame(columns).to_csv(folder / "pivot.csv", index=False)
    write_curves(chosen, folder)
    baseline = baseline_of(scenario)
    drawn = draw_candidate(chosen, folder, baseline)
    why = f"It is row {row + 1} of the front" + (f": {listed.kind}. {listed.why}" if listed else ", chosen by hand.")
    order = [f"{stem}.png" for stem in CAPTIONS]
    pictures = sorted((p for p in drawn if p.suffix == ".png"), key=lambda p: order.index(p.name))
    blocks = rationale(front, chosen, as_found, why, pictures)
    (folder / "rationale.md").write_text(as_markdown(blocks), encoding="utf-8")
    (folder / "rationale.html").write_text(as_html(scenario.title, blocks), encoding="utf-8")
    _copy_scenario(scenario, folder)
    write_record(folder, "pick", {"title": scenario.title, "units": unit.name, "id": row + 1})
    return chosen
