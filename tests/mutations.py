"""Scenarios as they should not be: mutated byte by byte and key by key, or drawn at random over wide ranges."""

from __future__ import annotations

import copy
import random
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from optimizer.starter import starter_text

SCENARIOS = sorted((Path(__file__).parent.parent / "scenarios").glob("*.toml"))
KeyPath = tuple[str | int, ...]


class Raw(str):
    """Text that goes into the file as it stands."""

    __slots__ = ()


@dataclass(frozen=True)
class Case:
    """A scenario file, what was done to it, and the key whose kind of value was changed, if that is all."""

    content: bytes
    done: str
    wrong: KeyPath = ()


@cache
def texts() -> tuple[str, ...]:
    """What is mutated: the scenarios that come with the package, and every key there is in the starter's."""
    from tests.part_cases import STEERING_BOX

    return (*(file.read_text(encoding="utf-8") for file in SCENARIOS), STEERING_BOX, uncommented(starter_text("mm")))


def uncommented(text: str) -> str:
    """The starter with a few of the keys that it holds as comments."""
    with_obstacle = (
        text + '\n[[obstacles]]\nname = "tank"\npoints = [[430.0, 370.0], [400.0, 520.0]]\ndiameter = 50.0\n'
    )
    tomllib.loads(with_obstacle)
    return with_obstacle


EXTREMES = (
    "0",
    "-0.0",
    "-1",
    "1e-320",
    "5e-324",
    "-5e-324",
    "1e-9",
    "1e5",
    "99999.9",
    "-1e5",
    "1e300",
    "-1e308",
    "1e999",
    "nan",
    "-nan",
    "inf",
    "-inf",
    "9007199254740993",
    "-9223372036854775809",
    "1" + "0" * 400,
    "0xffffffffffffffffffffffff",
    "0.1e-400",
    "90.0",
    "-90.0",
    "180",
    "45.000001",
    "1979-05-27T07:32:00Z",
    "07:32:00",
)
WORDS = (
    "",
    " ",
    '=HYPERLINK("http://x.invalid","look")',
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "+1",
    "-1+1",
    "../../x",
    "/etc/passwd",
    "..",
    "CON",
    "<script>alert(1)</script>",
    "</title><script>alert(1)</script>",
    "{{payload}} $x$ %s {0} \\n",
    "$\\frac{",
    "a\nb",
    "a\tb",
    "\x00",
    "\x1b[2J",
    "\x7f",
    "\ufeff",
    "\u202egnp",
    "\u2028",
    "\ufffe",
    "é" * 300,
    "x" * 5000,
    "14 3/8",
    "3/0",
    "1/" + "9" * 500,
    "nan",
    "inf",
    "1e999",
    "\U0001f527",
    "none",
    "M8",
)
OTHERS: tuple[Any, ...] = (True, False, [], {}, [[]], [{}], [[[[]]]], {"x": 1}, {"y": {"z": {}}}, [1.0] * 50)


def dumped(tables: dict[str, Any]) -> str:
    """Write tables as TOML, whatever they hold."""
    lines = [f"{named(key)} = {value(part)}" for key, part in tables.items() if not isinstance(part, dict)]
    for key, part in tables.items():
        if isinstance(part, dict):
            lines += [f"[{named(key)}]", *(f"{named(name)} = {value(inner)}" for name, inner in part.items())]
    return "\n".join(lines) + "\n"


def named(key: str) -> str:
    return key if key.isascii() and key.replace("_", "").replace("-", "").isalnum() else value(key)


def value(part: Any) -> str:
    if isinstance(part, Raw):
        return part
    if isinstance(part, str):
        return '"' + "".join(c if c.isprintable() and c not in '"\\' else f"\\U{ord(c):08x}" for c in part) + '"'
    if isinstance(part, bool):
        return str(part).lower()
    if isinstance(part, list):
        return "[" + ", ".join(map(value, part)) + "]"
    if isinstance(part, dict):
        return "{" + ", ".join(f"{named(key)} = {value(inner)}" for key, inner in part.items()) + "}"
    return repr(part)


def places(part: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    """Every key path of a document."""
    for key, inner in part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ():
        yield (*path, key)
        yield from places(inner, (*path, key))


def by_bytes(rng: random.Random, base: str, others: tuple[str, ...]) -> Case:
    """Change some bytes: flip, insert, cut, double, exchange with another scenario's."""
    data = bytearray(base.encode())
    for _ in range(rng.choice((1, 1, 2, 4, 16))):
        at = rng.randrange(len(data) + 1)
        end = min(len(data), at + rng.choice((1, 2, 8, 40, 400)))
        kind = rng.randrange(7)
        if kind == 0 and at < len(data):
            data[at] ^= 1 << rng.randrange(8)
        elif kind == 1:
            data[at:at] = rng.choice(
                (bytes([rng.randrange(256)]), b"\n", b'"', b"[", b"}", b"=", b"\xff\xfe", b"9" * 50)
            )
        elif kind == 2:
            del data[at:end]
        elif kind == 3:
            data[at:at] = data[at:end]
        elif kind == 4:
            other = rng.choice(others).encode()
            begin = rng.randrange(len(other))
            data[at:end] = other[begin : begin + rng.choice((5, 50, 500))]
        elif kind == 5:
            digits = [place for place, byte in enumerate(data) if 48 <= byte < 58]
            if digits:
                data[rng.choice(digits)] = 48 + rng.randrange(10)
        elif kind == 6 and rng.random() < 0.2:
            del data[at:]
        if not data:
            break
    return Case(bytes(data), "bytes")


def by_keys(rng: random.Random, base: str, _others: tuple[str, ...]) -> Case:
    """Change some keys: drop, double, move, another kind of value, an extreme number, odd text, a long list."""
    tables = copy.deepcopy(tomllib.loads(base))
    wrong: KeyPath = ()
    done = []
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        path = rng.choice(list(places(tables)) or [("title",)])
        holder: Any = tables
        for step in path[:-1]:
            holder = holder[step]
        change = rng.choice(_CHANGES)
        wrong = path if change in _KINDS else ()
        change(rng, holder, path[-1])
        done.append(f"{change.__name__} {path}")
    return Case(dumped(tables).encode("utf-8", "replace"), "; ".join(done), wrong if len(done) == 1 else ())


def drop(_rng: random.Random, holder: Any, key: Any) -> None:
    del holder[key]


def extreme(rng: random.Random, holder: Any, key: Any) -> None:
    holder[key] = Raw(rng.choice(EXTREMES))


def odd_text(rng: random.Random, holder: Any, key: Any) -> None:
    holder[key] = rng.choice(WORDS)


def other_kind(rng: random.Random, holder: Any, key: Any) -> None:
    before = holder[key]
    holder[key] = copy.deepcopy(rng.choice([other for other in OTHERS if type(other) is not type(before)]))


def scaled(rng: random.Random, holder: Any, key: Any) -> None:
    if isinstance(holder[key], int | float):
        holder[key] = holder[key] * rng.choice((-1.0, 0.0, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 1e3, 1e-3, 1e-12))


def shorter_or_longer(rng: random.Random, holder: Any, key: Any) -> None:
    part = holder[key]
    if isinstance(part, list) and part:
        holder[key] = rng.choice((part[:-1], part + part, part[::-1], part * 40, part * 1200, [part]))


def renamed(rng: random.Random, holder: Any, key: Any) -> None:
    if isinstance(holder, dict):
        part = holder.pop(key)
        holder[rng.choice((key + "x", key[:-1], key.upper(), "", "a.b", "x" * 300, "é\n", *WORDS[:9]))] = part


def doubled(rng: random.Random, holder: Any, key: Any) -> None:
    if isinstance(holder, dict):
        holder[rng.choice(list(holder))] = copy.deepcopy(holder[key])


def added(rng: random.Random, holder: Any, _key: Any) -> None:
    if isinstance(holder, dict):
        holder["title"] = rng.choice(WORDS)


_CHANGES: tuple[Callable[[random.Random, Any, Any], None], ...] = (
    drop,
    extreme,
    extreme,
    odd_text,
    other_kind,
    scaled,
    scaled,
    shorter_or_longer,
    renamed,
    doubled,
    added,
)
_KINDS = (other_kind,)


def mutated(seed: int) -> Case:
    """Scenario of one seed: by bytes, or by keys."""
    rng, bases = random.Random(seed), texts()
    return rng.choice((by_bytes, by_keys, by_keys))(rng, rng.choice(bases), bases)


def drawn() -> st.SearchStrategy[Case]:
    """Scenarios that are written well, with numbers over ranges far wider than any vehicle's."""
    bases = [tomllib.loads(text) for text in texts()]
    return st.builds(_with_numbers, st.sampled_from(bases), st.data())


def _with_numbers(base: dict[str, Any], data: st.DataObject) -> Case:
    tables = copy.deepcopy(base)
    numbers = [path for path in places(tables) if isinstance(_at(tables, path), int | float)]
    for path in data.draw(st.lists(st.sampled_from(numbers), min_size=1, max_size=12, unique=True)):
        holder, old = _at(tables, path[:-1]), _at(tables, path)
        if isinstance(old, bool):
            continue
        near = st.floats(min(0.3 * old, 3.0 * old) - 5.0, max(0.3 * old, 3.0 * old) + 5.0)
        holder[path[-1]] = data.draw(st.one_of(near, near, st.floats(-1e5, 1e5), st.floats(), st.integers()))
    tables["title"] = data.draw(st.one_of(st.text(max_size=30), st.sampled_from(WORDS)))
    return Case(dumped(tables).encode("utf-8", "replace"), "drawn")


def _at(part: Any, path: KeyPath) -> Any:
    for step in path:
        part = part[step]
    return part
