"""Dominated volume of a few points, minimised.

The four points are the example in the manual of moocore (M. Lopez-Ibanez and others), hypervolume 38 (seen). It also
follows from the strips written beside it, as the volume of the two points does. Whole numbers: exact.
"""

from __future__ import annotations

import numpy as np

from optimizer.front import hypervolume


def test_four_points() -> None:
    # Strips from left to right: 2*3 + 1*4 + 2*5 + 3*6.
    assert hypervolume(np.array([(5.0, 5), (4, 6), (2, 7), (7, 4)]), np.array([10.0, 10])) == 38.0


def test_two_points() -> None:
    # Two boxes of area 2 that share an area of 1.
    assert hypervolume(np.array([(1.0, 2), (2, 1)]), np.array([3.0, 3])) == 3.0
