"""From the tables of a scenario to the corner and the search space, every default noted with its reason."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from objectives.corner import Corner, LowerArm, Spindle, Travel, Tyre, UpperAxis, axis_direction
from objectives.objective import Objective
from objectives.registry import OBJECTIVES
from objectives.ride import half_track_for
from objectives.vectors import Array, read_only, vector
from optimizer.defaults import Defaults
from optimizer.derive_joints import ball_joint_of, shock_of, steering_of
from optimizer.parts import parts_of
from optimizer.schema import target_table
from optimizer.space import PivotSpace, Span
from optimizer.tables import Tables
from optimizer.units import INCH


@dataclass(frozen=True)
class Target:
    """What is asked of one objective, mm or radians.

    Attributes
    ----------
    aim
        What the builder hopes for.
    limit
        What makes a candidate unusable.
    traded
        Whether the search trades it off; if not, it is still measured and held to its limit.
    measured
        Whether the scenario gives what it is measured from.
    limit_is_default
        Whether the limit is what the required travel asks for, and not the builder's own.
    """

    aim: float | None
    limit: float | None
    traded: bool
    measured: bool = True
    limit_is_default: bool = False

    @property
    def asked(self) -> bool:
        """Whether the builder wants anything of it."""
        return self.traded or self.aim is not None or (self.limit is not None and not self.limit_is_default)


@dataclass(frozen=True)
class Reference:
    """A place of the frame to measure from besides its datum: its name, and where it is, mm."""

    name: str
    x: float
    y: float
    z: float


@dataclass(frozen=True)
class Build:
    """How exactly a bracket is placed and how finely the tape reads, mm; a second place to measure from, or None."""

    pivot_tolerance: float
    round_to: float
    reference: Reference | None = None


@dataclass(frozen=True)
class Baseline:
    """The builder's first idea, mm and radians; at most one of `static_camber` and `arm_length` is given."""

    pivot_y: float
    pivot_z: float
    static_camber: float | None
    arm_length: float | None
    hole: int = 0


def corner_of(tables: Tables, defaults: Defaults) -> Corner:
    """Build the corner.

    Raises
    ------
    objectives.corner.GeometryError
        The lower arm has its length given and cannot reach the spindle.
    """
    vehicle, lower = tables.vehicle, tables.lower_arm
    camber = static_camber_of(tables, defaults)
    toe = defaults.fill("vehicle.static_toe", vehicle.static_toe, 0.0, "angle", "straight ahead")
    kick_up, plan_angle = lower_axis_angles(tables, defaults)
    settled = Corner(
        half_track=0.0 if vehicle.track is None else vehicle.track / 2,
        ground_z=-vehicle.ride_height,
        static_camber=camber,
        static_toe=toe,
        tyre=tyre_of(tables, defaults),
        spindle=_spindle_of(tables, defaults),
        lower_arm=LowerArm(vector(*lower.inner_pivot), axis_direction(kick_up, plan_angle)),
        upper_axis=_upper_axis_of(tables, defaults, kick_up, plan_angle),
        steering=steering_of(tables, defaults),
        travel=travel_of(tables, defaults),
        camber_curve=_camber_curve_of(tables, defaults, camber),
        outlines=tuple(read_only(outline) for outline in tables.bodywork.outlines),
        parts=parts_of(tables, defaults),
    )
    joints = tables.joints
    corner = dataclasses.replace(
        settled,
        upper_outer_joint=ball_joint_of("upper_outer", joints.upper_outer, settled, defaults),
        lower_outer_joint=ball_joint_of("lower_outer", joints.lower_outer, settled, defaults),
        shock=shock_of(tables.shock),
    )
    if lower.length is None:
        return corner
    return dataclasses.replace(corner, half_track=half_track_for(corner, lower.length))


def static_camber_of(tables: Tables, defaults: Defaults) -> float:
    """Return the nominal static camber, radians."""
    given = tables.vehicle.static_camber
    return defaults.fill("vehicle.static_camber", given, 0.0, "angle", "wheel upright at ride")


def lower_axis_angles(tables: Tables, defaults: Defaults) -> tuple[float, float]:
    """Return kick-up and plan angle of the lower arm's inner axis, radians."""
    arm = tables.lower_arm
    why = "inner axis level and parallel to the centre plane"
    return (
        defaults.fill("lower_arm.kick_up", arm.kick_up, 0.0, "angle", why),
        defaults.fill("lower_arm.plan_angle", arm.plan_angle, 0.0, "angle", why),
    )


def tyre_of(tables: Tables, defaults: Defaults) -> Tyre:
    """Build the tyre from its size, its measures, or both (measures win)."""
    tyre = tables.tyre
    radius, width = tyre.size or (tyre.radius or 0.0, tyre.width or 0.0)
    why = "from tyre.size; measure the tyre, the built size differs by up to about 2 %"
    radius = defaults.fill("tyre.radius", tyre.radius, radius, "length", why)
    width = defaults.fill("tyre.width", tyre.width, width, "length", why)
    loaded = defaults.fill(
        "tyre.loaded_radius",
        tyre.loaded_radius,
        radius,
        "length",
        "the radius, tyre not squashed",
    )
    shoulder = defaults.fill("tyre.shoulder_radius", tyre.shoulder_radius, 0.15 * width, "length", "0.15 of the width")
    return Tyre(radius=radius, width=width, shoulder_radius=shoulder, loaded_radius=loaded)


def _spindle_of(tables: Tables, defaults: Defaults) -> Spindle:
    spindle = tables.spindle
    pitch = defaults.fill("spindle.pitch", spindle.pitch, 0.0, "angle", "installed as measured")
    holes = spindle.upper_pivots
    return Spindle(
        lower_pivot=vector(*spindle.lower_pivot),
        upper_pivot=vector(*holes[0]),
        steering_pivot=vector(*spindle.steering_pivot),
        pitch=pitch,
        upper_holes=read_only(np.transpose(holes)) if len(holes) > 1 else None,
    )


def _upper_axis_of(tables: Tables, defaults: Defaults, kick_up: float, plan_angle: float) -> UpperAxis:
    arm = tables.upper_arm
    why = "the same as the lower arm's"
    kick_up = defaults.fill("upper_arm.kick_up", arm.kick_up, kick_up, "angle", why)
    plan_angle = defaults.fill("upper_arm.plan_angle", arm.plan_angle, plan_angle, "angle", why)
    pivot_x = defaults.fill("upper_arm.pivot_x", arm.pivot_x, 0.0, "length", "on the front-axle line")
    return UpperAxis(pivot_x=pivot_x, direction=axis_direction(kick_up, plan_angle))


def travel_of(tables: Tables, defaults: Defaults) -> Travel:
    """Build the required travel."""
    travel = tables.travel
    why = "1.5 times the required droop"
    droop_cap = defaults.fill("travel.droop_cap", travel.droop_cap, 1.5 * travel.droop, "length", why)
    bump_cap = defaults.fill("travel.bump_cap", travel.bump_cap, travel.bump, "length", "the required bump")
    return Travel(
        bump=travel.bump,
        droop=travel.droop,
        droop_cap=droop_cap,
        bump_cap=bump_cap,
        roll=travel.roll or 0.0,
    )


def _camber_curve_of(tables: Tables, defaults: Defaults, camber: float) -> Array:
    curve = tables.targets.camber_curve
    if curve is None:
        shown = f"{math.degrees(camber):.6g} deg at every travel"
        defaults.note("targets.camber_curve", shown, "camber kept as it is at ride")
        curve = [(-tables.travel.droop, camber), (tables.travel.bump, camber)]
    return read_only(curve)


def space_of(tables: Tables, defaults: Defaults) -> PivotSpace:
    """Build the room the search has."""
    arm = tables.upper_arm
    return PivotSpace(
        pivot_y=arm.pivot_y,
        pivot_z=arm.pivot_z,
        static_camber=camber_span_of(tables, defaults),
        length=arm.length or (0.0, math.inf),
        region=None if arm.region is None else read_only(arm.region),
        keep_out=read_only([(disc.y, disc.z, disc.diameter) for disc in arm.keep_out]).reshape(-1, 3),
    )


def camber_span_of(tables: Tables, defaults: Defaults) -> Span:
    """Return the range of static camber to search, radians; the vehicle's own when none is given."""
    if tables.upper_arm.static_camber is not None:
        return tables.upper_arm.static_camber
    camber = static_camber_of(tables, defaults)
    why = "vehicle.static_camber, held fixed"
    defaults.fill("upper_arm.static_camber", None, camber, "angle", why)
    return camber, camber


def targets_of(tables: Tables, defaults: Defaults) -> Mapping[str, Target]:
    """Build the targets of every objective, by name."""
    return {objective.name: _target_of(objective, tables, defaults) for objective in OBJECTIVES}


def has_value(objective: Objective, tables: Tables) -> bool:
    """Whether the scenario gives what an objective is measured from."""
    return not objective.needs or any(_is_given(key, tables) for key in objective.needs)


def _is_given(key: str, tables: Tables) -> bool:
    value: object = tables
    for name in key.split("."):
        value = getattr(value, name, None)
    return bool(value)


def _target_of(objective: Objective, tables: Tables, defaults: Defaults) -> Target:
    table, measured = target_table(tables.targets, objective), has_value(objective, tables)
    asked = objective.on_by_default if table.objective is None else table.objective
    if asked and not measured:
        why = f"{' and '.join(objective.needs)} left out, so there is nothing to measure"
        defaults.note(f"targets.{objective.column}.objective", "false", why)
    limit = table.limit
    if objective.must_reach is not None:
        least = objective.must_reach(travel_of(tables, defaults))
        limit = defaults.fill(f"targets.{objective.column}.limit", limit, least, "length", "what travel asks for")
    return Target(table.aim, limit, asked and measured, measured, limit_is_default=limit is not table.limit)


def rod_end_margin_of(tables: Tables, defaults: Defaults) -> float:
    """Return the angle to keep from every joint's limit at the stops, radians."""
    why = "common practice, no source"
    return defaults.fill(
        "targets.rod_end_margin_deg", tables.targets.rod_end_margin_deg, math.radians(2.0), "angle", why
    )


def build_of(tables: Tables, defaults: Defaults) -> Build:
    """Build the shop's tolerance and tape."""
    build = tables.build
    inches = tables.unit is INCH
    tolerance = defaults.fill(
        "build.pivot_tolerance",
        build.pivot_tolerance,
        INCH.mm / 16 if inches else 1.5,
        "length",
        "a tacked and welded bracket; common practice, no source",
    )
    step = defaults.fill(
        "build.round_to",
        build.round_to,
        INCH.mm / 16 if inches else 1.0,
        "length",
        "what a tape measure shows",
    )
    return Build(tolerance, step, _reference_of(tables, defaults))


def _reference_of(tables: Tables, defaults: Defaults) -> Reference | None:
    given = tables.build.reference
    if given is None:
        return None
    x = defaults.fill("build.reference.x", given.x, 0.0, "length", "on the front-axle line")
    return Reference(given.name, x, given.y, given.z)


def baseline_of(tables: Tables, defaults: Defaults) -> Baseline | None:
    """Build the first idea, if the scenario has one."""
    given = tables.baseline
    if given is None:
        return None
    hole = (given.upper_hole or 1) - 1
    if given.upper_hole is None and len(tables.spindle.upper_pivots) > 1:
        defaults.note("baseline.upper_hole", "1", "the first of spindle.upper_pivot")
    if given.static_camber is None and given.arm_length is None:
        camber = static_camber_of(tables, defaults)
        defaults.fill("baseline.static_camber", None, camber, "angle", "vehicle.static_camber")
        return Baseline(given.pivot_y, given.pivot_z, camber, None, hole)
    return Baseline(given.pivot_y, given.pivot_z, given.static_camber, given.arm_length, hole)
