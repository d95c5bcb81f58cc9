"""The scenario file, table by table; what is read here is mm and radians, whatever the file's unit.

Single values are read by `optimizer.readers`; what involves more than one key is in `optimizer.checks`.
"""

from __future__ import annotations

from typing import Annotated, Any, TypeAlias, cast

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PlainValidator, create_model

from objectives.objective import Goal
from optimizer.goals import GOALS
from optimizer.readers import (
    Angle,
    ArmName,
    AxisAngle,
    CamberSpan,
    Carrier,
    Centreline,
    CurvePoint,
    Direction,
    Distribution,
    FrontPoint,
    Held,
    Legs,
    Length,
    LengthOrZero,
    LengthRange,
    LengthSpan,
    Margin,
    OneOrMorePoints,
    Outline,
    Point,
    PositiveLength,
    PositiveSpan,
    RequiredShare,
    Share,
    Swing,
    Tilt,
    WheelAngle,
    plain_number,
    points_in_all,
    read_count,
    read_flag,
    read_name,
    read_text,
    read_tyre_size,
    roll_angle,
    several,
    within,
)


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

    size: Annotated[tuple[float, float] | None, PlainValidator(read_tyre_size)] = None
    radius: PositiveLength | None = None
    width: PositiveLength | None = None
    loaded_radius: PositiveLength | None = None
    shoulder_radius: LengthOrZero | None = None


class SpindleTable(Table):
    """``[spindle]``"""

    lower_pivot: Point = Field(description="the lower outer pivot [x, y, z] from the wheel centre")
    upper_pivot: OneOrMorePoints = Field(description="the upper outer pivot [x, y, z] from the wheel centre")
    steering_pivot: Point = Field(description="the outer tie-rod joint [x, y, z] from the wheel centre")
    pitch: Annotated[Angle, within(60.0, "it turns the measured spindle about its spin axis")] | None = None

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
    region: Annotated[list[FrontPoint], several(3, "corners [y, z]", most=100)] | None = None
    keep_out: Annotated[list[KeepOutTable], several(0, "tables { y = , z = , diameter = }")] = Field(
        default_factory=list
    )
    tube_diameter: PositiveLength | None = None
    legs_x: Legs | None = None


class BearingTable(Table):
    """``bearing`` of a joint"""

    series: Annotated[str, PlainValidator(read_text)] = Field(description='the series by name, such as "K"')
    bore: Annotated[float, PlainValidator(plain_number)] = Field(description="the bore in mm, as catalogued")
    spacers: Annotated[bool, PlainValidator(read_flag)] = True
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
    roll: Annotated[Angle, AfterValidator(roll_angle)] | None = None


class ObstacleTable(Table):
    """One ``[[obstacles]]``"""

    name: Annotated[str, PlainValidator(read_name)] = Field(description="what you call it, text in double quotes")
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

    outlines: Annotated[list[Outline], several(0, "outlines, each a list of points [y, z]"), points_in_all(1000)] = (
        Field(default_factory=list)
    )


class LengthTarget(Table):
    """A target for an objective that is a length."""

    aim: Length | None = None
    limit: Length | None = None
    objective: Annotated[bool | None, PlainValidator(read_flag)] = None


class AngleTarget(Table):
    """A target for an objective that is an angle."""

    aim: Angle | None = None
    limit: Angle | None = None
    objective: Annotated[bool | None, PlainValidator(read_flag)] = None


class ShareTarget(Table):
    """A target for an objective that is a share of a whole."""

    aim: Share | None = None
    limit: Share | None = None
    objective: Annotated[bool | None, PlainValidator(read_flag)] = None


TargetTable: TypeAlias = LengthTarget | AngleTarget | ShareTarget


class TargetsTable(Table):
    """``[targets]``; one more key for every objective of the registry is added below."""

    camber_curve: Annotated[list[CurvePoint], several(2, "points [travel, degrees]")] | None = None
    rod_end_margin_deg: Margin | None = None


def target_table(targets: TargetsTable, objective: Goal) -> TargetTable:
    """Return the aim and the limit of one objective."""
    target: TargetTable = getattr(targets, objective.column)
    return target


def _targets_model() -> type[TargetsTable]:
    fields: dict[str, Any] = {}
    for objective in GOALS:
        kind = {"angle": AngleTarget, "length": LengthTarget, "ratio": ShareTarget}[objective.quantity]
        fields[objective.column] = (kind, kind())
    return cast(type[TargetsTable], create_model("Targets", __base__=TargetsTable, **fields))


class ReferenceTable(Table):
    """``build.reference``"""

    name: Annotated[str, PlainValidator(read_name)] = Field(description="what you call it, text in double quotes")
    x: Length | None = None
    y: Length = Field(description="its distance from the vehicle's centre plane")
    z: Length = Field(description="its height above the frame datum")


class BuildTable(Table):
    """``[build]``"""

    pivot_tolerance: Held | None = None
    lower_pivot_tolerance: Held | None = None
    spindle_tolerance: Held | None = None
    inner_joint_tolerance: Held | None = None
    arm_length_tolerance: Held | None = None
    weld_shrinkage: LengthOrZero | None = None
    arm_adjustment: LengthOrZero | None = None
    tie_rod_adjustment: LengthOrZero | None = None
    distribution: Distribution = "uniform"
    required_yield: RequiredShare | None = None
    round_to: PositiveLength | None = None
    reference: ReferenceTable | None = None


class BaselineTable(Table):
    """``[baseline]``"""

    pivot_y: Length = Field(description="the first idea's pivot, y at pivot_x")
    pivot_z: Length = Field(description="the first idea's pivot, z at pivot_x")
    static_camber: WheelAngle | None = None
    arm_length: PositiveLength | None = None
    upper_hole: Annotated[int, PlainValidator(read_count)] | None = None


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
