"""The search held against a dense sweep of the whole design space, for every scenario that comes along.

Run by itself; it writes `scenarios/exhaustive.md`:

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python tests/benchmarks/exhaustive.py

The sweep runs for some ten minutes on two cores with numba, for hours without. What it has judged it keeps in a scratch
folder, so that an interrupted run goes on where it stopped; another scenario, count or physics starts anew.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from optimizer.front_search import search  # noqa: E402 - the checkout has to be found first
from optimizer.problem import PivotProblem, sign  # noqa: E402
from optimizer.scenario import load_scenario  # noqa: E402
from optimizer.seeker import BUDGET, seek  # noqa: E402
from tests.reference.dense import Box, epsilon, free_gain, sobol, undominated, usable_of  # noqa: E402

SCENARIOS = ROOT / "scenarios"
COUNTS = {"buggy": 2**20, "buggy_inch": 2**20, "tight": 2**23, "published_corner": 2**22}
BLOCK = 2**14  # candidates to a file
SEED = 20  # of the sweep; the search has its own
SMALLER = (10_000, 100_000, 1_000_000)  # even sweeps held against the whole one
PLAIN = [f"sweep of {count:,}" for count in SMALLER]
NEAR = 0.005  # of an objective's range over the sweep's front: how near the best row has to come
EPSILON = 0.02  # differences that matter: the most by which a row may be bettered in everything at once
PAGE = """\
# The search against a dense sweep

Every scenario's ranges swept evenly with millions of candidates, each judged as the search judges its own, and the
undominated ones of them as the reference: beside it stands what `pivotfront search` finds with {budget} candidates.
Written by `python tests/benchmarks/exhaustive.py`; nothing here is typed by hand.

## Dominated volume

The share of the reference's hypervolume that is dominated by everything the search keeps, by the rows of `front.csv`,
and by plain even sweeps of fewer candidates. Above 1 the search holds what the sweep, for all its candidates, passed
between. The box reaches from the best of each objective to a tenth of the front's extent beyond its worst. Volumes are
counted in 8 scramblings of 16,384 evenly spread points, the same ones for all; ± is the standard error between the
scramblings.

{volumes}

## Dominance

Epsilon: the most by which any candidate of the sweep betters a row of `front.csv` in every objective at once, in
differences that matter (a tenth of the way from limit to aim), then in the objectives' own sizes, in the order of the
last table; it has to stay within {epsilon}. Bettered in all: rows with any such candidate. Dominated: rows than which
some candidate is nowhere worse and somewhere better. Free gain: what the objective that gains most would gain there, in
differences that matter; its mean is over all rows.

{dominance}

## Ends

The best of each objective. Missing is measured against the objective's range over the sweep's undominated candidates
and has to stay within 0.5 %; where the search is the better one nothing is missing.

{extremes}
"""


def alone_and_last() -> None:
    """A worker has one core of its own, and gives way to everything else."""
    os.environ["LOKY_MAX_CPU_COUNT"] = "1"
    os.nice(10)


def problem_of(name: str) -> PivotProblem:
    """What a scenario searches."""
    return PivotProblem(load_scenario(SCENARIOS / f"{name}.toml"))


def block_of(name: str, start: int, path: Path) -> int:
    """Judge one block of a scenario's sweep and keep its usable candidates."""
    problem = problem_of(name)
    x = sobol(problem.lower, problem.upper, start, BLOCK, SEED)
    rows, costs = usable_of(problem, x)
    part = path.with_suffix(f".{os.getpid()}.part")
    with part.open("wb") as file:
        np.savez(file, rows=start + rows, x=x[rows], costs=costs)
    part.replace(path)
    return len(rows)


def physics() -> bytes:
    """Fingerprint of everything that decides what a candidate costs."""
    sources = [*sorted((ROOT / "objectives").rglob("*.py")), ROOT / "optimizer" / "problem.py"]
    return hashlib.sha256(b"".join(source.read_bytes() for source in sources)).digest()


@dataclass(frozen=True)
class Sweep:
    """The usable candidates of a sweep, in its order."""

    count: int
    rows: np.ndarray
    costs: np.ndarray

    def front(self, first: int | None = None) -> np.ndarray:
        """Undominated costs of its first so many candidates, or of all."""
        return undominated(self.costs[self.rows < (first or self.count)])


def sweep(name: str, count: int, scratch: Path) -> Sweep:
    """Judge what is not judged yet of a scenario's sweep, on all cores."""
    text = (SCENARIOS / f"{name}.toml").read_bytes()
    mark = hashlib.sha256(physics() + text + f"{BLOCK} {SEED}".encode()).hexdigest()[:16]
    folder = scratch / f"{name}-{mark}"
    folder.mkdir(parents=True, exist_ok=True)
    paths = {start: folder / f"{start:09d}.npz" for start in range(0, count, BLOCK)}
    missing = [start for start, path in paths.items() if not path.exists()]
    begin = time.monotonic()
    with ProcessPoolExecutor(initializer=alone_and_last) as pool:
        waiting = [pool.submit(block_of, name, start, paths[start]) for start in missing]
        for done, future in enumerate(as_completed(waiting), 1):
            if future.exception() is not None:
                pool.shutdown(cancel_futures=True)
            future.result()
            left = (time.monotonic() - begin) / done * (len(missing) - done)
            print(f"\r{name}: {done:,} of {len(missing):,} blocks, {left / 60:.1f} min left  ", end="", flush=True)
    print(f"\r{name}: {count:,} candidates judged" + " " * 40)
    parts = [np.load(path) for path in paths.values()]
    return Sweep(count, *(np.concatenate([part[key] for part in parts]) for key in ("rows", "costs")))


@dataclass(frozen=True)
class Comparison:
    """What the search reached of a scenario beside what the sweep holds."""

    name: str
    problem: PivotProblem
    swept: Sweep
    front: np.ndarray  # undominated costs of the sweep
    kept: np.ndarray  # costs of all that the search kept
    shown: np.ndarray  # costs of the rows it shows
    seconds: float

    def shares(self) -> list[tuple[float, float]]:
        """Dominated volume over the sweep's, and its standard error: kept, shown, even sweeps of 10^4, 10^5, 10^6."""
        best = undominated(np.concatenate((self.front, self.kept, self.shown)))
        box = Box.around(best, self.problem.scale)
        whole = box.share(self.front)
        fronts = (self.kept, self.shown, *(self.swept.front(count) for count in SMALLER))
        ratios = [box.share(costs) / whole for costs in fronts]
        return [(float(ratio.mean()), float(ratio.std(ddof=1) / np.sqrt(len(ratio)))) for ratio in ratios]


def compare(name: str, count: int, scratch: Path) -> Comparison:
    """Sweep and search a scenario."""
    problem = problem_of(name)
    swept = sweep(name, count, scratch)
    begin = time.perf_counter()
    found = search(problem.scenario)
    seconds = time.perf_counter() - begin
    kept = seek(problem).costs  # the same search: what it keeps before the few hundred rows are chosen
    return Comparison(name, problem, swept, swept.front(), kept, found.costs, seconds)


def table(head: list[str], rows: list[list[str]]) -> str:
    """A table in Markdown, the first column in words, the others in numbers."""
    lines = [head, ["---", *("---:" for _ in head[1:])], *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def volume_row(found: Comparison) -> list[str]:
    """Counts and shares of one scenario."""
    shares = [f"{share:.4f} ± {error:.4f}" for share, error in found.shares()]
    counts = (found.swept.count, len(found.swept.rows), len(found.front), len(found.kept), len(found.shown))
    return [f"`{found.name}.toml`", *(f"{count:,}" for count in counts), *shares]


def dominance_row(found: Comparison) -> list[str]:
    """By how much the sweep betters the rows shown."""
    scale, unit = found.problem.scale, found.problem.scenario.unit
    in_all = epsilon(found.shown, found.front, scale)
    free = free_gain(found.shown, found.front, scale)
    sizes = ", ".join(
        f"{unit.show(in_all.max() * step, o.quantity):.2g} {unit.symbol_of(o.quantity)}"
        for o, step in zip(found.problem.traded, scale, strict=True)
    )
    return [
        f"`{found.name}.toml`",
        f"{in_all.max():.3f}" + ("" if in_all.max() <= EPSILON else " **too much**"),
        sizes,
        f"{(in_all > 0.0).sum()}",
        f"{(free > 0.0).sum()}",
        f"{free.mean():.4f}",
        f"{free.max():.3f}",
    ]


def extreme_rows(found: Comparison) -> list[list[str]]:
    """The best of each objective: in the sweep, in the rows shown, and what is missing."""
    unit, rows = found.problem.scenario.unit, []
    for column, objective in enumerate(found.problem.traded):
        best, reached = found.front[:, column].min(), found.shown[:, column].min()
        values = (f"{sign(objective) * unit.show(value, objective.quantity):.5g}" for value in (best, reached))
        extent = np.ptp(found.front[:, column])
        missing = max(0.0, (reached - best) / extent) if extent > 0.0 else 0.0
        symbol = unit.symbol_of(objective.quantity)
        share = f"{100.0 * missing:.2f} %" + ("" if missing <= NEAR else " **too far**")
        rows.append([f"`{found.name}.toml`, {objective.title.lower()}, {symbol}", *values, share])
    return rows


def report(found: list[Comparison]) -> str:
    """The page that is written."""
    volumes = table(
        ["scenario", "swept", "usable", "undominated", "kept", "shown", "share, kept", "share, shown", *PLAIN],
        [volume_row(one) for one in found],
    )
    dominance = table(
        ["scenario", "epsilon", "as sizes", "bettered in all", "dominated", "mean free gain", "greatest free gain"],
        [dominance_row(one) for one in found],
    )
    extremes = table(["best of", "sweep", "rows shown", "missing"], [row for one in found for row in extreme_rows(one)])
    values = {"budget": f"{BUDGET:,}", "epsilon": EPSILON}
    return PAGE.format(**values, volumes=volumes, dominance=dominance, extremes=extremes)


def main() -> None:
    """Sweep, search, compare, write."""
    parser = argparse.ArgumentParser(description="Hold the search against a dense sweep of every scenario.")
    parser.add_argument("--scratch", type=Path, default=Path(tempfile.gettempdir()) / "pivotfront_exhaustive")
    parser.add_argument("--out", type=Path, default=SCENARIOS / "exhaustive.md")
    parser.add_argument("--only", nargs="+", choices=COUNTS, default=list(COUNTS), metavar="NAME")
    chosen = parser.parse_args()
    found = []
    for name in chosen.only:
        found.append(compare(name, COUNTS[name], chosen.scratch))
        print(f"{name}: searched in {found[-1].seconds:.1f} s")
    chosen.out.write_text(report(found), encoding="utf-8")
    print(f"written: {chosen.out}")


if __name__ == "__main__":
    main()
