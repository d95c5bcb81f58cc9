"""Even points against scipy's Sobol sequence."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import qmc

from optimizer.even import even_points


@pytest.mark.parametrize("dimensions", [*range(1, 12), 20, 40])
def test_plain_sequence_is_scipys(dimensions: int) -> None:
    expected = qmc.Sobol(dimensions, scramble=False).random_base2(9)
    np.testing.assert_array_equal(even_points(dimensions, 512), expected)


@pytest.mark.parametrize("dimensions", [3, 5])
def test_shifted_it_is_as_even(dimensions: int) -> None:
    """Less than a twentieth of what points drawn at random leave uneven, whatever the shift."""
    random = qmc.discrepancy(np.random.default_rng(1).random((1024, dimensions)))
    for seed in range(5):
        points = even_points(dimensions, 1024, np.random.default_rng(seed))
        assert qmc.discrepancy(points) < random / 20.0
        assert points.min() >= 0.0
        assert points.max() < 1.0


def test_a_longer_draw_begins_with_the_shorter() -> None:
    one, other = (even_points(4, count, np.random.default_rng(7)) for count in (100, 777))
    np.testing.assert_array_equal(one, other[:100])
