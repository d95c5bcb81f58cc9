"""Steer angles of both wheels against plane geometry, and true rolling against axles that meet (Ackermann).

With the steering axis upright and the wheel held at ride height the outer joint runs on a level circle about it, so the
tie rod's length leaves one equation, linear in cosine and sine of the steer angle. True rolling is judged by drawing
both front axles until they meet the rear one: common knowledge of the trade, no source; the geometry is exact.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from objectives.corner import Candidates, Corner, Pitman, Spindle
from objectives.evaluate import measure
from objectives.turning import true_rolling, turning_of
from tests.reference.planar import planar_corner

ANGLE = 1e-9  # degrees: rounding at a metre
WHEELBASE = 2350.0
KINGPIN = np.array([5.0, -100.0])  # x and y from the wheel centre, both pivots
SHARES = np.linspace(-1.0, 1.0, 9)


def upright(
    steering_arm: tuple[float, float], joint: tuple[float, float], toe: float = 0.0
) -> tuple[Corner, Candidates]:
    """Corner with an upright steering axis and a level tie rod; steering arm from that axis, joint in the frame."""
    corner = planar_corner((250.0, 20.0))
    lower, upper = np.array([*KINGPIN, -112.0]), np.array([*KINGPIN, 118.0])
    outer = np.array([*(KINGPIN + steering_arm), -20.0])
    corner = replace(
        corner,
        static_toe=toe,
        spindle=Spindle(lower, upper, outer),
        steering=replace(
            corner.steering,
            inner_joint=np.array([*joint, corner.ground_z + corner.tyre.loaded_radius - 20.0]),
            rack_travel=40.0,
        ),
    )
    return corner, Candidates(300.0, 235.0, 0.0)


def steer_angle(corner: Corner, shift: np.ndarray) -> float:
    """Angle, anticlockwise, at which the outer joint is the tie rod's length from the inner one, radians.

    |Q + R(t) a - J| = L with a level joint: with p = J - Q, a.a + p.p - L^2 = 2 p.R(t) a.
    """
    toe = corner.static_toe
    ahead = np.array([[np.cos(toe), np.sin(toe)], [-np.sin(toe), np.cos(toe)]])  # + toe turns the left wheel clockwise
    wheel = np.array([0.0, corner.half_track])
    axis = wheel + ahead @ KINGPIN
    arm = ahead @ (corner.spindle.steering_pivot[:2] - KINGPIN)
    inner = np.array(corner.steering.inner_joint[:2])
    length = np.linalg.norm(axis + arm - inner)
    # what the joint rises, as a tilted pitman arm does, is taken off the rod's level part
    level = length**2 - shift[2] ** 2
    to = inner + shift[:2] - axis
    half = 0.5 * (arm @ arm + to @ to - level)
    along, across = to @ arm, to[1] * arm[0] - to[0] * arm[1]
    middle, spread = np.arctan2(across, along), np.arccos(half / np.hypot(along, across))
    found: float = min((middle - spread, middle + spread), key=abs)
    return found


@pytest.mark.parametrize("toe", [0.0, np.radians(0.6)])
@pytest.mark.parametrize(("arm", "joint"), [((-110.0, -12.0), (-130.0, 260.0)), ((115.0, 8.0), (90.0, 240.0))])
def test_rack_against_plane_geometry(arm: tuple[float, float], joint: tuple[float, float], toe: float) -> None:
    corner, candidate = upright(arm, joint, toe)
    turning = turning_of(corner, candidate, SHARES, WHEELBASE)
    side = 1.0 if arm[0] > 0.0 else -1.0  # an arm behind the axle: the rack goes right to steer left
    for share, left, right in zip(SHARES, turning.left, turning.right, strict=True):
        shift = np.array([0.0, side * share * 40.0, 0.0])
        assert np.degrees(left) == pytest.approx(np.degrees(steer_angle(corner, shift) - toe), abs=ANGLE)
        # the right-hand wheel in a mirror: rack and steer angle the other way
        assert np.degrees(right) == pytest.approx(np.degrees(-steer_angle(corner, -shift) + toe), abs=ANGLE)
    assert turning.left[-1] > np.radians(15.0), "to the left is positive"
    assert turning.input == pytest.approx(SHARES * 40.0)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_pitman_against_plane_geometry(way: float) -> None:
    """A pitman arm behind its upright shaft, behind the axle: the joint goes right to steer left."""
    corner, candidate = upright((-110.0, -12.0), (-130.0, 260.0))
    joint = corner.steering.inner_joint
    box = Pitman(joint + np.array([120.0, 0.0, 33.0]), np.array([0.0, 0.0, way]), np.radians(18.0))
    corner = replace(corner, steering=replace(corner.steering, rack_travel=0.0, pitman=box))
    turning = turning_of(corner, candidate, SHARES, None)
    assert np.isnan(turning.ackermann_error).all()
    for share, left, right in zip(SHARES, turning.left, turning.right, strict=True):
        for angle, swing in ((left, share), (-right, -share)):
            turned = swing * np.radians(18.0)  # anticlockwise from above: the joint behind the shaft goes right
            shift = 120.0 * np.array([1.0 - np.cos(turned), -np.sin(turned), 0.0])
            assert np.degrees(angle) == pytest.approx(np.degrees(steer_angle(corner, shift)), abs=ANGLE)
    assert turning.left[-1] > np.radians(10.0)
    assert np.degrees(turning.input) == pytest.approx(SHARES * 18.0)


def meeting(axle_at: np.ndarray, heading: float) -> float:
    """y at which a wheel's axle, through `axle_at`, meets the rear axle's line; heading to the left positive."""
    along = np.array([-np.sin(heading), np.cos(heading)])
    return float(axle_at[1] + (-WHEELBASE - axle_at[0]) / along[0] * along[1])


@pytest.mark.parametrize("arm", [(-110.0, -12.0), (-110.0, 20.0), (115.0, 8.0)])
def test_the_ackermann_error_is_what_keeps_the_axles_from_meeting(arm: tuple[float, float]) -> None:
    corner, candidate = upright(arm, (arm[0] - 5.0, 250.0))
    # the axles are drawn through the steering axes, set on the front-axle line
    kingpin = np.array([0.0, corner.half_track + KINGPIN[1]])
    turning = turning_of(corner, candidate, SHARES, WHEELBASE)
    assert turning.ackermann_error[4] == pytest.approx(0.0, abs=1e-12)
    for share, left, right, error in zip(SHARES, turning.left, turning.right, turning.ackermann_error, strict=True):
        if share == 0.0:
            continue
        inside, outside = (left, right) if share > 0.0 else (right, left)
        at_inside = kingpin * [1.0, np.sign(share)]
        centre = meeting(at_inside, inside)
        true_outside = outside - np.sign(share) * error
        assert meeting(at_inside * [1.0, -1.0], true_outside) == pytest.approx(centre, abs=1e-6)
        assert abs(centre) > kingpin[1], "the inside wheel is the one on the turn's side"
        assert np.sign(centre) == np.sign(share)
    mirrored = turning.ackermann_error[::-1]
    assert turning.ackermann_error == pytest.approx(mirrored, abs=1e-12)
    assert turning.left == pytest.approx(-turning.right[::-1], abs=1e-12)
    assert np.abs(turning.ackermann_error).max() > np.radians(0.2)


def test_arms_that_point_at_the_rear_axle_come_near_true_rolling() -> None:
    """Common practice, no source: steering arms behind that aim at the rear axle's middle roll nearly true, parallel
    ones turn the outside wheel too far."""
    corner, candidate = upright((-110.0, 0.0), (-110.0, 230.0))
    inboard = 110.0 * (corner.half_track + KINGPIN[1]) / WHEELBASE
    aimed, _ = upright((-110.0, -inboard), (-110.0, 230.0))
    parallel, near = (turning_of(c, candidate, np.ones(1), WHEELBASE).ackermann_error[0] for c in (corner, aimed))
    assert parallel > abs(near)
    assert parallel > np.radians(1.0)


def test_true_rolling_of_parallel_wheels_needs_no_width() -> None:
    angle = np.radians([-30.0, -1.0, 0.0, 1.0, 30.0])
    assert true_rolling(angle, 0.0, WHEELBASE) == pytest.approx(angle, abs=1e-15)


def test_where_the_tie_rod_does_not_reach_there_is_no_angle() -> None:
    """The rack goes past the point where rod and steering arm lie in line: no number there."""
    corner, candidate = upright((-110.0, -12.0), (-130.0, 260.0))
    far = replace(corner, steering=replace(corner.steering, rack_travel=140.0))
    turning = turning_of(far, candidate, SHARES, WHEELBASE)
    for share, left in zip(SHARES, turning.left, strict=True):
        with np.errstate(invalid="ignore"):
            closed = steer_angle(corner, np.array([0.0, -share * 140.0, 0.0]))
        assert np.isnan(left) == np.isnan(closed)
        if np.isfinite(left):
            assert np.degrees(left) == pytest.approx(np.degrees(closed), abs=ANGLE)
    assert np.isnan(turning.left).any()
    assert np.isfinite(turning.left).any()
    assert (np.isnan(turning.ackermann_error) == (np.isnan(turning.left) | np.isnan(turning.right))).all()
    measured = measure(far, candidate)
    assert measured["droop_limit"][0] == measured["bump_limit"][0] == 0.0
    assert measured["limited_by"][0].startswith("tie rod locked at ")
    assert measured["assembled_droop"][0] == measured["assembled_bump"][0] == 0.0
    assert not measured["complete"][0]
    for name in ("droop_limit", "bump_limit", "assembled_droop", "assembled_bump", "arm_length", "tie_rod_length"):
        assert np.isfinite(measured[name][0]), name
