"""The closed-form linkage against six constraint equations solved by scipy, on a thousand corners.

The second engine is tests/reference/constraint_equations.py; it shares no formula with the package, and no solver
with tests/reference/rigid_body.py. P. Virtanen et al., SciPy 1.0, Nature Methods 17, 2020 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import product
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest

from objectives.corner import Candidates, Corner
from objectives.curves import curves_at
from optimizer.candidate import MEASURED, evaluate
from optimizer.scenario import Scenario, parse_scenario
from tests.reference import constraint_equations, rigid_body
from tests.reference.corners import assembling_corners, gear_of, random_corners, with_pitman
from tests.reference.rigid_body import Gear
from tests.reference.scenario_text import MM_PER_UNIT, scenario_text

Figures = Callable[[str, str], None]

# The root finder leaves an equation off by 1e-10 mm at most. Among a thousand corners some are a millimetre short of
# locking, where that grows by the square root of what is left over the length of a bar: some twenty times. The package
# settles a travel on exact poses, which leaves 1e-10 mm of it in the worst corner, a tenth of a millimetre short of
# locking with the wheel at 23 degrees of camber; there the contact centre moves seven times as far as the wheel centre.
LENGTH_TOLERANCE = 1e-8  # mm
ANGLE_TOLERANCE = 5e-9  # degrees
# Rounding of lengths of a metre (1e-13 mm) when they go through inches, as far as it grows on the way to a result.
UNIT_TOLERANCE = 1e-9  # mm or degrees
# The roll centre is a slope, and a droop limit or a least gap is where a curve is level: rounding grows further.
LEVEL_TOLERANCE = 1e-6  # mm or degrees

GEARS = ("rack", "pitman arm")
ANGLES = ("camber", "toe", "caster", "kingpin", "outer_rod_end", "inner_rod_end")
LENGTHS = ("wheel", "contact", "lower_outer", "upper_outer", "steering_outer", "kingpin_offset")


def positions(corner: Corner) -> np.ndarray:
    """Full droop, half of it, half of bump, full bump."""
    return np.array([-corner.travel.droop, -0.5 * corner.travel.droop, 0.5 * corner.travel.bump, corner.travel.bump])


def differences(
    corner: Corner, points: rigid_body.Hardpoints, candidate: Candidates, turned: np.ndarray, gear: tuple[Gear, float]
) -> list[tuple[float, float, int]]:
    """Largest difference of any length (mm) and angle (degrees), and how many positions were compared, each sweep.

    In each the steering is `turned` by another share of the way to a lock; `gear` is that of the engine beside this
    one.
    """
    travel, (way, most) = positions(corner), gear
    alike = candidate.take(np.zeros(turned.size, dtype=np.intp))
    ours = curves_at(corner, alike, travel, corner.steering.shift(turned * corner.steering.lock))
    found = []
    for sweep, share in enumerate(turned):
        stands = np.isfinite(ours.camber[sweep])
        theirs = constraint_equations.solve(points, travel[stands], share * most, way)
        lengths, angles = (
            max(float(np.abs(getattr(ours, name)[..., sweep, stands] - theirs[name]).max()) for name in names)
            for names in (LENGTHS, ANGLES)
        )
        found.append((lengths, float(np.degrees(angles)), int(stands.sum())))
    return found


def test_a_thousand_random_corners(figures: Figures) -> None:
    """Each written as a scenario file and read back, half with a rack, half with a pitman arm, in mm and in inches.

    All of them straight ahead; one more sweep of a quarter with the steering halfway to one lock, of a quarter to the
    other. The second engine gets the corner as drawn, in mm. Positions where the package says that something locks are
    left out; test_rigid_body.py is about those. The files of the first hundred corners are checked as well, each of
    the others is only read.
    """
    rng = np.random.default_rng(42)
    found: dict[tuple[str, str], list[tuple[float, ...]]] = {kind: [] for kind in product(GEARS, MM_PER_UNIT)}
    for number, (corner, candidate) in enumerate(random_corners(1000, seed=41)):
        kind, units = list(found)[number % 4]
        drawn = _describable(with_pitman(corner, rng) if kind == "pitman arm" else corner)
        text = scenario_text(drawn, candidate, units)
        read = replace((parse_scenario if number < 100 else _unchecked)(text).corner, outlines=())  # half the time
        points = rigid_body.hardpoints(drawn, candidate)
        turned = np.array(((0.0,), (0.0, -0.5), (0.0,), (0.0, 0.5))[number // 4 % 4])
        for sweep in differences(read, points, candidate, turned, gear_of(drawn)):
            found[kind, units].append((number, *sweep))
    for (kind, units), sweeps in found.items():
        of, lengths, angles, count = np.array(sweeps).T
        figures(
            f"linkage vs constraint equations, {kind}, {units}: {len(set(of))} corners, {len(of)} sweeps, "
            f"{count.sum():.0f} positions ({4 * len(of) - count.sum():.0f} more lock)",
            f"{lengths.max():.1e} mm, {angles.max():.1e} deg",
        )
        assert len(set(of)) == 250
        assert not of[(lengths > LENGTH_TOLERANCE) | (angles > ANGLE_TOLERANCE)].tolist(), "corners that differ"
        assert count.sum() > 0.95 * 4 * len(of)


def _unchecked(text: str) -> Scenario:
    """A sound scenario read without the checks of its geometry, and with no lines to name in a message."""
    with (
        patch("optimizer.faults.locate", lambda _: {}),
        patch("optimizer.scenario._check_geometry", lambda *_: None),
        patch("optimizer.scenario.check_baseline", lambda *_: None),
    ):
        return parse_scenario(text)


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_a_scenario_in_either_unit_gives_the_same_curves(units: str, figures: Figures) -> None:
    """Random corners written out as scenario files and read back: curves against the corner itself."""
    worst = {"": 0.0, "roll_centre_z": 0.0}
    for corner, candidate in random_corners(20, seed=43):
        described = _describable(corner)
        scenario = parse_scenario(scenario_text(described, candidate, units))
        for rack in (0.0, 0.5 * corner.steering.rack_travel):
            shift = np.array([0.0, rack, 0.0])
            one = curves_at(described, candidate, positions(corner), shift)
            other = curves_at(scenario.corner, candidate, positions(corner), shift)
            stands = np.isfinite(one.camber[0])
            assert (np.isfinite(other.camber[0]) == stands).all()
            for name in (*ANGLES, *LENGTHS, "fender_clearance", "roll_centre_z"):
                gap = np.abs(getattr(one, name) - getattr(other, name))[..., 0, stands]
                kind = name if name in worst else ""
                worst[kind] = max(worst[kind], float(gap.max()) * (np.degrees(1.0) if name in ANGLES else 1.0))
    figures(
        f"corner written as a scenario in {units} and read back",
        f"{worst['']:.1e} mm or deg, roll centre {worst['roll_centre_z']:.1e} mm",
    )
    assert worst[""] <= UNIT_TOLERANCE
    assert worst["roll_centre_z"] <= LEVEL_TOLERANCE


def test_measures_come_out_in_the_scenarios_unit(figures: Figures) -> None:
    """A length in the inch scenario's results times 25.4, exact by definition of the inch, is the one in mm."""
    worst, limits = 0.0, set()
    for corner, candidate in assembling_corners(8, seed=44)[0]:
        in_mm, in_inches = (_evaluated(_describable(corner), candidate, units) for units in MM_PER_UNIT)
        limits.add(in_mm["limited_by"].removesuffix(" straight ahead").split(" at ")[0].split(" towards ")[0])
        for column in (column for column in MEASURED if column.column in in_mm):
            one, other = in_mm[column.column], in_inches[column.column]
            if column.quantity == "text":
                assert one == other
            else:
                other *= 25.4 if column.quantity == "length" else 1.0
                assert other == pytest.approx(one, abs=LEVEL_TOLERANCE, nan_ok=True), column.column
                worst = max(worst, 0.0 if np.isnan(one) else abs(other - one))
    figures("results of scenarios in mm and in inches", f"{worst:.1e} mm or deg")
    assert {"droop cap", "arms locked", "tie rod locked"} <= limits


def _evaluated(corner: Corner, candidate: Candidates, units: str) -> dict[str, Any]:
    mm = MM_PER_UNIT[units]
    y, z, camber = (float(part[0]) for part in (candidate.pivot_y, candidate.pivot_z, candidate.static_camber))
    scenario = parse_scenario(scenario_text(corner, candidate, units))
    return evaluate(scenario, y / mm, z / mm, static_camber_deg=float(np.degrees(camber)))


def _describable(corner: Corner) -> Corner:
    """The corner with a target over all of its travel and rod ends that no attitude at ride exceeds: files ask so."""
    travel, steering = corner.travel, corner.steering
    wide = np.radians(80.0)
    return replace(
        corner,
        camber_curve=np.array([[-travel.droop, 0.02], [travel.bump, -0.01]]),
        steering=replace(
            steering,
            outer_rod_end=replace(steering.outer_rod_end, max_angle=wide),
            inner_rod_end=replace(steering.inner_rod_end, max_angle=wide),
        ),
    )
