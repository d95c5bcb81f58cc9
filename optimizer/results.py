"""Directories of results: written beside their place and moved there whole, read back with care."""

from __future__ import annotations

import errno
import hashlib
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from optimizer.drafts import being_written, draft_beside, put, put_right
from optimizer.errors import ResultsError

FORMAT = 1  # of a results directory; a newer one is refused, not guessed at
RECORD = "run.json"  # in every directory of results: what made it


@contextmanager
def new_directory(place: Path, *, kind: str, force: bool) -> Iterator[Path]:
    """Give a folder to write into; when all went well it appears at `place`, else nothing does.

    Parameters
    ----------
    place
        Where the results are to appear.
    kind
        "search", "try" or "pick": with `force`, only an earlier directory of the same kind is replaced.
    force
        Replace an earlier directory of results.

    Raises
    ------
    ResultsError
        The place is taken, or cannot be written.
    """
    place = _resolved(place)
    put_right(place.parent)
    refuse_taken(place, kind=kind, force=force)
    if being_written(place):
        raise ResultsError(f"{place} is being written by another run; wait for its end, or name another --out")
    try:
        with draft_beside(place, _existing(place.parent)) as draft:
            draft.mkdir()
            yield draft
            _list_files(draft)
            refuse_taken(place, kind=kind, force=force)
            place.parent.mkdir(parents=True, exist_ok=True)
            put(draft, place)
    except OSError as error:
        raise ResultsError(f"{place}: could not be written: {error.strerror or error}; nothing was changed") from None


def _resolved(place: Path) -> Path:
    try:
        return place.resolve()
    except (OSError, RuntimeError):  # which of the two depends on the version of Python
        raise ResultsError(f"{place} is a link that leads in a circle; name another --out") from None


def _existing(folder: Path) -> Path:
    """The nearest folder up from here that exists."""
    while not folder.is_dir() and folder != folder.parent:
        if os.path.lexists(folder):
            raise ResultsError(f"{folder} is a file, so nothing can be put in it; name another --out")
        folder = folder.parent
    return folder


def _list_files(draft: Path) -> None:
    """Note in the record what was written, so that a later --force removes that and nothing else."""
    record = json.loads((draft / RECORD).read_text(encoding="utf-8"))
    write_json(draft / RECORD, {**record, "files": sorted(path.name for path in draft.iterdir())})


def refuse_taken(place: Path, *, kind: str, force: bool) -> None:
    """Raise ResultsError where `place` exists and may not be replaced."""
    if not os.path.lexists(place):
        return
    if not force:
        raise ResultsError(f"{place} exists already; name another --out, or replace it with --force")
    if place in (Path.cwd(), *Path.cwd().parents):
        raise ResultsError(f"{place} is the folder you are in, or holds it; name another --out")
    record = read_record(place)
    if record.get("kind") != kind:
        raise ResultsError(
            f'{place} holds no results of "pivotfront {kind}", so --force leaves it alone; name another --out'
        )
    files = record.get("files")
    ours = {name for name in files if isinstance(name, str)} if isinstance(files, list) else set()
    others = sorted({path.name for path in place.iterdir()} - ours)
    if others:
        raise ResultsError(f"{place} also holds {', '.join(others[:5])}; --force would lose it, so move it away first")


def write_record(folder: Path, kind: str, content: dict[str, Any]) -> None:
    """Write what made a directory of results."""
    write_json(folder / RECORD, {"program": "pivotfront", "kind": kind, "format": FORMAT, **content})


def read_record(folder: Path) -> dict[str, Any]:
    """What made a directory of results; empty where there is no such record.

    Raises
    ------
    ResultsError
        The record comes from a newer version.
    """
    file = folder / RECORD
    try:
        record = json.loads(file.read_text(encoding="utf-8")) if file.is_file() else {}
    except (OSError, ValueError, RecursionError):
        return {}
    if not isinstance(record, dict) or record.get("program") != "pivotfront":
        return {}
    found = record.get("format")
    if not isinstance(found, int):
        raise ResultsError(f"{folder / RECORD}: its format is {found!r}, no number; undo the change, or run again")
    if found > FORMAT:
        raise ResultsError(f"{folder} was written by a newer pivotfront (format {found}); update this one to read it")
    return record


def write_json(path: Path, content: dict[str, Any]) -> None:
    """Write JSON with full precision; NaN, which JSON does not have, becomes null."""
    tidy = json.loads(json.dumps(content), parse_constant=lambda _: None)
    path.write_text(json.dumps(tidy, indent=2, allow_nan=False, ensure_ascii=False) + "\n", encoding="utf-8")


def digest(path: Path) -> str:
    """Fingerprint of a file, to tell later whether it was changed.

    Raises
    ------
    OSError
        It cannot be read; or it is no file, such as a pipe, which may never end.
    """
    if path.exists() and not path.is_file():
        raise OSError(errno.EINVAL, "it is no file")
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
