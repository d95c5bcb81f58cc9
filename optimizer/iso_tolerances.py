"""General tolerances by class, for dimensions that bear none of their own.

ISO 13920 (welded constructions, linear dimensions, table 1): classes A to D. ISO 2768-1 (linear dimensions, table 1):
classes f, m, c, v. Plus or minus, by the length concerned. The figures of ISO 13920 from 30 to 2000 mm, and those of
ISO 2768-1 m and c in the same ranges, were seen in a published table; the others are recalled from memory.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from objectives.vectors import Array

_WELDED = (2.0, 30.0, 120.0, 400.0, 1000.0, 2000.0, 4000.0)
_PLAIN = (0.5, 3.0, 6.0, 30.0, 120.0, 400.0, 1000.0, 2000.0, 4000.0)


@dataclass(frozen=True)
class ToleranceClass:
    """One class of a standard: what it is called, ends of its ranges (mm), and plus or minus in each (mm)."""

    name: str
    ends: tuple[float, ...]
    plus_minus: tuple[float, ...]

    @property
    def shortest(self) -> float:
        """Length from which the class has a figure, mm."""
        return self.ends[0]

    @property
    def longest(self) -> float:
        """Length up to which the class has a figure, mm."""
        return self.ends[-1]

    def at(self, length: Array | float) -> Array:
        """Plus or minus at lengths (mm, any shape); a range holds its upper end. Outside, that of the nearest range."""
        place = np.searchsorted(self.ends, length, side="left") - 1
        return np.asarray(self.plus_minus)[np.clip(place, 0, len(self.plus_minus) - 1)]


def _class(standard: str, letter: str, ends: tuple[float, ...], *plus_minus: float, skip: int = 0) -> ToleranceClass:
    return ToleranceClass(f"{standard}-{letter}", ends[skip : skip + len(plus_minus) + 1], plus_minus)


CLASSES: Mapping[str, Mapping[str, ToleranceClass]] = MappingProxyType(
    {
        "ISO 13920": {
            "A": _class("ISO 13920", "A", _WELDED, 1.0, 1.0, 1.0, 2.0, 3.0, 4.0),
            "B": _class("ISO 13920", "B", _WELDED, 1.0, 2.0, 2.0, 3.0, 4.0, 6.0),
            "C": _class("ISO 13920", "C", _WELDED, 1.0, 3.0, 4.0, 6.0, 8.0, 11.0),
            "D": _class("ISO 13920", "D", _WELDED, 1.0, 4.0, 7.0, 9.0, 12.0, 16.0),
        },
        "ISO 2768": {
            "f": _class("ISO 2768", "f", _PLAIN, 0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5),
            "m": _class("ISO 2768", "m", _PLAIN, 0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2.0),
            "c": _class("ISO 2768", "c", _PLAIN, 0.2, 0.3, 0.5, 0.8, 1.2, 2.0, 3.0, 4.0),
            "v": _class("ISO 2768", "v", _PLAIN, 0.5, 1.0, 1.5, 2.5, 4.0, 6.0, 8.0, skip=1),
        },
    }
)

_DESIGNATION = re.compile(r"ISO\s*(13920|2768)(?:-1)?(?:\s*-\s*|\s+)([A-Za-z]\w*)", re.IGNORECASE | re.ASCII)


def is_class(written: str) -> bool:
    """Whether text is meant to name a class and no length."""
    return written.strip()[:1].isalpha()


def read_class(written: str) -> ToleranceClass:
    """Read a class by its designation, such as "ISO 13920-B" or "ISO 2768-m".

    Raises
    ------
    ValueError
        With a sentence that says what is known.

    Examples
    --------
    Welded parts, class B: plus or minus 1 mm up to a length of 30 mm, 2 mm up to 400 mm, 3 mm up to 1 m.

    >>> read_class("ISO 13920-B").at([20.0, 300.0, 900.0]).tolist()
    [1.0, 2.0, 3.0]
    """
    found = _DESIGNATION.fullmatch(written.strip())
    if found is None:
        raise ValueError('is neither a length nor a tolerance class; write a class like "ISO 13920-B" or "ISO 2768-m"')
    standard, letter = f"ISO {found[1]}", found[2]
    classes = CLASSES[standard]
    known = {name.lower(): tolerance for name, tolerance in classes.items()}.get(letter.lower())
    if known is None:
        raise ValueError(f"names a class that {standard} has not; it has {', '.join(classes)}")
    return known
