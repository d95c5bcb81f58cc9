"""What cannot be, seen from the tables alone: keys that exclude each other and values that contradict."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

import numpy as np

from objectives.objective import Goal
from objectives.vectors import Array, cross, norm
from optimizer.defaults import Defaults
from optimizer.derive import has_value, targets_of, travel_of, tyre_of
from optimizer.faults import FaultList
from optimizer.goals import GOALS
from optimizer.obstacle_checks import OBSTACLE_CHECKS
from optimizer.part_checks import PART_CHECKS, TOUCHING
from optimizer.schema import target_table
from optimizer.tables import Tables, UnreadError
from optimizer.toml_lines import KeyPath

_SLACK = 1e-9
"""Relative; a length converted from another unit may miss by its last digit."""


def check_tables(tables: Tables, faults: FaultList) -> None:
    """Note every contradiction between values; a check whose values could not be read is left out."""
    for check in _CHECKS:
        with suppress(UnreadError):
            check(tables, faults)


def _check_track(tables: Tables, faults: FaultList) -> None:
    track, length = tables.vehicle.track, tables.lower_arm.length
    if track is not None and length is not None:
        faults.add(("lower_arm", "length"), "vehicle.track is given too, and each follows from the other; keep one")
    if track is None and length is None:
        faults.add(("vehicle", "track"), "is missing; give it here, or give lower_arm.length instead")


def _check_tyre_given(tables: Tables, faults: FaultList) -> None:
    tyre = tables.tyre
    if tyre.size is None and (tyre.radius is None or tyre.width is None):
        lacking = "radius" if tyre.radius is None else "width"
        faults.add(("tyre", lacking), 'is missing; give radius and width, or size = "235/75R15"')


def _check_tyre_shape(tables: Tables, faults: FaultList) -> None:
    given = tables.tyre
    if given.size is None and (given.radius is None or given.width is None):
        return
    unit = tables.unit
    tyre = tyre_of(tables, Defaults(unit))
    if tyre.loaded_radius > tyre.radius * (1 + _SLACK):
        faults.add(
            ("tyre", "loaded_radius"),
            f"is more than the radius of {unit.say(tyre.radius)}; "
            "a tyre under load stands lower, measure from the ground to the wheel centre",
        )
    most = min(tyre.width / 2, tyre.radius)
    if tyre.shoulder_radius > most * (1 + _SLACK):
        faults.add(
            ("tyre", "shoulder_radius"),
            f"must be at most {unit.say(most)}, half the tyre's width (and no more than its radius)",
        )


def _check_kingpin(tables: Tables, faults: FaultList) -> None:
    several = len(tables.spindle.upper_pivots) > 1
    for index, pivot in enumerate(tables.spindle.upper_pivots):
        path: KeyPath = ("spindle", "upper_pivot", index) if several else ("spindle", "upper_pivot")
        earlier = tables.spindle.upper_pivots[:index]
        _check_one_kingpin(path, np.array(tables.spindle.lower_pivot), np.array(pivot), faults)
        if any(norm(np.array(pivot) - np.array(other)) < TOUCHING / 10.0 for other in earlier):
            faults.add(path, "is listed twice; name each hole once")


def _check_one_kingpin(path: KeyPath, lower: Array, upper: Array, faults: FaultList) -> None:
    if norm(upper - lower) < TOUCHING:
        faults.add(path, "is the same point as lower_pivot; measure both outer pivots again")
    elif upper[2] <= lower[2]:
        faults.add(
            path,
            "does not lie above lower_pivot (its third number, z, must be the greater); swap the two, "
            "or check the signs: z is up from the wheel centre",
        )


def _check_steering_arm(tables: Tables, faults: FaultList) -> None:
    spindle = tables.spindle
    lower, steering = np.array(spindle.lower_pivot), np.array(spindle.steering_pivot)
    for pivot in spindle.upper_pivots:
        kingpin = np.array(pivot) - lower
        if norm(kingpin) < TOUCHING:
            return
        if norm(cross(kingpin, steering - lower)) / norm(kingpin) < TOUCHING:
            faults.add(
                ("spindle", "steering_pivot"),
                "lies on the line through lower_pivot and upper_pivot, so there is no steering arm to turn the "
                "wheel with; measure the outer tie-rod joint again",
            )
            return


def _check_caps(tables: Tables, faults: FaultList) -> None:
    for name in ("droop", "bump"):
        with suppress(UnreadError):
            needed, cap = getattr(tables.travel, name), getattr(tables.travel, f"{name}_cap")
            if cap is not None and cap < needed * (1 - _SLACK):
                faults.add(
                    ("travel", f"{name}_cap"),
                    f"is less than travel.{name}; it is where counting {name} stops, so give at least the {name}, "
                    "or leave it out",
                )


def _check_camber_curve(tables: Tables, faults: FaultList) -> None:
    curve = tables.targets.camber_curve
    if curve is None:
        return
    heights = [point[0] for point in curve]
    for index in range(1, len(heights)):
        if heights[index] <= heights[index - 1]:
            faults.add(
                ("targets", "camber_curve", index, 0),
                "does not lie above the travel of the point before it; list the points from droop "
                "(negative) up to bump, each travel once",
            )
            return
    for name, end, lacking in (
        ("droop", -tables.travel.droop, heights[0] + tables.travel.droop),
        ("bump", tables.travel.bump, tables.travel.bump - heights[-1]),
    ):
        if lacking > _SLACK * abs(end):
            faults.add(
                ("targets", "camber_curve", 0 if name == "droop" else len(heights) - 1),
                f"the curve does not reach full {name}; "
                f"{'start' if name == 'droop' else 'end'} it at a travel of "
                f"{tables.unit.say(end)} "
                "or beyond",
            )


def _check_overdetermined(tables: Tables, faults: FaultList) -> None:
    arm = tables.upper_arm
    length_held = arm.length is not None and arm.length[0] == arm.length[1]
    if not length_held:
        return
    if arm.static_camber is None:
        faults.add(
            ("upper_arm", "length"),
            "holds the arm length fixed while the static camber is fixed too (vehicle.static_camber, since "
            "upper_arm.static_camber is not given), and each sets the other; give static_camber a range, or "
            "length a range",
        )
    elif arm.static_camber[0] == arm.static_camber[1]:
        faults.add(
            ("upper_arm", "length"),
            "holds the arm length fixed while static_camber is fixed too, and each sets the other; "
            "give one of the two a range",
        )


def _check_outlines(tables: Tables, faults: FaultList) -> None:
    for number, outline in enumerate(tables.bodywork.outlines):
        for index in range(1, len(outline)):
            if outline[index] == outline[index - 1]:
                faults.add(
                    ("bodywork", "outlines", number, index),
                    "is the same point as the one before; leave it out",
                )


def _check_baseline(tables: Tables, faults: FaultList) -> None:
    baseline = tables.baseline
    if baseline and baseline.static_camber is not None and baseline.arm_length is not None:
        faults.add(
            ("baseline", "arm_length"),
            "static_camber is given too, and each sets the other; keep one of the two",
        )


def _check_reference(tables: Tables, faults: FaultList) -> None:
    reference = tables.build.reference
    if reference is not None and not any((reference.x, reference.y, reference.z)):
        faults.add(
            ("build", "reference"),
            "is where everything is measured from already: the centre plane and the frame datum; give the place of a "
            "tube or a hole that is near the brackets, or leave it out",
        )


def _check_targets(tables: Tables, faults: FaultList) -> None:
    for objective in GOALS:
        with suppress(UnreadError):
            _check_target(objective, tables, faults)


def _check_target(objective: Goal, tables: Tables, faults: FaultList) -> None:
    target, path = target_table(tables.targets, objective), ("targets", objective.column)
    given = {"aim": target.aim, "limit": target.limit}
    if not has_value(objective, tables):
        asked = [name for name, value in given.items() if value is not None]
        if target.objective:
            asked.append("objective")
        for name in asked:
            faults.add(
                (*path, name),
                f"there is nothing to measure it from; give {' or '.join(objective.needs)}, or take this target out",
            )
        return
    for name, value in given.items():
        if value is not None and value < 0.0 and objective.better == "less":
            faults.add((*path, name), "can never be reached: this is an amount, 0 at best; give 0 or more")
    if target.aim is None or target.limit is None:
        return
    less = objective.better == "less"
    if target.aim > target.limit if less else target.aim < target.limit:
        faults.add(
            (*path, "aim"),
            f"is worse than the limit; {'less' if less else 'more'} is better here, so the aim must be at "
            f"{'most' if less else 'least'} the limit: swap the two?",
        )


def _check_capped_targets(tables: Tables, faults: FaultList) -> None:
    travel = travel_of(tables, Defaults(tables.unit))
    if travel.droop_cap < travel.droop or 0.0 < travel.bump_cap < travel.bump:
        return  # a fault of its own, which the targets do not share
    for objective in GOALS:
        if objective.most is None:
            continue
        key, cap = objective.most[0], objective.most[1](travel)
        with suppress(UnreadError):
            target = target_table(tables.targets, objective)
            for name, value in (("aim", target.aim), ("limit", target.limit)):
                if value is not None and value > cap * (1 + _SLACK):
                    faults.add(
                        ("targets", objective.column, name),
                        f"can never be reached: it is counted up to {key}, {tables.unit.say(cap)}; "
                        "lower it, or raise the cap",
                    )


def _check_something_traded(tables: Tables, faults: FaultList) -> None:
    if any(target.traded for target in targets_of(tables, Defaults(tables.unit)).values()):
        return
    keys = ", ".join(objective.column for objective in GOALS)
    faults.add(
        ("targets",),
        f"every objective is switched off; leave at least one of {keys} on (objective = true), two for a trade-off",
    )


_CHECKS: tuple[Callable[[Tables, FaultList], None], ...] = (
    _check_track,
    _check_tyre_given,
    _check_tyre_shape,
    _check_kingpin,
    _check_steering_arm,
    _check_caps,
    _check_camber_curve,
    _check_overdetermined,
    _check_outlines,
    *OBSTACLE_CHECKS,
    _check_reference,
    _check_baseline,
    _check_targets,
    _check_capped_targets,
    _check_something_traded,
    *PART_CHECKS,
)
