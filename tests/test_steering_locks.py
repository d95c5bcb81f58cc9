"""What steering locks, joints and a shock do to the limits: they only ever take away, and what is taken is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from objectives.between import least_over_steering, valley
from objectives.corner import BallJoint, Candidates, Corner, Link, Pitman, Shock
from objectives.curves import curves_at
from objectives.evaluate import measure
from objectives.motion import move
from objectives.ride import lower_circle
from objectives.steering import SHARES, steered_to, steering_positions
from tests.reference.corners import random_corners

# The same corner swept with other parts beside: rounding of exact poses over the slope of a limit.
SAME = 1e-6  # mm
LIMITS = ("droop_limit", "bump_limit")


def straight(corner: Corner) -> Corner:
    travel = replace(corner.travel, bump_cap=1.3 * corner.travel.bump)
    return replace(corner, steering=replace(corner.steering, rack_travel=0.0), travel=travel)


def both_limits(corner: Corner, candidate: Candidates) -> np.ndarray:
    measured = measure(corner, candidate, only=LIMITS)
    found = np.array([float(measured[name][0]) for name in LIMITS])
    assert (found >= 0.0).all()
    assert np.isfinite(found).all()
    return found


def joint(max_angle: float) -> BallJoint:
    return BallJoint(np.array([0.1, 0.0, 1.0]) / np.hypot(0.1, 1.0), np.array([0.0, 0.0, 1.0]), max_angle)


def shock(corner: Corner) -> Shock:
    """From the middle of the lower arm to the frame above, with a stroke that ends inside most travels."""
    circle = lower_circle(corner)
    mount = circle.centre + 0.6 * circle.radius * circle.outward
    link = Link("lower", mount, mount + np.array([0.0, -80.0, 350.0]))
    length = float(np.linalg.norm(link.frame_point - link.arm_point))
    return Shock(link, 1.1 * length, 0.85 * length)


def additions(corner: Corner) -> dict[str, Corner]:
    steering = corner.steering
    way = 0.3 * abs(float(corner.spindle.steering_pivot[0]))
    pivot = np.array(steering.inner_joint) + np.array([90.0, 0.0, 20.0])
    box = Pitman(pivot, np.array([0.0, 0.0, 1.0]), way / 90.0)
    return {
        "rack": replace(corner, steering=replace(steering, rack_travel=way)),
        "pitman": replace(corner, steering=replace(steering, pitman=box)),
        "upper joint": replace(corner, upper_outer_joint=joint(0.25)),
        "lower joint": replace(corner, lower_outer_joint=joint(0.3)),
        "shock": replace(corner, shock=shock(corner)),
    }


def test_every_addition_takes_travel_away_or_none() -> None:
    taken: dict[str, int] = {}
    for corner, candidate in random_corners(6, seed=81):
        bare = straight(corner)
        before = both_limits(bare, candidate)
        every = replace(additions(bare)["rack"], upper_outer_joint=joint(0.25), shock=shock(bare))
        together = both_limits(every, candidate)
        for name, more in additions(bare).items():
            after = both_limits(more, candidate)
            assert (after <= before + SAME).all(), name
            taken[name] = taken.get(name, 0) + bool((after < before - 1.0).any())
            if name in ("rack", "upper joint", "shock"):
                assert (together <= after + SAME).all(), name
    assert min(taken.values()) >= 2, taken


def test_more_lock_never_gives_more_travel() -> None:
    for corner, candidate in random_corners(6, seed=82):
        way = abs(float(corner.spindle.steering_pivot[0]))
        bare = straight(corner)
        found = [
            both_limits(replace(bare, steering=replace(bare.steering, rack_travel=share * way)), candidate)
            for share in (0.0, 0.1, 0.2, 0.3, 0.4)
        ]
        assert (np.diff(found, axis=0) <= SAME).all()


@pytest.mark.parametrize("which", ["upper_outer_joint", "lower_outer_joint", "outer_rod_end", "inner_rod_end"])
def test_a_wider_angle_never_gives_less_travel(which: str) -> None:
    widened = 0
    for corner, candidate in random_corners(4, seed=83):
        turned = replace(straight(corner), steering=replace(corner.steering, rack_travel=25.0))
        found = []
        for angle in (0.1, 0.2, 0.35, 0.6, 1.0):
            if which.endswith("joint"):
                wider = replace(turned, **{which: joint(angle)})
            else:
                end = replace(getattr(turned.steering, which), max_angle=angle)
                wider = replace(turned, steering=replace(turned.steering, **{which: end}))
            found.append(both_limits(wider, candidate))
        assert (np.diff(found, axis=0) >= -SAME).all()
        widened += bool((np.diff(found, axis=0) > 1.0).any())
    assert widened >= 3


def test_without_a_lock_nothing_is_said_of_steering() -> None:
    (corner, candidate), *_ = random_corners(1, seed=84)
    bare = straight(corner)
    assert [position.name for position in steering_positions(bare)] == ["straight ahead"]
    for name in ("limited_by", "bump_limited_by"):
        assert "straight" not in measure(bare, candidate)[name][0]
    turned = replace(bare, steering=replace(bare.steering, rack_travel=20.0))
    assert [position.name for position in steering_positions(turned)] == [
        "straight ahead",
        "at left lock",
        "at right lock",
        "towards left lock",
        "towards right lock",
    ]
    assert [float(position.share) for position in steering_positions(turned)] == [0.0, 1.0, -1.0, 0.5, -0.5]


def test_the_named_lock_is_where_the_joint_stands_at_its_angle() -> None:
    named = 0
    words = {"straight ahead": 0.0, "at left lock": 1.0, "at right lock": -1.0}
    for corner, candidate in random_corners(9, seed=85):
        measured = measure(corner, candidate)
        limit, by = float(measured["droop_limit"][0]), str(measured["limited_by"][0])
        part, _, place = by.partition(" rod end ")
        if part not in ("outer", "inner") or place not in words or limit == 0.0:
            continue
        shift = steered_to(corner, np.asarray(words[place])).shift
        at = curves_at(corner, candidate, np.array([-limit]), shift)
        name = f"{part}_rod_end"
        # 1e-9 mm of travel, over some 200 mm of arm
        assert getattr(at, name)[0, 0] == pytest.approx(getattr(corner.steering, name).max_angle, abs=1e-10)
        named += 1
    assert named >= 3


@pytest.mark.parametrize("direction", [1, -1], ids=["bump", "droop"])
def test_a_joint_past_its_angle_just_beyond_ride_height_leaves_the_other_way_alone(direction: int) -> None:
    """At full lock and with its arm as at ride the wheel stands some mm above or below ride height, where travel is 0.

    A joint may tilt as far as it does at 0.3 mm of travel one way at a lock, its worst, where the ride pose already
    stands farther that way; it tilts less the other way.
    """
    crossed = 0
    for corner, candidate in random_corners(5, seed=86):
        bare = straight(corner)
        end = replace(bare.steering.outer_rod_end, max_angle=1.5)
        way = 0.4 * abs(float(corner.spindle.steering_pivot[0]))
        free = replace(bare, steering=replace(bare.steering, rack_travel=way, outer_rod_end=end, inner_rod_end=end))
        places = np.linspace(-1.0, 1.0, 11)
        many, shift = candidate.take(np.zeros(11, dtype=int)), steered_to(free, places).shift
        lifts = [float(s.whole.at(s.whole.ride[None]).travel[0, 0]) for s in move(free, candidate).steered[1:3]]
        lock = 10 if direction * lifts[0] > 0.3 else 0 if direction * lifts[1] > 0.3 else None
        for plan in np.linspace(0.0, 2.0 * np.pi, 8, endpoint=False):
            stud = np.array([0.6 * np.cos(plan), 0.6 * np.sin(plan), 0.8])
            leaning = BallJoint(stud, np.array([0.0, 0.0, 1.0]), 1.5)
            travel = direction * np.array([-20.0, 0.0, 0.3])
            angles = curves_at(replace(free, lower_outer_joint=leaning), many, travel, shift).lower_outer_joint
            grows = angles[:, 0].max() < angles[:, 1].max() < angles[:, 2].max()
            if angles[:, 2].argmax() != lock or not grows:
                continue
            limited = replace(free, lower_outer_joint=replace(leaning, max_angle=float(angles[lock, 2])))
            limits = both_limits(limited, candidate)[::direction]  # the free way first
            assert limits[1] == pytest.approx(0.3, abs=SAME)
            assert limits[0] >= 20.0
            crossed += 1
            break
    assert crossed >= 2


def test_a_lock_beyond_the_tie_rod_is_a_result_and_raises_no_warning() -> None:
    corner, candidate = random_corners(1, seed=87)[0]
    many = Candidates(candidate.pivot_y + np.linspace(-10.0, 10.0, 5), candidate.pivot_z, candidate.static_camber)
    far = replace(corner, steering=replace(corner.steering, rack_travel=600.0))
    measured = measure(far, many)
    for name in LIMITS:
        assert measured[name].tolist() == [0.0] * 5
    for words in (*measured["limited_by"], *measured["bump_limited_by"]):
        assert words in ("tie rod locked at left lock", "tie rod locked at right lock")
    assert not measured["complete"].any()
    # the travels of assembled_* are 0 as well, and what was built is as it was
    near = measure(corner, many)
    for name in ("arm_length", "tie_rod_length"):
        assert measured[name].tolist() == near[name].tolist()
    assert np.abs([measured["assembled_droop"], measured["assembled_bump"]]).max() == 0.0
    assert np.isnan(curves_at(far, many, np.array([0.0, 20.0]), steered_to(far, np.asarray(1.0)).shift).toe).all()


def test_limits_stay_zero_or_more_where_the_tie_rod_only_just_reaches() -> None:
    """Towards the farthest rack that reaches, halved again and again: there a wheel may lock before ride height."""
    for corner, candidate in random_corners(6, seed=90)[3:]:
        low, high = 0.0, 4.0 * abs(float(corner.spindle.steering_pivot[0]))
        for _ in range(9):
            middle = 0.5 * (low + high)
            far = replace(corner, steering=replace(corner.steering, rack_travel=middle))
            reached = both_limits(far, candidate)
            low, high = (middle, high) if reached.max() > 0.0 else (low, middle)


def test_candidates_measured_together_and_alone_at_the_locks() -> None:
    corner, candidate = random_corners(3, seed=88)[2]
    corner = replace(corner, lower_outer_joint=joint(0.3), shock=shock(corner))
    step = np.linspace(-15.0, 15.0, 7)
    many = Candidates(candidate.pivot_y + step, candidate.pivot_z - step, candidate.static_camber)
    together = measure(corner, many)
    for row in range(7):
        alone = measure(corner, many.take(np.array([row])))
        for name, column in together.items():
            if column.dtype.kind == "f":
                assert alone[name][0] == pytest.approx(column[row], rel=1e-9, abs=1e-7, nan_ok=True), name
            else:
                assert alone[name][0] == column[row], name


def test_a_valley_between_positions_is_followed_down() -> None:
    """Smooth curves of the steering with a known least value: a cosine whose valley lies anywhere, and its ends."""
    place = np.linspace(-1.3, 1.3, 53)
    shares = np.array(SHARES)

    def curve(share: np.ndarray, at: np.ndarray) -> np.ndarray:
        return 3.0 - 2.0 * np.cos(1.1 * (share - at))

    looked = 0

    def look(index: np.ndarray, share: np.ndarray) -> np.ndarray:
        nonlocal looked
        looked += index.size
        return curve(share, place[index])

    least, where = least_over_steering(shares, np.stack([curve(s, place) for s in shares]), look, 1e-9)
    best = np.clip(place, -1.0, 1.0)
    # three parabolas, the last through places some 1e-3 apart
    assert least == pytest.approx(curve(best, place), abs=1e-6)
    assert where == pytest.approx(best, abs=1e-3)
    assert looked <= 3 * place.size


def test_a_parabola_is_found_whole() -> None:
    shares = np.sort(np.array(SHARES))[:, None]
    at, depth = np.array([0.3, -0.8, 1.4]), np.array([2.0, -1.0, 0.0])
    found, deep = valley(np.repeat(shares, 3, axis=1), (shares - at) ** 2 + depth)
    assert found[:2] == pytest.approx(at[:2], abs=1e-12)
    assert deep[:2] == pytest.approx(depth[:2], abs=1e-12)
    assert np.isinf(found[2])
    flat = valley(np.repeat(shares, 1, axis=1), np.ones((5, 1)))
    assert np.isinf(flat[0][0])


def test_a_sweep_between_positions_ends_at_full_droop_and_full_bump() -> None:
    """Where nothing beyond the required travel is counted: the same arm angle is not as high at every lock."""
    checked, lift = 0, 0.0
    for drawn, candidate in random_corners(8, seed=37):
        asked = drawn.travel
        corner = replace(drawn, travel=replace(asked, droop_cap=asked.droop, bump_cap=asked.bump))
        motion = move(corner, candidate)
        if not motion.complete[0]:
            continue
        for share in (-0.8, -0.3, 0.2, 0.7):
            between = motion.required_at(np.zeros(1, dtype=np.intp), np.array([share]))
            assert between.travel[[0, -1], 0] == pytest.approx([-asked.droop, asked.bump], abs=SAME)
            lift = max(lift, float(np.abs(between.span.high - motion.straight.required.span.high)[0]))
            checked += 1
    assert checked >= 12
    assert lift > 1e-3
