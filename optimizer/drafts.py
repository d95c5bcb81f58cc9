"""What is written takes its place whole or not at all: drafts beside their place, and what killed ones left behind.

Each draft lies in a hidden folder of its own beside its place, `.NAME.pivotfront-XXXXXXXX`. The process that owns it
holds a lock on that folder; the system lets go of it when the process ends, however it ends. So a folder that can be
locked belongs to nobody and may be cleared away.
"""

from __future__ import annotations

import ctypes
import glob
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

NEW = "new"  # in a draft's folder: what is being written
EARLIER = "earlier"  # and what it is about to replace, where the system cannot exchange the two in one step
_MARK = ".pivotfront-"


@contextmanager
def draft_beside(place: Path, folder: Path | None = None) -> Iterator[Path]:
    """Give the path of a draft on the file system of `place`, nothing there yet; what is left of it at the end goes.

    Parameters
    ----------
    place
        Where the draft is to go.
    folder
        Where it waits: the folder of `place`, or another while that is not there.

    Raises
    ------
    OSError
        Nothing can be written there.
    """
    folder = place.parent if folder is None else folder
    put_right(folder)
    holder, lock = _holder(place, folder)
    try:
        yield holder / NEW
    finally:
        _clear(holder)
        if lock is not None:
            os.close(lock)


def put_right(folder: Path) -> None:
    """Move back what a killed process had set aside in a folder, and clear away its drafts; say so where it matters.

    Drafts of living processes are left alone, and so are all where the system has no locks.
    """
    with suppress(OSError):
        for holder in sorted(path for path in folder.iterdir() if path.name.startswith(".") and _MARK in path.name):
            if holder.is_dir() and not holder.is_symlink():
                _put_right_one(holder)


def being_written(place: Path) -> bool:
    """Whether a living process has a draft of a place; False where the system has no locks."""
    with suppress(OSError):
        for holder in place.parent.glob(f".{glob.escape(place.name)}{_MARK}*"):
            try:
                lock = _lock(holder)
            except BlockingIOError:
                return True
            if lock is not None:
                os.close(lock)
    return False


def _put_right_one(holder: Path) -> None:
    try:
        lock = _lock(holder)
    except OSError:
        return  # in use, or not ours to look into
    if lock is None:
        _move_back(holder)
    else:
        _clear(holder)
        os.close(lock)


def _holder(place: Path, folder: Path) -> tuple[Path, int | None]:
    """Make a folder for a draft, and lock it."""
    for _ in range(100):
        holder = Path(tempfile.mkdtemp(prefix=f".{place.name}{_MARK}", dir=folder))
        with suppress(BlockingIOError, FileNotFoundError):  # before it was locked another process cleared it away
            lock = _lock(holder)
            if holder.is_dir():
                return holder, lock
            if lock is not None:
                os.close(lock)
    raise OSError("its draft was cleared away again and again")


def _lock(holder: Path) -> int | None:
    """Lock a draft's folder; None where the system has no such locks.

    Raises
    ------
    OSError
        It is locked, or cannot be opened.
    """
    if sys.platform == "win32":
        return None
    import fcntl

    handle = os.open(holder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        raise
    except OSError:  # a file system without locks
        os.close(handle)
        return None
    return handle


def _clear(holder: Path) -> None:
    if _move_back(holder):
        shutil.rmtree(holder, ignore_errors=True)


def _move_back(holder: Path) -> bool:
    """Move back what was set aside for a draft that never took its place; whether the rest may go."""
    earlier, place = holder / EARLIER, holder.with_name(holder.name[1:].rpartition(_MARK)[0])
    if not (os.path.lexists(earlier) and os.path.lexists(holder / NEW)):
        return True
    try:
        if os.path.lexists(place):
            raise FileExistsError
        earlier.rename(place)
    except OSError:
        _say(f"{place}: its earlier results are in {earlier}, left there by a run that was stopped; move them away")
        return False
    _say(f"{place}: its earlier results are back, which a run that was stopped had set aside")
    return True


def _say(sentence: str) -> None:
    print(sentence, file=sys.stderr)


def put(draft: Path, place: Path) -> None:
    """Move a draft to its place, in one step wherever the system can, whatever lies there.

    What lay there ends up in the draft's folder, and goes with it.
    """
    sync(draft)
    there = os.path.lexists(place)
    if not (there and _exchange(draft, place)):
        if there:
            place.rename(draft.with_name(EARLIER))
        draft.rename(place)
    _sync_folder(place.parent)


def put_new_file(draft: Path, place: Path) -> None:
    """Move a draft of a file to its place.

    Raises
    ------
    FileExistsError
        Something is there already; it is left as it is.
    """
    sync(draft)
    try:
        os.link(draft, place)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        if os.path.lexists(place):
            raise FileExistsError from None
        draft.rename(place)


def sync(draft: Path) -> None:
    """Have the system write a file, or every file of a folder, to the disk itself: a name is no use without it."""
    for path in sorted(draft.iterdir()) if draft.is_dir() else [draft]:
        with path.open("rb+") as file:
            os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    with suppress(OSError):  # not every system opens folders
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


_HERE = -100  # AT_FDCWD of Linux: paths are those of the process
_SWAP = 2  # RENAME_EXCHANGE of Linux and RENAME_SWAP of macOS


def _exchange(one: Path, other: Path) -> bool:
    """Let two paths change places in one step; False where the system or the file system cannot."""
    if sys.platform not in ("linux", "darwin"):
        return False
    library, paths = ctypes.CDLL(None), (os.fsencode(one), os.fsencode(other))
    if sys.platform == "darwin":
        swap, words = "renamex_np", (*paths, _SWAP)
    else:
        swap, words = "renameat2", (_HERE, paths[0], _HERE, paths[1], _SWAP)
    return hasattr(library, swap) and getattr(library, swap)(*words) == 0
