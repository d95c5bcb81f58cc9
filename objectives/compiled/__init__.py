"""The ordinary candidate measured in compiled loops, one at a time: what the rest of `objectives` says in arrays.

The arrays are the reference and go everywhere. What is here says the same of the objectives a search usually asks for,
many times faster, where numba is installed; a function that follows another names it. A candidate that is out of the
ordinary (it cannot stand, or its tie rod only touches its lock-up) is left to the arrays, so what is rare has one home.
"""

from __future__ import annotations

from collections.abc import Collection
from contextlib import suppress

from objectives.compiled.kernel import READY, available, clear_old, give_up, kept_in

__all__ = ["MANY", "NAMES", "available", "compile_all", "give_up", "is_kept", "suits"]

MANY = 1000  # candidates from which compiled functions are called: for fewer, fetching them takes longer
NAMES = frozenset(("camber_error", "scrub", "fender_clearance", "droop_limit", "bump_steer", "bump_limit"))


def suits(count: int, only: Collection[str]) -> bool:
    """Whether so many candidates are measured by compiled functions, with these objectives wanted."""
    return count >= MANY and NAMES.issuperset(only) and available()


def is_kept() -> bool:
    """Whether what is compiled is on the disk already."""
    ready = kept_in() / READY
    if not ready.exists():
        return False
    with suppress(OSError):
        ready.touch()  # in use
    return True


def compile_all() -> None:
    """Compile everything, which takes a minute, and keep it for later runs.

    Raises
    ------
    OSError
        It cannot be kept.
    """
    from objectives.compiled.batch import compile_by_use

    compile_by_use()
    (kept_in() / READY).touch()
    clear_old()
