"""Scenarios over the whole range a file may hold, from a model car's to a lorry's, and candidates in them."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from hypothesis import HealthCheck, Phase, assume, settings
from hypothesis import strategies as st

from objectives.registry import OBJECTIVES
from optimizer.errors import ScenarioError
from tests.properties.drafts import Case, Draft, Mm, Tables, point

LONG = "PIVOTFRONT_EXAMPLES"
EXAMPLES = int(os.environ.get(LONG, "12"))


def examples(share: float = 1.0) -> settings:
    """Settings of a property that takes `share` of the examples: always the same ones, others in a long run.

    A failing scenario is shown as it was drawn: to shrink it takes minutes, for there are a hundred numbers in it.
    """
    return settings(
        max_examples=max(1, round(share * EXAMPLES)),
        derandomize=LONG not in os.environ,
        phases=[Phase.explicit, Phase.generate],
        database=None,
        deadline=None,
        print_blob=True,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
    )


@dataclass(frozen=True)
class Maker:
    """Draws numbers of one scenario: lengths are those of a buggy, times its size."""

    draw: st.DrawFn
    size: float

    def number(self, low: float, high: float) -> float:
        return float(self.draw(st.floats(low, high, allow_subnormal=False)))

    def length(self, low: float, high: float) -> float:
        return self.size * self.number(low, high)

    def angle(self, usual: float, most: float) -> float:
        """Degrees, mostly within what is usual."""
        return self.number(-most, most) if self.one_in(6) else self.number(-usual, usual)

    def one_in(self, count: int) -> bool:
        return self.draw(st.integers(0, count - 1)) == count - 1

    def either(self, *values: Any) -> Any:
        return self.draw(st.sampled_from(values))

    def direction(self, near: np.ndarray, most: float) -> np.ndarray:
        """Unit vector within so many degrees of another."""
        across = np.array([self.number(-1.0, 1.0) for _ in range(3)])
        across -= (across @ near) * near
        size = float(np.linalg.norm(across))
        if size < 1e-3:
            return near
        lean = np.radians(self.number(0.0, most))
        return np.cos(lean) * near + np.sin(lean) * across / size


@dataclass(frozen=True)
class Frame:
    """Where the corner's points are at ride, mm, attitude of the wheel left aside."""

    wheel: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    steering: np.ndarray
    lower_inner: np.ndarray
    upper_inner: np.ndarray
    inner_joint: np.ndarray
    radius: float
    width: float
    shoulder: float


@st.composite
def cases(draw: st.DrawFn, count: int = 4, placed: bool | None = None) -> Case:
    """A sound scenario with up to `count` candidates; with an inner region or without, if `placed` says so."""
    size = draw(st.one_of(st.just(1.0), st.floats(0.6, 1.6), st.floats(0.12, 8.0)))
    draft = _draft(Maker(draw, size), placed)
    share, camber = st.floats(0.0, 1.0), st.floats(-4.0, 4.0, allow_subnormal=False)
    pick = st.tuples(share, share, st.one_of(st.just(0.0), camber), st.integers(0, 2))
    case = Case(draft, tuple(draw(st.lists(pick, min_size=1, max_size=count))))
    try:
        _ = case.scenario
    except ScenarioError:
        assume(False)
    return case


def _draft(make: Maker, placed: bool | None) -> Draft:
    frame, tables = _frame(make)
    tables["steering"] = _steering(make, frame, placed)
    tables["travel"] = _travel(make, frame)
    tables |= _joints(make) | _shock(make, frame) | _bodywork(make, frame)
    _thicken(make, frame, tables)
    tables["targets"] = _targets(make, tables)
    return Draft(tables)


def _frame(make: Maker) -> tuple[Frame, Tables]:
    length = make.length
    radius, half_track, ride = length(220, 480), length(480, 1000), length(0, 380)
    loaded, width = radius * make.number(0.85, 1.0), length(80, 380)
    shoulder = width * make.number(0.0, 0.3)
    wheel = np.array([0.0, half_track, loaded - ride])
    lower = np.array([length(-50, 50), length(-160, -40), length(-170, -50)])
    upper = np.array([length(-70, 50), length(-180, -40), length(60, 240)])
    steering = np.array([make.either(-1, 1) * length(60, 160), length(-150, -40), length(-80, 100)])
    reach = length(220, 600)
    lower_inner = wheel + lower + _inboard(reach, make.angle(15.0, 30.0))
    upper_inner = wheel + upper + _inboard(reach * make.number(0.45, 1.15), make.angle(15.0, 35.0))
    share = (steering[2] - lower[2]) / (upper[2] - lower[2])
    joint = lower_inner + share * (upper_inner - lower_inner) + [0.0, length(-60, 60), length(-40, 40)]
    joint[0] = steering[0] + length(-70, 70)
    frame = Frame(wheel, lower, upper, steering, lower_inner, upper_inner, joint, radius, width, shoulder)
    camber = make.angle(2.0, 8.0)
    tables: Tables = {
        "vehicle": {"ride_height": Mm(ride), "static_camber": camber, "static_toe": make.angle(1.0, 6.0)},
        "tyre": {
            "radius": Mm(radius),
            "width": Mm(width),
            "loaded_radius": Mm(loaded),
            "shoulder_radius": Mm(shoulder),
        },
        "spindle": {
            "lower_pivot": point(*lower),
            "upper_pivot": _holes(make, upper),
            "steering_pivot": point(*steering),
            "pitch": make.angle(6.0, 15.0),
        },
        "lower_arm": {"inner_pivot": point(*lower_inner), **_axis(make)},
        "upper_arm": _upper_arm(make, upper_inner, camber),
    }
    if make.one_in(4):
        tables["lower_arm"]["length"] = Mm(reach)
    else:
        tables["vehicle"]["track"] = Mm(2.0 * half_track)
    return frame, tables


def _inboard(length: float, slope: float) -> np.ndarray:
    """From an arm's outer end to its inner axis; slope in degrees."""
    lean = np.radians(slope)
    return length * np.array([0.0, -np.cos(lean), np.sin(lean)])


def _holes(make: Maker, upper: np.ndarray) -> list[Any]:
    if not make.one_in(3):
        return point(*upper)
    return [point(*upper), point(upper[0] + make.length(4, 20), upper[1], upper[2] + make.length(5, 40))]


def _axis(make: Maker) -> Tables:
    if make.one_in(3):
        return {}
    return {"kick_up": make.angle(12.0, 35.0), "plan_angle": make.angle(12.0, 35.0)}


def _upper_arm(make: Maker, inner: np.ndarray, camber: float) -> Tables:
    arm: Tables = {"pivot_x": Mm(make.length(-60, 60)), **_axis(make)}
    for key, middle in (("pivot_y", inner[1]), ("pivot_z", inner[2])):
        low, high = make.length(1, 90), make.length(1, 90)
        arm[key] = Mm(middle) if make.one_in(8) else point(middle - low, middle + high)
    if make.one_in(2):
        arm["static_camber"] = [camber - make.number(0.1, 3.0), camber + make.number(0.1, 3.0)]
    if make.one_in(4):
        y, z, way = inner[1], inner[2], make.length(40, 120)
        arm["region"] = [point(y - way, z - way), point(y + way, z - way), point(y, z + way)]
    if make.one_in(4):
        arm["keep_out"] = [
            {"y": Mm(inner[1] + make.length(-60, 60)), "z": Mm(inner[2]), "diameter": Mm(make.length(5, 60))}
        ]
    return arm


def _steering(make: Maker, frame: Frame, placed: bool | None) -> Tables:
    rod = frame.wheel + frame.steering - frame.inner_joint
    rod /= np.linalg.norm(rod)
    table: Tables = {"inner_joint": point(*frame.inner_joint)}
    for name in ("outer_rod_end", "inner_rod_end"):
        square = np.cross(rod, make.direction(make.either(*np.eye(3)), 60.0))
        assume(float(np.linalg.norm(square)) > 0.1)
        angle = make.number(3.0, 60.0)
        lean = np.radians(0.5 * angle * make.number(-1.0, 1.0))
        axis = np.cos(lean) * square / np.linalg.norm(square) + np.sin(lean) * rod
        table[name] = {"axis": [float(part) for part in axis], "max_angle": angle}
    match make.either("rack", "box", "none"):
        case "rack":
            table["rack_travel"] = Mm(make.length(0, 70))
        case "box":
            shaft = make.direction(np.array([0.0, 0.0, 1.0]), 40.0)
            pivot = frame.inner_joint + make.either(-1, 1) * np.array([make.length(70, 150), 0.0, 0.0])
            table["pitman"] = {
                "pivot": point(*pivot),
                "axis": [float(part) for part in shaft],
                "angle": make.number(1.0, 35.0),
            }
    if placed or (placed is None and make.one_in(5)):
        y, z = frame.inner_joint[1:]
        table["inner_region"] = {
            "y": point(y - make.length(1, 60), y + make.length(1, 60)),
            "z": point(z - make.length(1, 60), z + make.length(1, 60)),
        }
    return table


def _travel(make: Maker, frame: Frame) -> Tables:
    bump, droop = make.length(20, 200), make.length(20, 220)
    table: Tables = {"bump": Mm(bump), "droop": Mm(droop)}
    if make.one_in(2):
        table["droop_cap"] = Mm(droop * make.number(1.0, 2.0))
    if make.one_in(2):
        table["bump_cap"] = Mm(bump * make.number(1.0, 1.8))
    if make.one_in(2):
        table["roll"] = float(np.degrees(np.arctan(min(bump, droop) / frame.wheel[1]))) * make.number(0.05, 1.0)
    return table


def _joints(make: Maker) -> Tables:
    joints: Tables = {}
    for name in ("upper_outer", "lower_outer"):
        if make.one_in(3):
            stud = make.direction(np.array([0.0, 0.0, 1.0]), 30.0)
            angle = make.number(8.0, 70.0)
            joints[name] = {
                "axis": [float(part) for part in stud],
                "carried_by": make.either("spindle", "arm"),
                "max_angle": angle,
            }
            if make.one_in(2):
                joints[name]["housing_axis"] = [float(part) for part in make.direction(stud, 0.6 * angle)]
    return {"joints": joints} if joints else {}


def _shock(make: Maker, frame: Frame) -> Tables:
    if not make.one_in(3):
        return {}
    arm = make.either("lower", "upper")
    outer, inner = (
        (frame.wheel + frame.lower, frame.lower_inner)
        if arm == "lower"
        else (frame.wheel + frame.upper, frame.upper_inner)
    )
    mount = outer + make.number(0.15, 0.7) * (inner - outer)
    top = mount + np.array([make.length(-60, 60), make.length(-200, 60), make.length(150, 450)])
    at_ride = float(np.linalg.norm(top - mount))
    return {
        "shock": {
            "arm": arm,
            "lower_mount": point(*mount),
            "upper_mount": point(*top),
            "extended": Mm(at_ride * make.number(1.03, 1.6)),
            "collapsed": Mm(at_ride * make.number(0.4, 0.97)),
        }
    }


def _bodywork(make: Maker, frame: Frame) -> Tables:
    if make.one_in(4):
        return {}
    scale = frame.radius * make.number(0.7, 1.2)
    corners = [(-0.75, 0.3), (-0.6, 1.0), (-0.1, 1.35), (0.4, 1.4)][: make.either(2, 4)]
    return {"bodywork": {"outlines": [[point(*(frame.wheel[1:] + scale * np.array(corner))) for corner in corners]]}}


def _thicken(make: Maker, frame: Frame, tables: Tables) -> None:
    """Put in what has a thickness: tubes, rim, tie rod, obstacles."""
    if make.one_in(3):
        upper, lower = tables["upper_arm"], tables["lower_arm"]
        for arm in (upper, lower):
            arm["tube_diameter"] = Mm(make.length(15, 60))
            if make.one_in(2):
                arm["legs_x"] = point(make.length(30, 200), make.length(-200, -30))
        if make.one_in(2):
            tables["steering"]["tie_rod_diameter"] = Mm(make.length(10, 40))
        if make.one_in(2):
            rim = 2.0 * (frame.radius - frame.shoulder) * make.number(0.6, 0.9)
            width = frame.width * make.number(0.5, 1.0)
            offset, wall = 0.5 * width * make.number(-0.9, 0.9), 0.5 * rim * make.number(0.02, 0.2)
            tables["wheel"] = {
                "rim_diameter": Mm(rim),
                "rim_width": Mm(width),
                "offset": Mm(offset),
                "rim_wall": Mm(wall),
            }
    if make.one_in(3):
        middle = 0.5 * (frame.wheel + frame.upper + frame.upper_inner)[1:]
        ways = [(make.length(-200, 200), make.length(20, 300)) for _ in range(make.either(1, 2))]
        points = [middle + np.array(way) for way in ways]
        if len(points) == 1 or np.linalg.norm(points[1] - points[0]) > 1.0:
            corners = [point(*corner) for corner in points]
            tables["obstacles"] = [{"name": "rail", "points": corners, "diameter": Mm(make.length(10, 80))}]


_RANGES: dict[str, Callable[[Maker], tuple[float, float]]] = {
    "length": lambda make: (make.length(0, 60), make.length(0, 60)),
    "angle": lambda make: (make.number(0.0, 4.0), make.number(0.0, 4.0)),
}


def _targets(make: Maker, tables: Tables) -> Tables:
    """Aims, limits and what is traded off, of any objective that has something to be measured from."""
    targets: Tables = {}
    for objective in OBJECTIVES:
        has_value = not objective.needs or any(_given(tables, key) for key in objective.needs)
        if not (has_value and make.one_in(2)):
            continue
        low, high = sorted(_RANGES[objective.quantity](make))
        aim, limit = (low, high) if objective.better == "less" else (high, low)
        kind = Mm if objective.quantity == "length" else float
        wished = {"aim": kind(aim), "limit": kind(limit)}
        wished = {key: wished[key] for key in make.either(("aim",), ("limit",), ("aim", "limit"), ())}
        if make.one_in(2):
            wished["objective"] = make.one_in(2)
        targets[objective.column] = wished
    if make.one_in(3):
        bump, droop = tables["travel"]["bump"], tables["travel"]["droop"]
        rows = [(-droop, make.angle(2.0, 6.0)), (0.0, make.angle(1.0, 3.0)), (bump, make.angle(2.0, 6.0))]
        targets["camber_curve"] = [[Mm(travel), camber] for travel, camber in rows]
    return targets


def _given(tables: Tables, key: str) -> bool:
    value: Any = tables
    for name in key.split("."):
        value = value.get(name) if isinstance(value, dict) else None
    return bool(value)
