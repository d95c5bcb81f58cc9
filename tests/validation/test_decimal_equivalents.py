"""Fractions of an inch and their millimetres, as in the decimal-equivalent tables of workshop handbooks.

One inch is 25.4 mm exactly (international yard and pound agreement, 1959). Rows as printed, for example in Machinery's
Handbook, Industrial Press (from memory, edition and page unverified): inches exact, millimetres rounded to 0.0001 mm,
which is the tolerance.
"""

from __future__ import annotations

import pytest

from optimizer.units import INCH, MM

PRINTED = 5.1e-5  # mm: half a unit of the last digit, and a little for the binary fraction

ROWS = [
    ("1/64", 0.015625, 0.3969),
    ("1/32", 0.03125, 0.7938),
    ("1/16", 0.0625, 1.5875),
    ("5/64", 0.078125, 1.9844),
    ("3/32", 0.09375, 2.3812),
    ("1/8", 0.125, 3.1750),
    ("3/16", 0.1875, 4.7625),
    ("1/4", 0.25, 6.3500),
    ("5/16", 0.3125, 7.9375),
    ("3/8", 0.375, 9.5250),
    ("7/16", 0.4375, 11.1125),
    ("1/2", 0.5, 12.7000),
    ("9/16", 0.5625, 14.2875),
    ("5/8", 0.625, 15.8750),
    ("3/4", 0.75, 19.0500),
    ("13/16", 0.8125, 20.6375),
    ("7/8", 0.875, 22.2250),
    ("63/64", 0.984375, 25.0031),
]


@pytest.mark.parametrize(("fraction", "inches", "mm"), ROWS)
def test_read_and_shown(fraction: str, inches: float, mm: float) -> None:
    assert INCH.parse_length(fraction) == pytest.approx(mm, abs=PRINTED)
    assert INCH.from_mm(INCH.parse_length(fraction)) == pytest.approx(inches, rel=1e-15)
    division = 25.4 / int(fraction.split("/")[1])
    assert INCH.tape(mm, division).startswith(f"{fraction} ")


def test_an_inch() -> None:
    assert INCH.parse_length("1") == 25.4
    assert MM.parse_length("25.4") == 25.4
