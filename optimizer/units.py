"""Lengths and angles as the builder writes and reads them; everything inside is mm and radians."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeVar

import numpy as np

from objectives.vectors import Array

Number = TypeVar("Number", float, Array)
Quantity = Literal["length", "angle", "ratio"]

LONGEST = 100_000.0
"""A length beyond this many mm is a slip of the pen, not a vehicle."""

_LONGEST_TEXT = 1000
"""Characters of a length written as text."""

_FINEST_TAPE = 128
"""Largest denominator shown as a fraction of an inch."""

_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE | re.ASCII)
_FRACTION = re.compile(r"([+-]?)(?:(\d+)(?:\s+|\s*-\s*))?(\d+)\s*/\s*(\d+)", re.ASCII)


@dataclass(frozen=True)
class Unit:
    """The length unit of a scenario: its name in the file, its symbol on screen, its size in mm."""

    name: Literal["mm", "inch"]
    symbol: Literal["mm", "in"]
    mm: float

    def __reduce__(self) -> str:
        """Be the same one in other processes, where pictures are drawn, too: much is told apart by which it is."""
        return "MM" if self.name == "mm" else "INCH"

    def to_mm(self, value: Number) -> Number:
        """Turn lengths in this unit into mm."""
        return value * self.mm

    def from_mm(self, value: Number) -> Number:
        """Turn mm into this unit."""
        return value / self.mm

    def parse_length(self, written: object) -> float:
        """Read one length in this unit, a number or text, and return mm.

        Text is a decimal number ("14.375") or, in inches, a fraction ("3/8", "14 3/8", "-1/16").

        Raises
        ------
        ValueError
            With a sentence that says what is allowed.

        Examples
        --------
        >>> INCH.parse_length("14 3/8"), INCH.parse_length(14.375), MM.parse_length("365.125")
        (365.125, 365.125, 365.125)
        >>> MM.parse_length("14 3/8")  # doctest: +ELLIPSIS
        Traceback (most recent call last):
        ValueError: is a fraction, which only a scenario in inches takes; ...
        """
        value = self._read_text(written) if isinstance(written, str) else read_number(written)
        mm = self.to_mm(value)
        if abs(mm) > LONGEST:
            raise ValueError(f"is longer than {self.say(LONGEST)}; check the number and the units")
        return mm

    def _read_text(self, written: str) -> float:
        text = written.strip()
        if len(text) > _LONGEST_TEXT:
            raise ValueError(f"is {len(text):,} characters long, which is no length; check the quotes")
        if _PLAIN.fullmatch(text):
            return read_number(float(text))
        size = read_fraction(text) if self is INCH else None
        if size is None and self is not INCH and _FRACTION.fullmatch(text):
            raise ValueError(
                "is a fraction, which only a scenario in inches takes; "
                'write the millimetres as a plain number, or set units = "inch"'
            )
        if size is None:
            example = 'a number, or a fraction such as "14 3/8"' if self is INCH else "a number"
            raise ValueError(f"is not a length; write {example}")
        try:
            return float(size)
        except OverflowError:
            raise ValueError("is far too large; check the number") from None

    def snap(self, value: Number, step: float) -> Number:
        """Round mm to whole steps (mm), halves away from zero; exact multiples stay as they are.

        Never gives minus zero.
        """
        return _whole_steps(value, step) * step

    def tape(self, value: float, step: float) -> str:
        """Say a length as a tape measure shows it, to whole steps: "365 mm", "14 3/8 in", "-1/16 in".

        Parameters
        ----------
        value, step
            The length and the smallest division to show, both mm.

        Examples
        --------
        >>> INCH.tape(365.0, 25.4 / 16), INCH.tape(-1.5, 25.4 / 16), MM.tape(364.6, 1.0)
        ('14 3/8 in', '-1/16 in', '365 mm')
        """
        count = int(_whole_steps(float(value), step))
        return f"{self._tape_number(count, step)} {self.symbol}"

    def _tape_number(self, count: int, step: float) -> str:
        division = self.division(step)
        if division is not None:
            return _mixed(count * division)
        return f"{count * self.from_mm(step):.{self.decimals(step)}f}"

    def division(self, step: float) -> Fraction | None:
        """A tape's division (mm) as the fraction of an inch printed on it; None where it reads in decimals."""
        division = Fraction(self.from_mm(step)).limit_denominator(_FINEST_TAPE)
        is_binary = division > 0 and division.denominator & (division.denominator - 1) == 0
        exact = math.isclose(float(division), self.from_mm(step), rel_tol=1e-9)
        return division if self is INCH and is_binary and exact else None

    def decimals(self, step: float) -> int:
        """Fewest decimals in this unit that write a step (mm) exactly, at most six."""
        return _decimals(self.from_mm(step))

    def show(self, value: Number, quantity: Quantity) -> Number:
        """Turn mm into this unit, or radians into degrees: the plain number for a file or a table."""
        if quantity == "ratio":
            return value
        return self.from_mm(value) if quantity == "length" else value * (180.0 / math.pi)

    def say(self, value: float, quantity: Quantity = "length") -> str:
        """Say mm or radians in this unit or in degrees, to six figures: "366.75 mm", "6 deg"."""
        return f"{self.show(value, quantity):.6g} {self.symbol_of(quantity)}".rstrip()

    def brief(self, value: float, quantity: Quantity = "length") -> str:
        """Say mm or radians as they are read on screen: a tenth of a mm, a hundredth of an inch or of a degree."""
        return f"{self.show(value, quantity):.{self.digits(quantity)}f} {self.symbol_of(quantity)}".rstrip()

    def digits(self, quantity: Quantity) -> int:
        """Digits behind the point that are read on screen."""
        return 1 if quantity == "length" and self is MM else 2

    @property
    def slip(self) -> tuple[float, str]:
        """A small error as the shop speaks of it: mm, and in words."""
        return (1.0, "1 mm") if self is MM else (INCH.mm / 16.0, "1/16 in")

    def symbol_of(self, quantity: Quantity) -> str:
        """Symbol behind a shown number: "mm", "in", "deg", or nothing behind a plain ratio."""
        return {"length": self.symbol, "angle": "deg", "ratio": ""}[quantity]


MM = Unit("mm", "mm", 1.0)
INCH = Unit("inch", "in", 25.4)
UNITS = {unit.name: unit for unit in (MM, INCH)}


def read_fraction(text: str) -> Fraction | None:
    """Read a fraction as a tape prints it, "14 3/8" or "-1/16"; None where the text is none.

    Raises
    ------
    ValueError
        It divides by zero.
    """
    found = _FRACTION.fullmatch(text.strip())
    if not found:
        return None
    sign, whole, top, bottom = found.groups()
    if int(bottom) == 0:
        raise ValueError("divides by zero; write a fraction such as 3/8")
    size = Fraction(int(whole or 0)) + Fraction(int(top), int(bottom))
    return -size if sign == "-" else size


def read_number(written: object) -> float:
    """Return a finite float, or raise a ValueError that says what was found instead."""
    if isinstance(written, bool) or not isinstance(written, int | float):
        raise ValueError(f"is {_kind(written)} where a number belongs")
    try:
        value = float(written)
    except OverflowError:
        raise ValueError("is far too large; check the number") from None
    if math.isnan(value):
        raise ValueError("is not a number (nan); write the measured value")
    if math.isinf(value):
        raise ValueError("is infinite; write the measured value")
    return value


def _kind(written: object) -> str:
    if isinstance(written, bool):
        return "true or false"
    if isinstance(written, str):
        return "text in quotes"
    if isinstance(written, list):
        return "a list"
    if isinstance(written, dict):
        return "a table"
    return "a date or a time"


def _whole_steps(value: Number, step: float) -> Number:
    """Count of steps nearest to a value, halves away from zero (as a float, never minus zero)."""
    ratio = np.asarray(value) / step
    count = np.copysign(np.floor(np.abs(ratio) + 0.5), ratio) + 0.0
    return count if isinstance(value, np.ndarray) else float(count)


def _mixed(value: Fraction) -> str:
    """Write a fraction as a whole number and a proper fraction: "-14 3/8"."""
    sign = "-" if value < 0 else ""
    whole, rest = divmod(abs(value), 1)
    parts = [str(whole)] if whole or not rest else []
    if rest:
        parts.append(f"{rest.numerator}/{rest.denominator}")
    return sign + " ".join(parts)


def _decimals(step: float) -> int:
    """Fewest decimals that write a step exactly, at most six."""
    return next((n for n in range(6) if math.isclose(round(step, n), step, rel_tol=1e-9)), 6)
