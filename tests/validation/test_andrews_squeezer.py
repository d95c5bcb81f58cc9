"""Andrews' squeezing mechanism: seven bodies in closed planar loops, with published initial angles.

E. Hairer and G. Wanner, Solving Ordinary Differential Equations II, Springer, 1996, chapter VII.7, and F. Mazzia and
C. Magherini, Test Set for Initial Value Problem Solvers, 2008, problem "andrews" (lengths, metres, and angles from
memory; the six loop equations close with them to 2e-17 m, which a slip of memory would not survive). The angles are
printed to some thirty digits, so the tolerance is rounding in double precision.

P is the far end of the coupler: on the circle of the spring's rocker about the fixed point B, at the coupler's length
from the crank's end. Two pairs of bars reach from P to the fixed point A; the joint of each pair is a point of a circle
about A at a bar's length from P.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.reference.front_view import circular, on_circle, planar

ROUNDING = 1e-12  # degrees; the bars stand well apart, so nothing grows it

CRANK, COUPLER, ROCKER = 0.007, 0.028, 0.035  # rr, d, ss
E, ZT, ZF, U = 0.02, 0.04, 0.02, 0.04
A, B = planar(-0.06934, -0.00227), planar(-0.03635, 0.03273)
BETA, THETA = -0.0617138900142764496358948458001, 0.0
GAMMA = 0.455279819163070380255912382449
DELTA = 0.487364979543842550225598953530
EPSILON = 1.23054744454982119249735015568
PHI = 0.222668390165885884674473185609
OMEGA = -PHI


def along(radians: float) -> np.ndarray:
    return planar(np.cos(radians), np.sin(radians))


def across(radians: float) -> np.ndarray:
    """Direction at right angles, as the problem counts three of its angles."""
    return planar(np.sin(radians), -np.cos(radians))


P = CRANK * along(BETA) - COUPLER * along(BETA + THETA)


@pytest.mark.parametrize(
    ("first", "second", "joint_angle", "published"),
    [
        # bars from A and from P to their common joint, then the direction of the second bar's far end
        pytest.param(ZT, E, along(DELTA), across(PHI + DELTA), id="delta and phi"),
        pytest.param(U, ZF, across(EPSILON), along(OMEGA + EPSILON), id="epsilon and omega"),
    ],
)
def test_joint_between_two_bars(first: float, second: float, joint_angle: np.ndarray, published: np.ndarray) -> None:
    """One of the two ways of assembling has both bars at the published angles."""
    misses = []
    for side in (1, -1):
        joint = on_circle(A, first, P[:, None], second, side)[:, 0]
        misses.append(max(_apart(joint - A, joint_angle), _apart(P - joint, published)))
    assert min(misses) < ROUNDING
    assert max(misses) > 1.0


def test_crank_coupler_and_the_rocker_of_the_spring() -> None:
    """The four-bar in front: P at the coupler's length from the crank's end, on the rocker's circle about B."""
    misses = []
    for side in (1, -1):
        found = on_circle(B, ROCKER, (CRANK * along(BETA))[:, None], COUPLER, side)[:, 0]
        misses.append(max(_apart(found - B, across(GAMMA)), _apart(CRANK * along(BETA) - found, along(BETA + THETA))))
    assert min(misses) < ROUNDING
    assert max(misses) > 1.0


def _apart(one: np.ndarray, other: np.ndarray) -> float:
    turned = [np.degrees(np.arctan2(v[2], v[1])) for v in (one, other)]
    return float(circular(np.array(turned[0]), np.array(turned[1])))
