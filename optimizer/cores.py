"""Many candidates measured on all cores, and jobs done beside other work.

Compiled functions run in threads. Arrays take processes, for there threads wait for each other inside the interpreter:
those of a kept pool (joblib's loky), which needs no guard in the script that calls it and starts workers once for all
batches.
"""

from __future__ import annotations

import os
import signal
import sys
import warnings
from collections.abc import Callable, Collection, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import TypeVar

import numpy as np

from objectives import compiled
from objectives.corner import Candidates, Corner
from objectives.evaluate import Measures, measure, measure_compiled

BLOCK = 512  # candidates measured together: blocks do not depend on the number of cores, nor do results
PORTION = 1000  # candidates that a thread takes at a time: one whose core has other work to do takes fewer of these
SHARE = 32  # candidates at least for each thread: fewer are measured before it has begun
WORTH = 2  # blocks from which a second core is called

Result = TypeVar("Result")


def measure_on_all_cores(
    corner: Corner, candidates: Candidates, only: Collection[str] | None = None, in_all: int = 0
) -> Measures:
    """Measure N candidates as `objectives.evaluate.measure` does, shared among the cores.

    `in_all` says how many there will be where these are some of many, for which compiled functions are worth fetching.
    """
    if only is not None and compiled.suits(max(candidates.count, in_all), only):
        return _measure_in_threads(corner, candidates, only)
    starts = range(0, candidates.count, BLOCK) or (0,)
    blocks = (candidates.take(slice(start, start + BLOCK)) for start in starts)
    return _joined(results_of([partial(measure, corner, block, only) for block in blocks]))


def _measure_in_threads(corner: Corner, candidates: Candidates, only: Collection[str]) -> Measures:
    """Each candidate is worked out by itself, so nothing depends on how they are shared out."""
    threads = max(1, min(cores(), candidates.count // SHARE))
    if threads == 1:
        return measure_compiled(corner, candidates, only)
    parts = max(threads, candidates.count // PORTION)
    shares = [candidates.take(index) for index in np.array_split(np.arange(candidates.count), parts)]
    with ThreadPoolExecutor(threads) as pool:
        return _joined(list(pool.map(lambda share: measure_compiled(corner, share, only), shares)))


def _joined(parts: list[Measures]) -> Measures:
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def begin(jobs: Iterable[Callable[[], Result]]) -> Callable[[], list[Result]]:
    """Begin jobs on other cores, and return what waits for their results; on one core they are done while waiting.

    Jobs and what they hold have to be picklable.
    """
    ready = list(jobs)
    if cores() == 1:
        return lambda: [job() for job in ready]
    from joblib import Parallel, delayed

    # said where Ctrl-C ends the work meanwhile, to a user who has just asked for that
    warnings.filterwarnings("ignore", message=".*You could benefit from adjusting the input task")
    done = Parallel(n_jobs=cores(), return_as="generator")(delayed(undisturbed)(job) for job in ready)
    return lambda: list(done)


def undisturbed(job: Callable[[], Result]) -> Result:
    """Do a job in another process, which Ctrl-C reaches as well: what to do about that is for the first one to say."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    return job()


def results_of(jobs: Sequence[Callable[[], Result]]) -> list[Result]:
    """Results of jobs, shared among the cores; jobs and what they hold have to be picklable."""
    if len(jobs) < WORTH or cores() == 1:
        return [job() for job in jobs]
    from joblib import Parallel, delayed

    found: list[Result] = Parallel(n_jobs=cores())(delayed(undisturbed)(job) for job in jobs)
    return found


def cores() -> int:
    """How many cores this process may use; at most LOKY_MAX_CPU_COUNT of the environment, by which joblib goes too.

    joblib's own count would have to be imported before a search can begin, which takes a tenth of a second.
    """
    allowed = len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count() or 1
    most = os.environ.get("LOKY_MAX_CPU_COUNT", "")
    return max(1, min(allowed, int(most))) if most.isdigit() else allowed
