"""How fast candidates are measured and searched: ratios against named references, in the same run.

Run by itself, on one core:

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python tests/benchmarks/speed.py

References: (a) the constraint equations solved position by position, from `tests/reference`; (b) the same closed
form called once per candidate. Then the whole search of the demo scenario, from the typed command to the written
front, beside the time that measuring its candidates takes.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median

import numpy as np

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from objectives.corner import Candidates  # noqa: E402 - the checkout has to be found first
from objectives.evaluate import measure  # noqa: E402
from optimizer.ledger import BUDGET  # noqa: E402
from optimizer.scenario import load_scenario  # noqa: E402
from tests.reference import rigid_body  # noqa: E402

DEMO = ROOT / "scenarios" / "buggy.toml"
RUNS = 3


def timed(work: Callable[[], object]) -> float:
    """Median seconds of a few runs."""
    taken = []
    for _ in range(RUNS):
        begin = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begin)
    return median(taken)


def main() -> None:
    """Print the figures."""
    scenario = load_scenario(DEMO)
    corner, rng = scenario.corner, np.random.default_rng(1)

    def drawn(count: int) -> Candidates:
        spans = (scenario.space.pivot_y, scenario.space.pivot_z, scenario.space.static_camber)
        return Candidates(*(rng.uniform(low, high, count) for low, high in spans))

    batch, few = drawn(10_000), drawn(40)
    measure(corner, few)
    together = timed(lambda: measure(corner, batch)) / batch.count
    one_by_one = timed(lambda: [measure(corner, few.take(slice(i, i + 1))) for i in range(few.count)]) / few.count
    travel = np.linspace(-corner.travel.droop, corner.travel.bump, 33)
    solved = [few.take(slice(i, i + 1)) for i in range(5)]
    solver = timed(lambda: [rigid_body.solve(rigid_body.hardpoints(corner, c), travel) for c in solved]) / len(solved)
    print(f"all measures, 10,000 candidates in one call: {together * batch.count:.2f} s, {1 / together:,.0f} a second")
    print("  (inner joint placed, both steering locks and halfway)")
    plain = replace(corner, steering=replace(corner.steering, rack_travel=0.0, inner_region=None))
    ahead = timed(lambda: measure(plain, batch)) / batch.count
    print(f"  joint fixed, straight ahead only:          {ahead / together:.2f} of the time")
    print(f"  one call a candidate:                      {one_by_one / together:.0f} times as long")
    print(f"  constraint equations, 33 positions:        {solver / together:.0f} times as long (positions alone)")
    for count in (1_000, 10_000, 100_000):
        sample = drawn(count)
        each = timed(lambda: measure(corner, sample)) / count if count < 100_000 else _once(sample, corner)  # noqa: B023
        print(f"  {count:7,} candidates: {each / together:.2f} of the time per candidate")
    search = timed(_search)
    print(f"search of {DEMO.name}, command to written front: {search:.1f} s,")
    print(f"  {search / (BUDGET * together):.1f} times the measuring of its {BUDGET:,} candidates")


def _once(sample: Candidates, corner: object) -> float:
    begin = time.perf_counter()
    measure(corner, sample)  # type: ignore[arg-type]
    return (time.perf_counter() - begin) / sample.count


def _search() -> None:
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "optimizer.cli", "search", str(DEMO), "--out", f"{folder}/front"]
        subprocess.run(command, check=True, capture_output=True, cwd=ROOT)


if __name__ == "__main__":
    main()
