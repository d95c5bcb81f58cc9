"""Corners as built, against constraint equations solved by scipy and against what a moved frame cannot change.

Sources: none is needed for rigid geometry; the reference (`tests/reference/as_built.py`) shares no formula with the
package.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from objectives.as_built import COUNT, OFFSETS, Threads, attitude, built, designed, motion_of, trimmed, values_as_built
from objectives.corner import BallJoint, Candidates, Corner, Link, Shock, Travel
from objectives.evaluate import measure
from objectives.joints import joints_of
from objectives.registry import OBJECTIVES
from objectives.vectors import vector
from tests.reference import as_built
from tests.reference.corners import assembling_corners, random_corners

LENGTH = 1e-7
"""mm: least squares stops a few digits above rounding at half a metre."""
ANGLE = 1e-9
"""radians: the same over the shortest lever, some 100 mm."""
SAME = 1e-6
"""mm and radians: two ways to the same polynomial's crossing, as of the package's own curves."""

ENDS = 0.5
"""mm: where the wheel turns back before anything locks, the farthest of 17 points of a sweep stands for its end."""

Figures = Callable[[str, str], None]


def _offsets(seed: int, most: float = 3.0) -> np.ndarray:
    return np.random.default_rng(seed).uniform(-most, most, COUNT)


def test_corners_as_built_satisfy_the_constraint_equations(figures: Figures) -> None:
    corners, _ = assembling_corners(12, seed=11)
    worst, judged = [0.0, 0.0], 0
    for number, (corner, candidate) in enumerate(corners):
        offsets = _offsets(number)
        placed = built(designed(corner, candidate), offsets[:, None])
        reference = as_built.Built(corner, candidate, offsets)
        motion = motion_of(placed)
        sweep = motion.straight.required
        if not motion.complete.all():  # built too far off to get through its travel
            continue
        judged += 1
        ends = ((-corner.travel.droop, 0), (corner.travel.bump, -1))
        seen = [(*reference.attitude(0.0)[:2], *(part[0] for part in attitude(placed)))]
        for travel, row in ends:
            camber, toe, contact = reference.attitude(travel)
            seen.append((camber, toe, sweep.camber[row, 0], sweep.toe[row, 0]))
            worst[0] = max(worst[0], float(np.abs(contact - sweep.contact[:, row, 0]).max()))
        for camber, toe, found_camber, found_toe in seen:
            worst[1] = max(worst[1], abs(camber - found_camber), abs(toe - found_toe))
    figures("corners as built vs constraint equations", f"{worst[0]:.1e} mm, {np.degrees(worst[1]):.1e} deg")
    assert judged >= 10
    assert worst[0] < LENGTH
    assert worst[1] < ANGLE


def _furnished(corner: Corner) -> Corner:
    """The corner with ball joints whose housings stand in line at ride, and a shock on the upper arm."""
    shock = Shock(Link("upper", vector(30.0, 400.0, 250.0), vector(20.0, 330.0, 600.0)), 5000.0, 1.0)
    joint = BallJoint(vector(0.0, 0.1, 1.0) / np.sqrt(1.01), None, 1.2)
    return replace(corner, upper_outer_joint=joint, lower_outer_joint=replace(joint, max_angle=1.3), shock=shock)


def test_a_perfect_build_measures_as_designed() -> None:
    for corner, candidate in assembling_corners(6, seed=5)[0]:
        full = _furnished(corner)
        wanted = measure(full, candidate)
        found = values_as_built(designed(full, candidate), np.zeros((COUNT, 1)), OBJECTIVES)
        for objective in OBJECTIVES:
            value = found[objective.name][0]
            if objective.most is not None:  # as built it is counted a little farther
                value = min(value, objective.most[1](full.travel))
            assert value == pytest.approx(wanted[objective.name][0], abs=SAME, nan_ok=True), objective.name


def test_a_frame_moved_along_and_across_changes_no_angle() -> None:
    """Both arms' brackets and the inner joint moved alike, forward and sideways: the same corner somewhere else."""
    for number, (corner, candidate) in enumerate(assembling_corners(5, seed=8)[0]):
        full = _furnished(corner)
        design = designed(full, candidate)
        moved = np.zeros((COUNT, 1))
        shift = np.random.default_rng(number).uniform(-9.0, 9.0, 2)
        for name in ("pivot", "lower_pivot", "inner_joint"):
            moved[OFFSETS[name].start : OFFSETS[name].start + 2, 0] = shift
        motions = [motion_of(built(design, offsets)) for offsets in (np.zeros((COUNT, 1)), moved)]
        at_home, elsewhere = (motion.straight.required for motion in motions)
        assert elsewhere.camber == pytest.approx(at_home.camber, abs=ANGLE)
        assert elsewhere.toe == pytest.approx(at_home.toe, abs=ANGLE)
        for joint in joints_of(full):
            assert joint.tilt(elsewhere) == pytest.approx(joint.tilt(at_home), abs=1e-7), joint.name
        away = elsewhere.contact - at_home.contact
        assert away == pytest.approx(np.array([*shift, 0.0])[:, None, None] * np.ones(away.shape), abs=LENGTH)


def test_a_spindle_measured_from_elsewhere_keeps_its_joints_angles() -> None:
    """All three points of the spindle moved alike along the spin axis, and the frame by as much: camber stays."""
    for corner, candidate in assembling_corners(4, seed=9)[0]:
        flat = replace(corner, static_toe=0.0, static_camber=0.0, spindle=replace(corner.spindle, pitch=0.0))
        upright = Candidates(candidate.pivot_y, candidate.pivot_z, np.zeros(1))
        offsets = np.zeros((COUNT, 1))
        for name in ("pivot", "lower_pivot", "inner_joint", "spindle_lower", "spindle_upper", "spindle_steering"):
            offsets[OFFSETS[name].start + 1] = 4.0
        placed = built(designed(flat, upright), offsets)
        assert [part[0] for part in attitude(placed)] == pytest.approx([0.0, 0.0], abs=ANGLE)


@pytest.mark.parametrize("threads", [Threads(20.0, 20.0), Threads(20.0, 0.0), Threads(0.0, 20.0)])
def test_threads_bring_static_camber_and_toe_back(threads: Threads) -> None:
    for number, (corner, candidate) in enumerate(assembling_corners(5, seed=3)[0]):
        design = designed(corner, candidate)
        offsets = _offsets(number, 1.5)[:, None]
        after = trimmed(design, offsets, threads)
        camber, toe = (
            found - wanted for found, wanted in zip(attitude(built(design, after)), attitude(design), strict=True)
        )
        turned = after - offsets
        assert np.abs(turned[:18]).max() == 0.0
        if threads.arm:
            assert abs(camber[0]) < ANGLE
        if threads.tie_rod:
            assert abs(toe[0]) < ANGLE
        assert (turned[18, 0] != 0.0) == (threads.arm > 0.0)
        assert (turned[19, 0] != 0.0) == (threads.tie_rod > 0.0)


def test_a_thread_ends_where_it_ends_and_the_other_still_does_its_own() -> None:
    corner, candidate = assembling_corners(1, seed=3)[0][0]
    design, offsets = designed(corner, candidate), np.zeros((COUNT, 1))
    offsets[OFFSETS["pivot"].start + 1] = -5.0
    free = trimmed(design, offsets, Threads(20.0, 20.0))
    short = trimmed(design, offsets, Threads(1.0, 20.0))
    assert abs(free[18, 0]) > 2.0
    assert short[18, 0] == pytest.approx(np.sign(free[18, 0]))
    camber, toe = attitude(built(design, short))
    assert abs(camber[0] - attitude(design)[0][0]) > 1e-3
    assert toe[0] == pytest.approx(attitude(design)[1][0], abs=ANGLE)


def test_spare_travel_is_what_is_left_of_it_where_a_corner_locks() -> None:
    """Against how far the design assembles, at several times the travel it was drawn for."""
    locked = {"droop": 0, "bump": 0}
    for drawn, candidate in random_corners(12, seed=21):
        asked = Travel(1.5 * drawn.travel.bump, 2.0 * drawn.travel.droop, 2.0 * drawn.travel.droop)
        corner = replace(drawn, travel=asked, steering=replace(drawn.steering, rack_travel=0.0))
        measured = measure(corner, candidate, only=())
        found = values_as_built(designed(corner, candidate), np.zeros((COUNT, 1)), ())
        for end, wanted in (("droop", asked.droop), ("bump", asked.bump)):
            short = float(measured[f"assembled_{end}"][0]) - wanted
            if short < -1e-6:  # a root of a polynomial
                locked[end] += 1
                assert found[f"spare_{end}"][0] == pytest.approx(short, abs=ENDS)
            else:
                assert 0.0 < found[f"spare_{end}"][0] < 0.4 * wanted  # swept a tenth farther at least
    assert locked["droop"] >= 5


@pytest.mark.parametrize("part", ["arm_length", "tie_rod"])
def test_what_is_cut_too_long_or_too_short_cannot_be_set_down(part: str) -> None:
    corner, candidate = random_corners(1, seed=21)[0]
    design = designed(corner, candidate)
    offsets = np.zeros((COUNT, 3))
    offsets[OFFSETS[part]] = [-250.0, 0.0, 600.0]  # no triangle closes any more
    placed = built(design.take(np.zeros(3, dtype=np.intp)), offsets)
    assert np.isfinite(placed.ride_angle).tolist() == [False, True, False]
