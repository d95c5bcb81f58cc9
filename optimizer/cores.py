"""Many candidates measured on all cores, and jobs done beside other work.

Processes, for threads wait for each other inside the interpreter. They are a kept pool's (joblib's loky), which needs
no guard in the script that calls it and starts workers once for all batches.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Collection, Iterable

import numpy as np

from objectives.corner import Candidates, Corner
from objectives.evaluate import Measures, measure

BLOCK = 512  # candidates measured together: blocks do not depend on the number of cores, nor do results
WORTH = 2  # blocks from which a second core is called


def measure_on_all_cores(corner: Corner, candidates: Candidates, only: Collection[str] | None = None) -> Measures:
    """Measure N candidates as `objectives.evaluate.measure` does, in blocks shared among the cores."""
    starts = range(0, candidates.count, BLOCK) or (0,)
    blocks = [candidates.take(slice(start, start + BLOCK)) for start in starts]
    if len(blocks) < WORTH or cores() == 1:
        parts = [measure(corner, block, only) for block in blocks]
    else:
        from joblib import Parallel, delayed

        parts = Parallel(n_jobs=cores())(delayed(_measure_undisturbed)(corner, block, only) for block in blocks)
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _measure_undisturbed(corner: Corner, block: Candidates, only: Collection[str] | None) -> Measures:
    # Ctrl-C reaches every process of a terminal; what to do about it is for the first one to say
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    return measure(corner, block, only)


def begin(jobs: Iterable[Callable[[], object]]) -> Callable[[], None]:
    """Begin jobs on other cores, and return what waits for their end; on one core they are done while waiting.

    Jobs and what they hold have to be picklable.
    """
    from joblib import Parallel, delayed

    ready = list(jobs)
    pool = Parallel(n_jobs=cores(), return_as="generator")
    done = iter(job() for job in ready) if cores() == 1 else pool(delayed(job)() for job in ready)

    def wait() -> None:
        for _ in done:
            pass

    return wait


def cores() -> int:
    """How many cores this process may use."""
    from joblib import cpu_count

    return int(cpu_count())
