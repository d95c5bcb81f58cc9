"""Costly results made once in a test run, for all of its workers."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import mkdtemp

import pytest

FOLDER = "PIVOTFRONT_TESTS_SHARED"  # environment: the folder that the workers of a run share


def begin(config: pytest.Config) -> None:
    """Make the folder, before any worker starts; it goes when the run ends."""
    folder = os.environ[FOLDER] = mkdtemp(prefix="pivotfront-tests-")
    config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))


def shared(name: str, make: Callable[[Path], object]) -> Path:
    """Folder of a name with what `make` writes into it: the first to ask has it made, others wait and only look."""
    place = Path(os.environ[FOLDER]) / name
    with _alone(place.with_name(f"{name}.lock")):
        if not place.exists():
            draft = place.with_name(f"{name}.draft")
            shutil.rmtree(draft, ignore_errors=True)
            draft.mkdir()
            make(draft)
            draft.rename(place)
    return place


@contextmanager
def _alone(file: Path) -> Iterator[None]:
    """Hold a lock that the system lets go of when the process ends; without such locks workers start one by one."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    with file.open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield
