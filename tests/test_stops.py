"""Bump stop, droop stop and strap keep the margin at every steering, and words and files say the same numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from objectives.corner import BallJoint, Candidates
from objectives.curves import curves_at
from objectives.joints import joints_of
from objectives.steering import steered_to
from objectives.turning import turning_of
from optimizer.candidate import Candidate, candidate_at
from optimizer.outputs import steering_table
from optimizer.part_advice import part_advice, stop_advice, turning_advice
from optimizer.scenario import Scenario, parse_scenario
from optimizer.stops import stops_of
from tests.part_cases import FULL, STEERING_BOX, changed
from tests.reference import parts, rigid_body
from tests.reference.corners import random_corners

ANGLE = 1e-7  # degrees past the margin: a stop settled to 1e-9 mm
PLACES = np.linspace(-1.0, 1.0, 21)


def built(scenario: Scenario) -> Candidate:
    return candidate_at(scenario, 275.0, 232.0, 0.0)


def in_scenario(scenario: Scenario, corner: object, candidate: Candidates) -> Candidate:
    y, z, camber = (float(part[0]) for part in (candidate.pivot_y, candidate.pivot_z, candidate.static_camber))
    return Candidate(replace(scenario, corner=corner), y, z, camber)


def test_the_margin_is_kept_at_every_steering() -> None:
    """Angles of all joints at both stops, at 21 steering places, stay the margin below; one of them uses it up."""
    scenario = parse_scenario(FULL)
    bound: set[str] = set()
    for number, (corner, candidate) in enumerate(random_corners(8, seed=91)):
        if number % 2:
            axis = np.array([0.05, -0.2, 1.0]) / np.linalg.norm([0.05, -0.2, 1.0])
            corner = replace(corner, lower_outer_joint=BallJoint(axis, np.array([0.0, 0.0, 1.0]), 0.45))
        elif number % 4 == 2:
            outer, inner = corner.steering.outer_rod_end, corner.steering.inner_rod_end
            upright = replace(inner, axis=np.array([0.0, 0.0, 1.0]), max_angle=0.4)
            steering = replace(corner.steering, outer_rod_end=replace(outer, max_angle=1.2), inner_rod_end=upright)
            corner = replace(corner, steering=steering)
        chosen = in_scenario(scenario, corner, candidate)
        stops = stops_of(chosen)
        assert 0.0 <= stops.droop <= corner.travel.droop
        assert 0.0 <= stops.bump <= corner.travel.bump
        many = candidate.take(np.zeros(PLACES.size, dtype=int))
        for travel, by in ((-stops.droop, stops.droop_limited_by), (stops.bump, stops.bump_limited_by)):
            if travel == 0.0 or "locked" in by:
                continue
            curves = curves_at(corner, many, np.array([travel]), steered_to(corner, PLACES).shift)
            room = [joint.max_angle - getattr(curves, joint.column)[:, 0].max() for joint in joints_of(corner)]
            assert min(room) >= scenario.rod_end_margin - np.radians(ANGLE)
            if " lock" in by and "towards" not in by and "shock" not in by:
                assert min(room) == pytest.approx(scenario.rod_end_margin, abs=np.radians(ANGLE))
                bound.add(by.split(" at ")[0])
    assert bound >= {"outer rod end", "inner rod end", "lower outer joint"}


def test_a_wider_margin_never_lets_the_wheel_go_farther() -> None:
    found = []
    for margin in (0.0, 2.0, 5.0, 12.0, 25.0, 60.0):
        chosen = built(parse_scenario(changed("rod_end_margin_deg = 3.0", f"rod_end_margin_deg = {margin}")))
        stops = stops_of(chosen)
        found.append((stops.droop, stops.bump))
        if margin == 0.0:
            measured = chosen.measures()
            assert stops.droop == pytest.approx(min(measured["droop_limit"], 220.0), abs=1e-9)
            assert stops.bump == pytest.approx(min(measured["bump_limit"], 180.0), abs=1e-9)
    assert (np.diff(found, axis=0) <= 1e-9).all()
    assert found[0][0] > found[3][0] + 1.0
    assert found[-1] == (0.0, 0.0)


def test_the_strap_from_the_rigid_body() -> None:
    """Taut at the droop stop at whichever swept steering position brings its ends nearest."""
    scenario = parse_scenario(FULL)
    chosen = built(scenario)
    stops, corner, strap = stops_of(chosen), scenario.corner, scenario.strap
    points, laid_out = rigid_body.hardpoints(corner, chosen.as_batch), parts.nominal_points(corner, chosen.as_batch)
    lengths = []
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        sweep = rigid_body.solve(points, np.array([-stops.droop]), share * corner.steering.rack_travel)
        end = parts.mount_at(points, laid_out, "lower", strap.arm_point, sweep.lower_outer[:, 0])
        lengths.append(np.linalg.norm(end - strap.frame_point))
    assert stops.strap == pytest.approx(min(lengths), abs=1e-9)
    assert max(lengths) > min(lengths) + 0.1, "steering lifts the wheel"
    at_ride = np.linalg.norm(np.subtract(strap.arm_point, strap.frame_point))
    assert stops.strap > at_ride


def test_advice_says_what_was_measured() -> None:
    scenario = parse_scenario(FULL)
    chosen = built(scenario)
    found, stops = chosen.measures(), stops_of(chosen)
    said = stop_advice(chosen)
    assert f"Stop droop at {stops.droop:.0f} mm below ride" in said[0]
    assert f"bump at {stops.bump:.0f} mm above ride" in said[0]
    assert "3.00 deg (targets.rod_end_margin_deg)" in said[0]
    assert f"Droop is set by {stops.droop_limited_by}, bump by {stops.bump_limited_by}." in said[0]
    assert f"Limit strap: {stops.strap:.0f} mm" in said[1]
    blocks = part_advice(chosen, found)
    text = " ".join(item for block in blocks for item in getattr(block, "items", ()))
    for joint in joints_of(scenario.corner):
        worst = np.degrees(found[f"{joint.column}_worst"])
        assert f"{joint.name.capitalize()}: up to {worst:.2f} deg" in text
    assert f"Motion ratio at ride: {found['motion_ratio']:.3f}" in text
    for end in ("droop", "bump"):
        assert f"At full {end} the shock is {found[f'shock_full_{end}']:.0f} mm long" in text
    assert "INA catalogue 238" in text
    (_, points) = turning_advice(chosen)
    turning = turning_of(scenario.corner, chosen.as_batch, np.ones(1), 2350.0)
    assert f"inside wheel turns {np.degrees(turning.left[0]):.2f} deg" in points.items[0]
    assert f"outside one {np.degrees(turning.right[0]):.2f} deg" in points.items[0]
    error = np.degrees(turning.ackermann_error[0])
    assert f"{abs(error):.2f} deg {'more' if error > 0.0 else 'less'} than it would roll true" in points.items[1]


def test_a_lock_out_of_reach_is_said_in_words() -> None:
    scenario = parse_scenario(changed("rack_travel = 35.0", "rack_travel = 300.0"))
    (_, points) = turning_advice(built(scenario))
    assert "does not reach" in points.items[0]
    assert "nan" not in " ".join(points.items)
    assert stops_of(built(scenario)).droop == 0.0


@pytest.mark.parametrize("text", [FULL, STEERING_BOX], ids=["rack", "steering box"])
def test_steering_table_is_what_turning_says(text: str) -> None:
    scenario = parse_scenario(text)
    table = steering_table(built(scenario))
    first = "rack_travel" if text == FULL else "pitman_angle_deg"
    assert list(table) == [first, "left_wheel_deg", "right_wheel_deg", "ackermann_error_deg"]
    lock = 35.0 if text == FULL else 16.0
    assert table[first] == pytest.approx(np.linspace(-lock, lock, 41))
    assert table["left_wheel_deg"] == pytest.approx(-table["right_wheel_deg"][::-1], abs=1e-12)
    assert table["left_wheel_deg"][-1] > 5.0
    assert table["ackermann_error_deg"][20] == pytest.approx(0.0, abs=1e-9)
