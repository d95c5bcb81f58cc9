"""A published left front corner: its points stand where the source says, and its parts keep their lengths.

Coordinates seen in a transcription of a textbook example, believed to be G. Rill and A. A. Castro, Road Vehicle
Dynamics: Fundamentals and Modeling with MATLAB, 2nd edition, CRC Press, 2020 (attribution from memory; page unknown,
not checked against the book). Metres there, mm here; x forward, y left, z up, origin at the axle; toe 0, camber +0.8
degrees with the top outboard, static radius 0.285 m. The source gives no tyre width and no bolt axes.

Its rounding: coordinates to 1 mm, camber to 0.1 degree. Everything below follows from the coordinates by arithmetic, so
the tolerances are those of this computation, except where the scenario file's six decimals stand in between.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from objectives.corner import (
    Candidates,
    Corner,
    LowerArm,
    RodEnd,
    Spindle,
    Steering,
    Travel,
    Tyre,
    UpperAxis,
)
from objectives.curves import Curves, curves_at
from objectives.ride import installed
from optimizer.candidate import baseline_of
from optimizer.scenario import load_scenario
from tests.reference import rigid_body

EXACT = 1e-9  # mm; rounding at a metre, grown on its way through the linkage
SCENARIO_DECIMALS = 1e-5  # mm; the scenario file writes turned coordinates to six decimals

WHEEL = np.array([0.0, 768.0, 0.0])
LOWER_REAR, LOWER_FRONT, LOWER = (-251.0, 320.0, -80.0), (148.0, 320.0, -94.0), (13.0, 737.0, -145.0)
UPPER_REAR, UPPER_FRONT, UPPER = (-105.0, 435.0, 196.0), (122.0, 435.0, 230.0), (-25.0, 680.0, 162.0)
ROD_INNER, ROD_OUTER = (-150.0, 380.0, -38.0), (-137.0, 690.0, -88.0)
CAMBER, STATIC_RADIUS = np.radians(0.8), 285.0
TRAVEL = np.linspace(-80.0, 80.0, 17)
RIDE = 8


@pytest.fixture(scope="module")
def case() -> tuple[Corner, Candidates]:
    """The corner from its coordinates, turned to an upright wheel by plain rotation about x."""
    cos, sin = np.cos(CAMBER), np.sin(CAMBER)
    upright = np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])  # undoes a top outboard by 0.8 degrees

    def direction(rear: tuple[float, ...], front: tuple[float, ...]) -> np.ndarray:
        along = np.subtract(front, rear)
        return np.asarray(along / np.linalg.norm(along))

    corner = Corner(
        half_track=WHEEL[1] - STATIC_RADIUS * sin,
        ground_z=-STATIC_RADIUS * cos,
        static_camber=CAMBER,
        static_toe=0.0,
        tyre=Tyre(300.0, 200.0, 30.0, STATIC_RADIUS),
        spindle=Spindle(*(upright @ (point - WHEEL) for point in (LOWER, UPPER, ROD_OUTER))),
        lower_arm=LowerArm(np.array(LOWER_REAR), direction(LOWER_REAR, LOWER_FRONT)),
        upper_axis=UpperAxis(UPPER_REAR[0], direction(UPPER_REAR, UPPER_FRONT)),
        steering=Steering(
            np.array(ROD_INNER), RodEnd(np.array([0.0, 0.0, 1.0]), 0.5), RodEnd(np.array([1.0, 0.0, 0.0]), 0.5)
        ),
        travel=Travel(80.0, 80.0, 120.0),
        camber_curve=np.array([[-80.0, 0.0], [80.0, 0.0]]),
    )
    return corner, Candidates(UPPER_REAR[1], UPPER_REAR[2], CAMBER)


@pytest.fixture(scope="module")
def curves(case: tuple[Corner, Candidates]) -> Curves:
    return curves_at(*case, TRAVEL)


def test_stands_at_ride_where_published(curves: Curves) -> None:
    published = {"wheel": WHEEL, "lower_outer": LOWER, "upper_outer": UPPER, "steering_outer": ROD_OUTER}
    for name, point in published.items():
        assert getattr(curves, name)[:, 0, RIDE] == pytest.approx(np.array(point), abs=EXACT), name
    assert curves.camber[0, RIDE] == pytest.approx(CAMBER, abs=1e-12)
    assert curves.toe[0, RIDE] == pytest.approx(0.0, abs=1e-12)


def test_lengths_from_the_coordinates(curves: Curves) -> None:
    """Tie rod 13, 310, 50; upper arm: twice its triangle's area (Heron) over the length of its inner side."""
    assert curves.tie_rod_length[0] == pytest.approx(np.sqrt(13.0**2 + 310.0**2 + 50.0**2), abs=EXACT)
    sides = np.linalg.norm(np.subtract(UPPER, [UPPER_REAR, UPPER_FRONT]), axis=1)
    base = np.sqrt(227.0**2 + 34.0**2)
    half = (sides.sum() + base) / 2.0
    area = np.sqrt(half * (half - sides[0]) * (half - sides[1]) * (half - base))
    assert curves.arm_length[0] == pytest.approx(2.0 * area / base, abs=EXACT)


def test_steering_axis_from_the_coordinates(curves: Curves) -> None:
    """From lower to upper outer pivot (-38, -57, 307): caster atan 38/307 = 7.056, inclination atan 57/307 = 10.518."""
    assert np.degrees(curves.caster[0, RIDE]) == pytest.approx(7.056, abs=1e-3)
    assert np.degrees(curves.kingpin[0, RIDE]) == pytest.approx(10.518, abs=1e-3)


def test_every_constraint_holds_through_the_travel(curves: Curves) -> None:
    """The published points at ride fix eleven distances; the moving points keep each of them."""
    lower, upper, rod, wheel = (
        getattr(curves, name)[:, 0] for name in ("lower_outer", "upper_outer", "steering_outer", "wheel")
    )
    pairs = [
        *((lower, LOWER, end) for end in (LOWER_REAR, LOWER_FRONT)),
        *((upper, UPPER, end) for end in (UPPER_REAR, UPPER_FRONT)),
        (rod, ROD_OUTER, ROD_INNER),
    ]
    for moving, at_ride, fixed in pairs:
        length = np.linalg.norm(moving - np.array(fixed)[:, None], axis=0)
        assert length == pytest.approx(np.linalg.norm(np.subtract(at_ride, fixed)), abs=EXACT)
    body = {"lower": (lower, LOWER), "upper": (upper, UPPER), "rod": (rod, ROD_OUTER), "wheel": (wheel, WHEEL)}
    for one, (moving, at_ride) in body.items():
        for other, (moving_too, at_ride_too) in body.items():
            length = np.linalg.norm(moving - moving_too, axis=0)
            assert length == pytest.approx(np.linalg.norm(np.subtract(at_ride, at_ride_too)), abs=EXACT), (one, other)
    assert wheel[2] == pytest.approx(TRAVEL, abs=EXACT)


def test_sweep_against_the_rigid_body(case: tuple[Corner, Candidates], curves: Curves) -> None:
    """The independent engine stands the points up as published itself, and is not told of camber or circles."""
    points = rigid_body.Hardpoints(
        lower_axis=np.array([LOWER_REAR, LOWER_FRONT]),
        upper_axis=np.array([UPPER_REAR, UPPER_FRONT]),
        lower_outer=np.array(LOWER),
        upper_outer=np.array(UPPER),
        steering_outer=np.array(ROD_OUTER),
        inner_joint=np.array(ROD_INNER),
        wheel=WHEEL,
        spin=np.array([0.0, np.cos(CAMBER), -np.sin(CAMBER)]),
        outer_bolt=np.array([0.0, np.sin(CAMBER), np.cos(CAMBER)]),
        inner_bolt=np.array([1.0, 0.0, 0.0]),
        loaded_radius=STATIC_RADIUS,
    )
    sweep = rigid_body.solve(points, TRAVEL)
    for name in ("wheel", "contact", "lower_outer", "upper_outer", "steering_outer"):
        assert getattr(curves, name)[:, 0] == pytest.approx(getattr(sweep, name), abs=EXACT), name
    for name in ("camber", "toe", "caster", "kingpin", "outer_rod_end", "inner_rod_end"):
        assert getattr(curves, name)[0] == pytest.approx(getattr(sweep, name), abs=1e-11), name


def test_the_shipped_scenario_is_this_corner() -> None:
    scenario = load_scenario(Path(__file__).parents[2] / "scenarios" / "published_corner.toml")
    corner, chosen = scenario.corner, baseline_of(scenario)
    assert chosen is not None
    for name, point in (("lower_pivot", LOWER), ("upper_pivot", UPPER), ("steering_pivot", ROD_OUTER)):
        placed = WHEEL + installed(getattr(corner.spindle, name), corner.static_camber, 0.0, 0.0)
        assert placed == pytest.approx(np.array(point), abs=SCENARIO_DECIMALS)
    lower, upper = np.subtract(LOWER_FRONT, LOWER_REAR), np.subtract(UPPER_FRONT, UPPER_REAR)
    assert np.cross(lower, corner.lower_arm.direction) == pytest.approx(np.zeros(3), abs=EXACT)
    assert np.cross(upper, corner.upper_axis.direction) == pytest.approx(np.zeros(3), abs=EXACT)
    assert np.cross(LOWER_REAR - corner.lower_arm.inner_pivot, lower) == pytest.approx(np.zeros(3), abs=1e-6)
    pivot = np.array([corner.upper_axis.pivot_x, chosen.pivot_y, chosen.pivot_z])
    assert np.cross(UPPER_REAR - pivot, upper) == pytest.approx(np.zeros(3), abs=1e-6)
    assert tuple(corner.steering.inner_joint) == ROD_INNER
    ride = chosen.curves(np.zeros(1))
    assert ride.contact[2, 0, 0] == pytest.approx(WHEEL[2] - STATIC_RADIUS * np.cos(CAMBER), abs=SCENARIO_DECIMALS)
