"""How soon `check` answers, beside what Python and the libraries under it take by themselves."""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
REFERENCE = "import numpy, pydantic, typer"
WHOLE, ANSWER = "check, until its picture is written", "check, until its answer is on screen"
BESIDE = {
    "Python, which does nothing": "pass",
    REFERENCE: REFERENCE,
    "import matplotlib.figure": "import matplotlib.figure",
}


def starts(rounds: int) -> None:
    """Print medians of `rounds` runs of each, one after the other in every round."""
    with tempfile.TemporaryDirectory() as scratch:
        file = shutil.copy(ROOT / "scenarios" / "buggy.toml", scratch)
        commands = {name: ["-c", program] for name, program in BESIDE.items()}
        commands[WHOLE] = ["-m", "optimizer.cli", "check", file]
        took: dict[str, list[float]] = {**{name: [] for name in commands}, ANSWER: []}
        for number in range(rounds + 1):
            for name, words in commands.items():
                answered, ended = _run(words)
                if number == 0:  # the first round finds files on the disk and compiles modules
                    continue
                took[name].append(ended)
                if name == WHOLE:
                    took[ANSWER].append(answered)
    least = statistics.median(took[REFERENCE])
    print(f"Start-up, medians of {rounds} runs in turn")
    for name, seconds in took.items():
        middle = statistics.median(seconds)
        print(f"  {name:42} {middle:6.2f} s  {middle / least:5.1f} times as long as: {REFERENCE}")
    print()


def _run(words: Sequence[str]) -> tuple[float, float]:
    """Seconds until the last line on standard output, and until the end."""
    # as on a user's machine, where modules are compiled once
    clean = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    begin = answered = time.perf_counter()
    with subprocess.Popen(
        [sys.executable, *words], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=clean
    ) as process:
        assert process.stdout is not None
        for _ in process.stdout:
            answered = time.perf_counter()
        _, wrong = process.communicate()
    ended = time.perf_counter()
    if process.returncode:
        raise RuntimeError(wrong.decode())
    return answered - begin, ended - begin
