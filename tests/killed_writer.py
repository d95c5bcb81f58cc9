"""Kills a process while it writes results, again and again, and looks at what is left.

    python -m tests.killed_writer FOLDER random|every new|force|two-steps

`random` kills at 50 random moments, `every` before each single file operation in turn. `new` writes where nothing was,
`force` over earlier results, `two-steps` as well, with a system that cannot exchange two folders in one step.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from itertools import count
from pathlib import Path

from optimizer import drafts
from optimizer.results import RECORD, new_directory, write_record

KILLS = 50
FILES = {"a.csv": 60, "b.svg": 20_000, "c.txt": 3}  # names, and how long
EVENTS = ("open", "os.", "shutil.", "tempfile.", "ctypes.", "fcntl.")
"""Beginnings of the names of Python's audit events before which `every` kills."""


def write(place: Path, number: int, force: bool) -> None:
    """Write results that say their number in every file."""
    with new_directory(place, kind="search", force=force) as folder:
        for name, length in FILES.items():
            (folder / name).write_text(f"{number} " * length, encoding="utf-8")
        write_record(folder, "search", {"number": number})


def number_of(place: Path) -> int:
    """The number of whole results; fails on any other."""
    record = json.loads((place / RECORD).read_text(encoding="utf-8"))
    number = int(record["number"])
    assert sorted(path.name for path in place.iterdir()) == sorted((*FILES, RECORD)) == sorted(record["files"])
    for name, length in FILES.items():
        assert (place / name).read_text(encoding="utf-8") == f"{number} " * length
    return number


def in_a_child(work: Callable[[], None]) -> int:
    """Do something in a child process; return its number."""
    child = os.fork()
    if child:
        return child
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    try:
        work()
    finally:
        os._exit(0)


def looked_at(folder: Path, mode: str, child: int) -> int | None:
    """The number at the place after a child was killed, or None for nothing there; fails on halves and on litter."""
    place = folder / "front"
    there = place.exists()
    if mode != "new":
        assert there or mode == "two-steps", f"nothing is left at {place}"
    else:
        assert not there or number_of(place)
    drafts.put_right(folder)
    left = [path.name for path in folder.iterdir()]
    assert left == ["front"] * place.exists(), f"left beside it: {left}, child {child}"
    if mode != "new":
        assert place.exists(), "what was set aside is not back"
    return number_of(place) if there else None


def at_random(folder: Path, mode: str) -> None:
    """Kill at random moments."""
    place, chance, absent = folder / "front", random.Random(1), 0
    for kill in range(KILLS):
        if mode == "new" and place.exists():
            place.rename(folder.with_name(f"kept-{kill}"))
        begun = time.monotonic()

        def work() -> None:
            for number in count(2):
                if mode == "new" and place.exists():
                    place.rename(folder.with_name(f"kept-{os.getpid()}-{number}"))
                write(place, number, force=mode != "new")

        child = in_a_child(work)
        time.sleep(max(0.0, chance.uniform(0.0, 0.06) - (time.monotonic() - begun)))
        os.kill(child, signal.SIGKILL)
        assert os.waitpid(child, 0)[1] == signal.SIGKILL
        absent += looked_at(folder, mode, child) is None
    for kept in folder.parent.glob("kept-*"):
        number_of(kept)
    print(f"{KILLS} kills, {absent} with nothing at the place")


def at_every_operation(folder: Path, mode: str) -> None:
    """Kill before each file operation of one run, the first to the last."""
    place, absent = folder / "front", 0
    for last in count(1):
        if mode == "new" and place.exists():
            place.rename(folder.with_name(f"kept-{last}"))

        def work(last: int = last) -> None:
            seen = 0

            def kill(event: str, _arguments: tuple[object, ...]) -> None:
                nonlocal seen
                seen += event.startswith(EVENTS)
                if seen == last:
                    os.kill(os.getpid(), signal.SIGKILL)

            sys.addaudithook(kill)
            write(place, last + 1, force=mode != "new")

        child = in_a_child(work)
        killed = os.waitpid(child, 0)[1] == signal.SIGKILL
        number = looked_at(folder, mode, child)
        absent += number is None
        if not killed:
            assert number == last + 1
            break
    print(f"{last - 1} kills, {absent} with nothing at the place")


def main(folder: Path, moments: str, mode: str) -> None:
    """Kill, look, and say how often."""
    if mode == "two-steps":
        drafts._exchange = lambda _one, _other: False
    if mode != "new":
        write(folder / "front", 1, force=False)
    (at_random if moments == "random" else at_every_operation)(folder, mode)


if __name__ == "__main__":
    main(Path(sys.argv[1]), *sys.argv[2:])
