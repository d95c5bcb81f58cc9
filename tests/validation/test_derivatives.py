"""Every slope the package works out, against extrapolated central differences (tests/reference/differences.py).

W. H. Press and others, Numerical Recipes, 3rd edition, Cambridge, 2007, section 5.7, on Richardson's extrapolation
(from memory). Positions of the corner are worked out in long doubles where the closed form takes them as they come (on
the usual processors 64 bits of mantissa for 53), so that differences lose nothing that shows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from objectives import chebyshev
from objectives.corner import Candidates, Corner
from objectives.curves import curves_at
from objectives.evaluate import measure
from objectives.inner_joint import _toe_by_joint
from objectives.linkage import pose
from objectives.objective import Objective
from objectives.rates import rates
from objectives.ride import place
from objectives.steering import AHEAD
from objectives.sweep import contact_centre, steer
from optimizer.candidate import Candidate, baseline_of, candidate_at
from optimizer.page import Table
from optimizer.rationale import _sensitivity
from optimizer.scenario import Scenario, load_scenario
from tests.reference import rigid_body
from tests.reference.corners import assembling_corners
from tests.reference.differences import slope, slope_at_once

Figures = Callable[[str, str], None]

# Velocities per radian are of the order of an arm's length, 400 mm, and rounding of a position is 1e-13 mm; where the
# tie rod pulls at a sharp angle both grow together.
RATE = 1e-10  # of the largest component
# A polynomial of degree 16 in double precision: rounding grows by the degree squared at the ends.
POLYNOMIAL = 1e-11
# What 17 points leave of a corner's curves, as a slope of toe; advice needs a hundredth of a degree over 100 mm, 2e-6.
TOE_BY_JOINT = 1e-7  # rad / mm
# The table is written to three decimals; a tenth of that for what three places miss of the least and greatest.
TABLE = 6e-4

SCENARIOS = Path(__file__).parents[2] / "scenarios"
CASES, _ = assembling_corners(30, seed=52)


def placed_angles(corner: Corner, candidate: Candidates) -> tuple[Any, np.ndarray]:
    """The candidate at ride, and lower-arm angles over its required travel, (K, 1)."""
    placed = place(corner, candidate)
    span = steer(placed, AHEAD).required.span
    return placed, span.angle(np.linspace(-1.0, 1.0, 9)[:, None])


def test_velocities(figures: Figures) -> None:
    """Wheel centre, contact centre and upper outer pivot."""
    worst = 0.0
    for corner, candidate in CASES:
        placed, angle = placed_angles(corner, candidate)
        where = pose(placed, angle)
        found = rates(placed, where)

        def points(shift: Any, placed: Any = placed, angle: Any = angle, corner: Any = corner) -> np.ndarray:
            there = pose(placed, angle + shift)
            contact = contact_centre(there, corner.tyre.loaded_radius)
            return np.stack([there.wheel, contact, there.upper_outer])

        velocity = slope(points, 0.02)
        for ours, theirs in zip((found.wheel, found.contact, found.upper_outer), velocity, strict=True):
            worst = max(worst, float(np.abs(ours - theirs).max() / np.abs(theirs).max()))
    figures("velocities vs extrapolated differences in long doubles", f"{worst:.1e} of the largest component")
    assert worst <= RATE


def test_slope_of_the_contact_path(figures: Figures) -> None:
    """Sideways over upward movement of the contact centre, from rows of the curve table 8 mm apart and nearer."""
    worst = 0.0
    for corner, candidate in CASES:
        placed, angle = placed_angles(corner, candidate)
        where = pose(placed, angle)
        travel = where.wheel[2, :, 0] - placed.ride_height[0]

        def path(shift: Any, corner: Any = corner, candidate: Any = candidate, travel: Any = travel) -> np.ndarray:
            rows = (travel[:, None] + shift.astype(float)).ravel()
            contact = curves_at(replace(corner, outlines=()), candidate, rows).contact
            return contact.reshape(3, travel.size, shift.size)

        velocity = slope_at_once(path, 8.0)
        inside = slice(1, -1)  # full droop and bump: the next row may lie beyond where the corner locks
        off = rates(placed, where).roll_slope[inside, 0] - (velocity[1] / velocity[2])[inside]
        worst = max(worst, float(np.abs(off).max()))
    figures("slope of the contact path vs extrapolated differences", f"{worst:.1e}")
    assert worst <= RATE


class TestPolynomials:
    """Chebyshev interpolation of a function whose slope is known."""

    COUNT = 17
    U = chebyshev.points(COUNT)[:, None]

    @pytest.mark.parametrize("name", ["slope", "slopes"])
    def test_a_power_is_exact(self, name: str) -> None:
        powers = np.arange(self.COUNT)
        values = self.U**powers
        found = chebyshev.slopes(values) if name == "slopes" else chebyshev.slope(values, self.U + 0.0 * values)
        exact = powers * self.U ** np.maximum(powers - 1, 0)
        assert np.abs(found - exact).max() <= POLYNOMIAL * self.COUNT**2

    def test_between_the_points(self) -> None:
        """Slope known by calculus. Interpolating sin 3u at 17 points is off by at most 4 J_17(3) = 1.1e-11, and the
        slope of such a remainder by 17^2 times that (Trefethen, chapter 8, and Markov's inequality, from memory)."""
        rate, at = np.array([1.0, 2.0, 3.0]), np.linspace(-0.99, 0.99, 40)[:, None] * np.ones(3)
        found = chebyshev.slope(np.sin(rate * self.U + 0.3), at)
        assert np.abs(found - rate * np.cos(rate * at + 0.3)).max() <= 17**2 * 1.1e-11

    def test_of_what_is_read(self) -> None:
        """Slope of the interpolant itself, whatever it interpolates, by differences of `read`."""
        values = np.random.default_rng(5).normal(size=(self.COUNT, 4))
        at = np.linspace(-0.9, 0.9, 21)[:, None] * np.ones(4)
        difference = slope(lambda h: chebyshev.read(values, at + np.float64(h)), 0.02)
        assert np.abs(chebyshev.slope(values, at) - difference).max() <= 1e-8 * np.abs(difference).max()


def test_toe_by_the_inner_joint(figures: Figures) -> None:
    """Toe at given travels as the inner joint moves, the tie rod cut to keep the toe at ride."""
    worst, largest = 0.0, 0.0
    for corner, candidate in CASES[:12]:
        sweep = steer(place(corner, candidate), AHEAD).required
        travel = sweep.travel[:, 0]
        for axis, found in zip((1, 2), _toe_by_joint(sweep), strict=True):

            def toe(
                shift: Any, corner: Any = corner, candidate: Any = candidate, travel: Any = travel, axis: int = axis
            ) -> np.ndarray:
                joint = np.array(corner.steering.inner_joint)
                joint[axis] += np.float64(shift)
                moved = replace(corner, outlines=(), steering=replace(corner.steering, inner_joint=joint))
                return curves_at(moved, candidate, travel).toe[0]

            by_joint = slope(toe, 2.0, halvings=3)
            inside = slice(1, -1)
            worst = max(worst, float(np.abs(found[inside, 0] - by_joint[inside]).max()))
            largest = max(largest, float(np.abs(by_joint).max()))
    figures("toe by the inner joint vs extrapolated differences", f"{worst:.1e} rad/mm of up to {largest:.1e}")
    assert worst <= TOE_BY_JOINT


def of_the_wheel(scenario: Scenario) -> list[Objective]:
    """What is measured of the corner itself; what the shop makes of it has no rates."""
    return [objective for objective in scenario.measured if isinstance(objective, Objective)]


@pytest.mark.parametrize("name", ["buggy", "buggy_inch", "published_corner", "tight"])
def test_sensitivity_table(name: str, figures: Figures) -> None:
    """Rates in the rationale, for the baseline: bracket out, bracket up, arm longer; static camber follows.

    Static camber by the independent engine: with L(y, z, camber) the arm's length at ride, d camber/d y =
    -(dL/dy)/(dL/d camber) and so on. The table differs over half a millimetre each way, and a greatest value that
    changes place bends a result there, so by the mean value theorem its rate lies between the least and greatest
    slope found on the way.
    """
    scenario = load_scenario(SCENARIOS / f"{name}.toml")
    if name == "buggy_inch":  # the same vehicle as the one before: straight ahead is quicker
        steering = replace(scenario.corner.steering, rack_travel=0.0)
        scenario = replace(scenario, corner=replace(scenario.corner, steering=steering))
    chosen = baseline_of(scenario)
    assert chosen is not None
    table = next(block for block in _sensitivity(chosen, chosen.measures()) if isinstance(block, Table))
    written = {row[0]: np.array([float(cell.split()[0]) for cell in row[1:] if cell != "-"]) for row in table.rows}
    slip = 1.0 / 16.0 if scenario.unit.name == "inch" else 1.0  # in the scenario's unit
    camber = np.degrees(_camber_rates(scenario, chosen)) * scenario.unit.to_mm(slip)
    worst = float(np.abs(written.pop("Static camber") - camber).max())
    slopes = slip * _objective_slopes(scenario, chosen)
    for objective, found in zip(of_the_wheel(scenario), slopes, strict=True):
        rate = written.pop(objective.title)
        if rate.size:
            outside = np.maximum(found.min(axis=1) - rate, rate - found.max(axis=1))
            worst = max(worst, float(outside.max()))
        else:
            assert np.isnan(found).all()
    figures(f"sensitivity table, {name}, per slip", f"{worst:.1e} mm, in or deg")
    assert worst <= TABLE
    assert not written


def _objective_slopes(scenario: Scenario, chosen: Candidate) -> np.ndarray:
    """Slopes (objective, axis, place) by pivot y, pivot z and arm length, in the scenario's unit.

    At three places up to half a millimetre either way, by differences of whole evaluations, but for the build yield,
    which has no rates and takes longer than everything else.
    """
    unit, wanted = scenario.unit, of_the_wheel(scenario)
    at = np.array([chosen.pivot_y, chosen.pivot_z, chosen.measures()["arm_length"]])
    ways = [(place, axis) for axis in np.eye(3) for place in np.linspace(-0.5, 0.5, 3)]

    def results(shift: Any) -> np.ndarray:
        batch = [_batch_at(scenario, at + (place + float(h)) * axis) for place, axis in ways for h in shift]
        y, z, camber, hole = (
            np.concatenate([getattr(one, name) for one in batch])
            for name in ("pivot_y", "pivot_z", "static_camber", "hole")
        )
        found = measure(scenario.corner, Candidates(y, z, camber, hole))
        shown = np.array([unit.show(found[objective.name], objective.quantity) for objective in wanted])
        return shown.reshape(len(wanted), 3, 3, shift.size)

    return unit.to_mm(np.asarray(slope_at_once(results, 0.02, halvings=1), float))  # per mm, and so per unit


def _batch_at(scenario: Scenario, at: np.ndarray) -> Candidates:
    y, z, length = at
    return candidate_at(scenario, y, z, arm_length=length).as_batch


def _camber_rates(scenario: Scenario, chosen: Candidate) -> np.ndarray:
    """Static camber, radians per mm of pivot y, pivot z and arm length."""

    def length(y: float, z: float, camber: float) -> np.ndarray:
        points = rigid_body.hardpoints(scenario.corner, Candidates(y, z, camber))
        axis = points.upper_axis[1] - points.upper_axis[0]
        arm = np.cross(points.upper_outer - points.upper_axis[0], axis)
        return np.asarray(np.linalg.norm(arm) / np.linalg.norm(axis))

    y, z, camber = chosen.pivot_y, chosen.pivot_z, chosen.static_camber
    by_y = slope(lambda h: length(y + float(h), z, camber), 1.0)
    by_z = slope(lambda h: length(y, z + float(h), camber), 1.0)
    by_camber = slope(lambda h: length(y, z, camber + float(h)), 0.01)
    return np.array([-by_y, -by_z, 1.0], float) / float(by_camber)
