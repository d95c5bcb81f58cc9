"""Rules of the trade about a shorter upper arm. Common practice, no source.

With the lower arm held, a shorter upper arm gives more top-in camber at both ends of the travel and a straighter path
of the contact centre; it uses up steering rod-end angle in droop and costs clearance to the bodywork in bump. Tried on
the shipped scenarios as they stand at their baseline: the inner pivot moves along the arm's own line at ride, so the
corner at ride, its instant centre and its roll centre stay, and only the arm's length differs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from objectives.corner import Candidates, Corner
from objectives.curves import Curves, curves_at
from objectives.evaluate import Measures, measure
from optimizer.candidate import baseline_of
from optimizer.scenario import load_scenario
from tests.reference import rigid_body
from tests.reference.planar import HALF_TRACK, LOWER, UPPER, WHEEL_Z, planar_corner

Figures = Callable[[str, str], None]

SCENARIOS = Path(__file__).parents[2] / "scenarios"
SHARES = np.linspace(1.2, 0.8, 9)  # of the baseline's arm length; much shorter arms lock in the buggy's droop
EXACT = 1e-9  # mm or rad
LEAST = 1e-3  # mm or degrees from one length to the next: the rule must show, not only hold in the last digit


@dataclass(frozen=True)
class Family:
    """One corner, its candidates from the longest arm to the shortest, and what they do."""

    corner: Corner
    lengths: np.ndarray
    ride: Curves
    curves: Curves
    measured: Measures

    def degrees(self, name: str) -> np.ndarray:
        return np.asarray(np.degrees(self.measured[name]))


def straight_ahead(corner: Corner) -> Corner:
    """The corner with its joint where the file puts it, no steering locks and no shock: the arm's doing alone."""
    return replace(corner, steering=replace(corner.steering, rack_travel=0.0, inner_region=None), shock=None)


def family_of(name: str) -> Family:
    scenario = load_scenario(SCENARIOS / f"{name}.toml")
    first = baseline_of(scenario)
    assert first is not None
    corner = straight_ahead(scenario.corner)
    points = rigid_body.hardpoints(corner, first.as_batch)
    pivot = np.array([corner.upper_axis.pivot_x, first.pivot_y, first.pivot_z])
    axis = corner.upper_axis.direction
    arm = points.upper_outer - pivot
    arm -= (arm @ axis) * axis  # from the axis to the outer pivot, square to the axis
    moved = pivot + np.outer(1.0 - SHARES, arm)
    moved += np.outer((pivot[0] - moved[:, 0]) / axis[0], axis)  # back along the axis to where y and z are measured
    candidates = Candidates(moved[:, 1], moved[:, 2], first.static_camber)
    travel = np.linspace(-corner.travel.droop, corner.travel.bump, 81)
    return Family(
        corner=corner,
        lengths=SHARES * np.linalg.norm(arm),
        ride=curves_at(corner, candidates, np.zeros(1)),
        curves=curves_at(corner, candidates, travel),
        measured=measure(corner, candidates),
    )


@pytest.fixture(scope="module", params=["buggy", "published_corner", "tight"])
def family(request: pytest.FixtureRequest) -> Family:
    return family_of(request.param)


@pytest.fixture(scope="module", params=["buggy", "tight"])
def with_bodywork(request: pytest.FixtureRequest) -> Family:
    return family_of(request.param)


@pytest.fixture(scope="module", params=["buggy", "published_corner"])
def limited_by_rod_end(request: pytest.FixtureRequest) -> Family:
    return family_of(request.param)


def test_only_the_length_differs(family: Family) -> None:
    assert family.measured["complete"].all()
    assert family.curves.arm_length == pytest.approx(family.lengths, abs=EXACT)
    for name in ("camber", "toe", "kingpin", "caster", "roll_centre_z"):
        at_ride = getattr(family.ride, name)[:, 0]
        assert at_ride == pytest.approx(np.full(SHARES.size, at_ride[0]), abs=EXACT), name


def test_more_top_in_camber_at_both_ends_of_the_travel(family: Family, figures: Figures) -> None:
    bump, droop = family.degrees("camber_bump"), family.degrees("camber_droop")
    figures(
        f"camber with the upper arm {family.lengths[0]:.0f} to {family.lengths[-1]:.0f} mm",
        f"bump {bump[0]:+.2f} to {bump[-1]:+.2f} deg, droop {droop[0]:+.2f} to {droop[-1]:+.2f} deg",
    )
    assert (np.diff(bump) < -LEAST).all()
    assert (np.diff(droop) < -LEAST).all()


def test_a_straighter_path_of_the_contact_centre(family: Family) -> None:
    """Largest distance of the path, in the front view, from the straight line nearest to it."""
    strays = []
    for y, z in zip(family.curves.contact[1], family.curves.contact[2], strict=True):
        line = np.polynomial.Polynomial.fit(z, y, 1)
        strays.append(np.abs(y - line(z)).max())
    assert (np.diff(strays) < -LEAST).all()


def test_less_droop_before_the_rod_end_runs_out(limited_by_rod_end: Family) -> None:
    measured = limited_by_rod_end.measured
    assert set(measured["limited_by"]) == {"outer rod end"}
    assert (np.diff(measured["droop_limit"]) < -LEAST).all()


def test_more_rod_end_angle_in_full_droop(family: Family) -> None:
    assert (np.diff(np.degrees(family.curves.outer_rod_end[:, 0])) > LEAST).all()


def test_less_clearance_in_bump(with_bodywork: Family) -> None:
    """At full bump, which is where the gap is least."""
    gap = with_bodywork.curves.fender_clearance[:, -1]
    assert (np.diff(gap) < -LEAST).all()
    assert with_bodywork.measured["fender_clearance"] == pytest.approx(gap, abs=EXACT)


def test_more_top_in_camber_from_level_arms() -> None:
    """The same where arms are level at ride and it is not hidden by a sloping upper arm."""
    wheel = np.array([HALF_TRACK, WHEEL_Z])
    lower_y, lower_z = wheel + LOWER[1:] - [400.0, 0.0]
    upper_y, upper_z = wheel + UPPER[1:]
    corner = planar_corner((lower_y, lower_z))
    lengths = np.array([400.0, 360.0, 320.0, 280.0, 240.0])
    curves = curves_at(corner, Candidates(upper_y - lengths, upper_z, 0.0), np.array([-90.0, 90.0]))
    assert curves.arm_length == pytest.approx(lengths, abs=EXACT)
    assert (np.diff(curves.camber, axis=0) < -np.radians(0.1)).all()
