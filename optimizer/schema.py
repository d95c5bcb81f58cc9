"""The scenario file, table by table; what is read here is mm and radians, whatever the file's unit.

Each reader says in its own words what is wrong with a value. What involves more than one key is in
`optimizer.checks`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Annotated, Any, Literal, TypeAlias, cast

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    PlainValidator,
    Tag,
    ValidationInfo,
    create_model,
)

from objectives.objective import Objective
from objectives.registry import OBJECTIVES
from optimizer.tyre_size import parse_tyre_size
from optimizer.units import INCH, Unit, read_number

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


def _read_number(written: object, _info: ValidationInfo) -> float:
    return read_number(written)


def _read_flag(written: object) -> bool:
    if isinstance(written, bool):
        return written
    raise ValueError("must be true or false, without quotes")


def _read_text(written: object) -> str:
    if isinstance(written, str):
        return written
    raise ValueError("must be text in double quotes")


def _read_name(written: object) -> str:
    name = _read_text(written).strip()
    if not name:
        raise ValueError("is empty; give it a name to be called by")
    return name


def _read_tyre_size(written: object) -> tuple[float, float]:
    return parse_tyre_size(_read_text(written))


def _positive(value: float) -> float:
    if value <= 0.0:
        raise ValueError("must be more than 0")
    return value


def _not_negative(value: float) -> float:
    if value < 0.0:
        raise ValueError("must be 0 or more")
    return value


def _within(degrees: float, what: str) -> AfterValidator:
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


def _roll_angle(value: float) -> float:
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


def _several(least: int, what: str, most: int = 1000) -> BeforeValidator:
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


def _read_count(written: object) -> int:
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
WheelAngle = Annotated[Angle, _within(45.0, "it is a wheel's attitude")]
AxisAngle = Annotated[Angle, _within(60.0, "an arm's inner axis runs more fore and aft than across")]
Point = Annotated[list[Length], _counted(3, "x, y, z")]
ONE_POINT, MORE_POINTS = "one point", "more points"
OneOrMorePoints = Annotated[
    Annotated[Point, Tag(ONE_POINT)]
    | Annotated[list[Point], _several(1, "points [x, y, z]", most=20), Tag(MORE_POINTS)],
    Discriminator(_how_many_points),
]
"""A point, or a list of points to choose from."""
Margin = Annotated[Angle, AfterValidator(_not_negative)]
FrontPoint = Annotated[list[Length], _counted(2, "y, z")]
Direction = Annotated[list[Annotated[float, PlainValidator(_read_number)]], _counted(3, "x, y, z")]
ArmName = Annotated[Literal["lower", "upper"], PlainValidator(_read_text), _one_of("lower", "upper")]
Carrier = Annotated[Literal["spindle", "arm"], PlainValidator(_read_text), _one_of("spindle", "arm")]
Tilt = Annotated[Angle, _between_right_angles("the most the joint tilts to one side, from its maker's table")]
Swing = Annotated[Angle, _between_right_angles("how far the pitman arm swings each way")]
Outline = Annotated[list[FrontPoint], _several(2, "points [y, z]")]
Centreline = Annotated[list[FrontPoint], _several(1, "points [y, z]")]
Legs = Annotated[list[Length], _counted(2, "front, rear")]
CurvePoint = Annotated[tuple[Length, WheelAngle], _counted(2, "travel, degrees"), Field(strict=False)]
LengthSpan = Annotated[tuple[float, float], _span(_read_length)]
PositiveSpan = Annotated[tuple[float, float], _span(_positive_length_reader)]
LengthRange = Annotated[tuple[float, float], _range(_read_length)]
CamberSpan = Annotated[tuple[float, float], _span(_camber_reader)]


class Table(BaseModel):
    """A table of the file: exactly its keys, finite numbers, no conversions from text."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)


class VehicleTable(Table):
    """``[vehicle]``"""

    track: PositiveLength | None = Field(None, description="contact centre to contact centre at ride")
    ride_height: LengthOrZero = Field(description="the height of the frame datum (z = 0) above the ground")
    static_camber: WheelAngle | None = None
    static_toe: WheelAngle | None = None
    wheelbase: PositiveLength | None = None


class TyreTable(Table):
    """``[tyre]``"""

    size: Annotated[tuple[float, float] | None, PlainValidator(_read_tyre_size)] = None
    radius: PositiveLength | None = None
    width: PositiveLength | None = None
    loaded_radius: PositiveLength | None = None
    shoulder_radius: LengthOrZero | None = None


class SpindleTable(Table):
    """``[spindle]``"""

    lower_pivot: Point = Field(description="the lower outer pivot [x, y, z] from the wheel centre")
    upper_pivot: OneOrMorePoints = Field(description="the upper outer pivot [x, y, z] from the wheel centre")
    steering_pivot: Point = Field(description="the outer tie-rod joint [x, y, z] from the wheel centre")
    pitch: Annotated[Angle, _within(60.0, "it turns the measured spindle about its spin axis")] | None = None

    @property
    def upper_pivots(self) -> list[list[float]]:
        """The upper outer pivots to choose from, one or more."""
        several = isinstance(self.upper_pivot[0], list)
        return cast(list[list[float]], self.upper_pivot if several else [self.upper_pivot])


class LowerArmTable(Table):
    """``[lower_arm]``"""

    inner_pivot: Point = Field(description="any point [x, y, z] on the lower arm's inner axis")
    kick_up: AxisAngle | None = None
    plan_angle: AxisAngle | None = None
    length: PositiveLength | None = None
    tube_diameter: PositiveLength | None = None
    legs_x: Legs | None = None


class KeepOutTable(Table):
    """One entry of ``upper_arm.keep_out``"""

    y: Length = Field(description="the centre's distance from the vehicle's centre plane")
    z: Length = Field(description="the centre's height above the frame datum")
    diameter: PositiveLength = Field(description="the diameter no pivot may lie in")


class UpperArmTable(Table):
    """``[upper_arm]``"""

    pivot_x: Length | None = None
    pivot_y: LengthSpan = Field(description="the range to search, [min, max], or one number to hold it fixed")
    pivot_z: LengthSpan = Field(description="the range to search, [min, max], or one number to hold it fixed")
    static_camber: CamberSpan | None = None
    length: PositiveSpan | None = None
    kick_up: AxisAngle | None = None
    plan_angle: AxisAngle | None = None
    region: Annotated[list[FrontPoint], _several(3, "corners [y, z]", most=100)] | None = None
    keep_out: Annotated[list[KeepOutTable], _several(0, "tables { y = , z = , diameter = }")] = Field(
        default_factory=list
    )
    tube_diameter: PositiveLength | None = None
    legs_x: Legs | None = None


class BearingTable(Table):
    """``bearing`` of a joint"""

    series: Annotated[str, PlainValidator(_read_text)] = Field(description='the series by name, such as "K"')
    bore: Annotated[float, PlainValidator(_read_number)] = Field(description="the bore in mm, as catalogued")
    spacers: Annotated[bool, PlainValidator(_read_flag)] = True
    eye_diameter: PositiveLength | None = None


class JointTable(Table):
    """A joint that tilts so far and no farther: by ``max_angle`` or by ``bearing``"""

    max_angle: Tilt | None = None
    bearing: BearingTable | None = None


class RodEndTable(JointTable):
    """``[steering.outer_rod_end]`` and ``[steering.inner_rod_end]``"""

    axis: Direction = Field(description="the direction [x, y, z] of the rod end's bolt at ride")


class BallJointTable(JointTable):
    """``[joints.upper_outer]`` and ``[joints.lower_outer]``"""

    axis: Direction = Field(description="the direction [x, y, z] of the stud or bolt at ride")
    carried_by: Carrier = "spindle"
    housing_axis: Direction | None = None


class JointsTable(Table):
    """``[joints]``"""

    upper_outer: BallJointTable | None = None
    lower_outer: BallJointTable | None = None


class PitmanTable(Table):
    """``[steering.pitman]``"""

    pivot: Point = Field(description="any point [x, y, z] on the shaft of the steering box")
    axis: Direction = Field(description="the direction [x, y, z] of the shaft")
    angle: Swing = Field(description="how far the arm swings each way, degrees")


class ShockTable(Table):
    """``[shock]``"""

    arm: ArmName = "lower"
    lower_mount: Point = Field(description="the mount [x, y, z] on the arm, with the arm at ride")
    upper_mount: Point = Field(description="the mount [x, y, z] on the frame")
    extended: PositiveLength = Field(description="eye to eye at full length")
    collapsed: PositiveLength = Field(description="eye to eye fully closed, bump rubber included")


class StrapTable(Table):
    """``[strap]``"""

    arm: ArmName = "lower"
    arm_point: Point = Field(description="the strap's point [x, y, z] on the arm, with the arm at ride")
    frame_point: Point = Field(description="the strap's point [x, y, z] on the frame")


class InnerRegionTable(Table):
    """``steering.inner_region``"""

    y: LengthRange = Field(description="from least to most distance from the vehicle's centre plane, [min, max]")
    z: LengthRange = Field(description="from least to most height above the frame datum, [min, max]")


class SteeringTable(Table):
    """``[steering]``"""

    inner_joint: Point = Field(description="the inner tie-rod joint [x, y, z], steering straight ahead")
    inner_region: InnerRegionTable | None = None
    rack_travel: LengthOrZero | None = None
    pitman: PitmanTable | None = None
    tie_rod_diameter: PositiveLength | None = None
    outer_rod_end: RodEndTable = Field(description="a table with the keys axis and max_angle")
    inner_rod_end: RodEndTable = Field(description="a table with the keys axis and max_angle")


class TravelTable(Table):
    """``[travel]``"""

    bump: PositiveLength = Field(description="how far the wheel must rise from ride")
    droop: PositiveLength = Field(description="how far the wheel must drop from ride, a positive number")
    droop_cap: PositiveLength | None = None
    bump_cap: PositiveLength | None = None
    roll: Annotated[Angle, AfterValidator(_roll_angle)] | None = None


class ObstacleTable(Table):
    """One ``[[obstacles]]``"""

    name: Annotated[str, PlainValidator(_read_name)] = Field(description="what you call it, text in double quotes")
    points: Centreline = Field(description="the points [y, z] of its centre line in the front view, one or more")
    diameter: PositiveLength = Field(description="how thick it is")


class WheelTable(Table):
    """``[wheel]``"""

    rim_diameter: PositiveLength = Field(description="the rim's nominal diameter, at the bead seat")
    rim_width: PositiveLength = Field(description="the rim's width over the barrel")
    offset: Length = Field(
        description="from the rim's centre plane outboard to the mounting face, negative where the face lies inboard"
    )
    rim_wall: PositiveLength | None = None


class BodyworkTable(Table):
    """``[bodywork]``"""

    outlines: Annotated[list[Outline], _several(0, "outlines, each a list of points [y, z]")] = Field(
        default_factory=list
    )


class LengthTarget(Table):
    """A target for an objective that is a length."""

    aim: Length | None = None
    limit: Length | None = None
    objective: Annotated[bool | None, PlainValidator(_read_flag)] = None


class AngleTarget(Table):
    """A target for an objective that is an angle."""

    aim: Angle | None = None
    limit: Angle | None = None
    objective: Annotated[bool | None, PlainValidator(_read_flag)] = None


TargetTable: TypeAlias = LengthTarget | AngleTarget


class TargetsTable(Table):
    """``[targets]``; one more key for every objective of the registry is added below."""

    camber_curve: Annotated[list[CurvePoint], _several(2, "points [travel, degrees]")] | None = None
    rod_end_margin_deg: Margin | None = None


def target_table(targets: TargetsTable, objective: Objective) -> TargetTable:
    """Return the aim and the limit of one objective."""
    target: TargetTable = getattr(targets, objective.column)
    return target


def _targets_model() -> type[TargetsTable]:
    fields: dict[str, Any] = {}
    for objective in OBJECTIVES:
        kind = AngleTarget if objective.quantity == "angle" else LengthTarget
        fields[objective.column] = (kind, kind())
    return cast(type[TargetsTable], create_model("Targets", __base__=TargetsTable, **fields))


class BuildTable(Table):
    """``[build]``"""

    pivot_tolerance: LengthOrZero | None = None
    round_to: PositiveLength | None = None


class BaselineTable(Table):
    """``[baseline]``"""

    pivot_y: Length = Field(description="the first idea's pivot, y at pivot_x")
    pivot_z: Length = Field(description="the first idea's pivot, z at pivot_x")
    static_camber: WheelAngle | None = None
    arm_length: PositiveLength | None = None
    upper_hole: Annotated[int, PlainValidator(_read_count)] | None = None


TABLES: dict[str, type[Table]] = {
    "vehicle": VehicleTable,
    "tyre": TyreTable,
    "spindle": SpindleTable,
    "lower_arm": LowerArmTable,
    "upper_arm": UpperArmTable,
    "steering": SteeringTable,
    "joints": JointsTable,
    "shock": ShockTable,
    "strap": StrapTable,
    "travel": TravelTable,
    "wheel": WheelTable,
    "bodywork": BodyworkTable,
    "targets": _targets_model(),
    "build": BuildTable,
    "baseline": BaselineTable,
}
OPTIONAL_TABLES = ("wheel", "joints", "shock", "strap", "bodywork", "targets", "build", "baseline")
ABSENT_TABLES = ("wheel", "shock", "strap", "baseline")
"""Tables that are None where the scenario leaves them out; the other optional ones hold their defaults."""
LISTS: dict[str, type[Table]] = {"obstacles": ObstacleTable}
"""Tables of which there may be any number, each under a heading [[name]]."""
