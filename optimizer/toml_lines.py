"""Where each value of a TOML file is written: key paths to lines, which the standard reader forgets."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from contextlib import suppress
from dataclasses import dataclass
from typing import TypeAlias

KeyPath: TypeAlias = tuple[str | int, ...]

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"[ \t]+")
_GAP = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)+")
_BARE_VALUE = re.compile(r"[^,\]}#\n]*")
_LONG_STRINGS = {
    '"""': re.compile(r'"""(?:\\.|[^\\])*?"{3,5}', re.S),
    "'''": re.compile(r"'''.*?'{3,5}", re.S),
}
_STRINGS = {'"': re.compile(r'"(?:\\.|[^"\\\n])*"?'), "'": re.compile(r"'[^'\n]*'?")}


@dataclass(frozen=True)
class Spot:
    """Line of a key or a value (from 1) and the value as written, empty for a table's header."""

    line: int
    written: str = ""


def locate(text: str) -> dict[KeyPath, Spot]:
    """Map every key path of a valid TOML text to its spot; list elements count as keys, from 0.

    On text that is not valid TOML the map may be short or odd, but nothing is raised.
    """
    walk = _Walk(text)
    with suppress(RecursionError):
        walk.document()
    return walk.spots


class _Walk:
    """One pass over the text; `at` only ever moves forward."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.spots: dict[KeyPath, Spot] = {}
        self.counts: dict[KeyPath, int] = {}
        self.breaks = [found.start() for found in re.finditer("\n", text)]

    def document(self) -> None:
        table: KeyPath = ()
        self.skip(_GAP)
        while self.at < len(self.text):
            before = self.at
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
            self.skip(_GAP)
            self.at = max(self.at, before + 1)

    def line(self, at: int) -> int:
        return bisect_left(self.breaks, at) + 1

    def skip(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        if not found:
            return ""
        self.at = found.end()
        return found.group()

    def take(self, expected: str) -> bool:
        if not self.text.startswith(expected, self.at):
            return False
        self.at += len(expected)
        return True

    def header(self) -> KeyPath:
        """Read ``[a.b]`` or ``[[a.b]]`` and return the path of the table it opens."""
        line = self.line(self.at)
        is_list = self.take("[[") or not self.take("[")
        names = self.key()
        self.take("]]" if is_list else "]")
        path: KeyPath = ()
        for place, name in enumerate(names):
            path += (name,)
            if is_list and place == len(names) - 1:
                self.counts[path] = self.counts.get(path, 0) + 1
            self.spots.setdefault(path, Spot(line))
            if path in self.counts:
                path += (self.counts[path] - 1,)
                self.spots.setdefault(path, Spot(line))
        return path

    def key(self) -> list[str]:
        """Read a dotted key: its names."""
        names = []
        while True:
            self.skip(_BLANK)
            names.append(self.name())
            self.skip(_BLANK)
            if not self.take("."):
                return names

    def name(self) -> str:
        quote = self.text[self.at : self.at + 1]
        if quote not in _STRINGS:
            return self.skip(_BARE_KEY)
        quoted = self.skip(_STRINGS[quote])
        try:
            return str(tomllib.loads(f"name = {quoted}")["name"])
        except tomllib.TOMLDecodeError:
            return quoted

    def pair(self, table: KeyPath) -> None:
        """Read ``key = value`` inside a table."""
        line = self.line(self.at)
        path = table
        for name in self.key():
            path += (name,)
            self.spots.setdefault(path, Spot(line))
        if self.take("="):
            self.value(path)

    def value(self, path: KeyPath) -> None:
        self.skip(_BLANK)
        start = self.at
        opening = self.text[start : start + 1]
        if opening == "[":
            self.elements(path)
        elif opening == "{":
            self.inline_table(path)
        elif self.text[start : start + 3] in _LONG_STRINGS:
            self.skip(_LONG_STRINGS[self.text[start : start + 3]])
        elif opening in _STRINGS:
            self.skip(_STRINGS[opening])
        else:
            self.skip(_BARE_VALUE)
        self.spots[path] = Spot(self.line(start), self.text[start : self.at].strip())

    def elements(self, path: KeyPath) -> None:
        self.take("[")
        index = 0
        while self.more("]"):
            before = self.at
            self.value((*path, index))
            index += 1
            self.step_over_comma(before)

    def inline_table(self, path: KeyPath) -> None:
        self.take("{")
        while self.more("}"):
            before = self.at
            self.pair(path)
            self.step_over_comma(before)

    def more(self, closing: str) -> bool:
        """Whether another element comes before the closing bracket, which is stepped over."""
        self.skip(_GAP)
        return self.at < len(self.text) and not self.take(closing)

    def step_over_comma(self, before: int) -> None:
        self.skip(_GAP)
        self.take(",")
        self.at = max(self.at, before + 1)
