"""Each objective against its definition, worked out densely from curves at given travels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from objectives.corner import Candidates, Corner, Travel
from objectives.curves import curves_at
from objectives.evaluate import Measures, measure
from objectives.motion import move
from objectives.pieces import pieces_of
from objectives.registry import OBJECTIVES
from optimizer.scenario import load_scenario, parse_scenario
from tests.reference import rigid_body
from tests.reference.corners import random_corners
from tests.scenario_cases import LENGTHS, WHEEL, edited

Figures = Callable[[str, str], None]
DROOP_TOLERANCE = 1e-3  # mm: what the droop limit promises
CLOSE = 2e-4  # mm or 1e-4 deg: how near a dense table of 4001 rows comes to a curve's true extreme
SHIPPED = load_scenario(Path(__file__).parent.parent / "scenarios" / "buggy.toml").corner
BUGGY = replace(SHIPPED, steering=replace(SHIPPED.steering, rack_travel=0.0, inner_region=None), shock=None)


def one(y: float, z: float, camber_deg: float = 0.0) -> Candidates:
    return Candidates(y, z, np.radians(camber_deg))


CASES = [one(275.0, 232.0), one(243.0, 245.0, 0.4), one(300.0, 240.0, -0.2), one(190.0, 215.0, 0.5)]


def required(corner: Corner, rows: int = 4001) -> np.ndarray:
    return np.linspace(-corner.travel.droop, corner.travel.bump, rows)


def value(measured: Measures, name: str) -> float:
    return float(measured[name][0])


@pytest.mark.parametrize("candidate", CASES)
def test_spreads_and_camber_error(candidate: Candidates) -> None:
    travel = required(BUGGY)
    curves, measured = curves_at(BUGGY, candidate, travel), measure(BUGGY, candidate)
    assert value(measured, "scrub") == pytest.approx(np.ptp(curves.contact[1, 0]), abs=CLOSE)
    assert np.degrees(value(measured, "bump_steer")) == pytest.approx(np.degrees(np.ptp(curves.toe)), abs=CLOSE)
    off = curves.camber[0] - np.interp(travel, *BUGGY.camber_curve.T)
    rms = np.sqrt(np.trapezoid(off**2, travel) / np.ptp(travel))
    assert np.degrees(value(measured, "camber_error")) == pytest.approx(np.degrees(rms), abs=CLOSE)
    assert value(measured, "camber_bump") == pytest.approx(curves.camber[0, -1], abs=1e-11)
    assert value(measured, "camber_droop") == pytest.approx(curves.camber[0, 0], abs=1e-11)


@pytest.mark.parametrize(
    ("plate", "passes_midway"),
    [
        (((300.0, 60.0), (560.0, 60.0)), False),
        (((930.0, 60.0), (1200.0, 60.0)), True),
        (((860.0, 100.0), (860.0, 700.0)), False),
    ],
    ids=["inboard", "outboard", "through the tyre"],
)
def test_clearance_over_travel(plate: tuple[tuple[float, float], ...], passes_midway: bool) -> None:
    """Plates edge on; the wheel moves on an arc, so one outboard is nearest somewhere in mid-travel."""
    corner = replace(BUGGY, outlines=(np.array(plate), np.array([[700.0, 900.0], [900.0, 900.0]])))
    for candidate in CASES:
        gaps = curves_at(corner, candidate, required(corner)).fender_clearance[0]
        assert value(measure(corner, candidate), "fender_clearance") == pytest.approx(gaps.min(), abs=CLOSE)
        if passes_midway:
            assert 0 < gaps.argmin() < gaps.size - 1


def test_droop_limit_is_where_the_independent_engine_has_the_rod_end_at_its_angle(figures: Figures) -> None:
    """Rod-end angle by the rigid-body engine just short of and just beyond the limit found."""
    found, worst = 0, 0.0
    for steered, candidate in random_corners(40, seed=11):
        corner = replace(steered, steering=replace(steered.steering, rack_travel=0.0))
        measured = measure(corner, candidate)
        name, limit = measured["limited_by"][0], value(measured, "droop_limit")
        if name not in ("outer rod end", "inner rod end") or not 1.0 < limit < corner.travel.droop:
            continue
        travel = -limit + np.array([DROOP_TOLERANCE, -DROOP_TOLERANCE])
        sweep = rigid_body.solve(rigid_body.hardpoints(corner, candidate), np.array([0.0, *travel]))
        side = name.split()[0]
        most = getattr(corner.steering, f"{side}_rod_end").max_angle
        angle = getattr(sweep, f"{side}_rod_end")[1:]
        assert angle[0] < most < angle[1]
        worst = max(worst, DROOP_TOLERANCE * abs(np.interp(most, angle, [-1.0, 1.0])))
        found += 1
    figures("droop limit vs rigid body", f"within {worst:.1e} mm of the angle's limit in {found} corners")
    assert found >= 5


def test_droop_limit_is_capped_and_says_so() -> None:
    corner = replace(BUGGY, travel=Travel(180.0, 100.0, 120.0))
    measured = measure(corner, one(190.0, 215.0, 0.5))
    assert value(measured, "droop_limit") == 120.0
    assert measured["limited_by"][0] == "droop cap"


def test_droop_limit_falls_with_the_rod_ends_angle() -> None:
    def limit(degrees: float) -> float:
        end = replace(BUGGY.steering.outer_rod_end, max_angle=np.radians(degrees))
        corner = replace(BUGGY, steering=replace(BUGGY.steering, outer_rod_end=end))
        return value(measure(corner, CASES[0]), "droop_limit")

    limits = [limit(degrees) for degrees in (34.0, 28.0, 20.0, 10.0, 4.0)]
    assert limits == sorted(limits, reverse=True)
    assert len(set(limits)) == len(limits)


def test_a_rod_end_past_its_angle_at_ride_leaves_no_droop() -> None:
    end = replace(BUGGY.steering.outer_rod_end, max_angle=np.radians(1.0))
    corner = replace(BUGGY, steering=replace(BUGGY.steering, outer_rod_end=end))
    measured = measure(corner, CASES[0])
    assert value(measured, "droop_limit") == 0.0
    assert measured["limited_by"][0] == "outer rod end"


def test_lock_up_is_named_and_placed() -> None:
    """A candidate that locks: the place is where the independent engine stops assembling, to 1 mm."""
    candidate = one(395.0, 315.0)
    free = replace(BUGGY.steering.outer_rod_end, max_angle=np.radians(89.0))
    corner = replace(BUGGY, steering=replace(BUGGY.steering, outer_rod_end=free, inner_rod_end=free))
    measured = measure(corner, candidate)
    assert not measured["complete"][0]
    assert measured["limited_by"][0] in ("arms locked", "tie rod locked")
    limit = value(measured, "droop_limit")
    for name in ("camber_error", "scrub", "bump_steer", "fender_clearance"):
        assert np.isnan(value(measured, name))
    travel = np.array([0.0, -limit + 1.0, -limit - 1.0])
    stands = np.isfinite(rigid_body.solve(rigid_body.hardpoints(corner, candidate), travel).camber)
    assert stands.tolist() == [True, True, False]


def test_locks_count_for_rod_ends_and_clearance() -> None:
    """With rack travel, droop and clearance are the worst of straight ahead and both locks."""
    rack = 40.0
    steered = replace(BUGGY, steering=replace(BUGGY.steering, rack_travel=rack))
    for candidate in CASES:
        straight, worst = measure(BUGGY, candidate), measure(steered, candidate)
        assert value(worst, "droop_limit") <= value(straight, "droop_limit")
        for name in ("scrub", "camber_error", "bump_steer"):
            assert value(worst, name) == pytest.approx(value(straight, name), rel=1e-12)
        gaps = [
            curves_at(BUGGY, candidate, required(BUGGY, 801), np.array([0.0, shift, 0.0])).fender_clearance[0].min()
            for shift in (-rack, 0.0, rack)
        ]
        assert value(worst, "fender_clearance") == pytest.approx(min(gaps), abs=0.01)


def test_rows_beyond_all_that_is_counted() -> None:
    """Curves go on beyond required travel and both caps, as far as they are asked for: against the rigid body."""
    short = replace(BUGGY, travel=Travel(bump=40.0, droop=50.0, droop_cap=60.0, bump_cap=45.0))
    for candidate in CASES:
        for travel in (np.array([-150.0, -61.0, 0.0, 46.0, 150.0]), np.array([20.0, 120.0]), np.array([-120.0, -20.0])):
            expected = rigid_body.solve(rigid_body.hardpoints(short, candidate), travel)
            curves = curves_at(short, candidate, travel)
            assert np.isfinite(expected.camber).all()
            assert curves.camber[0] == pytest.approx(expected.camber, abs=1e-12)
            assert curves.contact[:, 0] == pytest.approx(expected.contact, abs=1e-9)


def test_every_objective_declares_what_it_returns() -> None:
    names = [objective.name for objective in OBJECTIVES]
    assert len(set(names)) == len(names)
    assert [objective.column for objective in OBJECTIVES if objective.on_by_default] == [
        "camber_error_deg",
        "scrub",
        "fender_clearance",
        "droop_limit",
        "bump_steer_deg",
    ]


TANK = '[[obstacles]]\nname = "tank"\npoints = [[430.0, 370.0], [400.0, 520.0]]\ndiameter = 50.0\n\n[build]'
PARTS = parse_scenario(
    edited(
        (LENGTHS, WHEEL),
        ("inner_joint", "tie_rod_diameter = 20.0\nrack_travel = 35.0\ninner_joint"),
        ("bump = 180.0", "bump = 180.0\nroll = 3.0"),
        ("[build]", TANK),
    )
).corner
FOUR = Candidates(np.array([275.0, 243.0, 300.0, 262.0]), np.array([232.0, 245.0, 240.0, 238.0]), 0.0)


def test_the_pieces_of_a_value_join_to_the_value() -> None:
    """Straight ahead; with the steering at five positions the pieces know what is worst at those, not between."""
    ahead = replace(PARTS, steering=replace(PARTS.steering, rack_travel=0.0))
    for corner in (ahead, PARTS):
        motion, measured = move(corner, FOUR), measure(corner, FOUR)
        assert measured["complete"].all()
        for objective in OBJECTIVES:
            pieces = pieces_of(objective)
            joined, whole = pieces.join(pieces.of(motion), corner.travel), measured[objective.name]
            if corner is ahead or objective.better == "less":
                assert joined == pytest.approx(whole, rel=1e-12, abs=1e-12), objective.name
            else:
                assert (joined >= whole - 1e-9).all(), objective.name
                assert np.isclose(joined, whole, rtol=0.0, atol=1e-9).sum() >= 2, objective.name
