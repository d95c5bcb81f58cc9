"""Roll centre and camber in roll, against closed forms and against a whole vehicle rolled on level ground.

Roll-centre height = half the track times the contact centre's dy/dz: Milliken & Milliken, Race Car Vehicle Dynamics,
1995, ch. 17 (from memory, page unverified); for planar corners the slope is the instant centre's height over its
distance. The second engine is tests/reference/rigid_body.py.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from objectives.corner import Candidates, Corner, Travel
from objectives.curves import curves_at
from objectives.evaluate import measure
from objectives.roll import roll_curves
from tests.reference import rigid_body
from tests.reference.corners import assembling_corners
from tests.reference.planar import GROUND, HALF_TRACK, SHAPES, instant_centre, planar_corner

Figures = Callable[[str, str], None]

EXACT = 1e-9  # radians or mm: rounding, and the last Newton step
CENTRE_TOLERANCE = 1e-5  # mm: half a track times the slope of a polynomial through 17 points
# A spline through poses 2.5 to 4 mm apart misses the roll centre's turn by some 1e-4 mm in these corners.
MIGRATION_TOLERANCE = 1e-3  # mm
CAMBER_TOLERANCE = 1e-8  # degrees; the reference stops at 1e-10 mm of travel
STRIDE = 12.0  # mm of travel between two poses of the engine, which takes shorter steps where it must
TRAVEL = Travel(bump=100.0, droop=120.0, droop_cap=120.0)


def value(corner: Corner, candidate: Candidates, name: str) -> float:
    return float(measure(corner, candidate)[name][0])


def drawn(count: int, seed: int) -> list[tuple[Corner, Candidates]]:
    """Random corners, judged straight ahead only."""
    return [
        (replace(corner, steering=replace(corner.steering, rack_travel=0.0)), candidate)
        for corner, candidate in assembling_corners(count, seed)[0]
    ]


def with_roll(corner: Corner, degrees: float) -> Corner:
    return replace(corner, travel=replace(corner.travel, roll=np.radians(degrees)))


def parallel_arms(camber: float) -> tuple[Corner, Candidates, float, float]:
    """Equal and parallel arms at a static camber: corner, candidate, length and angle at ride."""
    corner = replace(planar_corner((250.0, 40.0), camber=camber), travel=TRAVEL)
    points = rigid_body.hardpoints(corner, Candidates(300.0, 235.0, camber))
    arm = (points.lower_outer - corner.lower_arm.inner_pivot)[1:]
    y, z = points.upper_outer[1:] - arm
    return corner, Candidates(y, z, camber), float(np.hypot(*arm)), float(np.arctan2(arm[1], arm[0]))


@pytest.mark.parametrize("roll", [0.5, 3.0, 7.0])
@pytest.mark.parametrize("camber", np.radians([-2.0, 0.0, 1.0]))
def test_equal_parallel_arms_lean_with_the_body(camber: float, roll: float) -> None:
    """Camber to the frame stays as it is at ride, so to the ground it changes by the roll itself."""
    corner, candidate, length, ride = parallel_arms(camber)
    measured = measure(with_roll(corner, roll), candidate)
    outer, inner = camber + np.radians(roll), camber - np.radians(roll)
    assert measured["roll_camber_outer"][0] == pytest.approx(outer, abs=EXACT)
    assert measured["roll_camber_inner"][0] == pytest.approx(inner, abs=EXACT)
    assert measured["roll_camber"][0] == pytest.approx(max(abs(outer), abs(inner)), abs=EXACT)

    def slope_missed(travel: float) -> float:
        # contact centres move on the arms' circle; the line through both slopes by the roll
        sides = [length * (np.cos(np.arcsin(np.sin(ride) + z / length)) - np.cos(ride)) for z in (travel, -travel)]
        return 2.0 * travel - np.tan(np.radians(roll)) * (2.0 * HALF_TRACK + sum(sides))

    assert measured["roll_travel"][0] == pytest.approx(brentq(slope_missed, 0.0, 100.0, xtol=1e-12), abs=EXACT)


def test_without_roll_both_wheels_stand_as_at_ride() -> None:
    corner, candidate = replace(planar_corner((250.0, 20.0)), travel=TRAVEL), Candidates(345.0, 200.0, 0.01)
    found = roll_curves(corner, candidate, np.array([0.0]))
    assert [found.outer[0, 0], found.inner[0, 0]] == pytest.approx([0.01, 0.01], abs=EXACT)
    assert found.travel[0, 0] == pytest.approx(0.0, abs=1e-7)


@pytest.mark.parametrize(("lower", "upper", "camber"), SHAPES.values(), ids=SHAPES)
def test_roll_centre_height_from_the_instant_centre(
    lower: tuple[float, float], upper: tuple[float, float], camber: float
) -> None:
    corner = replace(planar_corner(lower, camber=camber), travel=TRAVEL)
    candidate = Candidates(*upper, camber)
    curves = curves_at(corner, candidate, np.array([0.0]))
    arm, height = curves.contact[1:, 0, 0] - instant_centre(corner, candidate, curves)[:, 0]
    assert value(corner, candidate, "roll_centre_height") == pytest.approx(
        -HALF_TRACK * height / arm, abs=CENTRE_TOLERANCE
    )


def test_migration_of_equal_parallel_arms() -> None:
    """The contact centre moves on the arms' circle: dy/dz = -tan(arm angle)."""
    corner, candidate, length, ride = parallel_arms(0.0)
    travel = np.linspace(-TRAVEL.droop, TRAVEL.bump, 100_001)
    angle = np.arcsin(np.sin(ride) + travel / length)
    side = HALF_TRACK + length * (np.cos(angle) - np.cos(ride))
    height = GROUND + travel - side * np.tan(angle)
    assert value(corner, candidate, "roll_centre_migration") == pytest.approx(np.ptp(height), abs=CENTRE_TOLERANCE)
    assert value(corner, candidate, "roll_centre_height") == pytest.approx(
        -HALF_TRACK * np.tan(ride), abs=CENTRE_TOLERANCE
    )


def test_migration_against_the_rigid_body(figures: Figures) -> None:
    differences, turned = [], 0
    for corner, candidate in drawn(15, seed=61):
        travel = np.linspace(-corner.travel.droop, corner.travel.bump, 81)
        sweep = rigid_body.solve(rigid_body.hardpoints(corner, candidate), travel)
        curve = CubicSpline(travel, sweep.roll_centre_z)
        turns = curve.derivative().roots(extrapolate=False)
        turned += turns.size > 0
        dense = np.ptp(np.concatenate((sweep.roll_centre_z, curve(turns))))
        differences.append(abs(value(corner, candidate, "roll_centre_migration") - dense))
        assert value(corner, candidate, "roll_centre_height") == pytest.approx(
            float(curve(0.0)) - corner.ground_z, abs=MIGRATION_TOLERANCE
        )
    figures("roll-centre migration vs rigid body", f"{max(differences):.1e} mm in 15 corners, {turned} with a turn")
    assert turned >= 2
    assert max(differences) <= MIGRATION_TOLERANCE


def rolled_vehicle(points: rigid_body.Hardpoints, roll: float, most: float) -> tuple[float, float, float]:
    """Travel of the left wheel up and of the right one down at which both touch level ground, and their camber.

    The whole vehicle is turned, left side down, and each wheel's lowest point found as on level ground.
    """
    turn = Rotation.from_euler("x", -roll)

    def stand(travel: float) -> list[tuple[float, float]]:
        found = []
        for side, height in ((points, travel), (points.mirrored(), -travel)):
            sweep = rigid_body.solve(side, np.array([height]), largest_step=STRIDE)
            wheel, spin = turn.apply(sweep.wheel[:, 0]), turn.apply(sweep.spin[:, 0])
            lowest = rigid_body.contact_centre(wheel, spin, side.loaded_radius)
            found.append((float(lowest[2]), float(np.arcsin(-spin[2]))))
        return found

    def uneven(travel: float) -> float:
        (left, _), (right, _) = stand(travel)
        return left - right

    travel = brentq(uneven, 0.0, most, xtol=1e-10)
    (_, outer), (_, inner) = stand(travel)
    return travel, outer, inner


def test_camber_in_roll_against_the_rigid_body(figures: Figures) -> None:
    """And no value where the required travel ends a hundredth of a mm short."""
    worst = 0.0
    for number, (corner, candidate) in enumerate(drawn(6, seed=62)):
        roll = np.radians((1.5, 3.0, 4.5)[number % 3])
        most = min(corner.travel.bump, corner.travel.droop)
        travel, outer, inner = rolled_vehicle(rigid_body.hardpoints(corner, candidate), roll, most)
        for way in ("bump", "droop"):
            enough, short = (
                measure(replace(corner, travel=replace(corner.travel, roll=roll, **{way: travel + more})), candidate)
                for more in (0.01, -0.01)
            )
            assert enough["roll_travel"][0] == pytest.approx(travel, abs=1e-7)
            gaps = [enough["roll_camber_outer"][0] - outer, enough["roll_camber_inner"][0] - inner]
            worst = max(worst, float(np.degrees(np.abs(gaps).max())))
            assert enough["roll_camber"][0] == max(
                abs(enough["roll_camber_outer"][0]), abs(enough["roll_camber_inner"][0])
            )
            for name in ("roll_camber", "roll_camber_outer", "roll_camber_inner", "roll_travel"):
                assert np.isnan(short[name][0])
            assert short["complete"][0]
    figures("camber in roll vs rigid body", f"{worst:.1e} deg")
    assert worst <= CAMBER_TOLERANCE


def test_no_migration_where_the_contact_centre_stops_rising() -> None:
    """Upper pivots so high that the wheel leans in about as fast as it drops."""
    corner = replace(planar_corner((250.0, 20.0)), travel=TRAVEL)
    y, z = (grid.ravel() for grid in np.meshgrid(np.linspace(200.0, 420.0, 21), np.linspace(220.0, 340.0, 13)))
    candidates = Candidates(y, z, 0.0)
    measured = measure(corner, candidates)
    travel = np.linspace(-TRAVEL.droop, TRAVEL.bump, 221)
    chosen = np.flatnonzero(measured["complete"])
    contact = curves_at(corner, candidates.take(chosen), travel).contact[2]
    slowest = (np.diff(contact, axis=1) / np.diff(travel)).min(axis=1)
    sure = np.abs(slowest) > 0.1  # a table 1 mm apart misses a contact centre that only stops at the end
    falls = slowest[sure] < 0.0
    assert falls.any()
    assert not falls.all()
    assert np.isnan(measured["roll_centre_migration"][chosen][sure]).tolist() == falls.tolist()
