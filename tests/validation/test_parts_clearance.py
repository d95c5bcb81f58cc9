"""Gaps between parts against general-purpose references: shapely in the plane, bounded least squares in space.

Sources: none is needed for distances. S. Gillies and others, Shapely, on the GEOS library; P. B. Stark and R. L.
Parker, Bounded-variable least squares, Computational Statistics 10, 1995, as in scipy (both from memory). They share no
formula with the package: `tests/reference/part_gaps.py` samples, shapely measures.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy.optimize import lsq_linear

from objectives.corner import Candidates, Corner
from objectives.distances import box, point_to_segment, rounded_box, segments_in_plane, segments_in_space
from objectives.evaluate import measure
from objectives.motion import move
from objectives.parts import Obstacle, Parts, Rim, Tube
from objectives.parts_clearance import ROUGH
from objectives.wheel import rim_solid, tube_gap, tyre_solid
from tests.reference import part_gaps
from tests.reference.corners import random_corners

Figures = Callable[[str, str], None]
CLOSED_FORM = 1e-9  # mm: closed forms against shapely, a few hundred mm in double precision
BOUNDED = 1e-6  # mm: what bounded least squares settles to
ROUNDED = 1e-3  # mm: shapely's arcs are 400 chords to a quarter, of a radius up to 72 mm: 1.4e-4 mm inside the arc
ALONG = 5e-3  # mm: the reference's points along a tube, after three rounds, are less than 0.001 of 5 mm apart
OVERALL = 0.01  # mm: the same, over travel too, and a tie rod of 501 points


def random_segments(seed: int, dimensions: int, count: int = 400) -> tuple[np.ndarray, ...]:
    rng = np.random.default_rng(seed)
    return tuple(rng.uniform(-100.0, 100.0, (4, dimensions, count)))


def test_segments_in_the_plane_against_shapely() -> None:
    a, b, c, d = random_segments(1, 2)
    found = segments_in_plane(a, b, c, d)
    crossed = 0
    for i in range(a.shape[1]):
        first, second = (shapely.LineString([p[:, i], q[:, i]]) for p, q in ((a, b), (c, d)))
        expected = first.distance(second)
        if first.intersects(second):
            # the shifts that keep two segments together are a parallelogram, and the least that parts them is the
            # way from no shift to its edge
            shifts = shapely.MultiPoint([p[:, i] - q[:, i] for p in (a, b) for q in (c, d)]).convex_hull
            expected = -shifts.boundary.distance(shapely.Point(0.0, 0.0))
            crossed += 1
        assert found[i] == pytest.approx(expected, abs=CLOSED_FORM)
    assert 50 < crossed < 350


def test_the_signed_distance_of_crossing_segments_is_continuous() -> None:
    """A segment pushed through another: the distance never jumps by more than the push."""
    push = np.linspace(-80.0, 80.0, 4001)
    begin, end = np.stack((push, np.full(push.shape, -30.0))), np.stack((push + 10.0, np.full(push.shape, 45.0)))
    gaps = segments_in_plane(begin, end, np.array([[-20.0], [0.0]]), np.array([[35.0], [5.0]]))
    assert gaps.min() < -20.0
    assert np.abs(np.diff(gaps)).max() <= (push[1] - push[0]) * (1 + 1e-9)


def test_a_point_to_a_segment_against_shapely() -> None:
    a, b, c, _ = random_segments(2, 2)
    lines = shapely.linestrings(np.stack((a.T, b.T), axis=1))
    assert point_to_segment(c, a, b) == pytest.approx(shapely.distance(lines, shapely.points(c.T)), abs=CLOSED_FORM)
    same = np.zeros((2, 1))
    assert point_to_segment(np.array([[3.0], [4.0]]), same, same) == pytest.approx(5.0)


def test_segments_in_space_against_bounded_least_squares() -> None:
    a, b, c, d = random_segments(3, 3)
    d[:, :50] = c[:, :50] + (b - a)[:, :50]  # fifty are parallel
    found = segments_in_space(a, b, c, d)
    for i in range(a.shape[1]):
        ways = np.stack(((b - a)[:, i], (c - d)[:, i]), axis=1)
        best = lsq_linear(ways, (c - a)[:, i], bounds=(0.0, 1.0), tol=1e-14)
        assert found[i] == pytest.approx(np.sqrt(2.0 * best.cost), abs=BOUNDED)


def test_sections_against_shapely() -> None:
    rng = np.random.default_rng(4)
    axial, radial = rng.uniform(-150.0, 150.0, 4000), rng.uniform(0.0, 450.0, 4000)
    plain = part_gaps.signed(shapely.box(-60.0, 180.0, 90.0, 192.0), axial, radial)
    assert box(axial, radial, (-60.0, 90.0), (180.0, 192.0)) == pytest.approx(plain, abs=CLOSED_FORM)
    for corner in (0.0, 35.0, 110.0, 118.0):
        core = shapely.box(-118.0 + corner, 0.0, 118.0 - corner, 368.0 - corner)
        tyre = core.buffer(corner, quad_segs=400).union(shapely.box(-118.0, 0.0, 118.0, 250.0))
        tyre = tyre.intersection(shapely.box(-118.0, 190.0, 118.0, 368.0))
        found = rounded_box(axial, radial, 118.0, (190.0, 368.0), corner)
        assert found == pytest.approx(part_gaps.signed(tyre, axial, radial), abs=ROUNDED)


def test_tubes_beside_the_wheel_against_dense_points(figures: Figures) -> None:
    """Tubes of every kind: out of the wheel, past it, through it; also steered and leaning."""
    rng, worst, buried = np.random.default_rng(5), 0.0, 0
    corner, _ = random_corners(1, seed=3)[0]
    corner = furnished(corner, rng)
    rim = corner.parts.rim
    assert rim is not None
    solids = (
        (tyre_solid(corner.tyre, rim), part_gaps.tyre_section(corner)),
        (rim_solid(rim), part_gaps.rim_section(rim)),
    )
    wheel = np.array([5.0, 700.0, 90.0])
    for _ in range(150):
        toe, camber = rng.uniform(-0.6, 0.6), rng.uniform(-0.1, 0.1)
        spin = np.array([np.sin(toe) * np.cos(camber), np.cos(toe) * np.cos(camber), -np.sin(camber)])
        outer = wheel + rng.uniform([-60.0, -140.0, -180.0], [60.0, -40.0, 180.0])
        inner = outer + rng.uniform([-250.0, -450.0, -250.0], [250.0, -150.0, 250.0])
        for solid, section in solids:
            expected = float(part_gaps.tube_to(section, *(v[:, None] for v in (wheel, spin, outer, inner)))[0])
            found = float(tube_gap(solid, wheel, spin, outer, inner))
            if expected < 0.0:
                buried += 1
                assert found < ALONG
                continue  # in a union of two boxes the depth is that in the deeper one
            worst = max(worst, abs(found - expected))
            assert found == pytest.approx(expected, abs=ALONG)
            for ends in ((outer, inner), (inner, outer)):  # the other way round the far end may be the nearest
                roughly = tube_gap(solid, *(v[:, None] for v in (wheel, spin, *ends)), rough=True)
                assert roughly[0] == pytest.approx(expected, abs=ROUGH)
    figures("tube beside the wheel vs dense points", f"{worst:.1e} mm, worst of {300 - buried}")
    assert 20 < buried < 200


def furnished(corner: Corner, rng: np.random.Generator) -> Corner:
    """The corner with a rim and tubes."""
    size = corner.tyre.radius / 340.0
    seat = corner.tyre.radius * rng.uniform(0.5, 0.58)
    legs = (float(size * rng.uniform(60.0, 150.0)), float(-size * rng.uniform(60.0, 150.0)))
    return replace(
        corner,
        parts=Parts(
            upper_arm=Tube(12.0 * size, legs),
            lower_arm=Tube(15.0 * size, legs if rng.random() < 0.5 else None),
            tie_rod_radius=9.0 * size,
            rim=Rim(seat, 0.75 * corner.tyre.width, seat - 12.0, rng.uniform(-30.0, 30.0)),
        ),
    )


def with_obstacles(corner: Corner, candidate: Candidates, rng: np.random.Generator) -> Corner:
    """Three obstacles more, drawn again while the package finds them in the way, lest all that is compared overlap."""
    size, parts = corner.tyre.radius / 340.0, corner.parts
    y_in, y_out = corner.lower_arm.inner_pivot[1], corner.half_track - 0.5 * corner.tyre.width
    for name, count, outboard in (("rail", 1, 0.5), ("tower", 2, 1.0), ("hose", 3, 0.7)):
        for _ in range(12):
            height = corner.ground_z + corner.tyre.radius * rng.uniform(0.2, 3.2)
            y = y_in + outboard * (y_out - y_in) * rng.random(count)
            points = np.stack((y, height + size * rng.uniform(-60.0, 60.0, count)), axis=1)
            obstacle = Obstacle(name, points, float(size * rng.uniform(4.0, 25.0)))
            tried = replace(corner, parts=replace(parts, obstacles=(obstacle,), tie_rod_radius=None, rim=None))
            if 0.0 < measure(tried, candidate, only=("parts_clearance",))["parts_clearance"][0] < 40.0:
                break
        parts = replace(parts, obstacles=(*parts.obstacles, obstacle))
    return replace(corner, parts=parts)


@pytest.fixture(scope="module")
def cases() -> list[tuple[Corner, Candidates]]:
    rng = np.random.default_rng(8)
    drawn = [case for case in random_corners(10, seed=21) if measure(*case, only=())["complete"][0]]
    drawn = [(furnished(corner, rng), candidate) for corner, candidate in drawn[:4]]
    return [(with_obstacles(corner, candidate, rng), candidate) for corner, candidate in drawn]


def only(corner: Corner, kept: str) -> Corner:
    """The corner with some of its parts left out, so that other pairs come to be the nearest."""
    parts = corner.parts
    if kept == "wheel":
        parts = replace(parts, obstacles=(), tie_rod_radius=None)
    elif kept == "tie rod":
        parts = replace(parts, obstacles=(), rim=None)
    elif kept == "one tube":
        assert parts.upper_arm is not None
        parts = replace(parts, upper_arm=replace(parts.upper_arm, legs_x=None), obstacles=parts.obstacles[1:])
        corner = replace(corner, steering=replace(corner.steering, rack_travel=0.0))  # straight ahead is quicker
    return replace(corner, parts=parts)


@pytest.mark.parametrize("kept", ["everything", "wheel", "tie rod", "one tube"])
def test_the_least_of_all_pairs_against_brute_force(
    kept: str, cases: list[tuple[Corner, Candidates]], figures: Figures
) -> None:
    worst, compared, met = 0.0, 0, set()
    for corner, candidate in cases:
        corner = only(corner, kept)
        measured = measure(corner, candidate, only=("parts_clearance",))
        shifts = [held.whole.shift for held in move(corner, candidate).steered]
        expected = part_gaps.least(corner, candidate, shifts)
        least = min(expected.values())
        found, parts = float(measured["parts_clearance"][0]), str(measured["closest_parts"][0])
        met.add(parts)
        if least < 0.0 and found < 0.0:  # depths are told in ways of their own; that they overlap is what counts
            continue
        compared += 1
        worst = max(worst, abs(found - least))
        assert found == pytest.approx(least, abs=OVERALL)
        assert expected[parts] == pytest.approx(least, abs=OVERALL)
    figures(
        f"parts clearance vs brute force, {kept}", f"{worst:.1e} mm, worst of {compared}; met: {', '.join(sorted(met))}"
    )
    assert compared >= 2
