"""Break the formulas of `objectives/` one at a time, and see whether a test notices.

    python tests/mutation/mutants.py SCRATCH [--near] [--jobs N] [--quota N] [--skip N] [--budget S] [--only FILE:LINE]

Every worker has a copy of the tree in SCRATCH, in which it breaks one formula, and runs the tests that look at that
file, those that killed most of its mutants first, then (but with `--near`) all others of the physics, until one fails.
What survives is either in `equivalent.toml`, with the reason why no test could tell, or a hole in the tests. Mutants
are found anew in the source as it stands; an entry of `equivalent.toml` that is no longer found there is said.
"""

from __future__ import annotations

import argparse
import importlib
import os
import shutil
import signal
import sys
import time
import tomllib
import traceback
from collections import Counter
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}

import pytest
from sites import Mutant, all_mutants_of, mutants_of

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
COPIED = ("objectives", "optimizer", "tests", "scenarios", "pyproject.toml", "README.md", "DEVELOPERS.md")
BEFOREHAND = ("scipy.optimize", "scipy.interpolate", "pandas", "pydantic", "typer", "rich", "shapely", "moocore")
PLAIN = ["-q", "-x", "-o", "addopts=", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header", "--no-summary"]
NO_END = 25.0  # times the budget, by the clock, and ten minutes: a mutant that takes longer runs without end

V, T = "tests/validation/test_", "tests/test_"
LOOKS_AT = {
    "arms": (f"{V}shock.py", f"{V}locks.py"),
    "as_built": (f"{V}as_built.py", f"{V}build_statistics.py"),
    "between": (f"{T}steering_locks.py::test_a_valley_between_positions_is_followed_down", f"{V}locks.py"),
    "camber_error": (f"{V}parallel_arms.py", f"{T}objectives.py"),
    "chebyshev": (f"{V}derivatives.py::TestPolynomials", f"{V}parallel_arms.py", f"{T}objectives.py"),
    "corner": (f"{V}iso_8855.py", f"{V}turning.py", f"{V}published_corner.py"),
    "curves": (
        f"{V}iso_8855.py",
        f"{T}objectives.py::test_rows_beyond_all_that_is_counted",
        f"{V}locks.py::test_both_locks_against_the_rigid_body",
    ),
    "distances": (f"{V}parts_clearance.py",),
    "evaluate": (
        f"{T}objectives.py",
        f"{V}shock.py",
        f"{T}inner_joint.py::test_every_measure_uses_the_placed_joint",
        f"{V}locks.py::test_worst_angles_over_travel_and_steering",
        f"{T}steering_locks.py",
    ),
    "fender_clearance": (f"{V}parallel_arms.py", f"{T}objectives.py"),
    "frame": (f"{V}iso_8855.py", f"{V}published_corner.py", f"{V}as_built.py"),
    "inner_joint": (f"{V}derivatives.py::test_toe_by_the_inner_joint", f"{T}inner_joint.py"),
    "inverse": (f"{T}holes.py::test_static_camber_for_an_arm_in_each_hole", f"{T}front_search.py"),
    "joints": (f"{T}steering_locks.py", f"{V}locks.py"),
    "linkage": (f"{V}planar_wishbone_table.py", f"{V}iso_8855.py", f"{V}published_corner.py"),
    "lockup": (f"{T}lockup.py",),
    "minimax": (f"{T}inner_joint.py::test_least_range_against_linear_programming",),
    "motion": (f"{T}objectives.py", f"{V}locks.py", f"{T}steering_locks.py"),
    "pairs": (f"{V}parts_clearance.py", f"{T}parts.py"),
    "parts_clearance": (f"{T}valley.py", f"{V}parts_clearance.py", f"{T}parts.py"),
    "objective": (f"{T}scenario.py",),
    "pieces": (f"{T}objectives.py::test_the_pieces_of_a_value_join_to_the_value", f"{V}build_statistics.py"),
    "rates": (f"{V}instant_centre.py", f"{V}derivatives.py::test_velocities"),
    "reach": (f"{V}parallel_arms.py", f"{T}objectives.py", f"{V}locks.py", f"{T}steering_locks.py"),
    "ride": (f"{V}iso_8855.py", f"{V}published_corner.py", f"{T}holes.py", f"{T}scenario.py"),
    "roll": (f"{V}roll.py", f"{T}roll.py"),
    "roll_camber": (f"{V}roll.py", f"{T}roll.py"),
    "roll_centre_migration": (f"{T}valley.py", f"{V}roll.py", f"{T}roll.py"),
    "roots": (f"{T}roots.py",),
    "scrub": (f"{V}parallel_arms.py", f"{T}objectives.py"),
    "shock": (f"{V}shock.py",),
    "steering": (f"{V}turning.py", f"{T}steering_locks.py", f"{V}locks.py"),
    "sweep": (
        f"{V}parallel_arms.py",
        f"{T}lockup.py",
        f"{T}roots.py::test_a_poor_slope_is_mended_by_chords",
        f"{T}objectives.py",
        f"{V}rigid_body.py",
        f"{V}locks.py",
    ),
    "turning": (f"{V}turning.py",),
    "tyre": (f"{V}parallel_arms.py", f"{T}objectives.py", f"{V}rigid_body.py"),
    "valley": (f"{T}valley.py",),
    "vectors": (f"{V}iso_8855.py", f"{V}published_corner.py"),
    "wheel": (f"{V}parts_clearance.py",),
}
PHYSICS = (
    *(f"{V}{name}.py" for name in ("iso_8855", "parallel_arms", "instant_centre", "published_corner")),
    *(f"{V}{name}.py" for name in ("planar_wishbone_table", "spatial_slider_crank", "tie_rod_layout", "turning")),
    *(
        f"{T}{name}.py"
        for name in ("roots", "lockup", "valley", "objectives", "roll", "parts", "steering_locks", "stops")
    ),
    *(f"{V}{name}.py" for name in ("shock", "roll", "as_built", "rigid_body", "parts_clearance", "locks")),
    *(f"{T}{name}.py" for name in ("inner_joint", "holes", "scenario", "part_commands", "choice", "front_search")),
    *(f"{V}{name}.py" for name in ("common_practice", "derivatives", "multibody", "constraint_equations")),
)


class Recorder:
    """A pytest plugin that notes which test fails first, and lets none begin once their time (s) is used up."""

    def __init__(self, budget: float) -> None:
        self.end, self.failed = time.process_time() + budget, ""

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        if time.process_time() > self.end:
            item.session.shouldstop = "no time left"
        return (yield)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed = self.failed or report.nodeid

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed:
            self.failed = self.failed or f"import of {report.nodeid}"


@dataclass
class Child:
    """A process at work in a tree of its own: what `work` returns is then in `answer`."""

    tree: Path
    pid: int
    end: float

    @classmethod
    def start(cls, tree: Path, work: Callable[[], str], seconds: float) -> Child:
        (tree / "answer.txt").write_text("no end")
        pid = os.fork()
        if pid:
            return cls(tree, pid, time.monotonic() + seconds)
        try:
            os.setpgid(0, 0)
            os.chdir(tree)
            sys.path[:] = [str(tree), *(p for p in sys.path if Path(p).resolve() not in (HERE, ROOT))]
            os.environ["PYTHONPATH"] = str(tree)
            output = os.open(tree / "output.txt", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(output, 1)
            os.dup2(output, 2)
            (tree / "answer.txt").write_text(work())
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(0)

    def ended(self) -> bool:
        """Whether it has come to an end, or has just been ended for taking too long."""
        if os.waitpid(self.pid, os.WNOHANG)[0]:
            return True
        if time.monotonic() < self.end:
            return False
        os.killpg(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        return True

    @property
    def answer(self) -> str:
        return (self.tree / "answer.txt").read_text()


def shared(starts: Iterable[Callable[[Path], Child]], trees: list[Path]) -> Iterator[tuple[int, str]]:
    """Start work as trees come free; yield the number and answer of each as it ends."""
    waiting, free = list(enumerate(starts)), list(trees)
    running: dict[int, Child] = {}
    try:
        while waiting or running:
            while waiting and free:
                number, start = waiting.pop(0)
                running[number] = start(free.pop(0))
            time.sleep(0.05)
            for number in [number for number, child in running.items() if child.ended()]:
                child = running.pop(number)
                free.append(child.tree)
                yield number, child.answer
    finally:  # interrupted: they are in process groups of their own and would go on
        for child in running.values():
            os.killpg(child.pid, signal.SIGKILL)


class Runner:
    """Runs mutants against the tests that may kill them."""

    def __init__(self, budget: float, wider: tuple[str, ...]) -> None:
        self.budget, self.wider = budget, wider
        self.kills: dict[str, Counter[str]] = {}

    def start(self, tree: Path, mutant: Mutant) -> Child:
        for path in (ROOT / "objectives").glob("*.py"):
            if (tree / "objectives" / path.name).read_text() != path.read_text():
                _write(tree / "objectives" / path.name, path.read_text())
        _write(tree / "objectives" / mutant.file, mutant.source)
        best = [test for test, _ in self.kills.get(mutant.file, Counter[str]()).most_common(3)]
        looks_at = LOOKS_AT.get(Path(mutant.file).stem, ())

        def work() -> str:
            sys.dont_write_bytecode = True
            recorder = Recorder(self.budget)
            for tests in (best, looks_at, self.wider):
                if tests and not recorder.failed:
                    pytest.main([*PLAIN, *tests], plugins=[recorder])
            return recorder.failed

        return Child.start(tree, work, NO_END * self.budget + 600.0)

    def note(self, mutant: Mutant, killer: str) -> None:
        if "::" in killer:
            self.kills.setdefault(mutant.file, Counter())[killer] += 1


def _write(path: Path, source: str) -> None:
    """Write a file, and leave no compiled one of the same age and size beside it."""
    for stale in (path.parent / "__pycache__").glob(f"{path.stem}.*"):
        stale.unlink()
    path.write_text(source)


def copy_tree(tree: Path) -> None:
    shutil.rmtree(tree, ignore_errors=True)
    tree.mkdir(parents=True)
    for name in COPIED:
        copy = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
        copy(ROOT / name, tree / name)


def equivalents() -> dict[tuple[str, str, str, str, int], str]:
    """Why each mutant that no test can kill is none."""
    rows = tomllib.loads((HERE / "equivalent.toml").read_text()).get("mutant", [])
    return {(row["file"], row["text"], row["before"], row["after"], row.get("nth", 1)): row["why"] for row in rows}


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("scratch", type=Path)
    parser.add_argument("--quota", type=int, default=4, help="mutants of each file; one more for every 20 lines")
    parser.add_argument("--skip", type=int, default=0, help="take other mutants of the same lines")
    parser.add_argument("--budget", type=float, default=60.0, help="s of tests that a mutant has to survive")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--near", action="store_true", help="only the tests that look at the file: minutes, not hours")
    parser.add_argument("--only", action="append", help="a file, or file:line; may be given again", default=[])
    asked = parser.parse_args()
    for name in BEFOREHAND:  # so that no mutant waits for them
        importlib.import_module(name)
    trees = [asked.scratch.resolve() / f"tree{number}" for number in range(asked.jobs)]
    for tree in trees:
        copy_tree(tree)
    files = sorted((ROOT / "objectives").glob("*.py"))
    gone = equivalents().keys() - {mutant.key for path in files for mutant in all_mutants_of(path)}
    for file, text, before, after, _ in sorted(gone):
        print(f"{file}\tequivalent.toml: no such change any more: {before}  ->  {after}\tin\t{text}")
    mutants = [mutant for path in files for mutant in mutants_of(path, asked.quota, asked.skip)]
    mutants = [m for m in mutants if not asked.only or {m.file, f"{m.file}:{m.line}"} & {*asked.only}]
    runner, known, survived = Runner(asked.budget, () if asked.near else PHYSICS), equivalents(), 0
    tried = [mutant for mutant in mutants if mutant.key not in known]
    for number, killer in shared([partial(runner.start, mutant=mutant) for mutant in tried], trees):
        mutant, survived = tried[number], survived + (not killer)
        runner.note(mutant, killer)
        print(f"{mutant.said}\t{f'killed by {killer}' if killer else 'SURVIVED'}", flush=True)
    for mutant in (mutant for mutant in mutants if mutant.key in known):
        print(f"{mutant.said}\tequivalent: {known[mutant.key]}")
    equal = len(mutants) - len(tried)
    print(f"{len(mutants)} mutants: {len(tried) - survived} killed, {equal} equivalent, {survived} survived")
    sys.exit(bool(survived or gone))


if __name__ == "__main__":
    main()
