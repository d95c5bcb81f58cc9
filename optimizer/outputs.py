"""What each command leaves in its directory."""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np

from objectives import compiled
from objectives.corner import Candidates
from objectives.curves import Curves
from objectives.evaluate import measure
from objectives.joints import joints_of
from objectives.objective import Goal
from objectives.turning import turning_of
from objectives.vectors import Array
from optimizer.build_figures import build_figures
from optimizer.build_words import build_blocks, build_numbers
from optimizer.candidate import Candidate, baseline_of, candidate_at, shown, with_inner_joint, with_pivots
from optimizer.choice import Listed
from optimizer.csv_text import write_csv
from optimizer.drafts import put_right
from optimizer.errors import ResultsError
from optimizer.front_search import Front
from optimizer.goals import BUILD_YIELD
from optimizer.ledger import Start
from optimizer.page import Block, as_html, as_markdown
from optimizer.rationale import CAPTIONS, CAUTIONS, rationale, say
from optimizer.results import RECORD, digest, read_record, write_json, write_record
from optimizer.roll_advice import roll_table
from optimizer.rounding import rounded
from optimizer.scenario import Scenario, load_scenario
from optimizer.sweeping import Swept
from optimizer.weld_region import weld_region

SCENARIO = "scenario.toml"
FRONT = "front.csv"
PIVOT = "pivot.json"
KEPT = "kept.npz"  # everything a search kept, to go on from: mm and radians
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
    write_csv(folder / "curves.csv", curve_table(candidate))
    if candidate.scenario.corner.steering.lock:
        write_csv(folder / "steering.csv", steering_table(candidate))
    if roll := roll_table(candidate):
        write_csv(folder / "roll.csv", roll)


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
    from optimizer.cores import begin
    from optimizer.front_page import front_page
    from optimizer.front_pictures import PICTURES, draw_front

    scenario = front.scenario
    write_csv(folder / FRONT, front.frame)
    if front.found is not None:
        np.savez_compressed(folder / KEPT, x=front.found.x, costs=front.found.costs)
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
        "ended": front.ended,
        "compiled": compiled.suits(front.evaluated, front.problem.quick),
        "sha256": {name: digest(folder / name) for name in (FRONT, SCENARIO, *((KEPT,) if front.found else ()))},
        "shortlist": [{"id": item.row + 1, "kind": item.kind, "why": item.why} for item in front.shortlist],
    }
    write_record(folder, "search", record)
    # each picture takes a second, and so does the page
    wait = begin(partial(draw_front, scenario, front.table, front.marked, folder, [name]) for name in PICTURES)
    page = front_page(front, shortlist_table(front), CAUTIONS)
    with (folder / "front.html").open("w", encoding="utf-8", newline="") as file:
        file.write(page)
    wait()


def write_sweep(swept: Swept, folder: Path, seed: int) -> None:
    """Write a sweep: table, picture, record and the scenario of every case, for a search of its own."""
    from optimizer.sweep_pictures import draw_sweep

    write_csv(folder / "sweep.csv", swept.table())
    draw_sweep(swept, folder)
    for number, outcome in enumerate(swept.outcomes, start=1):
        with (folder / f"scenario-{number}.toml").open("w", encoding="utf-8", newline="") as file:
            file.write(outcome.case.text)
    scenario = swept.scenario
    cases = [{"name": outcome.case.name, "why_none": outcome.why_none} for outcome in swept.outcomes]
    record = {"title": scenario.title, "units": scenario.unit.name, "seed": seed, "key": swept.key, "cases": cases}
    write_record(folder, "sweep", record)


def _listed(scenario: Scenario) -> list[Goal]:
    """What the shortlist tells of each candidate: everything asked for, and the build yield in any case."""
    return list(dict.fromkeys((*scenario.asked, BUILD_YIELD)))


def shortlist_table(front: Front) -> tuple[list[str], list[list[str]]]:
    """Head and rows of the shortlist as a builder reads it."""
    scenario, table = front.scenario, front.table
    unit, step = scenario.unit, scenario.build.round_to
    asked = _listed(scenario)
    head = ["id", "what", "pivot y", "pivot z", "arm length", *(goal.title for goal in asked)]
    rows = []
    for item in front.shortlist:
        lengths = (unit.tape(float(table[name][item.row]), step) for name in ("pivot_y", "pivot_z", "arm_length"))
        values = (say(scenario, goal, float(table[goal.name][item.row])) for goal in asked)
        rows.append([str(item.row + 1), item.kind, *lengths, *values])
    return head, rows


def target_rows(front: Front) -> list[list[str]]:
    """Rows of aims and of limits, to stand below those of `shortlist_table`."""
    scenario = front.scenario
    named = ["", "", "", ""]
    targets = [(objective, scenario.targets[objective.name]) for objective in _listed(scenario)]
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
    put_right(folder.resolve().parent)
    record = read_record(folder)
    if record.get("kind") != "search":
        raise ResultsError(f'{folder} holds no results of "pivotfront search"; name the directory a search wrote')
    _refuse_changed(folder, record, (FRONT, SCENARIO))
    scenario = load_scenario(folder / SCENARIO)
    candidates, shares = _read_candidates(folder / FRONT, scenario)
    table = with_pivots(candidates, measure(scenario.corner, candidates)) | {BUILD_YIELD.name: shares}
    try:
        kept, evaluated, usable = (int(record[name]) for name in ("kept", "evaluated", "usable"))
        share = float(record["hypervolume_share"])
        history = tuple((int(done), float(part)) for done, part in record["history"])
        if min(kept, evaluated, usable) < 0 or not np.isfinite([share, *(part for _, part in history)]).all():
            raise ValueError
    except (KeyError, TypeError, ValueError, OverflowError):
        raise ResultsError(f"{folder / RECORD} was changed by hand; undo the change, or run the search again") from None
    return Front(scenario, table, kept, evaluated, usable, share, history)


def read_start(folder: Path) -> Start:
    """Read what a search kept, to go on from.

    Raises
    ------
    ResultsError
        As `read_front`.
    """
    front, record = read_front(folder), read_record(folder)
    _refuse_changed(folder, record, (KEPT,))
    try:
        # opened here, for numpy leaves open what it cannot read
        with (folder / KEPT).open("rb") as file, np.load(file, allow_pickle=False) as kept:
            x, costs = (np.asarray(kept[name], dtype=np.float64) for name in ("x", "costs"))
    except (OSError, ValueError, TypeError, KeyError, EOFError, RuntimeError, BadZipFile, zlib.error):
        x = costs = np.empty(0)
    low, high, scale = front.problem.lower, front.problem.upper, front.problem.scale
    sound = x.shape == (len(costs), len(low)) and costs.shape == (len(x), len(scale))
    if not (sound and ((low <= x) & (x <= high)).all() and np.isfinite(costs).all()):
        raise ResultsError(f"{folder / KEPT} was changed by hand; undo the change, or run the search again")
    return Start(x, costs, front.evaluated, front.usable, front.history)


def _refuse_changed(folder: Path, record: dict[str, Any], names: tuple[str, ...]) -> None:
    """Raise ResultsError where a file is not what the search or the pick wrote."""
    prints, kind = record.get("sha256"), record["kind"]
    again = "pick again" if kind == "pick" else f"run the {kind} again"
    for name in names:
        try:
            same = isinstance(prints, dict) and prints.get(name) == digest(folder / name)
        except OSError as error:
            raise ResultsError(f"{folder / name} cannot be read: {error.strerror}; {again}") from None
        if not same:
            raise ResultsError(f"{folder / name} was changed since the {kind}; undo the change, or {again}")


def _read_candidates(path: Path, scenario: Scenario) -> tuple[Candidates, Array]:
    """The candidates of a front, to be measured again, and their build yields, which would take longest."""
    import pandas as pd

    holes = scenario.corner.spindle.upper_holes
    try:
        columns = pd.read_csv(path, dtype=str)  # every digit: Python's own float is exact, pandas' need not be
        y, z, camber = (_numbers(columns[name]) for name in ("pivot_y", "pivot_z", "static_camber_deg"))
        share = _numbers(columns[BUILD_YIELD.column])
        hole = np.zeros(1) if holes is None else _numbers(columns["upper_hole"]) - 1
        if not len(y) or hole.min() < 0 or hole.max() >= (1 if holes is None else holes.shape[1]):
            raise ValueError
    except (KeyError, ValueError):
        raise ResultsError(f"{path} was changed by hand; undo the change, or run the search again") from None
    y, z = scenario.unit.to_mm(y), scenario.unit.to_mm(z)
    return Candidates(y, z, np.radians(camber), hole.astype(np.intp)), share


def _numbers(column: Iterable[object]) -> np.ndarray:
    """Finite numbers of a column of text."""
    numbers = np.array([float(str(text)) for text in column])
    if not np.isfinite(numbers).all():
        raise ValueError
    return numbers


def read_pick(folder: Path) -> Candidate:
    """Read back what a pick has its builder make: the rounded candidate, with its own inner joint.

    Raises
    ------
    ResultsError
        It is no such directory, or was damaged.
    """
    record = read_record(folder)
    if record.get("kind") != "pick":
        raise ResultsError(f'{folder} holds no results of "pivotfront pick"; name the directory a pick wrote')
    _refuse_changed(folder, record, (PIVOT, SCENARIO))
    scenario = load_scenario(folder / SCENARIO)
    try:
        built = json.loads((folder / PIVOT).read_text(encoding="utf-8"))["as_built"]
        y, z = (float(scenario.unit.to_mm(float(built[name]))) for name in ("pivot_y", "pivot_z"))
        joint = [float(scenario.unit.to_mm(float(built[name]))) for name in ("inner_joint_y", "inner_joint_z")]
        camber, hole = float(np.radians(float(built["static_camber_deg"]))), int(built.get("upper_hole", 1)) - 1
        candidate = candidate_at(scenario, y, z, camber, hole=hole)
        if not np.isfinite(joint).all():
            raise ValueError
    except (OSError, ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError):
        raise ResultsError(f"{folder / PIVOT} is damaged; undo the change, or pick again") from None
    return candidate if scenario.corner.steering.inner_region is None else with_inner_joint(candidate, *joint)


def write_measured(blocks: list[Block], numbers: dict[str, Any], scenario: Scenario, folder: Path) -> None:
    """Write what a measurement says: a report and its numbers."""
    write_json(folder / "measured.json", numbers)
    (folder / "measured.md").write_text(as_markdown(blocks), encoding="utf-8")
    (folder / "measured.html").write_text(as_html(scenario.title, blocks), encoding="utf-8")
    _copy_scenario(scenario, folder)
    write_record(folder, "measure", {"title": scenario.title, "units": scenario.unit.name})


def write_pick(
    front: Front,
    row: int,
    listed: Listed | None,
    folder: Path,
    papers: Sequence[str] = (),
    tell: Callable[[str], None] = lambda _: None,
) -> Candidate:
    """Write everything about the chosen row; return the candidate that gets built."""
    why = f"It is row {row + 1} of the front" + (f": {listed.kind}. {listed.why}" if listed else ", chosen by hand.")
    return write_chosen(front, front.candidate(row), row + 1, why, folder, papers, tell)


def write_chosen(
    front: Front,
    as_found: Candidate,
    number: int | None,
    why: str,
    folder: Path,
    papers: Sequence[str] = (),
    tell: Callable[[str], None] = lambda _: None,
) -> Candidate:
    """Write everything about a chosen candidate; return the one that gets built.

    Parameters
    ----------
    front
        What it is compared with; its scenario is the candidate's.
    as_found
        What was chosen, before rounding.
    number
        Its id on the front, or None where it is no row of it.
    why
        In sentences.
    folder
        Where to write.
    papers
        Of the templates, as in `write_shop_files`.
    tell
        Takes what is done next, in words: each step takes a second or more.
    """
    from optimizer.cores import begin
    from optimizer.pictures import draw_candidate
    from optimizer.shop_files import write_shop_files
    from optimizer.weld_pictures import draw_weld_region

    scenario = front.scenario
    tell("rounding it to the tape ...")
    chosen = rounded(front.problem, as_found)
    built, found = (shown(scenario, candidate.measures()) for candidate in (chosen, as_found))
    unit, step = scenario.unit, scenario.build.round_to
    tape = {
        name: unit.tape(chosen.measures()[name], step)
        for name in ("pivot_y", "pivot_z", "arm_length", "tie_rod_length", "inner_joint_y", "inner_joint_z")
    }
    name = f"{'a pivot set by hand' if number is None else f'row {number}'} of {scenario.title}"
    # each takes as long as all that is worked out below
    pictured = begin([partial(draw_candidate, chosen, folder, baseline_of(scenario))])
    printed = begin([partial(write_shop_files, chosen, folder, name, papers)])
    tell("building it some thousands of times ...")
    figures = build_figures(chosen)
    tell("looking where it may be welded ...")
    region = weld_region(chosen)
    tell("drawing it, and its templates ...")
    shop = build_numbers(scenario, figures, region)
    content = {"id": number, "tape": tape, "as_built": built, "before_rounding": found, "build": shop}
    write_json(folder / PIVOT, content)
    columns = {
        "value": built.keys(),
        "tape": [tape.get(name, "") for name in built],
        "as_built": built.values(),
        "before_rounding": found.values(),
    }
    write_csv(folder / "pivot.csv", columns)
    write_curves(chosen, folder)
    welded = draw_weld_region(chosen, region, folder)
    (drawn,), (for_shop,) = pictured(), printed()
    order = [f"{stem}.png" for stem in CAPTIONS]
    pictures = sorted((p for p in [*drawn, *welded] if p.suffix == ".png"), key=lambda p: order.index(p.name))
    words = build_blocks(scenario, figures, region)
    pictures = [*pictures, *for_shop.pictures]
    blocks = rationale(front, chosen, as_found, why, words, pictures, for_shop.blocks, for_shop.sheet)
    (folder / "rationale.md").write_text(as_markdown(blocks), encoding="utf-8")
    (folder / "rationale.html").write_text(as_html(scenario.title, blocks), encoding="utf-8")
    _copy_scenario(scenario, folder)
    prints = {name: digest(folder / name) for name in (PIVOT, SCENARIO)}
    write_record(folder, "pick", {"title": scenario.title, "units": unit.name, "id": number, "sha256": prints})
    return chosen
