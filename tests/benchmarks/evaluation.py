"""How fast the demo's candidates are evaluated: beside other ways to do it, what the machine allows, and growth.

    python -m tests.benchmarks.evaluation COUNT CORES SECONDS

measures one number of candidates in a process of its own and prints JSON; `speed.py` prints everything.
"""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import fmean
from unittest.mock import patch

import numpy as np

from objectives import compiled
from objectives.corner import Candidates
from objectives.evaluate import CHUNK, measure
from optimizer.cores import measure_on_all_cores
from optimizer.problem import PivotProblem
from optimizer.scenario import load_scenario
from tests.benchmarks import machine

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "scenarios" / "buggy.toml"
COUNTS = (10**3, 10**4, 10**5, 10**6)
FLAT = 0.20  # by which the time of a candidate may differ from that among 10^4
MEMORY = 2.0  # GB: what a million may take
SPEND = 3.0  # seconds on the runs of one figure
LONG = 15.0  # where averages are held against each other
ROUNDS = 3
FEW = 40  # candidates of the loop
SOLVED = 4  # candidates solved by the root finder


def demo() -> PivotProblem:
    """What the demo searches."""
    return PivotProblem(load_scenario(DEMO))


def drawn(problem: PivotProblem, count: int) -> Candidates:
    """Candidates drawn from the whole of the demo's ranges."""
    rng = np.random.default_rng(1)
    x = problem.lower + (problem.upper - problem.lower) * rng.random((count, len(problem.lower)))
    return problem.candidates(x)


def all_of(work: Callable[[], object], spend: float) -> list[float]:
    """Seconds of each of as many runs as take so long, one at least."""
    taken: list[float] = []
    while not taken or sum(taken) + taken[-1] < spend:
        begin = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begin)
    return taken


def timed(work: Callable[[], object], spend: float = SPEND) -> float:
    """Seconds of the fastest of some runs: what else the machine does can only make it slower."""
    return min(all_of(work, spend))


def keep_to(cores: int) -> None:
    """Keep this process, and those it starts, to so many cores."""
    os.environ["LOKY_MAX_CPU_COUNT"] = str(cores)
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:cores])


def one_number(count: int, cores: int, spend: float) -> dict[str, float]:
    """Seconds of a candidate among `count`, of the fastest run and on average, and this process's peak memory in GB."""
    import resource

    keep_to(cores)
    problem = demo()
    corner, needed = problem.scenario.corner, problem.needed
    work = measure if cores == 1 else measure_on_all_cores
    if compiled.available():
        compiled.entry()
    work(corner, drawn(problem, CHUNK), needed)  # what is made once: pool, tables
    sample = drawn(problem, count)
    taken = all_of(lambda: work(corner, sample, needed), spend)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
    return {"fastest": min(taken) / count, "average": fmean(taken) / count, "peak": peak / 1e9}


def apart(count: int, cores: int, spend: float) -> dict[str, float]:
    """The same in a process of its own."""
    words = [sys.executable, "-m", "tests.benchmarks.evaluation", str(count), str(cores), str(spend)]
    done = subprocess.run(words, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def in_turn(*asked: tuple[int, int, float]) -> list[dict[str, float]]:
    """Numbers `apart`, several times in turn, so that a slow moment falls on all of them, put together."""
    rounds = [[apart(*one) for one in asked] for _ in range(ROUNDS)]
    together = {"fastest": min, "average": fmean, "peak": max}
    return [
        {name: put([run[name] for run in runs]) for name, put in together.items()} for runs in zip(*rounds, strict=True)
    ]


def rates(count: int) -> None:
    """Print candidates a second, and the ratios to other ways of evaluating them."""
    problem = demo()
    one, two = (found["fastest"] for found in in_turn((count, 1, SPEND), (4 * count, 2, SPEND)))
    print(f"Full evaluation of the demo: {', '.join(o.title.lower() for o in problem.traded)};")
    print("inner joint placed, five steering positions, locks, joints and shock checked\n")
    print(f"  one core   {1.0 / one:9,.0f} candidates a second")
    print(f"  two cores  {1.0 / two:9,.0f} candidates a second, {one / two:.2f} times one core\n")
    keep_to(1)
    corner, needed = problem.scenario.corner, problem.needed
    sample = drawn(problem, CHUNK)
    everything = timed(lambda: measure(corner, sample)) / sample.count
    print(f"  all measures there are, those nobody asked for too: {everything / one:.2f} times as long")
    singles = [sample.take(slice(i, i + 1)) for i in range(FEW)]
    looped = timed(lambda: [measure(corner, single, needed) for single in singles]) / FEW
    print(f"  the same closed form, looped over candidates: {looped / one:,.0f} times as long")
    with patch.object(compiled, "MANY", math.inf):
        arrays = timed(lambda: measure(corner, sample, needed)) / sample.count
    print(f"  the same in arrays, {sample.count:,} candidates at once: {arrays / one:.1f} times as long")
    _by_root_finder(problem, singles, one)
    _by_machine(problem, sample, one)


def _by_root_finder(problem: PivotProblem, singles: list[Candidates], one: float) -> None:
    from tests.benchmarks import by_position  # here, so that a search timed from its start need not load it

    corner = problem.scenario.corner
    closed = [(single, measure(corner, single, problem.needed)) for single in singles]
    stand = [(single, found) for single, found in closed if found["complete"][0]][:SOLVED]
    begin = time.perf_counter()
    solved = [by_position.measures(corner, single, found) for single, found in stand]
    taken = (time.perf_counter() - begin) / len(stand)
    print(f"  every position by scipy's root finder: {taken / one:,.0f} times as long ({taken:.2f} s a candidate),")
    print("    inner joint given, nothing looked at between positions; the worst that the two differ by:")
    for name, values in ((name, [found[name][0] for _, found in stand]) for name in solved[0]):
        off = max(abs(float(value) - there[name]) for value, there in zip(values, solved, strict=True))
        goal = next(objective for objective in problem.traded if objective.name == name)
        unit = problem.scenario.unit
        print(f"      {goal.title.lower()}: {float(unit.show(off, goal.quantity)):.2g} {unit.symbol_of(goal.quantity)}")


def _by_machine(problem: PivotProblem, sample: Candidates, one: float) -> None:
    # counted is what the arrays do: compiled functions ask numpy for nothing
    with patch.object(compiled, "MANY", math.inf), machine.counting() as tally:
        measure(problem.scenario.corner, sample, problem.needed)
    made, moved = sum(tally.made.values()) / sample.count, tally.bytes / sample.count
    alone, stream = tally.seconds() / sample.count, machine.streaming()
    ufuncs, matrix = machine.multiply_adds()
    roots, sines = machine.rate_of(np.sqrt), machine.rate_of(np.sin)
    print("  what one core can do, measured in this run, and what a candidate asks numpy for, counted:")
    print(
        f"    memory: {stream / 1e9:.1f} GB/s streamed; {moved / 1e3:,.0f} kB of arrays read and written a candidate,"
    )
    print(f"      {moved / one / 1e9:.1f} GB/s, {moved / one / stream:.0%} of it (what stays in cache may exceed it)")
    print(
        f"    arithmetic: multiply-adds {ufuncs / 1e9:.2f} G/s in two calls and {matrix / 1e9:.1f} G/s as a product of"
    )
    print(f"      matrices, square roots {roots / 1e9:.2f} G/s, sines {sines / 1e9:.2f} G/s, all in cache;")
    print(f"      {made / 1e3:,.0f} thousand numbers made a candidate, {tally.calls:,} calls for all {sample.count:,};")
    print(f"      each kind at its own rate they take {1e6 * alone:.0f} us", end=" ")
    print(f"of {1e6 * one:.0f}, {alone / one:.0%} of the time\n")


def growth(most: int) -> None:
    """Print time and memory from a thousand candidates on."""
    counts = [count for count in COUNTS if count <= most]
    # averages of about as long, for short runs come upon a machine's best moments sooner than long ones
    found = dict(zip(counts, in_turn(*((count, 1, LONG) for count in counts)), strict=True))
    usual = found[10**4]["average"]
    print("Growth, one core\n")
    for count, one in found.items():
        words = f"{one['average'] / usual:.2f} of the time of a candidate among 10^4, peak memory {one['peak']:.2f} GB"
        print(f"  {count:9,} candidates: {words}")
    worst, last = max(abs(one["average"] / usual - 1.0) for one in found.values()), max(found)
    peak = found[last]["peak"]
    print(f"  {'flat' if worst <= FLAT else 'NOT flat'} within {FLAT:.0%}: {worst:.0%} at most;", end=" ")
    print(f"{last:,} in {peak:.2f} GB, {'under' if peak < MEMORY else 'NOT under'} {MEMORY:g} GB\n")


if __name__ == "__main__":
    print(json.dumps(one_number(int(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3]))))
