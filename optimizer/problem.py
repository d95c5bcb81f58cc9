"""A scenario as something to search: which numbers may change, what they cost, which limits they must keep."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from objectives.corner import Candidates
from objectives.evaluate import Measures
from objectives.inverse import static_camber_for
from objectives.objective import Goal
from objectives.vectors import Array
from optimizer.build_yield import build_yields
from optimizer.candidate import Candidate
from optimizer.cores import measure_on_all_cores
from optimizer.goals import BUILD_YIELD, GOALS
from optimizer.ledger import BUDGET, Judged
from optimizer.scenario import Scenario

HAIR = 1e-12  # of the way from limit to aim
UNMEASURED = 1e3  # differences that matter: the cost of what cannot be measured, worse than anything measured
SMALL = {
    "length": 2.0,
    "angle": np.radians(0.1),
    "ratio": 0.01,
}  # mm, radians, plain: a difference that matters, where nothing is asked


@dataclass(frozen=True)
class Limit:
    """What makes a candidate unusable: in words, by how much a batch breaks it, and of which objective it is."""

    words: str
    excess: Callable[[Candidates, Measures], Array]
    objective: Goal | None = None


@dataclass(frozen=True)
class PivotProblem:
    """Search of a scenario: pivot y and z (mm), the spindle's hole, static camber (radians), where not held fixed."""

    scenario: Scenario

    @cached_property
    def arm_is_fixed(self) -> bool:
        """Whether the arm length is held, so that static camber follows from the pivot."""
        low, high = self.scenario.space.length
        return low == high

    @cached_property
    def spans(self) -> tuple[tuple[float, float], ...]:
        """Ranges of pivot y, pivot z, the spindle's hole and, unless it follows from the arm, static camber."""
        space = self.scenario.space
        spans = (space.pivot_y, space.pivot_z, (0.0, float(self.holes) if self.holes > 1 else 0.0))
        return spans if self.arm_is_fixed else (*spans, space.static_camber)

    @property
    def holes(self) -> int:
        """Upper pivots the spindle offers."""
        holes = self.scenario.corner.spindle.upper_holes
        return 1 if holes is None else int(holes.shape[1])

    @cached_property
    def free(self) -> Array:
        """Which of the spans are searched."""
        return np.array([low < high for low, high in self.spans])

    @property
    def lower(self) -> Array:
        """Lower bounds of what is searched, shape (V,)."""
        return np.array([low for low, _ in self.spans])[self.free]

    @property
    def upper(self) -> Array:
        """Upper bounds of what is searched, shape (V,)."""
        return np.array([high for _, high in self.spans])[self.free]

    @cached_property
    def traded(self) -> tuple[Goal, ...]:
        """The objectives that are traded off against each other."""
        return tuple(objective for objective in GOALS if self.scenario.targets[objective.name].traded)

    @cached_property
    def needed(self) -> frozenset[str]:
        """Names of the objectives of which anything is asked, by the builder or by the required travel."""
        targets = self.scenario.targets
        return frozenset(name for name, target in targets.items() if target.asked or target.limit is not None)

    @property
    def quick(self) -> frozenset[str]:
        """Those of `needed` that are measured of every candidate: all but the build yield."""
        return self.needed - {BUILD_YIELD.name}

    @cached_property
    def scale(self) -> Array:
        """A difference that matters in each traded objective: a tenth of the way from limit to aim, (M,)."""
        return np.array([self.difference(objective) for objective in self.traded])

    def difference(self, objective: Goal) -> float:
        """A difference that matters in one objective, mm or radians."""
        target = self.scenario.targets[objective.name]
        small = float(SMALL[objective.quantity])
        if target.aim is None or target.limit is None:
            return small
        return max(abs(target.limit - target.aim) / 10.0, small / 10.0)

    @cached_property
    def aims(self) -> Array:
        """Aims as costs, shape (M,); NaN where there is none."""
        wished = (self.scenario.targets[objective.name].aim for objective in self.traded)
        return np.array([np.nan if aim is None else sign(o) * aim for o, aim in zip(self.traded, wished, strict=True)])

    def every(self, x: Array) -> Array:
        """Search points, shape (N, V), with what is held fixed beside what is searched, in the order of `spans`."""
        every = np.repeat([[low for low, _ in self.spans]], len(x), axis=0).astype(float)
        every[:, self.free] = x
        # each hole has a stretch of one along its variable, so that small steps mostly stay in a hole
        every[:, 2] = np.clip(np.floor(every[:, 2]), 0, self.holes - 1)
        return every

    def candidates(self, x: Array) -> Candidates:
        """Candidates of search points, shape (N, V)."""
        every = self.every(x)
        y, z, hole = every[:, 0], every[:, 1], every[:, 2].astype(np.intp)
        if not self.arm_is_fixed:
            return Candidates(y, z, every[:, 3], hole)
        length = np.full(y.shape, self.scenario.space.length[0])
        return Candidates(y, z, static_camber_for(self.scenario.corner, y, z, length, hole), hole)

    def costs(self, measured: Measures) -> Array:
        """Traded objectives, all less-is-better and finite, shape (N, M)."""
        columns = np.stack([sign(o) * measured[o.name] for o in self.traded], axis=1)
        return np.where(np.isfinite(columns), columns, UNMEASURED * self.scale)

    def judge(self, x: Array) -> Judged:
        """Judge search points, shape (N, V)."""
        candidates = self.candidates(x)
        measured = self.measure(candidates, in_all=BUDGET)
        return Judged(self.costs(measured), self.excess(candidates, measured))

    def measure(self, candidates: Candidates, also: Collection[str] = (), in_all: int = 0) -> Measures:
        """Measure what is needed; the build yield, which takes longest, of those that keep all other limits.

        `in_all` says how many candidates there will be, where these are some of many.
        """
        measured = measure_on_all_cores(self.scenario.corner, candidates, self.quick.union(also), in_all)
        if BUILD_YIELD.name in self.needed:
            share = np.full(candidates.count, np.nan)
            good = np.flatnonzero(self.broken(candidates, {**measured, BUILD_YIELD.name: share}) <= 0.0)
            share[good] = build_yields(self.scenario, candidates.take(good))
            measured[BUILD_YIELD.name] = share
        return measured

    def excess(self, candidates: Candidates, measured: Measures) -> Array:
        """By how much each limit is broken, 0 or less where it is kept or says nothing, finite, shape (N, C)."""
        found = np.stack([limit.excess(candidates, measured) for limit in self.limits], axis=1)
        return np.nan_to_num(found, nan=0.0, posinf=100.0, neginf=-100.0)

    def broken(self, candidates: Candidates, measured: Measures) -> Array:
        """By how much candidates break their limits in all, 0 where they keep every one, shape (N,)."""
        total: Array = np.maximum(self.excess(candidates, measured), 0.0).sum(axis=1)
        return total

    @cached_property
    def limits(self) -> tuple[Limit, ...]:
        """Everything that makes a candidate unusable."""
        return (*self._travel_limits(), *self._space_limits(), *self._target_limits(), *self._missing_limits())

    def _travel_limits(self) -> list[Limit]:
        travel = self.scenario.corner.travel

        def locks(_: Candidates, measured: Measures) -> Array:
            short = np.maximum(
                1.0 - measured["assembled_droop"] / travel.droop,
                1.0 - measured["assembled_bump"] / travel.bump,
            )
            # what locks has no measures to miss a limit by: as much as ten misses keeps it from passing for a near one
            return np.where(measured["complete"], -1.0, 10.0 + np.maximum(short, 0.0))

        return [Limit("the arms or the tie rod lock inside the required travel", locks)]

    def _space_limits(self) -> list[Limit]:
        space, say = self.scenario.space, self.scenario.unit.say
        found = []
        low, high = space.length
        if self.arm_is_fixed:
            first, last = space.static_camber

            def off_camber(candidates: Candidates, _: Measures) -> Array:
                camber = candidates.static_camber
                outside = np.maximum(first - camber, camber - last) / np.radians(1.0)
                return np.where(np.isfinite(camber), outside, 10.0)

            words = f"the arm of {say(low)} gives a static camber outside upper_arm.static_camber"
            found.append(Limit(words, off_camber))
        else:
            if low > 0.0:
                words = f"the upper arm is shorter than {say(low)} (upper_arm.length)"
                found.append(Limit(words, lambda _, measured: (low - measured["arm_length"]) / 100.0))
            if np.isfinite(high):
                words = f"the upper arm is longer than {say(high)} (upper_arm.length)"
                found.append(Limit(words, lambda _, measured: (measured["arm_length"] - high) / 100.0))
        if space.region is not None:
            words = "the pivot lies outside upper_arm.region"
            found.append(Limit(words, lambda c, _: space.outside_region(c.pivot_y, c.pivot_z) / 100.0))
        if len(space.keep_out):
            words = "the pivot lies in upper_arm.keep_out"
            found.append(Limit(words, lambda c, _: space.inside_keep_out(c.pivot_y, c.pivot_z) / 100.0))
        return found

    def _target_limits(self) -> list[Limit]:
        return [self._target_limit(o) for o in GOALS if self.scenario.targets[o.name].limit is not None]

    def _missing_limits(self) -> list[Limit]:
        return [self._missing_limit(objective) for objective in self.scenario.asked if objective.missing]

    def _missing_limit(self, objective: Goal) -> Limit:
        def lacks(_: Candidates, measured: Measures) -> Array:
            return np.where(measured["complete"] & np.isnan(measured[objective.name]), 1.0, -1.0)

        return Limit(objective.missing, lacks, objective)

    def _target_limit(self, objective: Goal) -> Limit:
        limit = self.scenario.targets[objective.name].limit
        assert limit is not None
        bound = sign(objective) * limit
        size = 10.0 * self.difference(objective)
        side = "above" if objective.better == "less" else "below"
        words = f"{objective.title.lower()} {side} its limit of {self.scenario.unit.say(limit, objective.quantity)}"

        def excess(_: Candidates, measured: Measures) -> Array:
            past: Array = sign(objective) * measured[objective.name] - bound
            # a limit at a cap is kept by what reaches the cap, to the last bit or not
            return np.where(np.abs(past) <= HAIR * size, 0.0, past / size)

        return Limit(words, excess, objective)


def sign(objective: Goal) -> float:
    """+1 where less is better, -1 where more is."""
    return 1.0 if objective.better == "less" else -1.0


def broken_limits(candidate: Candidate) -> list[str]:
    """Words of every limit that a candidate breaks."""
    batch, problem = candidate.as_batch, PivotProblem(candidate.scenario)
    excess = problem.excess(batch, problem.measure(batch))[0]
    return [limit.words for limit, past in zip(problem.limits, excess, strict=True) if past > 0.0]
