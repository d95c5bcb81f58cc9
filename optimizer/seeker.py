"""Search of a whole design space for everything that is worth choosing from.

Four passes share one budget of evaluations, and everything usable they meet goes through one filter:

1. an even sample, so that no separate corner of the usable space goes unseen;
2. a genetic algorithm (pymoo's NSGA-II), which finds the usable space when it is small; left out when the sample has;
3. a search for the best of each cost by itself (`ends`), repeated halfway through what follows;
4. small steps away from what is kept: where the front is thin, later also beside the candidates that
   together dominate most.

The last pass finds most of the front; the shares are on a plateau, none of them is critical.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from threading import Thread

import numpy as np
from numpy.typing import NDArray

from optimizer.cores import cores
from optimizer.ends import settle
from optimizer.even import even_points
from optimizer.front import Archive, greedy_hypervolume, reference_point, thin_on_grid
from optimizer.ledger import BUDGET, Ending, Judged, Ledger, Problem, Progress, Sought, Start
from optimizer.misses import total

Array = NDArray[np.float64]

EVEN_SHARE = 0.10  # of the budget, for the even sample
GENETIC_SHARE = 0.10  # of the budget, for the genetic algorithm
ENDS_SHARE = 0.05  # of the budget, for settling the best of each cost; the small steps have the rest
POPULATION = 100
BATCH = 1000  # candidates judged at once; larger when the archive is large, to filter less often
LONGEST_BATCH = 16_000
NEIGHBOURS = 3  # the distance to the third nearest kept candidate tells how thin the front is there
END_PARENTS = 0.05  # share of the small steps that start at the best candidate of one cost
LED_SHARE = 0.6  # share of the small steps, in their second half, that start at the candidates dominating most
LEADERS = 100  # how many those are
RENEWAL = 4  # batches after which they are chosen anew
CONTENDERS = 3000  # kept candidates above which near-equal ones are left out of that choice
SMALLEST_STEP, LARGEST_STEP, LAST_STEP = 0.002, 0.16, 0.01  # of a variable's range


def seek(
    problem: Problem,
    *,
    budget: int | None = BUDGET,
    seed: int = 1,
    show: Callable[[Progress], None] | None = None,
    ending: Ending | None = None,
    start: Start | None = None,
) -> Sought:
    """Search a problem for every candidate that no other betters in all costs.

    The same problem, budget, start and seed give the same result to the last bit on the same machine, where neither
    time nor a hand ends the search. With numba or without is not the same: figures that differ in their last digits
    soon lead to other steps.

    Parameters
    ----------
    problem : Problem
    budget : int
        Candidates to judge, exactly; where an `ending` is given, that counts.
    seed : int
        Not negative.
    show : callable, optional
        Told of the progress after every batch.
    ending : Ending, optional
        Other ends than a budget.
    start : Start, optional
        What an earlier search kept, to go on from with small steps alone.

    Returns
    -------
    Sought

    Raises
    ------
    ValueError
        If the budget is not positive or a lower bound is not below its upper bound.
    """
    ending = Ending(budget) if ending is None else ending
    if ending.budget is not None and ending.budget < 1:
        raise ValueError(f"budget is {ending.budget}; at least one candidate has to be judged")
    # for the small steps, and slow to import: that is done by the time they come, for measuring leaves room beside it
    Thread(target=import_module, args=("scipy.spatial",)).start()
    ledger = Ledger(problem, ending, show)
    if not np.all(ledger.lower < ledger.upper):
        raise ValueError("every lower bound has to be below its upper bound")
    if start is not None:
        ledger.go_on_from(start)
    # Independent streams, so that one pass drawing more numbers does not change another's.
    key = () if start is None else (start.evaluated,)
    even, genetic, steps, ends = np.random.SeedSequence(seed, spawn_key=key).spawn(4)
    usual = BUDGET if ending.budget is None else ending.budget
    settling = _Settling(ledger, round(ENDS_SHARE / 2 * usual), np.random.default_rng(ends))
    if not len(ledger.archive):
        x, judged = _even_sample(ledger, max(1, round(EVEN_SHARE * usual)), np.random.default_rng(even))
        _genetic(ledger, round(GENETIC_SHARE * usual), x, judged, int(genetic.generate_state(1)[0]))
    settling.judge()
    _small_steps(ledger, np.random.default_rng(steps), settling)
    return ledger.sum_up()


def _even_sample(ledger: Ledger, count: int, rng: np.random.Generator) -> tuple[Array, Judged]:
    """Judge an even sample of the whole box."""
    x = ledger.lower + (ledger.upper - ledger.lower) * even_points(len(ledger.lower), count, rng)
    parts = []
    for start in range(0, count, BATCH):
        parts.append(ledger.judge(x[start : start + BATCH]))
        if not ledger.left:
            break
    x = x[: sum(len(part.costs) for part in parts)]
    judged = Judged(np.concatenate([part.costs for part in parts]), np.concatenate([part.excess for part in parts]))
    return x, judged


def _best_start(judged: Judged, count: int) -> NDArray[np.intp]:
    """Rows to begin the genetic algorithm with: usable ones by rank, then those nearest to usable."""
    import moocore

    excess = total(judged.excess)
    rank = np.zeros(len(excess))
    usable = judged.usable
    if usable.any():
        rank[usable] = moocore.pareto_rank(judged.costs[usable])
    return np.lexsort((rank, excess))[:count]


def _genetic(ledger: Ledger, count: int, x: Array, judged: Judged, seed: int) -> None:
    """Judge about `count` candidates of a genetic algorithm that starts from the best of the sample.

    Where the sample holds enough usable ones to step away from, none is judged.
    """
    if np.count_nonzero(judged.usable) >= POPULATION:
        return  # the small steps have enough to start from, and make more of each candidate
    from pymoo.algorithms.moo.nsga2 import NSGA2
    from pymoo.core.evaluator import Evaluator
    from pymoo.core.problem import Problem as PymooProblem
    from pymoo.problems.static import StaticProblem

    start = x[_best_start(judged, POPULATION)]
    generations = min(count, ledger.left) // POPULATION
    if len(start) < POPULATION or generations < 2:
        return
    box = PymooProblem(
        n_var=x.shape[1],
        n_obj=judged.costs.shape[1],
        n_ieq_constr=judged.excess.shape[1],
        xl=ledger.lower,
        xu=ledger.upper,
    )
    algorithm = NSGA2(pop_size=POPULATION, sampling=start)
    algorithm.setup(box, seed=seed, termination=("n_gen", generations), verbose=False)
    while algorithm.has_next() and ledger.left:
        asked = algorithm.ask()
        if asked is None or len(asked) == 0:  # every child was a copy of a parent
            break
        answer = ledger.judge(asked.get("X"))
        Evaluator().eval(StaticProblem(box, F=answer.costs, G=answer.excess), asked)
        algorithm.tell(infills=asked)


@dataclass(frozen=True)
class _Settling:
    """Judges about `count` candidates that lead to the best of each cost, as often as it is asked to."""

    ledger: Ledger
    count: int
    rng: np.random.Generator

    def judge(self) -> None:
        ledger, kept = self.ledger, self.ledger.archive
        if len(kept):
            x = (kept.x - ledger.lower) / (ledger.upper - ledger.lower)
            settle(self._look, x, kept.costs, min(self.count, ledger.left), self.rng)

    def _look(self, unit: Array) -> tuple[Array, Array]:
        lower, upper = self.ledger.lower, self.ledger.upper
        judged = self.ledger.judge(np.clip(lower + (upper - lower) * unit, lower, upper))
        return judged.costs, judged.excess


def _small_steps(ledger: Ledger, rng: np.random.Generator, settling: _Settling) -> None:
    """Spend the rest of the budget on steps away from what is kept, ever smaller; halfway settle the ends again."""
    begun, settled = ledger.gone, False
    leaders = np.empty((0, len(ledger.lower)))
    for turn, count in enumerate(_batches(ledger)):
        left = (1.0 - ledger.gone) / (1.0 - begun) if begun < 1.0 else 0.0
        if left < 0.5 and turn % RENEWAL == 0:
            leaders = _leaders(ledger.archive)
        parents = _parents(ledger, count, rng)
        if len(leaders):
            led = np.flatnonzero(rng.random(count) < LED_SHARE)
            parents[led] = leaders[rng.integers(len(leaders), size=len(led))]
        largest = LAST_STEP + (LARGEST_STEP - LAST_STEP) * left
        size = np.exp(rng.uniform(np.log(SMALLEST_STEP), np.log(largest), (count, 1)))
        step = size * rng.standard_normal(parents.shape) * (ledger.upper - ledger.lower)
        ledger.judge(np.clip(parents + step, ledger.lower, ledger.upper))
        if not settled and left < 0.5:
            # The steps may have come upon a better ridge than the one that was followed to its end.
            settling.judge()
            settled = True


def _leaders(kept: Archive) -> Array:
    """Pick the kept candidates (K, V) that together dominate most; better ones beside them add most."""
    if len(kept) == 0:
        return kept.x
    # Nearly equal candidates need not compete for a place, and choosing is slow among many.
    few = thin_on_grid(kept.costs, kept.scale) if len(kept) > CONTENDERS else np.arange(len(kept))
    reference = reference_point(kept.costs, kept.scale)
    return kept.x[few[greedy_hypervolume(kept.costs[few], LEADERS, reference)]]


def _batches(ledger: Ledger) -> Iterator[int]:
    """Sizes of the batches that use up the budget."""
    while ledger.left > 0:
        yield min(ledger.left, LONGEST_BATCH, max(BATCH, len(ledger.archive) // 8))


def _parents(ledger: Ledger, count: int, rng: np.random.Generator) -> Array:
    """Draw kept candidates, the likelier the farther their neighbours; or near misses if none is kept."""
    kept = ledger.archive
    if len(kept) == 0:
        assert ledger.misses is not None, "nothing was judged"
        near = ledger.misses.x
        return near[rng.integers(len(near), size=count)]
    rows = rng.choice(len(kept), size=count, p=_thinness(kept.costs))
    ends = np.flatnonzero(rng.random(count) < END_PARENTS)
    rows[ends] = rng.choice(kept.costs.argmin(axis=0), size=len(ends))
    return kept.x[rows]


def _thinness(costs: Array) -> Array:
    """Chance (K,) for each kept candidate: as the square of the distance to its third nearest neighbour."""
    from scipy.spatial import KDTree

    near = min(NEIGHBOURS, len(costs) - 1)
    extent = np.ptp(costs, axis=0)
    place = costs / np.where(extent > 0, extent, 1.0)
    weight = KDTree(place).query(place, k=[near + 1], workers=cores())[0][:, 0] ** 2
    total = weight.sum()
    if not total > 0:
        return np.full(len(costs), 1 / len(costs))
    return np.asarray(weight / total, dtype=np.float64)
