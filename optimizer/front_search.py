"""The search of a scenario, and the front that comes of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from objectives.corner import Candidates
from objectives.evaluate import Measures
from optimizer.build_surface import BUILDS
from optimizer.build_yield import measure_with_yield
from optimizer.candidate import Candidate, candidate_in, shown, with_pivots
from optimizer.choice import Listed, achievement, best_rows, shortlist
from optimizer.errors import Fault, NoUsableCandidate, ScenarioError
from optimizer.front import greedy_hypervolume, hypervolume, reference_point, thin_on_grid
from optimizer.goals import BUILD_YIELD
from optimizer.ledger import BUDGET, BY_BUDGET, Ending, Progress, Sought, Start
from optimizer.problem import PivotProblem
from optimizer.scenario import Scenario
from optimizer.seeker import seek
from optimizer.shows import ShowsItself

if TYPE_CHECKING:
    import pandas as pd

ROWS = 400  # of the front that is shown
MANY = 6000  # kept candidates above which near-equal ones are left out before the rows are chosen


@dataclass(frozen=True)
class Front(ShowsItself):
    """The rows shown of what a search kept: mm and radians, the best for the aims first; ids count from 1.

    `ended` says what ended the search, `found` is everything it kept, to go on from; None where a front was read back.
    """

    scenario: Scenario
    table: Measures
    kept: int
    evaluated: int
    usable: int
    hypervolume_share: float
    history: tuple[tuple[int, float], ...]
    ended: str = BY_BUDGET
    found: Start | None = None

    @cached_property
    def problem(self) -> PivotProblem:
        """What was searched."""
        return PivotProblem(self.scenario)

    @cached_property
    def costs(self) -> np.ndarray:
        """Traded objectives of the rows, less is better, shape (rows, M)."""
        return self.problem.costs(self.table)

    @cached_property
    def shortlist(self) -> list[Listed]:
        """The few to look at first; `row` counts from 0."""
        problem, scenario = self.problem, self.scenario

        def tell(row: int, cost: int) -> str:
            objective = problem.traded[cost]
            aim = scenario.targets[objective.name].aim
            assert aim is not None, "only what has an aim can miss it"
            reached = float(self.table[objective.name][row])
            return ", aim ".join(scenario.unit.brief(value, objective.quantity) for value in (reached, aim))

        names = [objective.title.lower() for objective in problem.traded]
        return shortlist(self.costs, problem.aims, problem.scale, names, tell, self.table[BUILD_YIELD.name])

    @property
    def marked(self) -> list[tuple[int, str]]:
        """Rows of the shortlist, counted from 0, and what pictures call them."""
        return [(item.row, f"{item.row + 1} {item.kind}") for item in self.shortlist]

    @cached_property
    def frame(self) -> pd.DataFrame:
        """The front as a table in the scenario's unit and degrees."""
        import pandas as pd

        columns: dict[str, Any] = shown(self.scenario, self.table)
        return pd.DataFrame({"id": np.arange(1, len(self) + 1), **columns})

    def __len__(self) -> int:
        return len(self.table["pivot_y"])

    def candidate(self, row: int) -> Candidate:
        """Candidate of a row, counted from 0."""
        return candidate_in(self.scenario, self.table, row)


def search(
    scenario: Scenario,
    *,
    budget: int = BUDGET,
    seed: int = 1,
    show: Callable[[Progress], None] | None = None,
    ending: Ending | None = None,
    start: Start | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> Front:
    """Search a scenario for its front.

    Parameters
    ----------
    scenario
        From `load_scenario`.
    budget
        Candidates to judge.
    seed
        The same seed gives the same front.
    show
        Told of the progress after every batch.
    ending
        Other ends than a budget, which then does not count.
    start
        What an earlier search of this scenario kept (`Front.found`), to go on from.
    tell
        Takes what is done after the search, in words, for that takes seconds.

    Raises
    ------
    NoUsableCandidate
        Nothing meets every limit; the message says how many fell to which, and how near the nearest came.
    """
    problem = PivotProblem(scenario)
    _refuse_nothing_to_search(problem)
    sought = _distinct(problem, seek(problem, budget=budget, seed=seed, show=show, ending=ending, start=start))
    if not len(sought.x):
        raise NoUsableCandidate(why_nothing(problem, sought))
    tell(f"choosing rows of {len(sought.x):,} kept, and building each {BUILDS} times ...")
    rows, share = _chosen(problem, sought)
    candidates = problem.candidates(sought.x[rows])
    table = with_pivots(candidates, measure_with_yield(scenario, candidates))
    found = Start(sought.x, sought.costs, sought.evaluated, sought.usable, sought.history)
    counts = (len(sought.x), sought.evaluated, sought.usable)
    return Front(scenario, table, *counts, share, sought.history, sought.ended, found)


def _refuse_nothing_to_search(problem: PivotProblem) -> None:
    if not problem.free.any():
        sentence = (
            "pivot_y, pivot_z and static_camber are all held fixed, so there is nothing to search; "
            'give one of them a range [min, max], or look at the one candidate with "pivotfront try"'
        )
        raise ScenarioError("scenario", (Fault("upper_arm", None, "", sentence),))


def _chosen(problem: PivotProblem, sought: Sought) -> tuple[np.ndarray, float]:
    """Rows of what was kept that make the front, and their share of the kept ones' hypervolume."""
    costs, scale = sought.costs, problem.scale
    few = np.arange(len(costs))
    cell = 0.1 * scale
    while len(few) > MANY:
        few = thin_on_grid(costs, cell)
        cell = 1.4 * cell
    few = np.union1d(few, best_rows(costs, problem.aims, scale))
    reference = reference_point(costs[few], scale)
    always = best_rows(costs[few], problem.aims, scale)
    picked = greedy_hypervolume(costs[few], min(ROWS, len(few)), reference, always)
    order = np.argsort(achievement(costs[few][picked], problem.aims, scale), kind="stable")
    picked = np.asarray(picked)[order]
    share = hypervolume(costs[few][picked], reference) / hypervolume(costs[few], reference)
    return few[picked], share


def _distinct(problem: PivotProblem, sought: Sought) -> Sought:
    """What was found with each candidate once: a hole has a stretch of its variable, not a point."""
    rows = np.sort(np.unique(problem.every(sought.x), axis=0, return_index=True)[1])
    return replace(sought, x=sought.x[rows], costs=sought.costs[rows])


def why_nothing(problem: PivotProblem, sought: Sought) -> str:
    """Say which limits stopped every candidate, and how near the nearest came."""
    misses, unit = sought.misses, problem.scenario.unit
    lines = [f"none of {sought.evaluated:,} candidates meets every limit. How many fell to which:"]
    for row in np.argsort(-misses.broke, kind="stable"):
        if misses.broke[row]:
            alone = f", {misses.broke_only[row]:,} of them to this alone" if misses.broke_only[row] else ""
            lines.append(f"  {misses.broke[row]:7,}  {problem.limits[row].words}{alone}")
    if misses.nearest is not None and misses.nearest_excess is not None:
        candidates: Candidates = problem.candidates(misses.nearest[None])
        measured = measure_with_yield(problem.scenario, candidates)
        y, z, camber = (float(v[0]) for v in (candidates.pivot_y, candidates.pivot_z, candidates.static_camber))
        lines.append(
            f"The nearest miss: pivot y {unit.brief(y)}, z {unit.brief(z)}, "
            f"static camber {unit.brief(camber, 'angle')}. It breaks:"
        )
        for row in np.flatnonzero(misses.nearest_excess > 0.0):
            lines.append(f"  {problem.limits[row].words}{_reached(problem, int(row), measured)}")
    lines.append("Loosen a limit in [targets], widen a range in [upper_arm], or ask for less in [travel].")
    return "\n".join(lines)


def _reached(problem: PivotProblem, row: int, measured: Measures) -> str:
    objective = problem.limits[row].objective
    if objective is None or not np.isfinite(measured[objective.name][0]):
        return ""
    reached = problem.scenario.unit.brief(float(measured[objective.name][0]), objective.quantity)
    why = [str(measured[column.name][0]) for column in objective.explains if column.quantity == "text"]
    return f": it reaches {reached}{' (' + ', '.join(why) + ')' if why else ''}"
