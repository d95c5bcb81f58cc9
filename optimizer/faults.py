"""Collects every mistake of a scenario file with its line, and says each in the builder's words."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, get_args

from optimizer.errors import Fault, ScenarioError
from optimizer.readers import MORE_POINTS, ONE_POINT
from optimizer.toml_lines import KeyPath, Spot, locate

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError

_LONGEST_VALUE = 60
_DEEPEST_NESTING = 50
_NAME = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')"""
_DOTTED = re.compile(rf"(?<![\w-]){_NAME}(?:[ \t]*+\.[ \t]*+{_NAME}){{{_DEEPEST_NESTING}}}")
"""A dotted key beyond reason: every name opens a table in the one before."""


class FaultList:
    """The faults found so far in one file; `name` is the file's name in messages."""

    def __init__(self, name: str, spots: Mapping[KeyPath, Spot] | None = None) -> None:
        self.name = name
        self.spots = spots or {}
        self._found: list[Fault] = []

    def __bool__(self) -> bool:
        return bool(self._found)

    def clear_of(self, *tables: str) -> bool:
        """Whether no fault found so far lies in any of these tables."""
        return not any(fault.key.split(".")[0].split("[")[0] in tables for fault in self._found)

    def add(self, path: KeyPath, sentence: str) -> None:
        """Note a mistake at a key path, on its line or that of the nearest table or list around it."""
        spot = self.spots.get(path)
        self._found.append(Fault(key_text(path), self._line(path), shorten(spot.written) if spot else "", sentence))

    def _line(self, path: KeyPath) -> int | None:
        around = (path[:size] for size in range(len(path), 0, -1))
        return next((self.spots[part].line for part in around if part in self.spots), None)

    def add_all(self, error: ValidationError, table: KeyPath, model: type[BaseModel]) -> set[str]:
        """Note every mistake of one table's validation; return the table's keys that cannot be used."""
        unusable: set[str] = set()
        for found in error.errors(include_url=False, include_input=False):
            # where a key takes one point or more, the place says which was meant: no part of the key path
            place = tuple(part for part in found["loc"] if part not in (ONE_POINT, MORE_POINTS))
            self.add((*table, *place), _sentence(found, model))
            unusable.update(str(part) for part in found["loc"][:1])
        return unusable

    def raise_if_any(self) -> None:
        """Raise a ScenarioError with every fault, in the order of the file."""
        if self._found:
            ordered = sorted(dict.fromkeys(self._found), key=lambda fault: fault.line or 0)
            raise ScenarioError(self.name, tuple(ordered))


def key_text(path: KeyPath) -> str:
    """Write a key path as the builder reads it: ``bodywork.outlines[0][2]``."""
    text = ""
    for part in path:
        text += f"[{part}]" if isinstance(part, int) else f".{_quoted(part)}" if text else _quoted(part)
    return text


def _quoted(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else ascii(name)


def shorten(written: str) -> str:
    """One line of a value as written, cut when it is long."""
    line = " ".join(written.split())
    line = "".join(letter if letter.isprintable() else "?" for letter in line)
    return line if len(line) <= _LONGEST_VALUE else line[: _LONGEST_VALUE - 4].rstrip() + " ..."


def unknown_key(name: str, known: Iterable[str], what: str = "key") -> str:
    """Say that a name is not known and which known one is nearest."""
    names = list(known)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
    if near:
        return f"this {what} is not known; did you mean {near[0]}?"
    return f"this {what} is not known; known here: {', '.join(names)}"


def _sentence(found: Mapping[str, Any], model: type[BaseModel]) -> str:
    """Put one validation error into words."""
    kind, place = found["type"], found["loc"]
    if kind == "value_error":
        return str(found["ctx"]["error"])
    if kind == "missing":
        inner = _model_at(model, place[:-1])
        says = inner.model_fields[str(place[-1])].description if inner else None
        return f"is missing; it is {says}" if says else "is missing"
    if kind == "extra_forbidden":
        inner = _model_at(model, place[:-1])
        return unknown_key(str(place[-1]), inner.model_fields if inner else ())
    if kind in ("model_type", "model_attributes_type"):
        inner = _model_at(model, place)
        keys = ", ".join(inner.model_fields) if inner else ""
        return f"must be a table with the keys {keys}"
    return str(found["msg"])


def _model_at(model: type[BaseModel], place: KeyPath) -> type[BaseModel] | None:
    """Return the model of the table at a place inside another model."""
    inner: type[BaseModel] | None = model
    for part in place:
        if isinstance(part, str) and inner:
            field = inner.model_fields.get(part)
            inner = _model_in(field.annotation) if field else None
    return inner


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """Find the model inside list[...], ... | None and the like."""
    if hasattr(annotation, "model_fields"):
        return annotation
    return next((found for part in get_args(annotation) if (found := _model_in(part))), None)


def read_toml(text: str, name: str) -> tuple[dict[str, Any], FaultList]:
    """Parse a scenario's text; return its tables and an empty list of faults that knows the lines.

    Raises
    ------
    ScenarioError
        The text is empty, nested beyond reason, or not valid TOML: a sentence with the line to look at.
    """
    if not text.strip():
        raise _whole_file(name, 'is empty; "pivotfront new FILE" writes a scenario to start from')
    if "\0" in text:
        raise _whole_file(name, "holds zero bytes: it is not a text file; save the scenario as plain UTF-8 text")
    if _nesting(text) > _DEEPEST_NESTING:
        raise _whole_file(name, f"nests brackets more than {_DEEPEST_NESTING} deep; a bracket is not closed")
    if _DOTTED.search(text):
        raise _whole_file(name, f"holds a key of more than {_DEEPEST_NESTING} names with dots between; keys have a few")
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise ScenarioError(name, (_syntax_fault(str(error), text),)) from None
    return data, FaultList(name, locate(text.replace("\r\n", "\n")))


def _whole_file(name: str, sentence: str) -> ScenarioError:
    return ScenarioError(name, (Fault("", None, "", sentence),))


def _nesting(text: str) -> int:
    """Deepest run of opening brackets, brackets inside strings included: a guard against runaway files."""
    depth = deepest = 0
    for bracket in re.findall(r"[\[{\]}]", re.sub(r"#.*", "", text)):
        depth = depth + 1 if bracket in "[{" else max(depth - 1, 0)
        deepest = max(deepest, depth)
    return deepest


_HINTS = (
    ("Cannot overwrite a value", "this key is written twice in the same table; keep one of the two"),
    ("Cannot declare", "this table is written twice; put its keys together under one heading"),
    ("Cannot mutate immutable", "this name already holds a value; put its keys together in one place"),
    ("Cannot redefine", "this table is written twice; put its keys together under one heading"),
    ("Duplicate inline table key", "this key is written twice inside the braces; keep one of the two"),
    ("Unclosed array", "a list here or just above is not closed: look for a missing ] or comma"),
    ("Unclosed inline table", "a brace here or just above is not closed: look for a missing } or comma"),
    ("Expected '='", 'a key must be followed by "=" and its value'),
    ("Invalid value", "the value cannot be read: write a number with a point, or text in double quotes"),
    ("Unterminated string", "a quote is opened and not closed"),
    (
        "Expected newline",
        "something is left over behind the value: a decimal takes a point, not a comma; "
        "fractions and text go in double quotes; one key on a line",
    ),
    ("Expected ']'", "a table heading is not closed: it reads [name]"),
    ("Invalid statement", "a line must start with a key, a [heading] or a #"),
    ("Invalid initial character for a key", "a key is missing here; a table in braces stays on one line"),
    ("Illegal character", "a quote is opened and not closed on its line, or a character cannot stand here"),
    ("Unescaped", "a backslash inside double quotes must be doubled, or use single quotes"),
    ("Exceeds the limit", "a number has thousands of digits; check the numbers"),
)


def _syntax_fault(message: str, text: str) -> Fault:
    at = re.search(r"\(at (?:line (\d+), column \d+|end of document)\)", message)
    lines = text.splitlines() or [""]
    line = min(int(at[1]), len(lines)) if at and at[1] else len(lines)
    hint = next((says for start, says in _HINTS if message.startswith(start)), "this line cannot be read as TOML")
    shown = shorten(lines[line - 1])
    return Fault("", line, "", f"{hint} (near: {shown})" if shown else hint)
