"""Many searches side by side: how the best trade-off moves with one key, or from one scenario to another."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import Any

import numpy as np

from objectives.objective import Goal
from optimizer.candidate import shown
from optimizer.cores import cores, undisturbed
from optimizer.errors import NoUsableCandidate, ResultsError, ScenarioError
from optimizer.faults import shorten
from optimizer.front_search import Front, search
from optimizer.goals import GOALS
from optimizer.ledger import BUDGET
from optimizer.readers import shown_as
from optimizer.scenario import Scenario, load_scenario, parse_scenario
from optimizer.units import INCH
from optimizer.vary import read_vary, with_value

NOT_SEARCHED = "the sweep was stopped before this search was done"


@dataclass(frozen=True)
class Case:
    """One scenario of a sweep: what it is called, its text, and its place on the axis (its number, if words)."""

    name: str
    text: str
    place: float


@dataclass(frozen=True)
class Outcome:
    """What came of one case: its front, or the sentence that says why there is none."""

    case: Case
    front: Front | None
    why_none: str = ""

    @property
    def searched(self) -> bool:
        """Whether its search was done, front or none."""
        return self.why_none != NOT_SEARCHED

    @property
    def said(self) -> str:
        """Why there is no front, headed by the case's name; a faulty scenario is headed by it already."""
        headed = self.why_none.startswith(self.case.name)
        return self.why_none if headed else f"{self.case.name}: {self.why_none}"

    @cached_property
    def balanced(self) -> dict[str, Any]:
        """The balanced candidate of the shortlist, mm and radians by name; empty without a front."""
        if self.front is None:
            return {}
        row = self.front.shortlist[0].row
        return {name: column[row].item() for name, column in self.front.table.items()}

    def best(self, objective: Goal) -> float:
        """Best value of one objective on the front, mm or radians; NaN without one."""
        if self.front is None or not np.isfinite(self.front.table[objective.name]).any():
            return float("nan")
        values = self.front.table[objective.name]
        return float(np.nanmin(values) if objective.better == "less" else np.nanmax(values))


@dataclass(frozen=True)
class Swept:
    """All outcomes in order, and what was varied: a key, or nothing where each case is a scenario of its own."""

    outcomes: tuple[Outcome, ...]
    key: str | None

    @property
    def scenario(self) -> Scenario:
        """The first scenario of which there is a front: it tells unit and title."""
        return next(outcome.front.scenario for outcome in self.outcomes if outcome.front is not None)

    @property
    def asked(self) -> tuple[Goal, ...]:
        """Objectives of which any case asks anything."""
        fronts = [outcome.front for outcome in self.outcomes if outcome.front is not None]
        return tuple(objective for objective in GOALS if any(objective in f.scenario.asked for f in fronts))

    def table(self) -> list[dict[str, Any]]:
        """A row for every case, in its scenario's unit and degrees: the balanced candidate, then the best of each."""
        rows = [self._row(outcome) for outcome in self.outcomes]
        names = dict.fromkeys(name for row in rows for name in row)
        why = [outcome.why_none.replace(":\n", ": ").replace("\n", "; ") for outcome in self.outcomes]
        return [
            {**{name: row.get(name) for name in names}, "why_none": words} for row, words in zip(rows, why, strict=True)
        ]

    def _row(self, outcome: Outcome) -> dict[str, Any]:
        row: dict[str, Any] = {self.key or "scenario": outcome.case.place if self.key else outcome.case.name}
        front = outcome.front
        if front is None:
            return row
        one = shown(front.scenario, {name: np.array([value]) for name, value in outcome.balanced.items()})
        best = {f"best_{o.column}": front.scenario.unit.show(outcome.best(o), o.quantity) for o in front.scenario.asked}
        counts = {"tried": front.evaluated, "usable": front.usable, "kept": front.kept}
        return {**row, **counts, **{name: column[0] for name, column in one.items()}, **best}


def cases_of(files: Sequence[Path], vary: str | None) -> tuple[list[Case], str | None]:
    """Cases of a sweep over one key of one file, or of several files; and the key, or None.

    Raises
    ------
    ScenarioError
        A file cannot be used as it stands.
    ResultsError
        What is to be varied is not clear, or the files measure in different units.
    """
    scenarios = [load_scenario(file) for file in files]
    if vary is not None:
        if len(files) > 1:
            raise ResultsError("--vary takes one FILE; without it several FILEs are set beside each other")
        asked = read_vary(vary)
        if "/" in vary and scenarios[0].unit is not INCH:
            raise ResultsError(
                f"--vary {shorten(vary)}: only a scenario in inches takes fractions; write its values as plain numbers"
            )
        text = scenarios[0].text
        named = ((f"{asked.key} = {value:g}", value) for value in asked.values)
        return [Case(name, with_value(text, asked, value), value) for name, value in named], asked.key
    if len(files) < 2:
        raise ResultsError("one FILE alone is no sweep: give --vary KEY=FIRST:LAST:STEP, or several FILEs")
    if len({scenario.unit.name for scenario in scenarios}) > 1:
        raise ResultsError("the FILEs measure in different units; a sweep needs one")
    named_texts = ((shown_as(file.stem), scenario.text) for file, scenario in zip(files, scenarios, strict=True))
    return [Case(name, text, number) for number, (name, text) in enumerate(named_texts)], None


def run_sweep(
    cases: Sequence[Case],
    key: str | None,
    *,
    budget: int = BUDGET,
    seed: int = 1,
    show: Callable[[int, int], None] | None = None,
) -> Swept:
    """Search every case, one on each core.

    A KeyboardInterrupt (Ctrl-C) ends the sweep with what is done by then; before the first front it is raised.

    Parameters
    ----------
    cases
        At least one.
    key
        What was varied, or None.
    budget, seed
        Of every search, as `search` takes them.
    show
        Told how many are done, and of how many.

    Raises
    ------
    ScenarioError
        No case makes sense; the faults are those of the first.
    NoUsableCandidate
        No case has a usable candidate.
    """
    found: dict[int, Outcome] = {}
    try:
        if show is not None:
            show(0, len(cases))
        for number, outcome in _searched(cases, budget, seed):
            found[number] = outcome
            if show is not None:
                show(len(found), len(cases))
    except KeyboardInterrupt:
        if all(outcome.front is None for outcome in found.values()):
            raise
    left = (Outcome(case, None, NOT_SEARCHED) for case in cases)
    outcomes = tuple(found.get(number, outcome) for number, outcome in enumerate(left))
    if all(outcome.front is None for outcome in outcomes):
        parse_scenario(cases[0].text, cases[0].name)
        whys = "\n".join(outcome.said for outcome in outcomes)
        raise NoUsableCandidate(f"no case has a usable candidate\n{whys}")
    return Swept(outcomes, key)


def _searched(cases: Sequence[Case], budget: int, seed: int) -> Iterator[tuple[int, Outcome]]:
    """Outcomes as they come, each with the number of its case."""
    from joblib import Parallel, delayed

    searches = [partial(_numbered, *case, budget, seed) for case in enumerate(cases)]
    if cores() == 1:
        yield from (one() for one in searches)
    else:
        pool = Parallel(n_jobs=cores(), return_as="generator_unordered", batch_size=1)
        yield from pool(delayed(undisturbed)(one) for one in searches)


def _numbered(number: int, case: Case, budget: int, seed: int) -> tuple[int, Outcome]:
    # each search has one core, for there are as many at once as cores
    os.environ["LOKY_MAX_CPU_COUNT"] = "1"
    try:
        return number, Outcome(case, search(parse_scenario(case.text, case.name), budget=budget, seed=seed))
    except (NoUsableCandidate, ScenarioError) as error:
        return number, Outcome(case, None, str(error))
