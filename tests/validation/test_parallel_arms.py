"""Equal parallel arms: everything about the corner in closed form.

Derived here from plane geometry, no source needed: the spindle only shifts, on the arms' own circle of radius r. With a
the arms' slope, z = r (sin a - sin a0) is the travel, r (cos a - cos a0) the sideways shift, and the tie rod, which
moves as part of the lower arm, has the slope a too where its ends lie side by side. Nothing is rounded; the tolerance
is that of double precision at a metre, or of the root found.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from objectives.corner import Candidates, Corner, Travel
from objectives.curves import curves_at
from objectives.evaluate import measure
from tests.reference.planar import GROUND, HALF_TRACK, LOWER, UPPER, WHEEL_Z, parallel_arms

EXACT = 1e-10  # mm or rad
LEVEL = 1e-6  # mm; the place of a least gap in mid-travel is found to a ten-thousandth of the travel
RADIUS, RIDE_ANGLE = 400.0, np.radians(-12.0)  # outer end below the inner one
TRAVEL = np.linspace(-120.0, 100.0, 23)
BUMP, DROOP = 100.0, 120.0


@pytest.fixture
def case() -> tuple[Corner, Candidates]:
    return parallel_arms(RADIUS, RIDE_ANGLE)


@pytest.fixture
def short_travel(case: tuple[Corner, Candidates]) -> tuple[Corner, Candidates]:
    """The same corner asked for 100 mm of bump and 120 mm of droop, both ends of the rod side by side."""
    corner, candidate = case
    steering = corner.steering
    joint = np.array([LOWER[0] - 110.0, *steering.inner_joint[1:]])
    travel = Travel(BUMP, DROOP, 300.0)
    return replace(corner, travel=travel, steering=replace(steering, inner_joint=joint)), candidate


def slope_at(travel: float | np.ndarray) -> np.ndarray:
    return np.arcsin(np.sin(RIDE_ANGLE) + np.asarray(travel) / RADIUS)


def test_camber_and_toe_do_not_change(case: tuple[Corner, Candidates]) -> None:
    curves = curves_at(*case, TRAVEL)
    assert np.abs(curves.camber).max() < EXACT
    assert np.abs(curves.toe).max() < EXACT


def test_contact_centre_moves_on_the_arms_circle(case: tuple[Corner, Candidates]) -> None:
    curves = curves_at(*case, TRAVEL)
    shift = RADIUS * (np.cos(slope_at(TRAVEL)) - np.cos(RIDE_ANGLE))
    assert curves.contact[1, 0] - HALF_TRACK == pytest.approx(shift, abs=EXACT)
    assert curves.contact[2, 0] - GROUND == pytest.approx(TRAVEL, abs=EXACT)
    assert curves.arm_length[0] == pytest.approx(RADIUS, abs=EXACT)


def test_goes_no_higher_than_upright_arms(case: tuple[Corner, Candidates]) -> None:
    """No wheel height lies above the arms' vertical: r(1 - sin a0)."""
    bump = RADIUS * (1.0 - np.sin(RIDE_ANGLE))
    travel = np.array([0.0, bump - 0.1, bump + 0.1])
    assert np.isfinite(curves_at(*case, travel).camber[0]).tolist() == [True, True, False]


def test_droop_ends_where_the_tie_rod_lies_in_line(case: tuple[Corner, Candidates]) -> None:
    """The tie rod keeps parallel to the arms, so it comes in line with the spindle, and may flip there,
    where the arms hang parallel to the kingpin."""
    kingpin = UPPER - LOWER
    in_line = RADIUS * (np.sin(RIDE_ANGLE) + kingpin[2] / np.hypot(kingpin[1], kingpin[2]))
    travel = np.array([-in_line - 0.1, -in_line + 0.1, 0.0])
    assert np.isfinite(curves_at(*case, travel).camber[0]).tolist() == [False, True, True]


def test_scrub(short_travel: tuple[Corner, Candidates]) -> None:
    """The contact centre is farthest out where the arms lie level, which they do on the way to full bump."""
    ends = np.cos(slope_at(np.array([-DROOP, BUMP])))
    assert slope_at(-DROOP) < 0.0 < slope_at(BUMP)
    assert measure(*short_travel)["scrub"][0] == pytest.approx(RADIUS * (1.0 - ends.min()), abs=EXACT)


def test_no_bump_steer(short_travel: tuple[Corner, Candidates]) -> None:
    assert measure(*short_travel)["bump_steer"][0] == pytest.approx(0.0, abs=EXACT)


def test_camber_error_is_that_of_the_target_alone(short_travel: tuple[Corner, Candidates]) -> None:
    """Camber stays 0, so the error is the RMS of the target: from p to q over a piece of travel, (p^2 + pq + q^2)/3."""
    corner, candidate = short_travel
    target = np.array([[-DROOP, 0.03], [-30.0, -0.01], [10.0, 0.02], [BUMP, -0.025]])
    mean = sum(
        (end[0] - begin[0]) * (begin[1] ** 2 + begin[1] * end[1] + end[1] ** 2) / 3.0 for begin, end in pairwise(target)
    ) / (BUMP + DROOP)
    found = measure(replace(corner, camber_curve=target), candidate)
    assert found["camber_error"][0] == pytest.approx(np.sqrt(mean), abs=EXACT)
    assert found["camber_bump"][0] == pytest.approx(0.0, abs=EXACT)
    assert found["camber_droop"][0] == pytest.approx(0.0, abs=EXACT)


@pytest.mark.parametrize("degrees", [20.0, 28.0, 40.0])
def test_droop_limit_of_an_upright_bolt(short_travel: tuple[Corner, Candidates], degrees: float) -> None:
    """Rod and arms have one slope, and the outer rod end's bolt keeps upright: r (sin a0 + sin of the angle)."""
    corner, candidate = short_travel
    steering = corner.steering
    end = replace(steering.outer_rod_end, max_angle=np.radians(degrees))
    found = measure(replace(corner, steering=replace(steering, outer_rod_end=end)), candidate)
    droop = RADIUS * (np.sin(RIDE_ANGLE) + np.sin(np.radians(degrees)))
    assert found["limited_by"][0] == "outer rod end"
    assert found["droop_limit"][0] == pytest.approx(droop, abs=1e-9)


def test_clearance_to_flat_plates(short_travel: tuple[Corner, Candidates]) -> None:
    """Upright tyre: a level plate above is nearest at full bump, an upright one inboard where the arms are steepest."""
    corner, candidate = short_travel
    tyre = corner.tyre
    above, inboard = 700.0, 560.0
    roof = np.array([[500.0, above], [1100.0, above]])
    wall = np.array([[inboard, -600.0], [inboard, 900.0]])
    gap_above = above - (WHEEL_Z + BUMP + tyre.radius)
    steepest = np.cos(slope_at(np.array([-DROOP, BUMP]))).min()
    inner_side = HALF_TRACK + RADIUS * (steepest - np.cos(RIDE_ANGLE)) - 0.5 * tyre.width
    for outlines, gap in (((roof,), gap_above), ((wall,), inner_side - inboard), ((roof, wall), None)):
        found = measure(replace(corner, outlines=outlines), candidate)["fender_clearance"][0]
        expected = min(gap_above, inner_side - inboard) if gap is None else gap
        assert found == pytest.approx(expected, abs=1e-9)


def test_clearance_to_a_point_beside_the_shoulder(short_travel: tuple[Corner, Candidates]) -> None:
    """The centre of the rounding of the tyre's outboard upper shoulder moves on a circle of the arms' radius too. A
    point on a radius of that circle, 25 mm beyond the rounding, is 25 mm from the tyre as it goes by in mid-travel."""
    corner, candidate = short_travel
    tyre = corner.tyre
    rounding = np.array([0.5 * tyre.width, tyre.radius]) - tyre.shoulder_radius
    ride = np.array([HALF_TRACK, WHEEL_Z]) + rounding
    centre = ride - RADIUS * np.array([np.cos(RIDE_ANGLE), np.sin(RIDE_ANGLE)])
    passed = 0.02
    assert slope_at(-DROOP) < passed < slope_at(BUMP)
    beyond = RADIUS + tyre.shoulder_radius + np.array([25.0, 85.0])
    outline = centre + np.outer(beyond, [np.cos(passed), np.sin(passed)])
    found = measure(replace(corner, outlines=(outline,)), candidate)["fender_clearance"][0]
    assert found == pytest.approx(25.0, abs=LEVEL)


def test_level_arms_have_their_roll_centre_on_the_ground() -> None:
    """Milliken & Milliken, Race Car Vehicle Dynamics, 1995, ch. 17 (memory): parallel level arms, roll centre at the
    ground; parallel sloping ones, on the line through the contact centre with their slope."""
    level = curves_at(*parallel_arms(RADIUS, 0.0), np.zeros(1))
    assert level.roll_centre_z[0, 0] == pytest.approx(GROUND, abs=EXACT)
    sloping = curves_at(*parallel_arms(RADIUS, RIDE_ANGLE), TRAVEL)
    height = sloping.contact[2, 0] - sloping.contact[1, 0] * np.tan(slope_at(TRAVEL))
    assert sloping.roll_centre_z[0] == pytest.approx(height, abs=1e-9)
