"""What cannot be among obstacles, tubes and rim, seen from the tables alone."""

from __future__ import annotations

from collections.abc import Callable

from optimizer.defaults import Defaults
from optimizer.derive import tyre_of
from optimizer.faults import FaultList
from optimizer.parts import RIM_WALL
from optimizer.tables import Tables

_SLACK = 1e-9
"""Relative; a length converted from another unit may miss by its last digit."""


def _check_upper_legs(tables: Tables, faults: FaultList) -> None:
    _check_legs("upper_arm", tables.upper_arm.legs_x, tables.upper_arm.tube_diameter, faults)


def _check_lower_legs(tables: Tables, faults: FaultList) -> None:
    _check_legs("lower_arm", tables.lower_arm.legs_x, tables.lower_arm.tube_diameter, faults)


def _check_legs(arm: str, legs_x: list[float] | None, diameter: float | None, faults: FaultList) -> None:
    if legs_x is None:
        return
    if diameter is None:
        faults.add(
            (arm, "legs_x"), f"says where the arm's tubes run, but not how thick they are; give {arm}.tube_diameter"
        )
    if legs_x[0] <= legs_x[1]:
        faults.add(
            (arm, "legs_x"),
            "must name the front bushing first, its x the greater of the two; x grows forward: swap the two?",
        )


def _check_wheel_meets_something(tables: Tables, faults: FaultList) -> None:
    if tables.wheel is not None and tables.upper_arm.tube_diameter is None:
        faults.add(
            ("wheel",),
            "there is no arm to hold against the wheel; give upper_arm.tube_diameter, or take this table out",
        )


def _check_tie_rod_meets_something(tables: Tables, faults: FaultList) -> None:
    if tables.steering.tie_rod_diameter is None:
        return
    if tables.upper_arm.tube_diameter is None and tables.lower_arm.tube_diameter is None:
        faults.add(
            ("steering", "tie_rod_diameter"),
            "there is no arm to hold the tie rod against; give upper_arm.tube_diameter or "
            "lower_arm.tube_diameter, or take this key out",
        )


def _check_rim(tables: Tables, faults: FaultList) -> None:
    if tables.wheel is None:
        return
    unit, wheel = tables.unit, tables.wheel
    half = 0.5 * wheel.rim_width
    if abs(wheel.offset) > half * (1 + _SLACK):
        faults.add(
            ("wheel", "offset"),
            f"puts the mounting face outside the rim; it must lie within plus or minus {unit.say(half)}, "
            "half the rim's width",
        )
    wall = RIM_WALL if wheel.rim_wall is None else wheel.rim_wall
    if wall >= 0.5 * wheel.rim_diameter:
        faults.add(
            ("wheel", "rim_diameter" if wheel.rim_wall is None else "rim_wall"),
            f"leaves the barrel no inside: half the rim's diameter is {unit.say(0.5 * wheel.rim_diameter)} "
            f"and the wall {unit.say(wall)}",
        )


def _check_rim_in_tyre(tables: Tables, faults: FaultList) -> None:
    given = tables.tyre
    if tables.wheel is None or (given.size is None and (given.radius is None or given.width is None)):
        return
    unit, tyre = tables.unit, tyre_of(tables, Defaults(tables.unit))
    sidewall = tyre.radius - 0.5 * tables.wheel.rim_diameter
    if sidewall <= 0.0:
        faults.add(
            ("wheel", "rim_diameter"),
            f"must be less than the tyre's own diameter of {unit.say(2.0 * tyre.radius)}; give diameters here, "
            "not radii, and check tyre.radius",
        )
    elif tyre.shoulder_radius > sidewall * (1 + _SLACK):
        faults.add(
            ("wheel", "rim_diameter"),
            f"leaves a sidewall of {unit.say(sidewall)}, less than the shoulder's rounding of "
            f"{unit.say(tyre.shoulder_radius)}; check it, or give a smaller tyre.shoulder_radius",
        )


def _check_obstacle_points(tables: Tables, faults: FaultList) -> None:
    for number, obstacle in enumerate(tables.obstacles):
        for index in range(1, len(obstacle.points)):
            if obstacle.points[index] == obstacle.points[index - 1]:
                faults.add(("obstacles", number, "points", index), "is the same point as the one before; leave it out")


def _check_obstacle_names(tables: Tables, faults: FaultList) -> None:
    seen: set[str] = set()
    for number, obstacle in enumerate(tables.obstacles):
        if obstacle.name in seen:
            faults.add(("obstacles", number, "name"), "is the name of another obstacle too; give each its own")
        seen.add(obstacle.name)


OBSTACLE_CHECKS: tuple[Callable[[Tables, FaultList], None], ...] = (
    _check_upper_legs,
    _check_lower_legs,
    _check_wheel_meets_something,
    _check_tie_rod_meets_something,
    _check_rim,
    _check_rim_in_tyre,
    _check_obstacle_points,
    _check_obstacle_names,
)
