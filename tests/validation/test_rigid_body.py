"""The closed-form linkage against a rigid spindle on six constraint equations.

Sources: none is needed for rigid geometry; the words are those of ISO 8855:2011 (test_iso_8855.py). The second engine
is tests/reference/rigid_body.py. Both start from the same definitions and share no formula, so a slip in either shows
as a difference.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest

from objectives.corner import (
    Candidates,
    Corner,
    LowerArm,
    RodEnd,
    Spindle,
    Steering,
    Travel,
    Tyre,
    UpperAxis,
)
from objectives.curves import Curves, curves_at
from tests.reference import rigid_body, tyre_gap
from tests.reference.corners import assembling_corners, random_corners

Figures = Callable[[str, str], None]

# Rounding of the rigid body at a metre is some 1e-13 mm; ill-placed arms multiply it by up to a thousand.
LENGTH_TOLERANCE = 1e-9  # mm
ANGLE_TOLERANCE = 1e-9  # degrees
# The gap's brute-force search stops at 1e-10 of a segment and 1e-11 rad of a normal.
GAP_TOLERANCE = 1e-6  # mm
# The roll centre is a slope: half the track times the error of dy/dz.
SLOPE_TOLERANCE = 1e-6  # mm

ANGLES = ("camber", "toe", "caster", "kingpin", "outer_rod_end", "inner_rod_end")
LENGTHS = ("wheel", "contact", "lower_outer", "upper_outer", "steering_outer", "kingpin_offset")
STRIDE = 8.0  # mm of travel or rack between two poses of the engine, which takes shorter steps where it must
FRONT_REAR = np.array([-1.0, 1.0, 1.0])


@dataclass(frozen=True)
class Case:
    """A corner, its candidate, and what the rigid body does over its travel."""

    corner: Corner
    candidate: Candidates
    points: rigid_body.Hardpoints
    travel: np.ndarray
    sweep: rigid_body.Sweep


def case_of(corner: Corner, candidate: Candidates, positions: int = 11) -> Case:
    points = rigid_body.hardpoints(corner, candidate)
    travel = np.linspace(-corner.travel.droop, corner.travel.bump, positions)
    return Case(corner, candidate, points, travel, rigid_body.solve(points, travel, largest_step=STRIDE))


@pytest.fixture(scope="module")
def drawn() -> tuple[list[Case], int]:
    found, rejected = assembling_corners(30, seed=20)
    return [case_of(*pair) for pair in found], rejected


@pytest.fixture(scope="module")
def cases(drawn: tuple[list[Case], int]) -> list[Case]:
    return drawn[0]


def worst(curves: Curves, sweep: rigid_body.Sweep, index: int = 0) -> tuple[float, float]:
    """Largest difference of any length (mm) and of any angle (degrees) for candidate `index`."""

    def largest(names: tuple[str, ...]) -> float:
        gaps = [getattr(curves, name)[..., index, :] - getattr(sweep, name) for name in names]
        return max(float(np.abs(gap).max()) for gap in gaps)

    return largest(LENGTHS), float(np.degrees(largest(ANGLES)))


def test_random_corners_straight_ahead(drawn: tuple[list[Case], int], figures: Figures) -> None:
    cases, rejected = drawn
    found = []
    for case in cases:
        assert np.isfinite(case.sweep.camber).all()
        found.append(worst(curves_at(case.corner, case.candidate, case.travel), case.sweep))
    lengths, angles = np.max(found, axis=0)
    figures(
        f"linkage vs rigid body, {len(cases)} corners x 11 positions ({rejected} more lock, left out)",
        f"{lengths:.1e} mm, {angles:.1e} deg",
    )
    assert lengths <= LENGTH_TOLERANCE
    assert angles <= ANGLE_TOLERANCE


@pytest.mark.parametrize("steer", [-0.5, 0.5])
def test_random_corners_steered(cases: list[Case], figures: Figures, steer: float) -> None:
    """Half the rack's travel; wheel travel is still counted from the unsteered ride height."""
    found = []
    for case in cases[:20]:
        rack = steer * case.corner.steering.rack_travel
        sweep = rigid_body.solve(case.points, case.travel, rack, largest_step=STRIDE)
        assert np.isfinite(sweep.camber).all()
        found.append(worst(steered(case, rack), sweep))
    lengths, angles = np.max(found, axis=0)
    figures(f"linkage vs rigid body, rack {steer:+}", f"{lengths:.1e} mm, {angles:.1e} deg")
    assert lengths <= LENGTH_TOLERANCE
    assert angles <= ANGLE_TOLERANCE


def steered(case: Case, rack: float) -> Curves:
    return curves_at(case.corner, case.candidate, case.travel, shift=np.array([0.0, rack, 0.0]))


def test_roll_centre(cases: list[Case], figures: Figures) -> None:
    differences = []
    for case in cases:
        curves = curves_at(case.corner, case.candidate, case.travel)
        differences.append(np.abs(curves.roll_centre_z[0] - case.sweep.roll_centre_z).max())
    figures("roll centre vs rigid body", f"{max(differences):.1e} mm")
    assert max(differences) <= SLOPE_TOLERANCE


def test_each_of_many_candidates(cases: list[Case]) -> None:
    for case in cases[:8]:
        spread = np.linspace(-1.0, 1.0, 5)
        many = Candidates(
            case.candidate.pivot_y + 12.0 * spread,
            case.candidate.pivot_z - 9.0 * spread[::-1] ** 2,
            case.candidate.static_camber + np.radians(0.4) * spread,
        )
        travel = case.travel / 2.0
        curves = curves_at(case.corner, many, travel)
        for n in range(many.count):
            points = rigid_body.hardpoints(case.corner, many, n)
            assert max(worst(curves, rigid_body.solve(points, travel, largest_step=STRIDE), n)) <= LENGTH_TOLERANCE


def test_ride_pose(cases: list[Case]) -> None:
    """At ride: static camber and toe as asked, contact centre on the ground, the measured spindle kept."""
    for corner, candidate in ((case.corner, case.candidate) for case in cases):
        for candidate_at in (candidate, replace(candidate, static_camber=np.array([corner.static_camber]))):
            curves = curves_at(corner, candidate_at, np.zeros(1))
            assert curves.camber[0, 0] == pytest.approx(candidate_at.static_camber[0], abs=1e-13)
            assert curves.toe[0, 0] == pytest.approx(corner.static_toe, abs=1e-13)
            assert curves.contact[2, 0, 0] == pytest.approx(corner.ground_z, abs=1e-10)
        assert curves.wheel[0, 0, 0] == pytest.approx(0.0, abs=1e-10)
        assert curves.contact[1, 0, 0] == pytest.approx(corner.half_track, abs=1e-10)


def test_parts_keep_their_lengths(cases: list[Case], figures: Figures) -> None:
    stretch = 0.0
    for case in cases:
        points = case.points
        curves = curves_at(case.corner, case.candidate, case.travel)
        lower, upper = curves.lower_outer[:, 0], curves.upper_outer[:, 0]
        steering, wheel = curves.steering_outer[:, 0], curves.wheel[:, 0]
        parts = [
            *(lower - end[:, None] for end in points.lower_axis),
            *(upper - end[:, None] for end in points.upper_axis),
            steering - points.inner_joint[:, None],
            upper - lower,
            steering - lower,
            steering - upper,
            wheel - lower,
            wheel - upper,
            wheel - steering,
        ]
        stretch = max(stretch, *(float(np.ptp(np.linalg.norm(part, axis=0))) for part in parts))
        axis = points.upper_axis[1] - points.upper_axis[0]
        arm = np.linalg.norm(np.cross(points.upper_outer - points.upper_axis[0], axis)) / np.linalg.norm(axis)
        rod = np.linalg.norm(points.steering_outer - points.inner_joint)
        assert curves.arm_length[0] == pytest.approx(arm, abs=LENGTH_TOLERANCE)
        assert curves.tie_rod_length[0] == pytest.approx(rod, abs=LENGTH_TOLERANCE)
    figures("largest change of length of any part over travel", f"{stretch:.1e} mm")
    assert stretch <= LENGTH_TOLERANCE


@pytest.mark.parametrize("steer", [0.0, 0.5])
def test_right_hand_corner_is_the_mirror_image(cases: list[Case], steer: float) -> None:
    """The rigid body of the right-hand corner, steered the mirrored way, mirrors the left one."""
    mirror = np.array([1.0, -1.0, 1.0])[:, None]
    for case in cases[:15]:
        rack = steer * case.corner.steering.rack_travel
        right = rigid_body.solve(case.points.mirrored(), case.travel, -rack, largest_step=STRIDE)
        left = steered(case, rack)
        for name in ("wheel", "contact", "lower_outer", "upper_outer", "steering_outer"):
            difference = getattr(left, name)[:, 0] - mirror * getattr(right, name)
            assert np.abs(difference).max() <= LENGTH_TOLERANCE
        assert np.degrees(np.abs(left.camber[0] - right.camber)).max() <= ANGLE_TOLERANCE


def front_to_rear(corner: Corner) -> Corner:
    """Turn the corner back to front: x negated, and with it pitch and toe."""
    spindle, steering = corner.spindle, corner.steering

    def turned(rod_end: RodEnd) -> RodEnd:
        return replace(rod_end, axis=rod_end.axis * FRONT_REAR)

    return replace(
        corner,
        static_toe=-corner.static_toe,
        spindle=Spindle(
            spindle.lower_pivot * FRONT_REAR,
            spindle.upper_pivot * FRONT_REAR,
            spindle.steering_pivot * FRONT_REAR,
            pitch=-spindle.pitch,
        ),
        lower_arm=LowerArm(corner.lower_arm.inner_pivot * FRONT_REAR, -corner.lower_arm.direction * FRONT_REAR),
        upper_axis=UpperAxis(-corner.upper_axis.pivot_x, -corner.upper_axis.direction * FRONT_REAR),
        steering=replace(
            steering,
            inner_joint=steering.inner_joint * FRONT_REAR,
            outer_rod_end=turned(steering.outer_rod_end),
            inner_rod_end=turned(steering.inner_rod_end),
        ),
    )


def test_back_to_front_changes_the_sign_of_toe_and_caster(cases: list[Case]) -> None:
    for case in cases[:20]:
        one = curves_at(case.corner, case.candidate, case.travel)
        other = curves_at(front_to_rear(case.corner), case.candidate, case.travel)
        for name in ANGLES:
            sign = -1.0 if name in ("toe", "caster") else 1.0
            difference = getattr(one, name) - sign * getattr(other, name)
            assert np.degrees(np.abs(difference)).max() <= ANGLE_TOLERANCE, name
        for name in ("wheel", "contact", "steering_outer"):
            difference = getattr(one, name) - FRONT_REAR[:, None, None] * getattr(other, name)
            assert np.abs(difference).max() <= LENGTH_TOLERANCE, name
        assert np.abs(one.roll_centre_z - other.roll_centre_z).max() <= SLOPE_TOLERANCE
        assert np.abs(one.kingpin_offset - other.kingpin_offset).max() <= LENGTH_TOLERANCE


def scaled(corner: Corner, by: float) -> Corner:
    """Return the same corner with every length multiplied by `by`."""
    spindle, tyre, steering, travel = corner.spindle, corner.tyre, corner.steering, corner.travel
    return replace(
        corner,
        half_track=corner.half_track * by,
        ground_z=corner.ground_z * by,
        tyre=Tyre(tyre.radius * by, tyre.width * by, tyre.shoulder_radius * by, tyre.loaded_radius * by),
        spindle=Spindle(spindle.lower_pivot * by, spindle.upper_pivot * by, spindle.steering_pivot * by, spindle.pitch),
        lower_arm=LowerArm(corner.lower_arm.inner_pivot * by, corner.lower_arm.direction),
        upper_axis=UpperAxis(corner.upper_axis.pivot_x * by, corner.upper_axis.direction),
        steering=Steering(
            steering.inner_joint * by,
            steering.outer_rod_end,
            steering.inner_rod_end,
            steering.rack_travel * by,
        ),
        travel=Travel(travel.bump * by, travel.droop * by, travel.droop_cap * by),
        camber_curve=corner.camber_curve * [by, 1.0],
        outlines=tuple(outline * by for outline in corner.outlines),
    )


@pytest.mark.parametrize("by", [1.0 / 25.4, 25.4, 1000.0])
def test_no_angle_depends_on_the_unit_of_length(cases: list[Case], by: float) -> None:
    for case in cases[:15]:
        one = curves_at(case.corner, case.candidate, case.travel)
        candidate = replace(case.candidate, pivot_y=case.candidate.pivot_y * by, pivot_z=case.candidate.pivot_z * by)
        other = curves_at(scaled(case.corner, by), candidate, case.travel * by)
        for name in ANGLES:
            assert np.degrees(np.abs(getattr(one, name) - getattr(other, name))).max() <= ANGLE_TOLERANCE
        for name in (*LENGTHS, "fender_clearance"):
            assert np.abs(getattr(one, name) - getattr(other, name) / by).max() <= LENGTH_TOLERANCE, name


def test_locks_where_the_rigid_body_locks(figures: Figures) -> None:
    """At three times their travel most corners lock: at the same positions, for good from there on."""
    assembled = locked = 0
    differences = [0.0]
    unlike = []
    for number, (corner, candidate) in enumerate(random_corners(24, seed=21)):
        bump, droop = 3.0 * corner.travel.bump, 3.0 * corner.travel.droop
        case = case_of(replace(corner, travel=Travel(bump, droop, droop)), candidate, positions=31)
        sweep, curves = case.sweep, curves_at(case.corner, case.candidate, case.travel)
        stands = np.isfinite(sweep.camber)
        alike = np.isfinite(curves.camber[0]) == stands
        if not alike.all():
            unlike.append((number, case.travel[~alike].round(1).tolist()))
        assembled, locked = assembled + stands.sum(), locked + (~stands).sum()
        both = stands & np.isfinite(curves.camber[0])
        differences.append(float(np.abs(curves.contact[:, 0] - sweep.contact)[:, both].max()))
    figures(
        f"lock-up, {assembled} positions assembled and {locked} locked",
        f"{sum(len(travel) for _, travel in unlike)} unlike; contact centre within {max(differences):.1e} mm",
    )
    assert not unlike, "corner and travels (mm) where only one of the two engines assembles"
    assert locked > 50
    assert assembled > 500


def test_fender_clearance_against_brute_force(cases: list[Case], figures: Figures) -> None:
    differences = []
    signs = set()
    for case in cases[:20]:
        curves = curves_at(case.corner, case.candidate, case.travel)
        for p in (0, 5, 10):
            gap = min(
                tyre_gap.outline_gap(case.corner.tyre, case.sweep.wheel[:, p], case.sweep.spin[:, p], outline)
                for outline in case.corner.outlines
            )
            signs.add(bool(gap > 0.0))
            differences.append(abs(gap - curves.fender_clearance[0, p]))
    figures("fender clearance vs brute force", f"{max(differences):.1e} mm over {len(differences)} gaps")
    assert signs == {True, False}, "both clearing and overlapping bodywork must be among the cases"
    assert max(differences) <= GAP_TOLERANCE


def test_silhouette_holds_every_point_of_the_tyre() -> None:
    """The support function is that of the rounded cylinder itself, point by point on its surface.

    Points 0.25 degrees apart around and over the shoulder miss the true extreme by at most
    (radius + shoulder radius) * (0.125 degrees)^2 / 2, below 1e-3 mm for a tyre of 368 mm.
    """
    tyre = Tyre(radius=368.0, width=236.0, shoulder_radius=35.0, loaded_radius=360.0)
    wheel = np.array([3.0, 700.0, 90.0])
    around, across = 1440, 361
    coarsest = np.radians(0.125) ** 2 / 2 * (tyre.radius + tyre.shoulder_radius)
    angle = np.radians(np.arange(0.0, 360.0, 7.0))
    normals = np.stack([np.zeros_like(angle), np.cos(angle), np.sin(angle)])
    for camber, toe in [(0.0, 0.0), (-4.0, 3.0), (6.0, -35.0)]:
        spin = rigid_body.attitude(0.0, np.radians(camber), np.radians(toe)).apply([0.0, 1.0, 0.0])
        surface = tyre_gap.surface_points(tyre, wheel, spin, around, across)
        sampled = np.array([(surface.T @ normal).max() for normal in normals.T])
        beyond = tyre_gap.support(tyre, wheel, spin, angle) - sampled
        assert beyond.min() > -1e-9
        assert beyond.max() < coarsest


def test_contact_centre_is_the_lowest_point_of_the_loaded_circle(cases: list[Case]) -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 20001)
    for case in cases[:10]:
        curves = curves_at(case.corner, case.candidate, case.travel)
        for p in (0, 5, 10):
            spin = case.sweep.spin[:, p]
            first = np.cross(spin, [1.0, 0.0, 0.2])
            first /= np.linalg.norm(first)
            circle = np.outer(first, np.cos(turn)) + np.outer(np.cross(spin, first), np.sin(turn))
            circle = curves.wheel[:, 0, p, None] + case.corner.tyre.loaded_radius * circle
            lowest = circle[:, circle[2].argmin()]
            # Points on the circle are 0.2 mm apart at most, the height of the lowest flat to 3e-5 mm.
            assert curves.contact[:, 0, p] == pytest.approx(lowest, abs=0.2)
            assert curves.contact[2, 0, p] == pytest.approx(lowest[2], abs=3e-5)
            assert curves.contact[2, 0, p] <= lowest[2] + 1e-9
