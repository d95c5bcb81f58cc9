"""The closed-form linkage against exudyn, a general-purpose multibody library (tests/reference/multibody.py).

J. Gerstmayr, Exudyn: a C++-based Python package for flexible multibody systems, Multibody System Dynamics 60, 2024
(from memory). How exact its static solution of such a corner is, is measured first, on corners with a known answer:

* equal parallel arms and tie rod about skew parallel hinges: the spindle only shifts, on the arms' own circle;
* a planar double wishbone by the cosine rule, on the lengths of a published table: D. Park, mathgroup archive,
  February 2006, msg00373 (seen; its rounding is described in test_planar_wishbone_table.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from objectives.corner import Candidates, Corner
from objectives.curves import curves_at
from optimizer.derived import nominal_candidate
from optimizer.scenario import load_scenario
from tests.reference import multibody, rigid_body
from tests.reference.corners import assembling_corners, gear_of, with_pitman
from tests.reference.rigid_body import Hardpoints, axis_points

Figures = Callable[[str, str], None]

# The solver stops at a residual of 3e-12 mm. On a corner with a known answer, 1 mm of travel before its tie rod locks,
# that grows to some 2e-11 mm; arms that meet at a sharp angle do the same.
LENGTH_TOLERANCE = 1e-9  # mm
ANGLE_TOLERANCE = 1e-9  # degrees
PRINTED = 1e-3  # degrees, of the table: half a unit of its last digit, with room for a digit cut off, not rounded

ANGLES = ("camber", "toe", "caster", "kingpin", "outer_rod_end", "inner_rod_end")
LENGTHS = ("wheel", "contact", "lower_outer", "upper_outer", "steering_outer", "kingpin_offset")
SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))
RACK = 12.0  # mm each way, for scenarios that are to be checked straight ahead only


def test_engine_on_skew_parallel_arms(figures: Figures) -> None:
    """All three bars equal and parallel: displacement r(u(cos t - 1) + v sin t), t from its height."""
    axis = np.array([1.0, 0.15, -0.2])
    axis /= np.linalg.norm(axis)
    outward = np.cross([0.1, -0.3, 1.0], axis)
    outward /= np.linalg.norm(outward)
    upward, radius = np.cross(axis, outward), 380.0
    lower, upper, joint = np.array([10.0, 300.0, -60.0]), np.array([-25.0, 250.0, 170.0]), np.array([-130.0, 310.0, 20])
    bar = radius * outward
    points = Hardpoints(
        lower_axis=axis_points(lower + 40.0 * axis, axis),
        upper_axis=axis_points(upper - 25.0 * axis, axis),
        lower_outer=lower + bar,
        upper_outer=upper + bar,
        steering_outer=joint + bar,
        inner_joint=joint,
        wheel=np.array([0.0, 780.0, 0.0]),
        spin=np.array([0.0, 1.0, 0.0]),
        outer_bolt=np.array([0.0, 0.0, 1.0]),
        inner_bolt=np.array([1.0, 0.0, 0.0]),
        loaded_radius=360.0,
    )
    # The tie rod locks where it lies in the plane of kingpin and steering arm; with it, so do the arms.
    plane = np.cross(upper - lower, joint - lower)
    lock = np.arctan2(-(plane @ outward), plane @ upward)
    lock = lock - np.pi if lock > 0.0 else lock
    droop = -radius * (outward[2] * (np.cos(lock) - 1.0) + upward[2] * np.sin(lock))
    travel = np.concatenate([[1.0 - droop], np.linspace(10.0 - droop, 150.0, 11)])

    swing = np.arctan2(upward[2], outward[2]) - np.arccos(
        (outward[2] + travel / radius) / np.hypot(outward[2], upward[2])
    )
    shift = radius * (np.outer(outward, np.cos(swing) - 1.0) + np.outer(upward, np.sin(swing)))
    found = multibody.solve(points, travel)
    lengths = max(
        float(np.abs(found[name] - getattr(points, name)[:, None] - shift).max())
        for name in ("wheel", "lower_outer", "upper_outer", "steering_outer")
    )
    angles = max(float(np.degrees(np.abs(found[name]).max())) for name in ("camber", "toe"))
    figures("multibody engine on skew parallel arms, closed form", f"{lengths:.1e} mm, {angles:.1e} deg")
    assert lengths <= LENGTH_TOLERANCE
    assert angles <= ANGLE_TOLERANCE


def test_engine_on_a_planar_double_wishbone(figures: Figures) -> None:
    """Lower arm 13, upright 7, upper arm 8 about (5, 7), times 30 mm; the tie rod moves as part of the lower arm."""
    table = np.array([[0.0, 0.0], [10.0, 16.3816], [20.0, 33.5778], [30.0, 52.6316], [40.0, 75.0545], [50.0, 102.111]])
    scale, ride = 30.0, 2
    centre = scale * np.array([5.0, 7.0])
    a = np.radians(table[:, 0])
    lower = 13.0 * scale * np.array([np.cos(a), np.sin(a)])
    b = _upper_angle(lower, centre, 8.0 * scale, 7.0 * scale)
    assert np.degrees(b) == pytest.approx(table[:, 1], abs=PRINTED)
    upper = centre[:, None] + 8.0 * scale * np.array([np.cos(b), np.sin(b)])

    def spatial(front_view: np.ndarray, x: float = 0.0) -> np.ndarray:
        return np.array([x, *front_view])

    along_x = np.array([1.0, 0.0, 0.0])
    points = Hardpoints(
        lower_axis=axis_points(np.zeros(3), along_x),
        upper_axis=axis_points(spatial(centre, 20.0), along_x),
        lower_outer=spatial(lower[:, ride]),
        upper_outer=spatial(upper[:, ride]),
        steering_outer=spatial(lower[:, ride], -110.0),
        inner_joint=np.array([-60.0, 0.0, 0.0]),
        wheel=spatial(lower[:, ride]),  # so that travel is the height of the lower outer pivot
        spin=np.array([0.0, 1.0, 0.0]),
        outer_bolt=np.array([0.0, 0.0, 1.0]),
        inner_bolt=along_x,
        loaded_radius=300.0,
    )
    found = multibody.solve(points, lower[1] - lower[1, ride])
    lengths = max(np.abs(found["upper_outer"][1:] - upper).max(), np.abs(found["lower_outer"][1:] - lower).max())
    kingpin = np.arctan2(*(upper - lower))  # from upright, + top outboard, as camber
    angles = np.degrees(np.abs(found["camber"] - kingpin + kingpin[ride]).max())
    figures("multibody engine on a planar double wishbone, cosine rule", f"{lengths:.1e} mm, {angles:.1e} deg")
    assert lengths <= LENGTH_TOLERANCE
    assert angles <= ANGLE_TOLERANCE


def _upper_angle(lower: np.ndarray, centre: np.ndarray, arm: float, upright: float) -> np.ndarray:
    """Angle of the upper arm by the cosine rule on the triangle of arm, upright and the line between their far ends."""
    line = lower - centre[:, None]
    length = np.hypot(*line)
    inside = np.arccos((arm**2 + length**2 - upright**2) / (2.0 * arm * length))
    return np.asarray(np.arctan2(line[1], line[0]) + inside)


def worst(corner: Corner, candidate: Candidates, travel: np.ndarray, turned: float) -> tuple[float, float]:
    """Largest difference of any length (mm) and any angle (degrees), the steering turned by a share of its way."""
    gear, most = gear_of(corner)
    theirs = multibody.solve(rigid_body.hardpoints(corner, candidate), travel, turned * most, gear)
    ours = curves_at(corner, candidate, travel, corner.steering.shift(np.asarray(turned * corner.steering.lock)))

    def largest(names: tuple[str, ...]) -> float:
        return max(float(np.abs(getattr(ours, name)[..., 0, :] - theirs[name]).max()) for name in names)

    return largest(LENGTHS), float(np.degrees(largest(ANGLES)))


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_shipped_scenarios(path: Path, figures: Figures) -> None:
    """Over the required travel, straight ahead and with the inner joint shifted either way."""
    scenario = load_scenario(path)
    steering = scenario.corner.steering
    steering = replace(steering, inner_region=None, rack_travel=steering.rack_travel or RACK)  # joint as in the file
    corner, candidate = replace(scenario.corner, steering=steering), nominal_candidate(scenario).as_batch
    travel = np.linspace(-corner.travel.droop, corner.travel.bump, 21)
    lengths, angles = np.max([worst(corner, candidate, travel, turned) for turned in (0.0, -1.0, 1.0)], axis=0)
    figures(f"linkage vs multibody engine, {path.stem}", f"{lengths:.1e} mm, {angles:.1e} deg")
    assert lengths <= LENGTH_TOLERANCE
    assert angles <= ANGLE_TOLERANCE


def test_random_corners(figures: Figures) -> None:
    """Halfway to each lock as well as straight ahead; every second corner with a pitman arm in place of its rack."""
    cases, rejected = assembling_corners(100, seed=31)
    rng = np.random.default_rng(32)
    found = []
    for number, (drawn, candidate) in enumerate(cases):
        corner = with_pitman(drawn, rng) if number % 2 else drawn
        travel = np.linspace(-corner.travel.droop, corner.travel.bump, 7)
        found += [worst(corner, candidate, travel, turned) for turned in (0.0, -0.5, 0.5)]
    lengths, angles = np.max(found, axis=0)
    figures(
        f"linkage vs multibody engine, {len(cases)} random corners, rack and pitman arm, 7 travels x 3 steering places "
        f"({rejected} more lock, left out)",
        f"{lengths:.1e} mm, {angles:.1e} deg",
    )
    assert lengths <= LENGTH_TOLERANCE
    assert angles <= ANGLE_TOLERANCE
