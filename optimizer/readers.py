"""How single values of a scenario file are read; what comes out is mm and radians, whatever the file's unit.

Each reader says in its own words what is wrong with a value.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Discriminator,
    Field,
    PlainValidator,
    Tag,
    ValidationInfo,
)

from optimizer.iso_tolerances import ToleranceClass, is_class, read_class
from optimizer.tyre_size import parse_tyre_size
from optimizer.units import INCH, LONGEST, Unit, read_number

SHORTEST = 1e-6  # mm, of what has a length at all: less is a slip, and what is divided by it has no bounds
LONGEST_WORDS = 200  # characters of a title or a name

Reader: TypeAlias = Callable[[Any, ValidationInfo], float]


def _read_length(written: object, info: ValidationInfo) -> float:
    """Read a length in the scenario's unit; text only where fractions are allowed."""
    unit: Unit = info.context["unit"] if info.context else INCH
    if isinstance(written, str) and unit is not INCH:
        unit.parse_length(written)  # says what is wrong with the text itself, if anything is
        raise ValueError("is text in quotes where a number belongs; take the quotes off")
    return unit.parse_length(written)


def _read_angle(written: object, _info: ValidationInfo) -> float:
    """Read degrees."""
    return math.radians(read_number(written))


def plain_number(written: object, _info: ValidationInfo) -> float:
    """Read a number that has no unit."""
    return read_number(written)


def _read_held(written: object, info: ValidationInfo) -> float | ToleranceClass:
    """Read plus or minus: a length, 0 or more, or a class of general tolerances."""
    if isinstance(written, str) and is_class(written):
        return read_class(written)
    return _not_negative(_read_length(written, info))


def _share(written: object, _info: ValidationInfo) -> float:
    """Read a share of a whole."""
    value = read_number(written)
    if not 0.0 <= value <= 1.0:
        raise ValueError("is a share of all builds: it must lie between 0 and 1; write 0.95 for 95 %")
    return value


def _below_all(value: float) -> float:
    if not 0.0 < value < 1.0:
        raise ValueError("must lie between 0 and 1, both excluded: nothing holds every build for certain")
    return value


def _direction_number(written: object, _info: ValidationInfo) -> float:
    value = read_number(written)
    if abs(value) > LONGEST:
        raise ValueError("is far too large for a direction; write numbers such as [0, 0, 1]")
    return value


def read_flag(written: object) -> bool:
    """Read true or false."""
    if isinstance(written, bool):
        return written
    raise ValueError("must be true or false, without quotes")


def read_text(written: object) -> str:
    """Read text."""
    if isinstance(written, str):
        return written
    raise ValueError("must be text in double quotes")


def read_name(written: object) -> str:
    """Read text that says something."""
    name = read_words(written).strip()
    if not name:
        raise ValueError("is empty; give it a name to be called by")
    return name


def read_words(written: object) -> str:
    """Read one line of text that can be shown anywhere."""
    words = read_text(written)
    if len(words) > LONGEST_WORDS:
        raise ValueError(f"is {len(words):,} characters long; {LONGEST_WORDS} are the most")
    odd = next((letter for letter in words if not can_be_shown(letter)), None)
    if odd is not None:
        raise ValueError(
            f"holds a character that cannot be shown (U+{ord(odd):04X}); write it in one line of plain text"
        )
    return words


def shown_as(words: str) -> str:
    """Words with a question mark for every character that cannot be shown: a file's name may hold any."""
    return "".join(letter if can_be_shown(letter) else "?" for letter in words)


def can_be_shown(letter: str) -> bool:
    """Whether a character can stand on screen, in a table's cell and in a picture's file.

    Line breaks, other control characters, half characters, and what XML does not know, cannot.
    """
    return unicodedata.category(letter) not in ("Cc", "Cs", "Zl", "Zp") and ord(letter) & 0xFFFE != 0xFFFE


def read_tyre_size(written: object) -> tuple[float, float]:
    """Read a tyre size: radius and width, mm."""
    return parse_tyre_size(read_text(written))


def _positive(value: float) -> float:
    if value <= 0.0:
        raise ValueError("must be more than 0")
    if value < SHORTEST:
        raise ValueError("is next to nothing; check the number")
    return value


def _not_negative(value: float) -> float:
    if value < 0.0:
        raise ValueError("must be 0 or more")
    return value


def within(degrees: float, what: str) -> AfterValidator:
    """Hold an angle (radians) within plus or minus so many degrees."""

    def check(value: float) -> float:
        if abs(value) > math.radians(degrees) * (1 + 1e-12):
            raise ValueError(f"must lie within plus or minus {degrees:g} degrees: {what}")
        return value

    return AfterValidator(check)


def _between_right_angles(what: str) -> AfterValidator:
    """Hold an angle (radians) between 0 and 90 degrees, both excluded."""

    def check(value: float) -> float:
        if not 0.0 < value < math.pi / 2:
            raise ValueError(f"must lie between 0 and 90 degrees, both excluded; it is {what}")
        return value

    return AfterValidator(check)


def _one_of(*words: str) -> AfterValidator:
    def check(value: str) -> str:
        if value not in words:
            raise ValueError(f"must be one of {', '.join(repr_toml(word) for word in words)}")
        return value

    return AfterValidator(check)


def repr_toml(word: str) -> str:
    """Write a word as TOML text."""
    return f'"{word}"'


def roll_angle(value: float) -> float:
    """Hold a body roll (radians) within reason."""
    if not 0.0 < value <= math.radians(20.0) * (1 + 1e-12):
        raise ValueError(
            "must be more than 0 and at most 20 degrees; it is how far the body leans in a bend, a few degrees. "
            "Leave it out, and camber in roll is not judged"
        )
    return value


def _counted(count: int, names: str) -> BeforeValidator:
    """Take a list of so many values only."""

    def check(written: object) -> object:
        if not isinstance(written, list):
            raise ValueError(f"must be a list of {count} numbers, [{names}]")
        if len(written) != count:
            raise ValueError(f"must hold {count} numbers, [{names}]; {len(written)} given")
        return written

    return BeforeValidator(check)


def several(least: int, what: str, most: int = 1000) -> BeforeValidator:
    """Take a list of at least and at most so many entries."""

    def check(written: object) -> object:
        if not isinstance(written, list):
            raise ValueError(f"must be a list of {what}")
        if len(written) < least:
            raise ValueError(f"must hold at least {least} {what}; {len(written)} given")
        if len(written) > most:
            raise ValueError(f"must hold at most {most} {what}; {len(written)} given")
        return written

    return BeforeValidator(check)


def points_in_all(most: int) -> AfterValidator:
    """Hold the points of several lines within a number: each costs time with every candidate."""

    def check(lines: list[list[list[float]]]) -> list[list[list[float]]]:
        count = sum(map(len, lines))
        if count > most:
            raise ValueError(
                f"must hold at most {most} points in all, {count} given; leave out what nothing comes near"
            )
        return lines

    return AfterValidator(check)


def _span(read: Reader) -> PlainValidator:
    """Take ``[min, max]``, or one number that holds the quantity fixed."""

    def check(written: object, info: ValidationInfo) -> tuple[float, float]:
        if not isinstance(written, list):
            held = read(written, info)
            return held, held
        if len(written) != 2:
            raise ValueError(f"must be [min, max], or one number to hold it fixed; a list of {len(written)} given")
        low, high = _both_ends(written, lambda end: read(end, info))
        if low > high:
            raise ValueError("has its min above its max; swap the two")
        if low == high:
            raise ValueError("is empty, min and max are equal; write one number to hold it fixed")
        return low, high

    return PlainValidator(check)


def _range(read: Reader) -> PlainValidator:
    """Take ``[min, max]`` only."""

    def check(written: object, info: ValidationInfo) -> tuple[float, float]:
        if not isinstance(written, list) or len(written) != 2:
            raise ValueError("must be [min, max], two lengths")
        low, high = _both_ends(written, lambda end: read(end, info))
        if not low < high:
            raise ValueError("must have its min below its max; swap the two, or widen the range")
        return low, high

    return PlainValidator(check)


def _how_many_points(written: object) -> str:
    several = isinstance(written, list) and bool(written) and isinstance(written[0], list)
    return MORE_POINTS if several else ONE_POINT


def read_count(written: object) -> int:
    """Read a whole number, counted from 1."""
    if isinstance(written, int) and not isinstance(written, bool) and written > 0:
        return written
    raise ValueError("must be a whole number, counted from 1")


def _both_ends(written: list[object], read: Callable[[object], float]) -> list[float]:
    ends, wrong = [], []
    for name, end in zip(("min", "max"), written, strict=True):
        try:
            ends.append(read(end))
        except ValueError as fault:
            wrong.append(f"its {name} {fault}")
    if wrong:
        raise ValueError("; ".join(wrong))
    return ends


def _camber_reader(written: object, info: ValidationInfo) -> float:
    value = _read_angle(written, info)
    if abs(value) > math.radians(45.0):
        raise ValueError("must lie within plus or minus 45 degrees")
    return value


def _positive_length_reader(written: object, info: ValidationInfo) -> float:
    return _positive(_read_length(written, info))


Length = Annotated[float, PlainValidator(_read_length)]
PositiveLength = Annotated[Length, AfterValidator(_positive)]
LengthOrZero = Annotated[Length, AfterValidator(_not_negative)]
Angle = Annotated[float, PlainValidator(_read_angle)]
WheelAngle = Annotated[Angle, within(45.0, "it is a wheel's attitude")]
AxisAngle = Annotated[Angle, within(60.0, "an arm's inner axis runs more fore and aft than across")]
Point = Annotated[list[Length], _counted(3, "x, y, z")]
ONE_POINT, MORE_POINTS = "one point", "more points"
OneOrMorePoints = Annotated[
    Annotated[Point, Tag(ONE_POINT)]
    | Annotated[list[Point], several(1, "points [x, y, z]", most=20), Tag(MORE_POINTS)],
    Discriminator(_how_many_points),
]
"""A point, or a list of points to choose from."""
Held = Annotated[float | ToleranceClass, PlainValidator(_read_held)]
Share = Annotated[float, PlainValidator(_share)]
RequiredShare = Annotated[Share, AfterValidator(_below_all)]
Distribution = Annotated[Literal["uniform", "normal"], PlainValidator(read_text), _one_of("uniform", "normal")]
Margin = Annotated[Angle, AfterValidator(_not_negative)]
FrontPoint = Annotated[list[Length], _counted(2, "y, z")]
Direction = Annotated[list[Annotated[float, PlainValidator(_direction_number)]], _counted(3, "x, y, z")]
ArmName = Annotated[Literal["lower", "upper"], PlainValidator(read_text), _one_of("lower", "upper")]
Carrier = Annotated[Literal["spindle", "arm"], PlainValidator(read_text), _one_of("spindle", "arm")]
Tilt = Annotated[Angle, _between_right_angles("the most the joint tilts to one side, from its maker's table")]
Swing = Annotated[Angle, _between_right_angles("how far the pitman arm swings each way")]
Outline = Annotated[list[FrontPoint], several(2, "points [y, z]")]
Centreline = Annotated[list[FrontPoint], several(1, "points [y, z]", most=100)]
Legs = Annotated[list[Length], _counted(2, "front, rear")]
CurvePoint = Annotated[tuple[Length, WheelAngle], _counted(2, "travel, degrees"), Field(strict=False)]
LengthSpan = Annotated[tuple[float, float], _span(_read_length)]
PositiveSpan = Annotated[tuple[float, float], _span(_positive_length_reader)]
LengthRange = Annotated[tuple[float, float], _range(_read_length)]
CamberSpan = Annotated[tuple[float, float], _span(_camber_reader)]
