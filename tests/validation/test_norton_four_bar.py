"""Four-bar linkages of R. L. Norton, Design of Machinery, McGraw-Hill, chapter 4: example 4-1 and table P4-1, row a.

Inputs of the example from memory, of the table's row seen; edition and pages unverified. The angles are derived by
arithmetic on those inputs and kept to three decimals: a tolerance of two units of the last.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.reference.front_view import angle, circular, on_circle, planar

DERIVED = 2e-3  # degrees


@pytest.mark.parametrize(
    ("crank", "coupler", "rocker", "ground", "theta2", "expected"),
    [
        pytest.param(
            40.0, 120.0, 80.0, 100.0, 40.0, {(20.298, 57.325), (-60.978, -98.005)}, id="example 4-1",
        ),
        pytest.param(
            2.0, 7.0, 9.0, 6.0, 30.0, {(88.837, 117.286), (-115.211, -143.660)}, id="table P4-1 row a",
        ),
    ],
)  # fmt: skip
def test_open_and_crossed(
    crank: float,
    coupler: float,
    rocker: float,
    ground: float,
    theta2: float,
    expected: set[tuple[float, float]],
) -> None:
    """Coupler and rocker angles (theta3, theta4), open and crossed."""
    t = np.radians([theta2])
    pin = planar(crank * np.cos(t), crank * np.sin(t))
    centre = planar(ground, 0.0)
    found = []
    for side in (1, -1):
        end = on_circle(centre, rocker, pin, coupler, side)
        found.append((angle(end - pin)[0], angle(end - centre[:, None])[0]))
    for pair in expected:
        misses = [max(circular(np.array(pair), np.array(have))) for have in found]
        assert min(misses) < DERIVED
    assert found[0] != pytest.approx(found[1])
