"""How soon a command answers, how fast candidates are evaluated, how soon a search finds the front: ratios of one run.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python tests/benchmarks/speed.py [--quick] [--only PART ...]

with the extra `bench` installed. Parts: `start` (`check` beside the libraries it imports), `evaluation` (beside scipy's
root finder, a loop, and what the machine allows), `search` (hypervolume over that of a dense sweep against seconds,
beside other searches), `growth` (from a thousand to a million candidates). The sweep is kept in a scratch folder and
made once for each state of the physics.

Nothing else should run meanwhile. `--quick` makes do with smaller numbers, to see that everything works.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from tests.benchmarks import evaluation, quality, starting  # noqa: E402 - the checkout has to be found first

PARTS = ("start", "evaluation", "search", "growth")
COUNT = 10_000  # candidates of one figure
MOST = 10**6  # of growth
SECONDS = 30.0  # of each search
SWEPT = 2**20  # candidates of the sweep held against
STARTS = 11  # runs
QUICK = (2_000, 10**4, 5.0, 2**14)  # the same in small


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description="Measure start-up, evaluation and search.")
    parser.add_argument("--quick", action="store_true", help="smaller numbers, to see that everything works")
    parser.add_argument("--only", nargs="+", choices=PARTS, default=PARTS)
    parser.add_argument("--scratch", type=Path, default=Path(tempfile.gettempdir()) / "pivotfront_exhaustive")
    asked = parser.parse_args()
    count, most, seconds, swept = QUICK if asked.quick else (COUNT, MOST, SECONDS, SWEPT)
    begin, load = time.monotonic(), os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    print(f"{platform.machine()}, {cores} cores, Python {platform.python_version()}, load {load:.1f} before it began\n")
    if "start" in asked.only:
        starting.starts(3 if asked.quick else STARTS)
    if "search" in asked.only:
        quality.compare(seconds, swept, asked.scratch)
    if "evaluation" in asked.only:
        evaluation.rates(count)
    if "growth" in asked.only:
        evaluation.growth(most)
    print(f"all of it took {(time.monotonic() - begin) / 60:.1f} min")


if __name__ == "__main__":
    main()
