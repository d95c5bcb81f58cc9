"""What every live page of one server shares: the scenario's file, a front to compare with, and hands for long work."""

from __future__ import annotations

import os
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np

from objectives.corner import Candidates
from objectives.evaluate import measure
from optimizer.candidate import Candidate, baseline_of, with_pivots
from optimizer.drafts import draft_beside, put_new_file
from optimizer.errors import ResultsError
from optimizer.front_search import Front
from optimizer.live_numbers import Rows
from optimizer.live_point import Point, first_point
from optimizer.outputs import read_front, write_chosen
from optimizer.results import new_directory
from optimizer.scenario import Scenario

_NAME = re.compile(r"[\w(][\w .()+-]{0,79}")
BY_HAND = "It was chosen by hand on the live page, and is no row of a front."


@dataclass(frozen=True)
class Desk:
    """One scenario on the table; what pages write goes into the folder of its file."""

    file: Path
    scenario: Scenario
    front: Front | None = None
    results: Path | None = None
    measuring: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1, "measuring"))
    mapping: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1, "mapping"))

    def close(self) -> None:
        """Let go of the hands; what they are at ends by itself."""
        for hands in (self.measuring, self.mapping):
            hands.shutdown(wait=False, cancel_futures=True)

    @cached_property
    def rows(self) -> Rows | None:
        """The front's rows, measured in this scenario."""
        if self.front is None:
            return None
        table = self.front.table
        y, z, camber = (table[name] for name in ("pivot_y", "pivot_z", "static_camber"))
        candidates = Candidates(y, z, camber, np.asarray(table["upper_hole"], dtype=np.intp) - 1)
        if self.front.scenario.text == self.scenario.text:
            return Rows(candidates, table, self.scenario)
        return Rows(candidates, with_pivots(candidates, measure(self.scenario.corner, candidates)))


def desk_of(file: Path, scenario: Scenario, results: Path | None) -> Desk:
    """Everything on the table.

    Raises
    ------
    ResultsError
        The directory holds no results of a search, or those of a spindle with fewer holes.
    """
    if results is None:
        return Desk(file, scenario)
    front = read_front(results)
    holes = scenario.corner.spindle.upper_holes
    if int(np.max(front.table["upper_hole"])) > (1 if holes is None else holes.shape[1]):
        raise ResultsError(f"{results}: its rows use holes that {file} does not have; search {file} again")
    return Desk(file, scenario, front, results)


def begins_at(desk: Desk) -> Point:
    """Where a page begins: at the baseline, else at the front's first row, else in the middle of the ranges."""
    row = None if desk.front is None else desk.front.candidate(0)
    return first_point(desk.scenario, baseline_of(desk.scenario) or row)


def free_name(folder: Path, stem: str, end: str = "") -> str:
    """A name that nothing in a folder has yet: "stem-2", "stem-3", ..."""
    return next(name for n in range(2, 10_000) if not (folder / (name := f"{stem}-{n}{end}")).exists())


def named(folder: Path, name: str, end: str = "") -> Path:
    """A new place in a folder, under a name that was typed.

    Raises
    ------
    ResultsError
        It is no plain name.
    """
    name = name.strip()
    if not _NAME.fullmatch(name) or name.endswith("."):
        raise ResultsError("give a plain name: letters, digits, spaces and . ( ) + - _ , without a folder, at most 80")
    return folder / (name if name.endswith(end) else name + end)


def save_scenario(place: Path, text: str) -> None:
    """Write a scenario's text to a new file.

    Raises
    ------
    ResultsError
        The file exists, or cannot be written.
    """
    try:
        if os.path.lexists(place):
            raise FileExistsError
        with draft_beside(place) as draft:
            with draft.open("w", encoding="utf-8", newline="") as file:
                file.write(text)
            put_new_file(draft, place)
    except FileExistsError:
        raise ResultsError(f"{place.name} exists already and is left as it is; give another name") from None
    except OSError as error:
        raise ResultsError(f"{place.name} cannot be written: {error.strerror}") from None


def use_pivot(place: Path, chosen: Candidate, rows: Rows | None) -> None:
    """Write what `pick` writes, of a candidate chosen by hand.

    Raises
    ------
    ResultsError
        The directory exists, or cannot be written.
    """
    scenario = chosen.scenario
    batch = chosen.as_batch
    table = with_pivots(batch, measure(scenario.corner, batch)) if rows is None else rows.table
    count = len(table["pivot_y"])
    front = Front(scenario, table, count, count, count, 1.0, ())
    with new_directory(place, kind="pick", force=False) as folder:
        write_chosen(front, chosen, None, BY_HAND, folder)
