"""What a search has judged so far: everything usable that no other dominates, why the rest fell, and when to end."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.front import Archive, Coverage
from optimizer.misses import Misses, MissTally

Array = NDArray[np.float64]

BUDGET = 30_000
LAID = 30  # kept candidates needed before progress can be measured against them
QUIET = 1e-3  # of the dominated share: a rise of less, over the last third of the candidates, is quiet
LEAST_QUIET = 10_000  # candidates that a third has at least
BY_BUDGET, BY_TIME, BY_QUIET, BY_HAND = "budget", "time", "quiet", "hand"


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
    candidates are known and fixed from then on, so that it never falls; 0 before. `gone` is the share of the search
    that is over, None where that cannot be known.
    """

    evaluated: int
    gone: float | None
    usable: int
    kept: int
    hypervolume: float
    best: Array


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
    ended : str
        What ended it: one of BY_BUDGET, BY_TIME, BY_QUIET, BY_HAND.
    """

    x: Array
    costs: Array
    evaluated: int
    usable: int
    misses: Misses
    history: tuple[tuple[int, float], ...]
    grid: float
    ended: str = BY_BUDGET


@dataclass(frozen=True)
class Ending:
    """When a search ends: whichever of these comes first, after a batch.

    Attributes
    ----------
    budget : int or None
        Candidates to judge, exactly.
    seconds : float or None
        Since the search began.
    quiet : bool
        When the dominated share hardly rises any more (see `QUIET`), or there is none after the usual budget.
    asked : callable
        Whether somebody asks for an end now.
    """

    budget: int | None = BUDGET
    seconds: float | None = None
    quiet: bool = False
    asked: Callable[[], bool] = lambda: False


@dataclass(frozen=True)
class Start:
    """What an earlier search of the same problem kept, to go on from: `x` (K, V), `costs` (K, M), and its counts."""

    x: Array
    costs: Array
    evaluated: int
    usable: int
    history: tuple[tuple[int, float], ...]


class Ledger:
    """Judges candidates and keeps everything worth remembering of them."""

    def __init__(self, problem: Problem, ending: Ending, show: Callable[[Progress], None] | None) -> None:
        self.problem = problem
        self.ending = ending
        self.show = show
        self.lower = np.asarray(problem.lower, dtype=np.float64)
        self.upper = np.asarray(problem.upper, dtype=np.float64)
        self.archive = Archive(len(self.lower), np.asarray(problem.scale, dtype=np.float64))
        self.evaluated = 0
        self.usable = 0
        self.misses: MissTally | None = None  # made when the number of limits is known
        self.coverage: Coverage | None = None
        self.history: list[tuple[int, float]] = []
        self.begun_with = 0
        self._begun_at = time.monotonic()

    def go_on_from(self, start: Start) -> None:
        """Take over what an earlier search kept."""
        self.archive.add(start.x, start.costs)
        self.begun_with = self.evaluated = start.evaluated
        self.usable = start.usable
        self.history = list(start.history)
        if len(self.archive):
            self._lay()

    @property
    def left(self) -> int:
        """Candidates that may still be judged; many where only time or quiet end the search, none when it is over."""
        if self.ended is not None:
            return 0
        budget = self.ending.budget
        return BUDGET if budget is None else budget - (self.evaluated - self.begun_with)

    @property
    def ended(self) -> str | None:
        """What has ended the search, or None."""
        ending = self.ending
        if ending.budget is not None and self.evaluated - self.begun_with >= ending.budget:
            return BY_BUDGET
        if ending.asked():
            return BY_HAND
        if ending.seconds is not None and time.monotonic() - self._begun_at >= ending.seconds:
            return BY_TIME
        return BY_QUIET if ending.quiet and self._is_quiet() else None

    @property
    def gone(self) -> float:
        """Share of the search that is over, 0 to 1; where only quiet ends it, of a search of the usual size."""
        shares = [1.0] if self.ended is not None else []
        if self.ending.budget is not None:
            shares.append((self.evaluated - self.begun_with) / self.ending.budget)
        if self.ending.seconds is not None:
            shares.append((time.monotonic() - self._begun_at) / self.ending.seconds)
        usual = (self.evaluated - self.begun_with) / BUDGET
        return min(1.0, max(shares, default=usual))

    def _is_quiet(self) -> bool:
        share = self.history[-1][1] if self.history else 0.0
        if not share > 0.0:  # hardly anything is usable, or nothing: what the usual search does not find ends this one
            return self.evaluated - self.begun_with >= BUDGET
        before = self.evaluated - max(LEAST_QUIET, (self.evaluated - self.begun_with) // 3)
        earlier = [part for done, part in self.history if done <= before]
        return bool(earlier) and share - earlier[-1] < QUIET * share

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
            self._lay()
        self._tell()
        return judged

    def _lay(self) -> None:
        self.coverage = Coverage(self.archive.costs, self.archive.scale)
        self.coverage.add(self.archive.costs)

    def _tell(self) -> None:
        share = self.coverage.share if self.coverage is not None else 0.0
        self.history.append((self.evaluated, share))
        if self.show is not None:
            only_quiet = self.ending.budget is None and self.ending.seconds is None
            gone = None if only_quiet else self.gone
            costs = self.archive.costs
            best = costs[costs.argmin(axis=0)] if len(costs) else costs
            self.show(Progress(self.evaluated, gone, self.usable, len(self.archive), share, best))

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
            ended=self.ended or BY_BUDGET,
        )
