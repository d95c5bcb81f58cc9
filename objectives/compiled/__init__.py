"""The ordinary candidate measured in compiled loops, one at a time: what the rest of `objectives` says in arrays.

The arrays are the reference and go everywhere. What is here says the same of the objectives a search usually asks for,
many times faster, where numba is installed; a function that follows another names it. A candidate that is out of the
ordinary (it cannot stand, or its tie rod only touches its lock-up) is left to the arrays, so what is rare has one home.
"""

from __future__ import annotations

from collections.abc import Collection

from objectives.compiled.machine_code import CannotCompileError, available, entry, give_up, is_kept, is_loaded

__all__ = [
    "MANY",
    "NAMES",
    "WORTH_COMPILING",
    "CannotCompileError",
    "available",
    "entry",
    "give_up",
    "is_kept",
    "suits",
]

MANY = 100  # candidates from which compiled functions are called: fewer are measured before these are fetched
WORTH_COMPILING = 20_000  # candidates that take arrays about as long as compiling takes
NAMES = frozenset(("camber_error", "scrub", "fender_clearance", "droop_limit", "bump_steer", "bump_limit"))


def suits(count: int, only: Collection[str]) -> bool:
    """Whether so many candidates are measured by compiled functions, with these objectives wanted."""
    if count < MANY or not NAMES.issuperset(only) or not available():
        return False
    return count >= WORTH_COMPILING or is_loaded() or is_kept()
