"""Roots and valleys of many curves at once, against scipy's for one curve at a time and against calculus."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from objectives.roots import least_between, root_between
from objectives.sweep import _polished

ROOT = 1e-13  # of curves of order one with slopes of order one: rounding
PLACE = 1e-6  # of a valley, which is level to rounding some 1e-8 either way


def shifted_cubic(x: np.ndarray, at: np.ndarray) -> np.ndarray:
    return (x - at) ** 3 + 0.5 * (x - at)


# each has places where a tangent leads out of the bracket: far out arctan is flat, and the wave has level places
CURVES: dict[str, tuple[Callable[..., np.ndarray], Callable[..., np.ndarray]]] = {
    "cubic": (shifted_cubic, lambda x, at: 3.0 * (x - at) ** 2 + 0.5),
    "flat far out": (lambda x, at: np.arctan(20.0 * (x - at)), lambda x, at: 20.0 / (1.0 + 400.0 * (x - at) ** 2)),
    "level in places": (lambda x, at: x - at + 0.5 * np.sin(2.0 * x), lambda x, at: 1.0 + np.cos(2.0 * x)),
}


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize("falling", [False, True])
def test_roots_in_brackets_of_their_own(name: str, falling: bool) -> None:
    """Against Brent's method (scipy), from brackets that begin on either side of the root and lie off the middle."""
    value, slope = CURVES[name]
    sign = -1.0 if falling else 1.0
    at = np.linspace(1.2, 6.7, 23)
    low, high = np.full(at.shape, 0.5), np.linspace(8.0, 30.0, at.size)
    found = root_between(lambda x: (sign * value(x, at), sign * slope(x, at)), low, high, sign * value(low, at))
    backward = root_between(lambda x: (sign * value(x, at), sign * slope(x, at)), high, low, sign * value(high, at))
    exact = [brentq(value, a, b, args=(c,), xtol=1e-15, rtol=1e-15) for a, b, c in zip(low, high, at, strict=True)]
    assert found == pytest.approx(exact, rel=ROOT)
    assert backward == pytest.approx(exact, rel=ROOT)


def test_a_root_without_a_slope_is_closed_in_on() -> None:
    """Where the slope given is of no use, halving the bracket alone comes as near as sixty halvings can."""
    at = np.array([0.3, 2.0, 2.9])
    found = root_between(lambda x: (x**3 - at**3, np.zeros(at.shape)), np.zeros(3), np.full(3, 3.0), -np.ones(3))
    assert found == pytest.approx(at, rel=ROOT)


def test_valleys_in_bounds_of_their_own() -> None:
    """Against scipy's bounded search; the last two have their least value at a bound."""
    at = np.array([-0.9, 0.0, 0.35, 1.4, -2.5, 2.7])
    low, high = np.array([-1.0, -1.5, 0.3, -2.0, -2.0, 1.0]), np.array([1.0, 0.2, 2.0, 1.5, 0.0, 2.0])

    def curve(x: np.ndarray, where: np.ndarray = at) -> np.ndarray:
        return np.cosh(x - where) + 0.1 * (x - where) ** 4

    place, least = least_between(curve, low, high)
    for i in range(at.size):
        best = minimize_scalar(
            curve, bounds=(low[i], high[i]), args=(at[i],), method="bounded", options={"xatol": 1e-9}
        )
        assert least[i] == pytest.approx(best.fun, abs=1e-7)  # at a bound scipy stops short of it
        assert place[i] == pytest.approx(np.clip(at[i], low[i], high[i]), abs=PLACE)
    assert least[:4] == pytest.approx(np.ones(4), abs=1e-15)


def test_fewer_steps_leave_wider_bounds() -> None:
    """Each step of golden section leaves 0.618 of the bounds: the place is off by at most what is left."""
    at = np.linspace(-0.99, 0.99, 41)
    for steps in (3, 8, 20):
        place, least = least_between(lambda x: np.abs(x - at), np.full(at.shape, -1.0), np.ones(at.shape), steps)
        left = 2.0 * ((np.sqrt(5.0) - 1.0) / 2.0) ** (steps + 1)
        assert np.abs(place - at).max() <= left
        assert np.abs(place - at).max() > 0.1 * left
        assert least == pytest.approx(np.abs(place - at), abs=1e-15)


@pytest.mark.parametrize("way", [1.0, -1.0], ids=["rising", "falling"])
def test_a_poor_slope_is_mended_by_chords(way: float) -> None:
    """A slope that is half as steep again leaves a third of what is missed at each step; a chord does better."""
    at = np.linspace(-0.8, 0.8, 17)

    def off(u: np.ndarray) -> np.ndarray:
        return way * (np.sinh(2.0 * u) - np.sinh(2.0 * at))

    found = _polished(off, at + 0.03, 1.5 * way * 2.0 * np.cosh(2.0 * at))
    assert found == pytest.approx(at, abs=10.0 * ROOT)
