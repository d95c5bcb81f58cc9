"""One scenario many times over, one of its keys changed: what "key=first:last:step" asks for."""

from __future__ import annotations

import re
import tomllib
from collections.abc import MutableMapping, MutableSequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any

from optimizer.errors import ResultsError
from optimizer.faults import shorten
from optimizer.units import read_fraction

MOST = 200  # values of one sweep
_FAR = 100  # digits of a number before or behind the point, and names of a key: beyond it all is a slip
_MOST_COUNTED = 1e6
_PART = re.compile(r"([A-Za-z0-9_-]+)((?:\[\d{1,9}\])*)", re.ASCII)
_HOW = "write it as key=first:last:step, such as tyre.radius=350:390:5, or key=value,value,..."


@dataclass(frozen=True)
class Vary:
    """A key of a scenario file, as its steps (names, and places in lists), and the values it takes in turn."""

    key: str
    path: tuple[str | int, ...]
    values: tuple[float, ...]


def read_vary(text: str) -> Vary:
    """Read "tyre.radius=350:390:5" or "lower_arm.inner_pivot[2]=10,15,20".

    Values are plain numbers in the unit of the scenario file; in inches fractions too.

    Raises
    ------
    ResultsError
        With a sentence that says what is allowed.

    Examples
    --------
    >>> read_vary("tyre.radius=350:390:20")
    Vary(key='tyre.radius', path=('tyre', 'radius'), values=(350.0, 370.0, 390.0))
    >>> read_vary("lower_arm.inner_pivot[2]=0.1:0.3:0.1").values  # steps are counted exactly: none goes missing
    (0.1, 0.2, 0.3)
    >>> read_vary("tyre.radius=14 3/8:14 1/2:1/16").values
    (14.375, 14.4375, 14.5)
    """
    key, equals, values = (part.strip() for part in text.partition("="))
    if not (key and equals and values):
        raise ResultsError(f"--vary {shorten(text)}: {_HOW}")
    return Vary(key, _path(key, text), _values(values, text))


def _path(key: str, text: str) -> tuple[str | int, ...]:
    path: list[str | int] = []
    for part in key.split("."):
        found = _PART.fullmatch(part)
        if not found:
            raise ResultsError(
                f"--vary {shorten(text)}: {shorten(key)} is no key; write it as in the file, such as tyre.radius"
            )
        path.append(found[1])
        path += [int(place) for place in re.findall(r"\d+", found[2])]
    if len(path) > _FAR:
        raise ResultsError(f"--vary {shorten(text)}: keys have a few names, {len(path):,} given")
    return tuple(path)


def _values(values: str, text: str) -> tuple[float, ...]:
    if ":" not in values:
        listed = values.split(",")
        _refuse_many(len(listed), text)
        return tuple(float(_number(part, text)) for part in listed)
    written = [part.strip() for part in values.split(":")]
    if len(written) != 3:
        raise ResultsError(f"--vary {shorten(text)}: {_HOW}")
    first, last, step = (_number(part, text) for part in written)
    if step == 0 or (last - first) / step < 0:
        way = f"from {shorten(written[0])} to {shorten(written[1])}"
        raise ResultsError(f"--vary {shorten(text)}: a step of {shorten(written[2])} does not lead {way}")
    count = int((last - first) / step) + 1
    _refuse_many(count, text)
    return tuple(float(first + number * step) for number in range(count))


def _refuse_many(count: int, text: str) -> None:
    if count > MOST:
        raise ResultsError(
            f"--vary {shorten(text)}: that is {count:,} searches, {MOST} are the most; "
            "take a larger step, or fewer values"
        )


def _number(part: str, text: str) -> Fraction:
    part = part.strip()
    try:
        found = read_fraction(part) if len(part) <= _FAR else None
        if found is None:
            plain = Decimal(part)
            if plain and not -_FAR <= plain.adjusted() <= _FAR:
                raise ResultsError(f"--vary {shorten(text)}: {shorten(part)} is no value of any key; check the number")
            found = Fraction(plain)
    except (InvalidOperation, ValueError, OverflowError):  # no number, or none that is finite
        raise ResultsError(f"--vary {shorten(text)}: {shorten(part) or 'nothing'} is no plain number; {_HOW}") from None
    return found


def with_value(text: str, vary: Vary, value: float) -> str:
    """A scenario's text with one value in the key's place, all else as it was, comments included.

    Raises
    ------
    ResultsError
        The file has no such table or list for the key to stand in.
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    asked = tomllib.loads(text)
    _put(asked, vary, value)
    try:
        document = tomlkit.parse(text)
        _put(document, vary, value)
        written = tomlkit.dumps(document)
        as_asked = repr(tomllib.loads(written)) == repr(asked)
    except (TOMLKitError, ValueError):  # it takes a little less than the reader does
        as_asked = False
    if not as_asked:
        raise ResultsError(
            f"--vary {shorten(vary.key)}: its value cannot be changed where it stands; write the key in the file as "
            "key = value, under the heading of its table"
        )
    return written


def _put(place: Any, vary: Vary, value: float) -> None:
    """Put a value in the key's place, in plain tables or in a document that keeps its comments."""
    for number, step in enumerate(vary.path):
        last = number == len(vary.path) - 1
        if isinstance(step, int):
            there = isinstance(place, MutableSequence) and step < len(place)
        else:
            there = isinstance(place, MutableMapping) and (last or step in place)
        if not there:
            raise ResultsError(f"--vary {shorten(vary.key)}: the file holds no such key; name one as it stands there")
        if not last:
            place = place[step]
        elif isinstance(step, str) and isinstance(place.get(step), MutableMapping):
            raise ResultsError(f"--vary {shorten(vary.key)}: that is a table; name a key in it")
        else:
            before = place.get(step) if isinstance(step, str) else place[step]
            place[step] = value if isinstance(before, float) or not _counted(value) else int(value)


def _counted(value: float) -> bool:
    """Whether a value may be a count; keys that are lengths or angles take such a number too."""
    return value.is_integer() and abs(value) < _MOST_COUNTED
