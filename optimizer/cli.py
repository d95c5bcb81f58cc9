"""The command line: from new to pick, one function a command. Exits: 0 done, 2 wrong input, 3 no usable candidate."""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from optimizer.errors import PivotfrontError, ResultsError

if TYPE_CHECKING:
    from optimizer.candidate import Candidate
    from optimizer.front_search import Front
    from optimizer.scenario import Scenario

GARBAGE = 50_000  # objects made before cycles are looked for: as often as usual, that takes a tenth of an import's time

app = typer.Typer(
    name="pivotfront",
    help="Place the inboard upper-arm pivot of a double A-arm front: write a scenario, search, look, pick.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


class PaperName(StrEnum):
    """Paper of the 1:1 templates."""

    a4 = "a4"
    a3 = "a3"
    letter = "letter"
    roll = "roll"


File = Annotated[Path, typer.Argument(metavar="FILE", help="Scenario file (TOML).")]
Force = Annotated[bool, typer.Option("--force", help="Replace an earlier directory of the same command.")]


@app.callback()
def _options(
    debug: Annotated[
        bool, typer.Option("--debug", help="Show the traceback of an error; anywhere on the line.")
    ] = False,
) -> None:
    pass


@app.command()
def new(
    file: File,
    units: Annotated[Literal["mm", "inch"], typer.Option(help="Length unit of the scenario.")] = "mm",
) -> None:
    """Write a commented starter scenario to FILE; an existing file is never overwritten."""
    from optimizer.drafts import draft_beside, put_new_file
    from optimizer.starter import starter_text

    text = starter_text(units)
    try:
        if os.path.lexists(file):
            raise FileExistsError
        with draft_beside(file) as draft:
            draft.write_text(text, encoding="utf-8")
            put_new_file(draft, file)
    except FileExistsError:
        raise ResultsError(f"{file} exists already and is left as it is; name another file") from None
    except OSError as error:
        raise ResultsError(f"{file} cannot be written: {error.strerror}") from None
    _say(f"wrote {file}; edit it, then: pivotfront check {file}")


@app.command()
def check(
    file: File,
    picture: Annotated[
        Path | None, typer.Option(metavar="PNG", help="Where to draw the front view; else FILE-front-view.png.")
    ] = None,
) -> None:
    """List every fault of FILE, or show the geometry that follows from it, and draw its front view."""
    from optimizer.derived import derived_geometry, draw_nominal

    scenario = _load(file)
    for name, value in derived_geometry(scenario):
        typer.echo(f"{name:42} {value}")
    for default in scenario.defaults:
        typer.echo(f"left out, so taken: {default.key} = {default.value} ({default.why})")
    place = picture if picture is not None else file.with_name(f"{file.stem}-front-view.png")
    draw_nominal(scenario, place)
    _say(f"wrote {place}")


@app.command("try")
def try_one(
    file: File,
    pivot: Annotated[tuple[str, str], typer.Option(metavar="Y Z", help="Upper inner pivot, in the scenario's unit.")],
    static_camber: Annotated[float | None, typer.Option(metavar="DEG", help="Static camber, degrees.")] = None,
    arm_length: Annotated[str | None, typer.Option(metavar="L", help="Upper arm length instead.")] = None,
    upper_hole: Annotated[
        int, typer.Option(metavar="N", min=1, help="Which point of spindle.upper_pivot, counted from 1.")
    ] = 1,
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Write measures, curves and pictures here.")] = None,
    force: Force = False,
) -> None:
    """Measure one candidate."""
    import math

    from optimizer.candidate import candidate_at
    from optimizer.outputs import write_try
    from optimizer.results import new_directory

    if static_camber is not None and arm_length is not None:
        raise ResultsError("give --static-camber or --arm-length, not both: one follows from the other")
    if static_camber is not None and not abs(static_camber) <= 45.0:
        raise ResultsError(f"--static-camber {static_camber:g}: give degrees between -45 and 45")
    scenario = _load(file)
    y, z = (_length(scenario, "--pivot", text) for text in pivot)
    arm = None if arm_length is None else _length(scenario, "--arm-length", arm_length)
    if arm is not None and not arm > 0.0:
        raise ResultsError(f"--arm-length {arm_length}: an arm has a length of more than 0")
    camber = None if static_camber is None else math.radians(static_camber)
    holes = scenario.corner.spindle.upper_holes
    if upper_hole > (count := 1 if holes is None else holes.shape[1]):
        raise ResultsError(f"--upper-hole {upper_hole}: spindle.upper_pivot holds {count}, counted from 1")
    candidate = candidate_at(scenario, y, z, camber, arm, upper_hole - 1)
    if out is not None:
        with new_directory(out, kind="try", force=force) as folder:
            write_try(candidate, folder)
        _say(f"wrote {out}")
    _show_candidate(candidate)


@app.command()
def search(
    file: Annotated[Path | None, typer.Argument(metavar="FILE", help="Scenario file (TOML).")] = None,
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Directory for the front; else front.")] = None,
    seed: Annotated[
        int, typer.Option(min=0, help="The same seed gives the same front, where neither time nor a hand ends it.")
    ] = 1,
    time: Annotated[str | None, typer.Option(metavar="TIME", help="Search for so long: 90s, 5m, 2h.")] = None,
    until_quiet: Annotated[
        bool, typer.Option("--until-quiet", help="Search until hardly anything better is found any more.")
    ] = False,
    resume: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Go on from the search that left DIR, in place of FILE.")
    ] = None,
    force: Force = False,
) -> None:
    """Search FILE for the front: every candidate that no other betters in everything. Ctrl-C ends it early."""
    from dataclasses import replace

    from optimizer.front_search import search as search_front
    from optimizer.ledger import BY_HAND
    from optimizer.outputs import SCENARIO, read_start, write_front
    from optimizer.results import new_directory
    from optimizer.watching import ending_of, prepare, stopped_by_hand, tell, watched

    if (file is None) == (resume is None):
        raise ResultsError("give a scenario FILE, or --resume DIR to go on from an earlier search: one of the two")
    ending = ending_of(time, until_quiet)
    start = None if resume is None else read_start(resume)
    scenario = _load(file or Path(resume or "") / SCENARIO)
    place = out or resume or Path("front")
    force = force or (resume is not None and out is None)
    with _or_nothing(), new_directory(place, kind="search", force=force) as folder:
        prepare(scenario)
        with stopped_by_hand() as asked:
            until = replace(ending, asked=asked)
            with watched(scenario) as show:
                front = search_front(scenario, seed=seed, show=show, ending=until, start=start, tell=tell)
            if front.ended == BY_HAND:
                again = f"pivotfront search --resume {place}"
                _say(f"stopped after {front.evaluated:,} candidates; go on with: {again}")
            _say("drawing the front ...")
            write_front(front, folder, seed)
    _show_shortlist(front)
    page, table = place / "front.html", place / "front.csv"
    typer.echo(f"\nopen {page} in a browser to look at all {len(front)} rows; {table} has them too")
    typer.echo(f"then: pivotfront pick {place}, or with --id N for another row than {front.shortlist[0].row + 1}")


@app.command()
def sweep(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="One scenario file to vary, or several.")],
    vary: Annotated[
        str | None,
        typer.Option(metavar="KEY=FIRST:LAST:STEP", help="A key of FILE and its values: tyre.radius=350:390:5."),
    ] = None,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Directory for the table and the plot.")] = Path("sweep"),
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same fronts.")] = 1,
    force: Force = False,
) -> None:
    """Search one FILE for each value of a key, or several FILEs, and show how the best trade-off moves."""
    from optimizer.outputs import write_sweep
    from optimizer.results import new_directory
    from optimizer.sweeping import cases_of, run_sweep
    from optimizer.watching import counted, prepare

    cases, key = cases_of(files, vary)
    with _or_nothing(), new_directory(out, kind="sweep", force=force) as folder:
        prepare(*(_load(file) for file in files))
        with counted("searches") as show:
            swept = run_sweep(cases, key, seed=seed, show=show)
        left = [outcome.case.name for outcome in swept.outcomes if not outcome.searched]
        done = len(swept.outcomes) - len(left)
        if left:
            _say(f"stopped after {done} of {len(swept.outcomes)} searches, which are kept (Ctrl-C again: nothing is)")
            _say(f"not searched: {', '.join(left)}")
        write_sweep(swept, folder, seed)
    for outcome in swept.outcomes:
        if outcome.front is None and outcome.searched:
            _say(outcome.said)
    typer.echo(f"{done} searches in {out / 'sweep.csv'}; look at {out / 'sweep.png'}")


@app.command()
def pick(
    directory: Annotated[Path, typer.Argument(metavar="DIR", help="Directory a search wrote.")],
    number: Annotated[
        int | None, typer.Option("--id", metavar="N", help="Row of front.csv; else the balanced one.")
    ] = None,
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Directory for the pick; else DIR-pick-N.")] = None,
    paper: Annotated[
        list[PaperName] | None,
        typer.Option(help="Of the 1:1 templates, may be given several times; else a4 for mm, letter for inch."),
    ] = None,
    force: Force = False,
) -> None:
    """Choose a pivot and write what the shop needs, with the reasons."""
    from optimizer.outputs import read_front, write_pick
    from optimizer.rationale import CAUTIONS, say_pivot
    from optimizer.results import new_directory

    front = read_front(directory)
    if number is not None and not 1 <= number <= len(front):
        raise ResultsError(f"--id {number}: {directory / 'front.csv'} has rows 1 to {len(front)}")
    listed = {item.row: item for item in front.shortlist}
    if number is None:
        _show_shortlist(front)
    row = front.shortlist[0].row if number is None else number - 1
    place = out if out is not None else directory.resolve().with_name(f"{directory.resolve().name}-pick-{row + 1}")
    with _or_nothing(), new_directory(place, kind="pick", force=force) as folder:
        chosen = write_pick(front, row, listed.get(row), folder, paper or (), _say)
    typer.echo(f"\nrow {row + 1}: {say_pivot(chosen, chosen.measures()['arm_length'])}")
    if number is None:
        typer.echo(f"it is the balanced one; for another row: pivotfront pick {directory} --id N")
    typer.echo(f"the reasons and everything for the shop: {place / 'rationale.html'}")
    for caution in CAUTIONS:
        typer.echo(f"- {caution}")


@app.command()
def explore(
    file: File,
    results: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Directory a search wrote: says what betters a pivot.")
    ] = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port to listen on; 0 takes a free one.")] = 0,
    browser: Annotated[bool, typer.Option(help="Open the page in the browser.")] = True,
) -> None:
    """Drag the pivot of FILE in a live page and see everything follow; Ctrl-C stops."""
    from optimizer.live_desk import desk_of
    from optimizer.live_server import explore as explore_live
    from optimizer.watching import prepare

    scenario = _load(file)
    prepare(scenario)
    explore_live(desk_of(file, scenario, results), port, browser, _say)


@app.command()
def measure(
    directory: Annotated[Path, typer.Argument(metavar="DIR", help="Directory a pick wrote.")],
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="CSV: travel, and camber_deg, contact_y or both, a line a height.")
    ],
    camber_error: Annotated[
        float, typer.Option(metavar="DEG", help="How good a camber reading is, one standard deviation.")
    ] = 0.1,
    contact_error: Annotated[
        str | None, typer.Option(metavar="L", help="How good a contact position is; else 1 mm.")
    ] = None,
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Write the report and its numbers here.")] = None,
    force: Force = False,
) -> None:
    """Say from camber and contact position of the tacked car which point is most likely off."""
    import math

    from optimizer.measurement import read_measurement
    from optimizer.outputs import read_pick, write_measured
    from optimizer.page import as_text
    from optimizer.rationale import CAUTIONS
    from optimizer.results import new_directory
    from optimizer.suspect_words import measured_blocks, measured_numbers
    from optimizer.suspects import CONTACT_ERROR, suspects, verdict

    if not 0.0 < camber_error <= 10.0:
        raise ResultsError(f"--camber-error {camber_error:g}: give degrees, more than 0 and at most 10")
    candidate = read_pick(directory)
    contact = CONTACT_ERROR if contact_error is None else _length(candidate.scenario, "--contact-error", contact_error)
    if not contact > 0.0:
        raise ResultsError(f"--contact-error {contact_error}: must be more than 0")
    measured, errors = read_measurement(file, candidate.scenario), (math.radians(camber_error), contact)
    _say("weighing which part explains it ...")
    stories = suspects(candidate, measured, *errors)
    found = verdict(candidate, stories)
    blocks = measured_blocks(candidate, measured, errors, stories, found, CAUTIONS)
    if out is not None:
        with new_directory(out, kind="measure", force=force) as folder:
            write_measured(blocks, measured_numbers(candidate, measured, stories, found), candidate.scenario, folder)
        _say(f"wrote {out}")
    typer.echo(as_text(blocks))


def _load(file: Path) -> Scenario:
    from optimizer.scenario import load_scenario

    scenario = load_scenario(file)
    for doubt in scenario.doubts:
        _say(f"doubtful: {doubt}")
    return scenario


@contextmanager
def _or_nothing() -> Iterator[None]:
    """Say so where Ctrl-C ends what writes a directory, which then is not there."""
    try:
        yield
    except KeyboardInterrupt:
        _say("stopped; nothing was written")
        raise typer.Exit(130) from None


def _length(scenario: Scenario, option: str, text: str) -> float:
    try:
        return scenario.unit.parse_length(text)
    except ValueError as error:
        raise ResultsError(f"{option} {text}: {error}") from None


def _show_candidate(candidate: Candidate) -> None:
    from optimizer.on_screen import against_targets, remarks_on
    from optimizer.rationale import say_pivot

    typer.echo(say_pivot(candidate, candidate.measures()["arm_length"]))
    for title, value, aim, limit in against_targets(candidate):
        typer.echo(f"{title:22} {value:>12}   aim {aim:>10}   limit {limit:>10}")
    for remark in remarks_on(candidate):
        typer.echo(remark)


def _show_shortlist(front: Front) -> None:
    import os

    from rich.console import Console

    from optimizer.on_screen import PIPED, print_shortlist

    known = sys.stdout.isatty() or "COLUMNS" in os.environ
    print_shortlist(front, Console(width=None if known else PIPED, markup=False, emoji=False, highlight=False))


def _say(text: str) -> None:
    typer.echo(text, err=True)


def main() -> None:
    """Run the command line; every mistake is a sentence on stderr."""
    for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        # many small products: threads inside each only wait for each other, and last digits would go by their number
        os.environ.setdefault(name, "1")
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # to look for some reads what every package brings
    gc.set_threshold(GARBAGE)
    atexit.register(gc.freeze)  # all memory goes back anyway: to look for cycles in it first takes half a second
    words = [word for word in sys.argv[1:] if word != "--debug"]
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a screen that lacks a character is no reason to stop
    try:
        app(words)
    except PivotfrontError as error:
        if len(words) < len(sys.argv) - 1:
            raise
        _say(str(error))
        sys.exit(error.exit_code)


if __name__ == "__main__":
    main()
