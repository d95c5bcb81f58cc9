"""A corner is made of rigid parts: whatever the scenario, every length in it stays what it is at ride."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from hypothesis import example, given

from objectives.curves import Curves, curves_at
from objectives.linkage import STRAIGHT
from objectives.motion import move
from objectives.ride import lower_arm_length
from objectives.steering import steering_positions
from objectives.vectors import Array
from optimizer.scenario import Scenario
from tests.properties import pinned
from tests.properties.drafts import Case
from tests.properties.strategies import cases, examples

ROUNDING = 1e-10  # of the largest coordinate: sums of squares of coordinates, and a root of them
LEVEL = 1e-8  # of the largest coordinate: a travel is found by a step that leaves the square of 1e-8 of the sweep
POSITIONS = 9


def size(curves: Curves) -> float:
    return float(np.nanmax(np.abs(curves.wheel)))


def travel(scenario: Scenario) -> Array:
    way = scenario.corner.travel
    return np.concatenate((np.linspace(-way.droop, way.bump, POSITIONS), [0.0]))


def from_axis(points: Array, on_axis: Array, direction: Array) -> tuple[Array, Array]:
    """Place along an axis and distance from it, of points (3, N, P)."""
    offset = points - on_axis
    along = np.einsum("i,inp->np", direction, offset)
    return along, np.linalg.norm(offset - direction[:, None, None] * along, axis=0)


@examples()
@given(cases())
@example(pinned.PARALLEL)
def test_every_part_keeps_its_lengths(case: Case) -> None:
    """Spindle, both arms and tie rod, at every travel and steering position that assembles."""
    corner, candidates = case.scenario.corner, case.standing()
    ahead = curves_at(corner, candidates, np.zeros(1))
    spindle = corner.spindle
    measured = {
        "wheel": np.zeros((3, candidates.count)),
        "lower_outer": np.repeat(spindle.lower_pivot[:, None], candidates.count, axis=1),
        "upper_outer": spindle.upper_pivot_at(candidates.hole).reshape(3, -1) * np.ones(candidates.count),
        "steering_outer": np.repeat(spindle.steering_pivot[:, None], candidates.count, axis=1),
    }
    lower_pivot = corner.lower_arm.inner_pivot[:, None, None]
    pivot_x = np.full(candidates.count, corner.upper_axis.pivot_x)
    upper_pivot = np.stack((pivot_x, candidates.pivot_y, candidates.pivot_z))[:, :, None]
    for position in steering_positions(corner)[::2]:
        curves = curves_at(corner, candidates, travel(case.scenario), position.shift)
        there = np.isfinite(curves.camber)
        near = ROUNDING * size(ahead)

        def kept(found: Array, expected: Array, near: float = near, there: Array = there) -> None:
            apart = np.abs(found - np.asarray(expected).reshape(-1, 1))[there]
            assert (apart <= near).all(), apart.max()

        for one, other in combinations(measured, 2):
            apart = np.linalg.norm(getattr(curves, one) - getattr(curves, other), axis=0)
            kept(apart, np.linalg.norm(measured[one] - measured[other], axis=0))
        for name, place in measured.items():
            kept(np.einsum("inp,inp->np", getattr(curves, name) - curves.wheel, curves.spin), place[1])
        for name, on_axis, direction, length in (
            ("lower_outer", lower_pivot, corner.lower_arm.direction, lower_arm_length(corner)),
            ("upper_outer", upper_pivot, corner.upper_axis.direction, ahead.arm_length),
        ):
            along, radius = from_axis(getattr(curves, name), on_axis, direction)
            kept(radius, length)
            kept(along, from_axis(getattr(ahead, name), on_axis, direction)[0])
        kept(np.linalg.norm(curves.steering_outer - curves.inner_joint, axis=0), ahead.tie_rod_length)
        kept(curves.inner_joint[1] - ahead.inner_joint[1], position.shift[1])


@examples()
@given(cases())
def test_the_ride_row_is_the_ride_pose(case: Case) -> None:
    """At no travel: the candidate's camber, the toe as installed, the tyre on the ground, the first wheel centre."""
    corner, candidates = case.scenario.corner, case.standing()
    curves = curves_at(corner, candidates, np.array([0.0, *travel(case.scenario)]), STRAIGHT)
    near = LEVEL * size(curves)
    assert np.abs(curves.camber[:, 0] - candidates.static_camber).max() <= LEVEL
    assert np.abs(curves.toe[:, 0] - corner.static_toe).max() <= LEVEL
    assert np.abs(curves.contact[2, :, 0] - corner.ground_z).max() <= near
    rise = curves.wheel[2] - curves.wheel[2, :, :1]
    assert np.nanmax(np.abs(rise - curves.travel)) <= near
    nominal = candidates.static_camber == corner.static_camber
    assert (np.abs(curves.wheel[0, nominal, 0]) <= near).all()
    assert (np.abs(curves.contact[1, nominal, 0] - corner.half_track) <= near).all()


@examples()
@given(cases(placed=False))
@example(pinned.SHORT)
@example(pinned.LOWERED)
def test_a_sweep_ends_at_full_droop_and_full_bump(case: Case) -> None:
    """At every steering position at which a candidate is said to get there."""
    corner, candidates = case.scenario.corner, case.standing()
    asked = corner.travel
    for steered in move(corner, candidates).steered:
        ends = steered.required.travel[[0, -1]][:, steered.complete]
        assert (np.abs(ends - [[-asked.droop], [asked.bump]]) <= LEVEL * corner.half_track).all()
