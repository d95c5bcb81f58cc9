"""Ways to search the demo, each in a process of its own, for equal time on equal cores.

    python -m tests.benchmarks.peers NAME SECONDS FILE

writes to FILE what NAME had found at each of `CHECKPOINTS`: `all_N`, everything usable it had evaluated after N
seconds, filtered, and `own_N`, the algorithm's own result, where it has one.

The clock of every peer starts when its libraries are loaded and the processes of its pool have measured something;
that of our own search starts before its process does, as a builder's does when the command is typed. So nothing is
imported here that the command does not import itself.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from optimizer.ledger import Judged
from optimizer.problem import PivotProblem
from tests.benchmarks.evaluation import DEMO, ROOT, demo

CHECKPOINTS = (1.0, 2.0, 3.0, 5.0, 10.0, 15.0, 30.0)
SEED = 1
POPULATION = 100  # pymoo's own for NSGA-II; a multiple of four, as the other library wants it
DIVISIONS = 6  # of each axis: 210 even directions for five objectives, the nearest to the 212 of the paper's tables
SWEPT = 2048  # candidates of an even sweep judged at once
TYPED = "PIVOTFRONT_TYPED_AT"  # environment: when our command was typed


class Recorder:
    """Judges candidates for a peer, and remembers when which usable ones were known."""

    def __init__(self, problem: PivotProblem, singly: bool) -> None:
        self.problem, self.singly = problem, singly
        some = np.random.default_rng(0).random((8 if singly else 2 * SWEPT, len(problem.lower)))
        self.judge(problem.lower + (problem.upper - problem.lower) * some)  # so that the pool is there
        self.times: list[float] = []
        self.costs: list[np.ndarray] = []
        self.own: list[tuple[float, np.ndarray]] = []
        self.evaluated = 0
        self.begun = time.perf_counter()

    def judge(self, x: np.ndarray) -> Judged:
        """Judge a batch: at once, or candidate by candidate, on all cores in either case."""
        if not self.singly:
            return self.problem.judge(x)
        from joblib import Parallel, delayed

        parts = np.array_split(np.arange(len(x)), min(len(x), os.cpu_count() or 1))
        found = Parallel(n_jobs=len(parts))(delayed(_singly)(self.problem, x[part]) for part in parts)
        return Judged(*(np.concatenate(columns) for columns in zip(*found, strict=True)))

    def __call__(self, x: np.ndarray) -> Judged:
        """Judge a batch for the peer."""
        judged = self.judge(x)
        self.times.append(self.gone)
        self.costs.append(judged.costs[judged.usable])
        self.evaluated += len(x)
        return judged

    @property
    def gone(self) -> float:
        """Seconds since the clock started."""
        return time.perf_counter() - self.begun

    def note_own(self, costs: np.ndarray | None) -> None:
        """Remember the algorithm's own result so far."""
        if costs is not None and len(costs):
            self.own.append((self.gone, np.array(costs)))

    def save(self, file: Path) -> None:
        """Write what was known at each checkpoint."""
        from tests.reference.dense import undominated

        found: dict[str, np.ndarray] = {"evaluated": np.array(self.evaluated)}
        for number, second in enumerate(CHECKPOINTS):
            known = [costs for at, costs in zip(self.times, self.costs, strict=True) if at <= second]
            found[f"all_{number}"] = undominated(np.concatenate([np.empty((0, len(self.problem.scale))), *known]))
            if own := [costs for at, costs in self.own if at <= second]:
                found[f"own_{number}"] = own[-1]
        np.savez(file, **found)


def _singly(problem: PivotProblem, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    os.environ["LOKY_MAX_CPU_COUNT"] = "1"
    judged = [problem.judge(one[None]) for one in x]
    return np.concatenate([one.costs for one in judged]), np.concatenate([one.excess for one in judged])


def _pymoo(algorithm: object, record: Recorder, seconds: float) -> None:
    from pymoo.core.problem import Problem

    problem = record.problem
    first = problem.judge(problem.lower[None])

    class Pivots(Problem):  # type: ignore[misc]
        """The demo for pymoo."""

        def __init__(self) -> None:
            sizes = {"n_var": len(problem.lower), "n_obj": len(problem.scale), "n_ieq_constr": first.excess.shape[1]}
            super().__init__(**sizes, xl=problem.lower, xu=problem.upper)

        def _evaluate(self, x: np.ndarray, out: dict[str, np.ndarray], *_: object, **__: object) -> None:
            judged = record(x)
            out["F"], out["G"] = judged.costs, judged.excess

    algorithm.setup(Pivots(), seed=SEED, termination=("n_gen", 10**9), verbose=False)  # type: ignore[attr-defined]
    while record.gone < seconds:
        algorithm.next()  # type: ignore[attr-defined]
        best = algorithm.opt  # type: ignore[attr-defined]
        record.note_own(best.get("F")[best.get("feas")] if best is not None else None)


def nsga2(record: Recorder, seconds: float) -> None:
    """Pymoo's NSGA-II as it comes."""
    from pymoo.algorithms.moo.nsga2 import NSGA2

    _pymoo(NSGA2(pop_size=POPULATION), record, seconds)


def nsga3(record: Recorder, seconds: float) -> None:
    """Pymoo's NSGA-III as it comes, on evenly spread directions."""
    from pymoo.algorithms.moo.nsga3 import NSGA3
    from pymoo.util.ref_dirs import get_reference_directions

    directions = get_reference_directions("das-dennis", len(record.problem.scale), n_partitions=DIVISIONS)
    _pymoo(NSGA3(directions), record, seconds)


def even(record: Recorder, seconds: float) -> None:
    """A scrambled Sobol sequence, filtered."""
    from scipy.stats import qmc

    problem = record.problem
    sequence = qmc.Sobol(len(problem.lower), rng=np.random.default_rng(SEED))
    while record.gone < seconds:
        record(problem.lower + (problem.upper - problem.lower) * sequence.random(SWEPT))


class _Penalised:
    """The demo for pygmo, which takes no constraints with several objectives: what breaks a limit costs more in all."""

    def __init__(self, record: Recorder) -> None:
        self.record = record

    def __deepcopy__(self, _: object) -> _Penalised:
        return self  # pygmo copies its problems; what is recorded has to be one

    def get_bounds(self) -> tuple[np.ndarray, np.ndarray]:
        return self.record.problem.lower, self.record.problem.upper

    def get_nobj(self) -> int:
        return len(self.record.problem.scale)

    def fitness(self, x: np.ndarray) -> np.ndarray:
        return self._of(np.atleast_2d(x))[0]

    def has_batch_fitness(self) -> bool:
        return True

    def batch_fitness(self, flat: np.ndarray) -> np.ndarray:
        return self._of(flat.reshape(-1, len(self.record.problem.lower))).ravel()

    def _of(self, x: np.ndarray) -> np.ndarray:
        judged = self.record(x)
        broken = np.maximum(judged.excess, 0.0).sum(axis=1, keepdims=True)
        cost = judged.costs / self.record.problem.scale
        return np.where(broken > 0.0, 1e3 * (1.0 + broken), np.minimum(cost, 999.0))


def _pygmo(record: Recorder, seconds: float, make: Callable[[object], object]) -> None:
    import pygmo

    from tests.reference.dense import undominated

    udp = _Penalised(record)
    population = pygmo.population(pygmo.problem(udp), size=POPULATION, b=pygmo.member_bfe(), seed=SEED)
    algorithm = pygmo.algorithm(make(pygmo))
    while record.gone < seconds:
        population = algorithm.evolve(population)
        found = population.get_f()
        record.note_own(undominated(found[(found < 1e3).all(axis=1)]) * record.problem.scale)


def pygmo_nsga2(record: Recorder, seconds: float) -> None:
    """Pygmo's NSGA-II."""

    def make(pygmo: object) -> object:
        chosen = pygmo.nsga2(gen=1, seed=SEED)  # type: ignore[attr-defined]
        chosen.set_bfe(pygmo.bfe())  # type: ignore[attr-defined]
        return chosen

    _pygmo(record, seconds, make)


def pygmo_swarm(record: Recorder, seconds: float) -> None:
    """Pygmo's particle swarm for several objectives."""

    def make(pygmo: object) -> object:
        chosen = pygmo.nspso(gen=1, seed=SEED)  # type: ignore[attr-defined]
        chosen.set_bfe(pygmo.bfe())  # type: ignore[attr-defined]
        return chosen

    _pygmo(record, seconds, make)


def ours(file: Path, *words: str) -> None:
    """The command itself, in this process, with what it keeps noted at every checkpoint."""
    from optimizer import cli
    from optimizer.front_search import Front
    from optimizer.ledger import Ledger
    from optimizer.outputs import write_front

    typed, found = float(os.environ[TYPED]), {}
    judge, shown_at, due = Ledger.judge, [], list(enumerate(CHECKPOINTS))
    kept = np.empty((0, 0))

    def noted(ledger: Ledger, x: np.ndarray) -> Judged:
        nonlocal kept
        judged = judge(ledger, x)
        note(time.time() - typed)
        found["evaluated"] = np.array(ledger.evaluated)
        if len(ledger.archive):
            found.setdefault("first", np.array(time.time() - typed))
            kept = ledger.archive.costs.copy()
        return judged

    def note(gone: float) -> None:
        while due and due[0][1] < gone:
            found[f"all_{due.pop(0)[0]}"] = kept

    def written(front: Front, *more: object) -> None:
        shown_at.append(time.time() - typed)
        found["shown"] = front.costs
        write_front(front, *more)  # type: ignore[arg-type]

    Ledger.judge = noted  # type: ignore[method-assign]
    with tempfile.TemporaryDirectory() as folder:
        import optimizer.outputs

        optimizer.outputs.write_front = written
        sys.argv = ["pivotfront", "search", str(DEMO), "--out", f"{folder}/front", *words]
        try:
            cli.main()
        except SystemExit as ended:
            if ended.code:
                raise
    note(np.inf)
    found["searched"], found["ended"] = np.array(shown_at[0]), np.array(time.time() - typed)
    np.savez(file, **found)


BATCHES = {
    "pymoo NSGA-II": nsga2,
    "pymoo NSGA-III": nsga3,
    "even sweep": even,
    "pygmo NSGA-II": pygmo_nsga2,
    "pygmo swarm": pygmo_swarm,
}
SINGLY = {"pymoo NSGA-II, one by one": nsga2, "pymoo NSGA-III, one by one": nsga3}
OURS = {"pivotfront search": (), "pivotfront search --time": ("--time",)}
NAMES = (*OURS, *BATCHES, *SINGLY)


def run(name: str, seconds: float, file: Path) -> None:
    """Search by one of them, and write what it had found when."""
    if name in OURS:
        ours(file, *(word for option in OURS[name] for word in (option, f"{seconds:g}s")))
        return
    record = Recorder(demo(), singly=name in SINGLY)
    {**BATCHES, **SINGLY}[name](record, seconds)
    record.save(file)


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    run(sys.argv[1], float(sys.argv[2]), Path(sys.argv[3]))
