"""Volume dominated by the true fronts of DTLZ1 and DTLZ2 with three objectives.

K. Deb, L. Thiele, M. Laumanns and E. Zitzler, Scalable multi-objective optimization test problems, CEC 2002 (fronts
from memory). DTLZ1: the plane f1 + f2 + f3 = 0.5; DTLZ2: the unit sphere's positive part. Volumes by geometry: a unit
cube less a corner of volume 0.5^3/6, 0.9791667; a cube of side 1.1 less an eighth of the unit ball, 1.331 - pi/6 =
0.8074012 (that figure seen). A finite set of rows dominates a little less than the whole front.
"""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.front import hypervolume, non_dominated

MISSED = 0.008  # by 20,000 rows spread at random; halving it takes four times as many


def directions(rows: int) -> np.ndarray:
    return np.abs(np.random.default_rng(3).standard_normal((rows, 3)))


@pytest.mark.parametrize(
    ("norm", "size", "corner", "volume"),
    [
        pytest.param(1, 0.5, 1.0, 1.0 - 0.5**3 / 6.0, id="DTLZ1"),
        pytest.param(2, 1.0, 1.1, 1.1**3 - np.pi / 6.0, id="DTLZ2"),
    ],
)
def test_volume(norm: int, size: float, corner: float, volume: float) -> None:
    rows = directions(20_000)
    rows *= size / np.linalg.norm(rows, ord=norm, axis=1, keepdims=True)
    found = hypervolume(rows, np.full(3, corner))
    assert volume - MISSED < found < volume


def test_every_row_of_the_front_and_no_other_is_kept() -> None:
    """Rows behind the front, each a front's row moved out from the origin, are dominated by that row."""
    rows = directions(400)
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    behind = rows * np.random.default_rng(4).uniform(1.001, 1.5, (400, 1))
    assert non_dominated(np.concatenate((behind, rows))).tolist() == list(range(400, 800))
