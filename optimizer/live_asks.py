"""What a live page may ask, read with care: anything else is refused."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, cast

from optimizer.live_point import WORDS, Field
from optimizer.live_targets import Which

LONGEST = 2000  # characters of an ask
FARTHEST = 1e6  # of a number, in the scenario's unit

Do = Literal[
    "hello",
    "type",
    "nudge",
    "hold",
    "hole",
    "snap",
    "row",
    "baseline",
    "undo",
    "steer",
    "shade",
    "target",
    "use",
    "save",
]
_KEYS: dict[str, tuple[str, ...]] = {
    "hello": (),
    "move": ("hand", "y", "z", "last"),
    "type": ("field", "text"),
    "nudge": ("y", "z"),
    "hold": ("field",),
    "hole": ("index",),
    "snap": ("on",),
    "row": ("index",),
    "baseline": (),
    "undo": (),
    "steer": ("index",),
    "shade": ("text",),
    "target": ("field", "which", "text"),
    "use": ("text",),
    "save": ("text",),
}


@dataclass(frozen=True)
class Move:
    """The hand is at y and z, in the scenario's unit: a move of a drag, or its last."""

    number: int
    hand: int
    y: float
    z: float
    last: bool


@dataclass(frozen=True)
class Ask:
    """Anything else, with what it needs and nothing more."""

    number: int
    do: Do
    field: Any = ""
    text: str = ""
    which: Which = "aim"
    index: int = 0
    on: bool = False
    y: float = 0.0
    z: float = 0.0


def read_ask(data: object) -> Ask | Move:
    """Read an ask from the columns of its source.

    Raises
    ------
    ValueError
        It is none; the message says why.
    """
    text = data.get("text") if isinstance(data, dict) and set(data) == {"text"} else None
    if not isinstance(text, list) or len(text) != 1 or not isinstance(text[0], str):
        raise ValueError("this is no ask")
    if len(text[0]) > LONGEST:
        raise ValueError("this is too long for an ask")
    try:
        found = json.loads(text[0])
    except (ValueError, RecursionError):
        raise ValueError("this is no JSON") from None
    if not isinstance(found, dict) or not isinstance(do := found.pop("do", None), str) or do not in _KEYS:
        raise ValueError("nothing of that name can be asked")
    number = found.pop("n", None)
    if set(found) != set(_KEYS[do]) or not _is_count(number):
        raise ValueError(f"an ask to {do} has other parts")
    if not all(_READ[key](value) for key, value in found.items()):
        raise ValueError(f"a part of an ask to {do} is not what it should be")
    _check_field(do, found)
    if do == "move":
        return Move(number, found["hand"], float(found["y"]), float(found["z"]), found["last"])
    return Ask(number, cast(Do, do), **found)


def _check_field(do: str, found: dict[str, Any]) -> None:
    allowed: tuple[Field, ...] = tuple(WORDS)
    if do == "hold":
        allowed = ("static_camber", "arm_length")
    if do in ("type", "hold") and found["field"] not in allowed:
        raise ValueError("there is no such field")


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**53


def _is_number(value: object) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and abs(value) <= FARTHEST
        and math.isfinite(value)
    )


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _is_flag(value: object) -> bool:
    return isinstance(value, bool)


_READ: dict[str, Callable[[object], bool]] = {
    "hand": _is_count,
    "index": _is_count,
    "y": _is_number,
    "z": _is_number,
    "last": _is_flag,
    "on": _is_flag,
    "field": _is_text,
    "text": _is_text,
    "which": lambda value: value in ("aim", "limit"),
}
