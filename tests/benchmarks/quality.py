"""How much of the demo's front each way of searching has found after so many seconds."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tests.benchmarks import exhaustive
from tests.benchmarks.evaluation import ROOT, demo
from tests.benchmarks.peers import CHECKPOINTS, NAMES, OURS, TYPED
from tests.reference.dense import Box, undominated

WIDTH = max(map(len, NAMES)) + 14


def searched(names: Sequence[str], seconds: float) -> dict[str, dict[str, np.ndarray]]:
    """What each had found at each checkpoint, one after the other."""
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            file = Path(folder) / "found.npz"
            words = [sys.executable, "-m", "tests.benchmarks.peers", name, str(seconds), str(file)]
            print(f"\r{name} ..." + " " * 30, end="", file=sys.stderr, flush=True)
            environment = {**os.environ, TYPED: str(time.time())}
            done = subprocess.run(words, cwd=ROOT, env=environment, capture_output=True, text=True)
            if done.returncode:
                raise SystemExit(f"{name}: {done.stderr}")
            with np.load(file) as arrays:
                found[name] = dict(arrays)
    print("\r" + " " * 60 + "\r", end="", file=sys.stderr)
    return found


def compare(seconds: float, swept: int, scratch: Path) -> None:
    """Print the share of the dense sweep's hypervolume that each has found by when."""
    sweep = exhaustive.sweep("buggy", swept, scratch)
    found = searched(NAMES, seconds)
    problem, front = demo(), sweep.front()
    ends = [arrays[f"all_{len(CHECKPOINTS) - 1}"] for arrays in found.values()]
    box = Box.around(undominated(np.concatenate((front, *ends))), problem.scale)
    whole = box.share(front)
    due = [number for number, second in enumerate(CHECKPOINTS) if second <= seconds]
    print(f"Search of the demo: hypervolume of what was found by then over that of the sweep's {len(front):,}")
    print("undominated candidates, %; each for itself on the same cores\n")
    print(" " * WIDTH + "".join(f"{CHECKPOINTS[number]:8g} s" for number in due) + "   evaluated")
    for name, arrays in found.items():
        for kind, words in (("all", ""), ("own", ", its own")):
            if kind == "own" and not any(key.startswith("own") for key in arrays):
                continue
            shares = [_share(box, whole, arrays.get(f"{kind}_{number}")) for number in due]
            print(f"{name + words:{WIDTH}}" + "".join(shares) + f"{int(arrays['evaluated']):12,}")
    print()
    for name in OURS:
        arrays = found[name]
        share, rows = float((box.share(arrays["shown"]) / whole).mean()), len(arrays["shown"])
        print(f"{name}: first candidates kept {arrays['first']:.1f} s after it was typed, the search over and")
        print(f"  {rows} rows chosen after {arrays['searched']:.1f} s, {share:.2%} of the volume;", end=" ")
        print(f"all written after {arrays['ended']:.1f} s")
    print("\nOur clock starts when the command is typed, everybody else's when all is loaded and warm. A peer's line")
    print("is everything usable it evaluated, filtered, as ours is; 'its own' the population or front it hands over.")
    print("'One by one': each candidate in a call of its own, on all cores as well.\n")


def _share(box: Box, whole: np.ndarray, costs: np.ndarray | None) -> str:
    if costs is None or not costs.size:
        return f"{'-':>10}"
    return f"{100.0 * float((box.share(costs) / whole).mean()):10.2f}"
