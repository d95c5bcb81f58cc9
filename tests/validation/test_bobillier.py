"""No bump steer to second order: the inner tie-rod joint at the centre of curvature of the outer one's path.

E. A. Dijksman, Motion Geometry of Mechanisms, Cambridge, 1976, on Bobillier's construction (recalled from memory,
page unverified): the angle from the common tangent of the centrodes to one ray from the instant centre P equals that
from the other ray to the collineation axis, the line from P to where the line of both moving pivots meets that of
both fixed ones. Two arms give the tangent; with one arm and the tangent, the centre of curvature of any other point
follows. The trade's rule that the rod point at the instant centre and be of the right length is the same (Milliken
and Milliken, Race Car Vehicle Dynamics, 1995, chapter 19, from memory).

A rod square to the vehicle whose inner joint lies there steers by the third power of travel; elsewhere on the same
ray, by the second; off the ray, by the first. The orders are read from travels of 1 and 2 mm; what the next power
adds there is below a tenth.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from objectives.corner import Candidates, Corner
from objectives.curves import curves_at
from objectives.evaluate import measure
from tests.reference.planar import planar_corner

NEAR = 0.1  # of an order
PLACED = 0.5  # mm; the joint placed for 2 mm of travel each way against that for none
STEERING = np.array([-104.0, -100.0, -25.0])  # from the wheel centre
SHAPES = {"arms meet inboard": ((250.0, 20.0), (300.0, 235.0)), "short upper arm": ((250.0, 20.0), (345.0, 200.0))}


def crossing(one: np.ndarray, along: np.ndarray, other: np.ndarray, beside: np.ndarray) -> np.ndarray:
    """Where two lines of the front view meet, each a point and a direction."""
    share = np.linalg.solve(np.column_stack((along, -beside)), other - one)[0]
    return np.asarray(one + share * along)


def ray(angle: float) -> np.ndarray:
    return np.array([np.cos(angle), np.sin(angle)])


def towards(start: np.ndarray, end: np.ndarray) -> float:
    return float(np.arctan2(*(end - start)[::-1]))


def centre_of_curvature(moving: np.ndarray, fixed: np.ndarray, point: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Instant centre, and centre of curvature of a point's path, by Bobillier; two moving and two fixed pivots."""
    pole = crossing(fixed[0], moving[0] - fixed[0], fixed[1], moving[1] - fixed[1])
    meet = crossing(moving[0], moving[1] - moving[0], fixed[0], fixed[1] - fixed[0])
    first, second, third = (towards(pole, at) for at in (*moving, point))
    tangent = first + second - towards(pole, meet)
    axis = ray(first + third - tangent)
    meet = crossing(moving[0], point - moving[0], pole, axis)
    return pole, crossing(fixed[0], meet - fixed[0], pole, point - pole)


@pytest.fixture(params=SHAPES.values(), ids=SHAPES.keys())
def case(request: pytest.FixtureRequest) -> tuple[Corner, Candidates, np.ndarray, np.ndarray]:
    """Corner, candidate, instant centre and centre of curvature at ride."""
    lower, upper = request.param
    plain = planar_corner(lower)
    corner, candidate = replace(plain, spindle=replace(plain.spindle, steering_pivot=STEERING)), Candidates(*upper, 0.0)
    ride = curves_at(corner, candidate, np.zeros(1))
    moving = np.array([ride.lower_outer[1:, 0, 0], ride.upper_outer[1:, 0, 0]])
    pole, centre = centre_of_curvature(moving, np.array([lower, upper]), ride.steering_outer[1:, 0, 0])
    return corner, candidate, pole, centre


def order(corner: Corner, candidate: Candidates, joint: np.ndarray) -> float:
    """Power of travel by which the toe grows."""
    moved = replace(corner, steering=replace(corner.steering, inner_joint=np.array([STEERING[0], *joint])))
    near, far = (np.abs(curves_at(moved, candidate, np.array([h, -h])).toe[0]).max() for h in (1.0, 2.0))
    return float(np.log2(far / near))


def test_orders_of_bump_steer(case: tuple[Corner, Candidates, np.ndarray, np.ndarray]) -> None:
    corner, candidate, pole, centre = case
    along = (pole - centre) / np.linalg.norm(pole - centre)
    across = np.array([-along[1], along[0]])
    assert order(corner, candidate, centre) == pytest.approx(3.0, abs=NEAR)
    for move in (-60.0, 60.0):
        assert order(corner, candidate, centre + move * along) == pytest.approx(2.0, abs=NEAR)
        assert order(corner, candidate, centre + 0.5 * move * across) == pytest.approx(1.0, abs=NEAR)


def test_the_joint_that_is_placed_for_a_short_travel(case: tuple[Corner, Candidates, np.ndarray, np.ndarray]) -> None:
    """The search for the least bump steer in a region knows nothing of curvature and ends up there."""
    corner, candidate, _, centre = case
    region = np.stack((centre - 40.0, centre + 30.0), axis=1)
    steering = replace(corner.steering, inner_joint=np.array([STEERING[0], *centre]), inner_region=region)
    short = replace(corner.travel, bump=2.0, droop=2.0, droop_cap=2.0)
    found = measure(replace(corner, steering=steering, travel=short), candidate)
    placed = np.array([found["inner_joint_y"][0], found["inner_joint_z"][0]])
    assert placed == pytest.approx(centre, abs=PLACED)
