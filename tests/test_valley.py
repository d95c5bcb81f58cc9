"""The least of a curve over a sweep, wherever its valley lies: curves of travel whose least is known beforehand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from objectives import chebyshev, parts_clearance
from objectives.corner import Candidates
from objectives.evaluate import measure
from objectives.motion import move
from objectives.pairs import Pair
from objectives.parts_clearance import SCAN, nearest
from objectives.roll_centre_migration import _turning_points
from objectives.steering import steered_to
from objectives.sweep import Steered, Sweep
from objectives.valley import least_over, promised
from optimizer.scenario import parse_scenario
from tests.scenario_cases import BASE

BUGGY = parse_scenario(BASE).corner
CORNER = replace(BUGGY, outlines=(), steering=replace(BUGGY.steering, rack_travel=0.0))
LOW, HIGH = -CORNER.travel.droop, CORNER.travel.bump
TRAVEL = 1e-3  # mm: golden section from a tenth of the travel, 40 steps, or as near as a valley's bottom is told apart
VALUE = 1e-9  # what 1e-3 mm off the place leaves of a valley's depth
FEW_STEPS = 1e-4  # the same for 24 steps


def swept(count: int) -> Steered:
    """Candidates with arms of their own lengths, by which a curve knows them again."""
    return move(CORNER, Candidates(np.linspace(275.0, 274.0, count), 232.0, 0.0)).straight


def off(steered: Steered, at: np.ndarray) -> Callable[[Sweep], np.ndarray]:
    """Travel less a place of each candidate's own, mm, also of some of the candidates."""
    arms = steered.required.placed.upper.radius

    def found(sweep: Sweep) -> np.ndarray:
        which = np.abs(arms[:, None] - sweep.placed.upper.radius).argmin(axis=0)
        return sweep.travel - at[which]

    return found


def test_a_valley_anywhere_is_followed_down() -> None:
    """Also between an end and the point next to it; beyond an end, the end itself is the least."""
    by = np.geomspace(0.2, 20.0, 8)
    at = np.concatenate((np.linspace(LOW - 20.0, HIGH + 20.0, 40), LOW + by, HIGH - by))
    steered = swept(at.size)
    offset = off(steered, at)
    least, place = least_over(steered.required, lambda sweep: 3.0 + offset(sweep) ** 2 / 1000.0)
    inside = np.clip(at, LOW, HIGH)
    assert least == pytest.approx(3.0 + (inside - at) ** 2 / 1000.0, abs=VALUE)
    assert steered.required.at(place[None]).travel[0] == pytest.approx(inside, abs=TRAVEL)


def test_a_valley_beside_one_end_is_followed_whatever_the_other_end_does() -> None:
    """Three quarters of a wave: least between an end and the point next to it, and falling towards the other end."""
    steered, length = swept(1), HIGH - LOW
    for at in (LOW + 0.004 * length, HIGH - 0.004 * length):
        wave = 1.5 * np.pi / length

        def curve(sweep: Sweep, at: float = at, wave: float = wave) -> np.ndarray:
            return -100.0 * np.cos(wave * (sweep.travel - at))

        least, _ = least_over(steered.required, curve)
        assert least[0] == pytest.approx(-100.0, abs=100.0 * (wave * TRAVEL) ** 2)


def test_a_parabolas_promise_is_its_depth() -> None:
    """Of a parabola of u itself, whose least is known; with the valley beyond an end the least point is promised."""
    u, at = chebyshev.points(SCAN)[:, None], np.array([-1.4, -0.9, -0.3, 0.0, 0.55, 0.9, 1.3])
    inside = np.clip(at, -1.0, 1.0)
    assert promised((u - at) ** 2 - 4.0) == pytest.approx((inside - at) ** 2 - 4.0, abs=1e-12)


def test_a_pair_that_only_comes_near_between_two_looks_is_found() -> None:
    """One pair keeps 10 mm; the other keeps twice that and more at every look, and touches halfway between two."""
    steered = swept(SCAN - 1)
    looks = steered.required.at(np.repeat(chebyshev.points(SCAN)[:, None], SCAN - 1, axis=1)).travel
    at, reach = 0.5 * (looks[1:] + looks[:-1]).diagonal(), 0.5 * np.diff(looks, axis=0).diagonal()
    offset, far = off(steered, at), off(steered, reach)

    def steady(sweep: Sweep) -> np.ndarray:
        return np.full(sweep.travel.shape, 10.0)

    def dipping(sweep: Sweep) -> np.ndarray:
        return 24.0 * (offset(sweep) / (sweep.travel - far(sweep))) ** 2

    found = nearest((Pair("steady", steady, steady), Pair("dipping", dipping, dipping)), (steered.required,))
    assert (found.look == 1).all()
    assert found.gap == pytest.approx(np.zeros(SCAN - 1), abs=FEW_STEPS)
    assert found.travel == pytest.approx(at, abs=0.1)
    assert found.by_position.shape == (1, SCAN - 1)


@pytest.mark.parametrize(("share", "said"), [(0.27, "towards left lock"), (-0.7, "towards right lock")])
def test_parts_nearest_between_two_steering_positions(monkeypatch: pytest.MonkeyPatch, share: float, said: str) -> None:
    """One pair keeps 8 mm; the other comes to 5 mm at a known travel, the rack somewhere between two positions."""
    rack = 40.0
    steered = replace(CORNER, steering=replace(CORNER.steering, rack_travel=rack))
    at = steered_to(steered, np.asarray(share)).shift[1]

    def steady(sweep: Sweep) -> np.ndarray:
        return np.full(sweep.travel.shape, 8.0)

    def passing(sweep: Sweep) -> np.ndarray:
        return 5.0 + ((sweep.shift[1] - at) / rack) ** 2 + ((sweep.travel - 37.0) / 100.0) ** 2

    monkeypatch.setattr(parts_clearance, "pairs_of", lambda _: (Pair("a", steady, steady), Pair("b", passing, passing)))
    found = measure(steered, Candidates([275.0, 260.0], 232.0, 0.0), only=["parts_clearance"])
    assert found["parts_clearance"] == pytest.approx([5.0, 5.0], abs=FEW_STEPS)
    assert found["closest_travel"] == pytest.approx([37.0, 37.0], abs=1.0)
    assert found["closest_parts"].tolist() == ["b", "b"]
    assert found["closest_steering"].tolist() == [said, said]


def test_parabolas_turn_where_calculus_says() -> None:
    """Those the roll centre's height is turned by, from three points of an uneven grid: vertex and nothing else."""
    u, at = chebyshev.points(49)[:, None], np.array([-1.2, -0.97, -0.41, 0.003, 0.62, 0.985, 1.1])
    for sign in (1.0, -1.0):
        rows, columns, place = _turning_points(sign * (u - at) ** 2)
        assert columns.tolist() == [1, 2, 3, 4, 5]
        assert place == pytest.approx(at[columns], abs=1e-12)
        assert (np.abs(u[rows, 0] - place) <= 0.5 * np.diff(u[:, 0]).max()).all()
