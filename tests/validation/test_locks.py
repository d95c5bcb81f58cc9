"""Steering locks and ball joints against a rigid spindle on six constraint equations, and by dense steering.

Sources: none is needed for rigid geometry. The second engine is tests/reference/rigid_body.py; a pitman arm swings its
inner joint by a rotation vector (scipy). Ball-joint angles there come from rotations fitted to the engine's points
(tests/reference/parts.py), so that no formula is shared. What is worst between two steering positions is looked for
over many of them with `curves_at`, which the first part of this file checks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from objectives.corner import BallJoint, Candidates, Corner, Pitman
from objectives.curves import Curves, curves_at
from objectives.evaluate import measure
from objectives.joints import joints_of
from objectives.steering import steered_to
from tests.reference import parts, rigid_body
from tests.reference.corners import gear_of, near, random_corners, with_pitman

Figures = Callable[[str, str], None]

# Rounding of the rigid body at a metre is some 1e-13 mm; ill-placed arms multiply it by up to a thousand.
LENGTH_TOLERANCE = 1e-9  # mm
ANGLE_TOLERANCE = 1e-9  # degrees
# 41 steering places, and a parabola through the three around the least; a spline through 7 mm steps of travel.
REACH_TOLERANCE = 0.002  # mm
HIDDEN = 0.02  # mm: what no swept position shows, ten times as much
# A look between the positions is taken for what it promises above 0.001 mm; the promise is a parabola's.
GAP_TOLERANCE = 0.01  # mm
# The same for 1e-4 of the cosine of a joint's angle, or of its square.
COSINE_TOLERANCE = 2e-4

ANGLES = ("camber", "toe", "caster", "kingpin", "outer_rod_end", "inner_rod_end")
LENGTHS = ("wheel", "contact", "lower_outer", "upper_outer", "steering_outer", "kingpin_offset")
STRIDE = 8.0  # mm of travel or rack between two poses of the engine, which takes shorter steps where it must
PLACES = np.linspace(-1.0, 1.0, 41)  # of the way to the left lock


def with_joints(corner: Corner, rng: np.random.Generator) -> Corner:
    """Ball joints whose directions are both given, or one of them: for the upper one only its spindle's or arm's."""
    up = [0.0, 0.0, 1.0]
    upper = (
        BallJoint(near(rng, up, 0.25), None, 0.5) if rng.random() < 0.5 else BallJoint(None, near(rng, up, 0.25), 0.5)
    )
    return replace(
        corner, upper_outer_joint=upper, lower_outer_joint=BallJoint(near(rng, up, 0.25), near(rng, up, 0.25), 0.5)
    )


def differences(ours: Curves, theirs: rigid_body.Sweep, joints: dict[str, np.ndarray]) -> tuple[float, float]:
    """Largest difference of any length (mm) and any angle (degrees); both engines must lock at the same positions."""
    stands = np.isfinite(theirs.camber)
    assert (np.isfinite(ours.camber[0]) == stands).all()
    if not stands.any():
        return 0.0, 0.0
    lengths = [getattr(ours, name)[..., 0, :] - getattr(theirs, name) for name in LENGTHS]
    angles = [getattr(ours, name)[0] - getattr(theirs, name) for name in ANGLES]
    angles += [getattr(ours, f"{arm}_outer_joint")[0] - found for arm, found in joints.items()]
    largest = (max(float(np.abs(gap[..., stands]).max()) for gap in gaps) for gaps in (lengths, angles))
    length, angle = largest
    return length, float(np.degrees(angle))


@pytest.mark.parametrize("gear", ["rack", "pitman"])
def test_both_locks_against_the_rigid_body(gear: str, figures: Figures) -> None:
    """Either way along the gear as far as it goes: every point and angle, those of ball joints too."""
    rng = np.random.default_rng(31)
    found, locked, steepest = [], 0, 0.0
    for corner, candidate in random_corners(8, seed=32):
        turned = with_joints(with_pitman(corner, rng) if gear == "pitman" else corner, rng)
        points = rigid_body.hardpoints(turned, candidate)
        travel = np.array([-1.0, -0.5, 0.0, 0.6]) * turned.travel.droop
        along, most = gear_of(turned)
        for way in (-1.0, 1.0):
            sweep = rigid_body.solve(points, travel, way * most, along, largest_step=STRIDE)
            joints = {
                "upper": parts.ball_joint_angles(turned, candidate, sweep, "upper", turned.upper_outer_joint),
                "lower": parts.ball_joint_angles(turned, candidate, sweep, "lower", turned.lower_outer_joint),
            }
            ours = curves_at(turned, candidate, travel, turned.steering.shift(np.asarray(way * turned.steering.lock)))
            found.append(differences(ours, sweep, joints))
            joint = np.where(np.isfinite(sweep.camber), (points.inner_joint + along(way * most))[:, None], np.nan)
            assert ours.inner_joint[:, 0] == pytest.approx(joint, abs=LENGTH_TOLERANCE, nan_ok=True)
            locked += int(np.isnan(sweep.camber).sum())
            steepest = max(steepest, float(np.nanmax(np.abs(sweep.toe), initial=0.0)))
    lengths, angles = np.max(found, axis=0)
    figures(
        f"both locks vs rigid body, {gear}, {len(found)} sweeps ({locked} positions lock in both)",
        f"{lengths:.1e} mm, {angles:.1e} deg",
    )
    assert steepest > np.radians(20.0), "locks that turn the wheel"
    assert lengths <= LENGTH_TOLERANCE
    assert angles <= ANGLE_TOLERANCE


@pytest.mark.parametrize("gear", ["rack", "pitman"])
def test_the_left_lock_is_where_the_rigid_body_turns_left(gear: str) -> None:
    """ISO 8855: seen from above, to the left is anticlockwise, so the left wheel's front goes outboard: toe falls."""
    rng = np.random.default_rng(35)
    inboard = 0
    for corner, candidate in random_corners(16, seed=36):
        turned = with_pitman(corner, rng) if gear == "pitman" else corner
        along, most = gear_of(turned)
        points = rigid_body.hardpoints(turned, candidate)
        toe = {way: rigid_body.solve(points, np.zeros(1), way * 0.3 * most, along).toe[0] for way in (-1.0, 1.0)}
        left = min(toe, key=lambda way: toe[way])
        inboard += left < 0.0
        shift = steered_to(turned, np.asarray(0.3)).shift
        assert shift == pytest.approx(along(left * 0.3 * most), abs=1e-9)
    assert 0 < inboard < 16, "gears that go either way to steer left"


def test_names_of_locks_in_front_and_behind() -> None:
    """A rack ahead of the axle steers left by moving left, which is +y; one behind it by moving right."""
    for x, way in ((110.0, 1.0), (-110.0, -1.0)):
        corner, _ = random_corners(1, seed=5)[0]
        spindle, joint = corner.spindle, corner.steering.inner_joint
        steering = replace(corner.steering, inner_joint=np.array([x, joint[1], joint[2]]), rack_travel=30.0)
        moved = replace(spindle, steering_pivot=np.array([x, *spindle.steering_pivot[1:]]))
        corner = replace(corner, spindle=moved, steering=steering)
        assert steered_to(corner, np.asarray(1.0)).shift.tolist() == [0.0, way * 30.0, 0.0]
        for sign in (1.0, -1.0):
            # joint behind its upright shaft: a right-handed turn (anticlockwise) takes it to the right
            box = Pitman(np.array([x + 100.0, joint[1], joint[2]]), np.array([0.0, 0.0, sign]), 0.2)
            swung = replace(corner, steering=replace(steering, rack_travel=0.0, pitman=box))
            left = steered_to(swung, np.asarray(1.0))
            assert left.name == "at left lock"
            assert np.sign(left.shift[1]) == way
            assert np.sign(steered_to(swung, np.asarray(-1.0)).shift[1]) == -way


def test_the_left_lock_with_an_oblique_tie_rod() -> None:
    """A steering arm that points inboard, so that its end runs fore and aft while the rack runs sideways."""
    for x in (-250.0, 250.0):
        corner, candidate = random_corners(1, seed=5)[0]
        spindle, lower = corner.spindle, corner.spindle.lower_pivot
        inner = np.array([x, corner.steering.inner_joint[1], corner.steering.inner_joint[2]])
        moved = replace(spindle, steering_pivot=np.array([lower[0], lower[1] - 90.0, 0.0]))
        corner = replace(corner, spindle=moved, steering=replace(corner.steering, inner_joint=inner))
        points = rigid_body.hardpoints(corner, candidate)
        outboard, inboard = (rigid_body.solve(points, np.zeros(1), way).toe[0] for way in (3.0, -3.0))
        left = 1.0 if outboard < inboard else -1.0
        assert left == -np.sign(x)
        assert np.sign(steered_to(corner, np.asarray(1.0)).shift[1]) == left


def leaning(corner: Corner, rng: np.random.Generator, direction: int = -1) -> Corner:
    """A ball joint that tilts most with the steering held somewhere between the locks.

    In droop the arm's outer end goes down and the housing, in line with the kingpin at ride, leans outboard; the stud
    leans inboard of the kingpin, turned in plan by some degrees that the steering makes good. In bump all is reversed.
    """
    lean, plan = rng.uniform(0.3, 0.4), np.radians(rng.uniform(-20.0, 20.0))
    spindle = corner.spindle
    kingpin = np.array(spindle.upper_pivot - spindle.lower_pivot)
    kingpin /= np.linalg.norm(kingpin)
    stud = kingpin + direction * np.tan(lean) * np.array([np.sin(plan), np.cos(plan), 0.0])
    housing = rigid_body.attitude(spindle.pitch, corner.static_camber, corner.static_toe).apply(kingpin)
    joint = BallJoint(stud / np.linalg.norm(stud), housing, lean + rng.uniform(0.1, 0.2))
    steering, travel = corner.steering, corner.travel
    free = {name: replace(getattr(steering, name), max_angle=1.2) for name in ("outer_rod_end", "inner_rod_end")}
    rack = 0.5 * abs(float(corner.spindle.steering_pivot[0]))  # some 30 degrees of the wheel each way
    return replace(
        corner,
        lower_outer_joint=joint,
        steering=replace(steering, rack_travel=rack, **free),
        travel=replace(travel, droop_cap=travel.droop, bump_cap=travel.bump),
    )


def reach_over_steering(corner: Corner, candidate: Candidates, direction: int, cap: float) -> np.ndarray:
    """Travel at which each of `PLACES` runs out of joint angle, mm (P,); infinite where one of them locks."""
    shift = steered_to(corner, PLACES).shift
    travel = np.linspace(0.0, cap, int(np.ceil(cap / 7.0)) + 1)
    curves = curves_at(corner, candidate.take(np.zeros(PLACES.size, dtype=int)), direction * travel, shift)
    reached = np.full(PLACES.size, cap)
    for place in range(PLACES.size):
        if np.isnan(curves.camber[place]).any():
            reached[place] = np.inf
            continue
        for joint in joints_of(corner):
            excess = getattr(curves, joint.column)[place] - joint.max_angle
            if excess[0] > 0.0:
                reached[place] = 0.0
            elif (excess > 0.0).any():
                first = int(np.argmax(excess > 0.0))
                near_by = slice(max(first - 4, 0), first + 4)
                roots = CubicSpline(travel[near_by], excess[near_by]).roots(extrapolate=False)
                past = roots[(roots >= travel[first - 1] - 1e-6) & (roots <= travel[first] + 1e-6)]
                reached[place] = min(reached[place], past.min())
    return reached


def parabola(values: np.ndarray) -> float:
    """Least value of evenly spaced ones, by a parabola through the three around the least."""
    middle = int(np.argmin(values))
    if not 0 < middle < values.size - 1:
        return float(values[middle])
    before, here, after = values[middle - 1 : middle + 2]
    bend = before - 2.0 * here + after
    return float(here - (after - before) ** 2 / (8.0 * bend)) if bend > 0.0 and np.isfinite(bend) else float(here)


def test_limits_at_the_worst_steering_wherever_it_lies(figures: Figures) -> None:
    """Droop and bump limits against 41 steering places; in several corners no one of the five swept is the worst."""
    rng = np.random.default_rng(41)
    found, between = [], 0
    for number, (corner, candidate) in enumerate(random_corners(8, seed=42)):
        direction = 1 if number % 3 == 2 else -1
        turned = leaning(corner, rng, direction)
        cap = turned.travel.droop_cap if direction < 0 else turned.travel.most_bump
        reached = reach_over_steering(turned, candidate, direction, cap)
        if np.isinf(reached).any():
            continue
        measured = measure(turned, candidate)
        name, words = ("droop_limit", "limited_by") if direction < 0 else ("bump_limit", "bump_limited_by")
        found.append(abs(float(measured[name][0]) - parabola(reached)))
        worst = int(np.argmin(reached))
        missed = reached[::10].min() - reached.min()
        if missed > HIDDEN:
            between += 1
            side = "left" if PLACES[worst] > 0.0 else "right"
            assert measured[words][0] == f"lower outer joint towards {side} lock"
    figures(
        f"limits over steering vs 41 places, {len(found)} corners, {between} with the worst between positions",
        f"{max(found):.1e} mm",
    )
    assert between >= 4
    assert len(found) >= 7
    assert max(found) <= REACH_TOLERANCE


def test_limit_from_the_rigid_body_at_the_worst_steering() -> None:
    """At the droop limit the second engine's joint stands at its largest angle, at the steering that is named."""
    rng = np.random.default_rng(41)
    checked = 0
    for corner, candidate in random_corners(6, seed=42):
        turned = leaning(corner, rng)
        measured = measure(turned, candidate)
        limit, words = float(measured["droop_limit"][0]), str(measured["limited_by"][0])
        if not words.startswith("lower outer joint") or limit == 0.0:
            continue
        points, angles = rigid_body.hardpoints(turned, candidate), []
        for share in np.linspace(-1.0, 1.0, 9):
            way = steered_to(turned, np.asarray(share)).shift[1]
            sweep = rigid_body.solve(points, np.array([-limit]), float(way))
            joint = turned.lower_outer_joint
            angles.append(parts.ball_joint_angles(turned, candidate, sweep, "lower", joint)[0])
        at_worst = max(angles)
        # nine places: the worst may lie an eighth of the way from the nearest, where the angle falls by its bend
        assert at_worst <= joint.max_angle + np.radians(1e-6)
        assert at_worst >= joint.max_angle - np.radians(0.2)
        checked += 1
    assert checked >= 4


def test_fender_clearance_at_the_worst_steering(figures: Figures) -> None:
    """Against 21 steering places and 25 travels each, which can only see more room than there is."""
    found, tighter = [], 0
    places = PLACES[::2]
    for corner, candidate in random_corners(6, seed=52):
        measured = measure(corner, candidate, only=("fender_clearance",))
        if not measured["complete"][0]:
            continue
        travel = np.linspace(-corner.travel.droop, corner.travel.bump, 25)
        many = candidate.take(np.zeros(places.size, dtype=int))
        gaps = curves_at(corner, many, travel, steered_to(corner, places).shift).fender_clearance
        tighter += gaps.min() < gaps[10].min() - 1.0
        found.append(float(measured["fender_clearance"][0]) - float(gaps.min()))
    figures(
        f"fender clearance over steering vs 21 places, {len(found)} corners",
        f"at most {max(found):.1e} mm more than they see, at most {-min(found):.1e} mm less",
    )
    assert len(found) >= 3
    assert tighter >= 2, "steering that takes room"
    assert max(found) <= GAP_TOLERANCE
    assert min(found) >= -1.0, "25 travels miss little of the worst one"


def test_worst_angles_over_travel_and_steering(figures: Figures) -> None:
    """Against 21 steering places and 41 travels each, which can only see less of an angle than there is."""
    rng = np.random.default_rng(61)
    found, between = [], 0
    for corner, candidate in random_corners(8, seed=62):
        turned = with_joints(corner, rng)
        measured = measure(turned, candidate)
        if not measured["complete"][0]:
            continue
        travel = np.linspace(-turned.travel.droop, turned.travel.bump, 41)
        places = PLACES[::2]
        many = candidate.take(np.zeros(places.size, dtype=int))
        curves = curves_at(turned, many, travel, steered_to(turned, places).shift)
        for joint in joints_of(turned):
            sampled = getattr(curves, joint.column).max(axis=1)
            between += np.cos(sampled[[0, 5, 10, 15, 20]].max()) - np.cos(sampled.max()) > COSINE_TOLERANCE
            found.append(float(np.cos(measured[f"{joint.column}_worst"][0]) - np.cos(sampled.max())))
    figures(
        f"worst joint angles over steering vs 21 places, {len(found)} joints, {between} worst between positions",
        f"cosine at most {max(found):.1e} more than they see, {-min(found):.1e} less",
    )
    assert between >= 1
    assert max(found) <= COSINE_TOLERANCE
    assert min(found) >= -2e-3, "the places see nearly all of it"
