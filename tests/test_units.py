"""Lengths as a builder writes and reads them."""

from __future__ import annotations

import copy
import math
import pickle
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.units import INCH, MM, UNITS, Unit

SIXTEENTH = 25.4 / 16


@pytest.mark.parametrize(
    ("written", "inches"),
    [
        ("14 3/8", 14.375),
        ("3/8", 0.375),
        ("-1/16", -0.0625),
        ("-14 3/8", -14.375),
        ("14-3/8", 14.375),
        ("  14  3/8 ", 14.375),
        ("+2 1/2", 2.5),
        ("14.375", 14.375),
        ("-.5", -0.5),
        (14.375, 14.375),
        (14, 14.0),
    ],
)
def test_inches_are_read_as_numbers_and_as_fractions(written: object, inches: float) -> None:
    assert INCH.parse_length(written) == pytest.approx(inches * 25.4, rel=1e-15)


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("14 3/0", "divides by zero"),
        ("14,5", 'fraction such as "14 3/8"'),
        ("fourteen", "is not a length"),
        ("", "is not a length"),
        ("1/2/3", "is not a length"),
        ("٣", "is not a length"),
        (True, "is true or false where a number belongs"),
        ([1.0], "is a list where a number belongs"),
        ({}, "is a table where a number belongs"),
        (math.nan, "nan"),
        (math.inf, "is infinite"),
        ("1e999", "is infinite"),
        (10**400, "far too large"),
        ("9" * 400 + "/1", "far too large"),
        (1e9, "is longer than"),
    ],
)
def test_what_is_no_length_is_refused_in_words(written: object, words: str) -> None:
    with pytest.raises(ValueError, match=r"(?s).*") as caught:
        INCH.parse_length(written)
    assert words in str(caught.value)


def test_a_fraction_in_millimetres_is_refused() -> None:
    assert MM.parse_length("365.5") == 365.5
    with pytest.raises(ValueError, match="only a scenario in inches"):
        MM.parse_length("14 3/8")


@pytest.mark.parametrize(
    ("inches", "shown"),
    [
        (14.375, "14 3/8 in"),
        (14.38, "14 3/8 in"),
        (-0.0625, "-1/16 in"),
        (0.0, "0 in"),
        (-0.001, "0 in"),
        (0.97, "1 in"),
        (-14.5, "-14 1/2 in"),
        (3.0, "3 in"),
        (0.03125, "1/16 in"),
        (-0.03125, "-1/16 in"),
    ],
)
def test_tape_in_sixteenths(inches: float, shown: str) -> None:
    assert INCH.tape(inches * 25.4, SIXTEENTH) == shown


@pytest.mark.parametrize(
    ("value", "step", "shown"),
    [
        (365.4, 1.0, "365 mm"),
        (365.5, 1.0, "366 mm"),
        (-365.5, 1.0, "-366 mm"),
        (-0.4, 1.0, "0 mm"),
        (365.3, 0.5, "365.5 mm"),
        (365.26, 0.1, "365.3 mm"),
        (367.0, 5.0, "365 mm"),
    ],
)
def test_tape_in_millimetres(value: float, step: float, shown: str) -> None:
    assert MM.tape(value, step) == shown


def test_a_decimal_inch_step_is_shown_in_decimals() -> None:
    assert INCH.tape(14.38 * 25.4, 0.1 * 25.4) == "14.4 in"
    assert INCH.tape(14.38 * 25.4, 0.01 * 25.4) == "14.38 in"


lengths = st.floats(-4000.0, 4000.0)


@given(lengths, st.sampled_from([1.0, 0.5, 0.1, 2.0]))
def test_what_the_tape_shows_in_mm_is_the_snapped_length(value: float, step: float) -> None:
    shown = MM.tape(value, step)
    assert not shown.startswith(("-0 ", "-0.0 "))
    assert float(shown.removesuffix(" mm")) == pytest.approx(MM.snap(value, step), abs=1e-9)
    assert abs(MM.snap(value, step) - value) <= step / 2 * (1 + 1e-9)


@given(lengths, st.sampled_from([4, 8, 16, 32, 64]))
def test_what_the_tape_shows_in_inches_reads_back_as_the_snapped_length(value: float, division: int) -> None:
    step = 25.4 / division
    shown = INCH.tape(value, step).removesuffix(" in")
    assert INCH.parse_length(shown) == pytest.approx(INCH.snap(value, step), abs=1e-9)
    assert abs(INCH.snap(value, step) - value) <= step / 2 * (1 + 1e-9)
    for part in shown.lstrip("-").split():
        if "/" in part:
            fraction = Fraction(part)
            assert 0 < fraction < 1
            assert part == f"{fraction.numerator}/{fraction.denominator}", "in lowest terms"


@given(st.integers(0, 300), st.integers(0, 127), st.sampled_from([2, 4, 8, 16, 32, 64, 128]))
def test_every_fraction_reads_as_its_own_value(whole: int, top: int, bottom: int) -> None:
    assert INCH.parse_length(f"{whole} {top}/{bottom}") == pytest.approx((whole + top / bottom) * 25.4)
    assert INCH.parse_length(f"-{whole} {top}/{bottom}") == pytest.approx(-(whole + top / bottom) * 25.4)


@given(lengths)
def test_units_go_there_and_back(value: float) -> None:
    for unit in UNITS.values():
        assert unit.from_mm(unit.to_mm(value)) == pytest.approx(value, rel=1e-15)


def test_arrays_convert_snap_and_show_as_numbers_do() -> None:
    values = np.array([-365.5, 0.0, 12.7, 25.4])
    assert INCH.to_mm(INCH.from_mm(values)) == pytest.approx(values)
    assert MM.snap(values, 1.0).tolist() == [MM.snap(value, 1.0) for value in values.tolist()]
    assert INCH.show(values, "length").tolist() == [INCH.show(value, "length") for value in values.tolist()]
    assert INCH.show(np.pi / 2, "angle") == pytest.approx(90.0)
    assert (INCH.symbol_of("length"), MM.symbol_of("length"), MM.symbol_of("angle")) == ("in", "mm", "deg")


def test_say_gives_six_figures_and_the_unit() -> None:
    assert MM.say(366.75) == "366.75 mm"
    assert INCH.say(25.4) == "1 in"
    assert INCH.say(math.radians(6.0), "angle") == "6 deg"


@pytest.mark.parametrize("unit", [MM, INCH])
def test_a_unit_is_the_same_one_in_another_process(unit: Unit) -> None:
    """Which one it is decides between fractions and decimals, and pictures are drawn in other processes."""
    assert pickle.loads(pickle.dumps(unit)) is unit
    assert copy.deepcopy(unit) is unit
