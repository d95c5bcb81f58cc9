"""One scenario many times over, one of its keys changed: what "key=first:last:step" asks for."""

from __future__ import annotations

import re
from collections.abc import MutableMapping, MutableSequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from optimizer.errors import ResultsError

MOST = 200  # values of one sweep
_PART = re.compile(r"([A-Za-z0-9_-]+)((?:\[\d+\])*)")
_HOW = "write it as key=first:last:step, such as tyre.radius=350:390:5, or key=value,value,..."


@dataclass(frozen=True)
class Vary:
    """A key of a scenario file, as its steps (names, and places in lists), and the values it takes in turn."""

    key: str
    path: tuple[str | int, ...]
    values: tuple[float, ...]


def read_vary(text: str) -> Vary:
    """Read "tyre.radius=350:390:5" or "lower_arm.inner_pivot[2]=10,15,20".

    Values are plain numbers, in the unit of the scenario file.

    Raises
    ------
    ResultsError
        With a sentence that says what is allowed.
    """
    key, equals, values = (part.strip() for part in text.partition("="))
    if not (key and equals and values):
        raise ResultsError(f"--vary {text}: {_HOW}")
    return Vary(key, _path(key, text), _values(values, text))


def _path(key: str, text: str) -> tuple[str | int, ...]:
    path: list[str | int] = []
    for part in key.split("."):
        found = _PART.fullmatch(part)
        if not found:
            raise ResultsError(f"--vary {text}: {key} is no key; write it as in the file, such as tyre.radius")
        path.append(found[1])
        path += [int(place) for place in re.findall(r"\d+", found[2])]
    return tuple(path)


def _values(values: str, text: str) -> tuple[float, ...]:
    if ":" not in values:
        return tuple(float(_number(part, text)) for part in values.split(","))
    parts = [_number(part, text) for part in values.split(":")]
    if len(parts) != 3:
        raise ResultsError(f"--vary {text}: {_HOW}")
    first, last, step = parts
    if step == 0 or (last - first) / step < 0:
        raise ResultsError(f"--vary {text}: a step of {step} does not lead from {first} to {last}")
    count = int((last - first) / step) + 1
    if count > MOST:
        raise ResultsError(f"--vary {text}: that is {count:,} searches, {MOST} are the most; take a larger step")
    return tuple(float(first + number * step) for number in range(count))


def _number(part: str, text: str) -> Decimal:
    try:
        found = Decimal(part.strip())
    except InvalidOperation:
        found = Decimal("nan")
    if not found.is_finite():
        raise ResultsError(f"--vary {text}: {part.strip() or 'nothing'} is no plain number; {_HOW}")
    return found


def with_value(text: str, vary: Vary, value: float) -> str:
    """A scenario's text with one value in the key's place, all else as it was, comments included.

    Raises
    ------
    ResultsError
        The file has no such table or list for the key to stand in.
    """
    import tomlkit

    document = tomlkit.parse(text)
    place: Any = document
    for number, step in enumerate(vary.path):
        last = number == len(vary.path) - 1
        if isinstance(step, int):
            there = isinstance(place, MutableSequence) and step < len(place)
        else:
            there = isinstance(place, MutableMapping) and (last or step in place)
        if not there:
            raise ResultsError(f"--vary {vary.key}: the file holds no such key; name one as it stands there")
        if last:
            place[step] = value
        else:
            place = place[step]
    return tomlkit.dumps(document)
