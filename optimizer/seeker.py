"""Search of a whole design space for everything that is worth choosing from.

Four passes share one budget of evaluations, and everything usable they meet goes through one filter:

1. an even sample, so that no separate corner of the usable space goes unseen;
2. a genetic algorithm (pymoo's NSGA-II), which finds the usable space when it is small;
3. a search for the best of each cost by itself (`ends`), repeated halfway through what follows;
4. small steps away from what is kept: where the front is thin, later also beside the candidates that
   together dominate most.

The last pass finds most of the front; the shares are on a plateau, none of them is critical.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.ends import settle
from optimizer.front import Archive, Coverage, greedy_hypervolume, reference_point, thin_on_grid
from optimizer.misses import Misses, MissTally, total

Array = NDArray[np.float64]

BUDGET = 20_000
EVEN_SHARE = 0.10  # of the budget, for the even sample
GENETIC_SHARE = 0.10  # of the budget, for the genetic algorithm
ENDS_SHARE = 0.05  # of the budget, for settling the best of each cost; the small steps have the rest
POPULATION = 100
BATCH = 1000  # candidates judged at once; larger when the archive is large, to filter less often
LONGEST_BATCH = 4000
NEIGHBOURS = 3  # the distance to the third nearest kept candidate tells how thin the front is there
END_PARENTS = 0.05  # share of the small steps that start at the best candidate of one cost
LED_SHARE = 0.6  # share of the small steps, in their second half, that start at the candidates dominating most
LEADERS = 100  # how many those are
RENEWAL = 4  # batches after which they are chosen anew
CONTENDERS = 3000  # kept candidates above which near-equal ones are left out of that choice
SMALLEST_STEP, LARGEST_STEP, LAST_STEP = 0.002, 0.16, 0.01  # of a variable's range
LAID = 30  # kept candidates needed before progress can be measured against them


@dataclass(frozen=True)
class Judged:
    """What a batch of candidates costs and which limits it breaks.

    Attributes
    ----------
    costs : (N, M) array
        All minimised, all finite.
    excess : (N, C) array
        Amount by which each limit is broken, 0 or less when kept; continuous, scaled to order one.

    Raises
    ------
    ValueError
        If a value is not finite or the numbers of rows differ.
    """

    costs: Array
    excess: Array

    def __post_init__(self) -> None:
        if len(self.costs) != len(self.excess):
            raise ValueError(f"{len(self.costs)} rows of costs but {len(self.excess)} of excess")
        # A NaN would pass through every comparison unnoticed and stay in the front for ever.
        if not (np.isfinite(self.costs).all() and np.isfinite(self.excess).all()):
            raise ValueError("costs and excess must be finite; break a limit where nothing can be measured")

    @property
    def usable(self) -> NDArray[np.bool_]:
        """Whether each candidate (N,) keeps every limit."""
        return np.asarray((self.excess <= 0).all(axis=1), dtype=np.bool_)


class Problem(Protocol):
    """What can be searched: a box of variables and a judge of many candidates at once."""

    @property
    def lower(self) -> Array:
        """Lower bounds (V,)."""

    @property
    def upper(self) -> Array:
        """Upper bounds (V,), each above the lower one."""

    @property
    def scale(self) -> Array:
        """Size of a difference that matters in each cost (M,), positive."""

    def judge(self, x: Array) -> Judged:
        """Judge candidates x (N, V)."""


@dataclass(frozen=True)
class Progress:
    """Where a search stands.

    `hypervolume` is the dominated share (0 to 1) of a box in the space of costs, laid when the first kept
    candidates are known and fixed from then on, so that it never falls; 0 before.
    """

    evaluated: int
    budget: int
    usable: int
    kept: int
    hypervolume: float


@dataclass(frozen=True)
class Sought:
    """What a search found.

    Attributes
    ----------
    x : (K, V) array
        Every usable candidate met that no other dominates, in the order met.
    costs : (K, M) array
    evaluated, usable : int
        Candidates judged, and those that kept every limit.
    misses : Misses
    history : tuple of (int, float)
        Candidates judged and dominated share of the box (see `Progress`), after each batch.
    grid : float
        0; or, if so many were kept that they had to be thinned, the cell in differences that matter.
    """

    x: Array
    costs: Array
    evaluated: int
    usable: int
    misses: Misses
    history: tuple[tuple[int, float], ...]
    grid: float


class _Ledger:
    """Judges candidates and keeps everything worth remembering of them."""

    def __init__(self, problem: Problem, budget: int, show: Callable[[Progress], None] | None) -> None:
        self.problem = problem
        self.budget = budget
        self.show = show
        self.lower = np.asarray(problem.lower, dtype=np.float64)
        self.upper = np.asarray(problem.upper, dtype=np.float64)
        self.archive = Archive(len(self.lower), np.asarray(problem.scale, dtype=np.float64))
        self.evaluated = 0
        self.usable = 0
        self.misses: MissTally | None = None  # made when the number of limits is known
        self.coverage: Coverage | None = None
        self.history: list[tuple[int, float]] = []

    @property
    def left(self) -> int:
        """Evaluations the budget still allows."""
        return self.budget - self.evaluated

    def judge(self, x: Array) -> Judged:
        """Judge a batch, remember what matters of it and report."""
        judged = self.problem.judge(x)
        good = judged.usable
        self.evaluated += len(x)
        self.usable += int(good.sum())
        if self.misses is None:
            self.misses = MissTally(*x.shape[1:], *judged.excess.shape[1:])
        self.misses.add(x[~good], judged.excess[~good])
        fresh = self.archive.add(x[good], judged.costs[good])
        if self.coverage is not None:
            self.coverage.add(fresh)
        elif len(self.archive) >= LAID or (self.left == 0 and len(self.archive)):
            self.coverage = Coverage(self.archive.costs, self.archive.scale)
            self.coverage.add(self.archive.costs)
        self._tell()
        return judged

    def _tell(self) -> None:
        share = self.coverage.share if self.coverage is not None else 0.0
        self.history.append((self.evaluated, share))
        if self.show is not None:
            self.show(Progress(self.evaluated, self.budget, self.usable, len(self.archive), share))

    def sum_up(self) -> Sought:
        """State what was found."""
        assert self.misses is not None, "nothing was judged"
        return Sought(
            x=self.archive.x,
            costs=self.archive.costs,
            evaluated=self.evaluated,
            usable=self.usable,
            misses=self.misses.sum_up(),
            history=tuple(self.history),
            grid=self.archive.grid,
        )


def seek(
    problem: Problem,
    *,
    budget: int = BUDGET,
    seed: int = 1,
    show: Callable[[Progress], None] | None = None,
) -> Sought:
    """Search a problem for every candidate that no other betters in all costs.

    The same problem, budget and seed give the same result to the last bit.

    Parameters
    ----------
    problem : Problem
    budget : int
        Candidates to judge, exactly.
    seed : int
        Not negative.
    show : callable, optional
        Told of the progress after every batch.

    Returns
    -------
    Sought

    Raises
    ------
    ValueError
        If the budget is not positive or a lower bound is not below its upper bound.
    """
    if budget < 1:
        raise ValueError(f"budget is {budget}; at least one candidate has to be judged")
    ledger = _Ledger(problem, budget, show)
    if not np.all(ledger.lower < ledger.upper):
        raise ValueError("every lower bound has to be below its upper bound")
    # Independent streams, so that one pass drawing more numbers does not change another's.
    even, genetic, steps, ends = np.random.SeedSequence(seed).spawn(4)
    x, judged = _even_sample(ledger, max(1, round(EVEN_SHARE * budget)), np.random.default_rng(even))
    _genetic(ledger, round(GENETIC_SHARE * budget), x, judged, int(genetic.generate_state(1)[0]))
    settling = _Settling(ledger, round(ENDS_SHARE / 2 * budget), np.random.default_rng(ends))
    settling.judge()
    _small_steps(ledger, np.random.default_rng(steps), settling)
    return ledger.sum_up()


def _even_sample(ledger: _Ledger, count: int, rng: np.random.Generator) -> tuple[Array, Judged]:
    """Judge a scrambled Sobol sample of the whole box."""
    from scipy.stats import qmc

    # Drawn a power of two long, as its evenness asks, and cut to the count.
    unit = qmc.Sobol(len(ledger.lower), rng=rng).random_base2(int(np.ceil(np.log2(count))))[:count]
    x = ledger.lower + (ledger.upper - ledger.lower) * unit
    parts = [ledger.judge(x[start : start + BATCH]) for start in range(0, count, BATCH)]
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


def _genetic(ledger: _Ledger, count: int, x: Array, judged: Judged, seed: int) -> None:
    """Judge about `count` candidates of a genetic algorithm that starts from the best of the sample."""
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
    while algorithm.has_next():
        asked = algorithm.ask()
        if asked is None or len(asked) == 0:  # every child was a copy of a parent
            break
        answer = ledger.judge(asked.get("X"))
        Evaluator().eval(StaticProblem(box, F=answer.costs, G=answer.excess), asked)
        algorithm.tell(infills=asked)


@dataclass(frozen=True)
class _Settling:
    """Judges about `count` candidates that lead to the best of each cost, as often as it is asked to."""

    ledger: _Ledger
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


def _small_steps(ledger: _Ledger, rng: np.random.Generator, settling: _Settling) -> None:
    """Spend the rest of the budget on steps away from what is kept, ever smaller; halfway settle the ends again."""
    begun, settled = ledger.left, False
    leaders = np.empty((0, len(ledger.lower)))
    for turn, count in enumerate(_batches(ledger)):
        if ledger.left < begun / 2 and turn % RENEWAL == 0:
            leaders = _leaders(ledger.archive)
        parents = _parents(ledger, count, rng)
        if len(leaders):
            led = np.flatnonzero(rng.random(count) < LED_SHARE)
            parents[led] = leaders[rng.integers(len(leaders), size=len(led))]
        largest = LAST_STEP + (LARGEST_STEP - LAST_STEP) * ledger.left / begun
        size = np.exp(rng.uniform(np.log(SMALLEST_STEP), np.log(largest), (count, 1)))
        step = size * rng.standard_normal(parents.shape) * (ledger.upper - ledger.lower)
        ledger.judge(np.clip(parents + step, ledger.lower, ledger.upper))
        if not settled and ledger.left < begun / 2:
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


def _batches(ledger: _Ledger) -> Iterator[int]:
    """Sizes of the batches that use up the budget."""
    while ledger.left > 0:
        yield min(ledger.left, LONGEST_BATCH, max(BATCH, len(ledger.archive) // 8))


def _parents(ledger: _Ledger, count: int, rng: np.random.Generator) -> Array:
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
    weight = KDTree(place).query(place, k=[near + 1])[0][:, 0] ** 2
    total = weight.sum()
    if not total > 0:
        return np.full(len(costs), 1 / len(costs))
    return np.asarray(weight / total, dtype=np.float64)
