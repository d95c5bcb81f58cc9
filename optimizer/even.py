"""Points spread evenly over a box: the Sobol sequence, shifted at random.

The well-kept library of this is scipy's, and the tests hold these points against it; but to import that takes longer
than a search needs for its first thousand candidates, and as long as everything else that `try` does.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

BITS = 30
# Degree, inner coefficients and first numbers of the primitive polynomial of each dimension after the first: Joe and
# Kuo, Constructing Sobol sequences with better two-dimensional projections, SIAM J. Sci. Comput. 30, 2008, as scipy has
# them.
POLYNOMIALS = (
    (1, 0, (1,)),
    (2, 1, (1, 3)),
    (3, 1, (1, 3, 1)),
    (3, 2, (1, 1, 1)),
    (4, 1, (1, 1, 3, 3)),
    (4, 4, (1, 3, 5, 13)),
    (5, 2, (1, 1, 5, 5, 17)),
    (5, 4, (1, 1, 5, 5, 5)),
    (5, 7, (1, 1, 7, 11, 19)),
    (5, 11, (1, 1, 5, 1, 1)),
    (5, 13, (1, 1, 1, 3, 11)),
    (5, 14, (1, 3, 5, 5, 31)),
    (6, 1, (1, 3, 3, 9, 7, 49)),
    (6, 13, (1, 1, 1, 15, 21, 21)),
    (6, 16, (1, 3, 1, 13, 27, 49)),
    (6, 19, (1, 1, 1, 15, 7, 5)),
    (6, 22, (1, 3, 1, 15, 13, 25)),
    (6, 25, (1, 1, 5, 5, 19, 61)),
    (7, 1, (1, 3, 7, 11, 23, 15, 103)),
    (7, 4, (1, 3, 7, 13, 13, 15, 69)),
    (7, 7, (1, 1, 3, 13, 7, 35, 63)),
    (7, 8, (1, 3, 5, 9, 1, 25, 53)),
    (7, 14, (1, 3, 1, 13, 9, 35, 107)),
    (7, 19, (1, 3, 1, 5, 27, 61, 31)),
    (7, 21, (1, 1, 5, 11, 19, 41, 61)),
    (7, 28, (1, 3, 5, 3, 3, 13, 69)),
    (7, 31, (1, 1, 7, 13, 1, 19, 1)),
    (7, 32, (1, 3, 7, 5, 13, 19, 59)),
    (7, 37, (1, 1, 3, 9, 25, 29, 41)),
    (7, 41, (1, 3, 5, 13, 23, 1, 55)),
    (7, 42, (1, 3, 7, 3, 13, 59, 17)),
    (7, 50, (1, 3, 1, 3, 5, 53, 69)),
    (7, 55, (1, 1, 5, 5, 23, 33, 13)),
    (7, 56, (1, 1, 7, 7, 1, 61, 123)),
    (7, 59, (1, 1, 7, 9, 13, 61, 49)),
    (7, 62, (1, 3, 3, 5, 3, 55, 33)),
    (8, 14, (1, 3, 1, 15, 31, 13, 49, 245)),
    (8, 21, (1, 3, 5, 15, 31, 59, 63, 97)),
    (8, 22, (1, 3, 1, 11, 11, 11, 77, 249)),
)


def even_points(dimensions: int, count: int, rng: np.random.Generator | None = None) -> NDArray[np.float64]:
    """First points of a Sobol sequence in the unit box, shape (count, dimensions).

    Parameters
    ----------
    dimensions
        At most forty.
    count
        Evenest where it is a power of two.
    rng
        Shifts all points alike, digit by digit; without it they are the plain sequence.
    """
    assert dimensions <= 1 + len(POLYNOMIALS)
    rank = np.arange(count)
    gray, directions = rank ^ (rank >> 1), _directions(dimensions)
    digits = np.zeros((count, dimensions), dtype=np.int64)
    for bit in range(int(count - 1).bit_length()):
        odd = np.flatnonzero(gray >> bit & 1)
        digits[odd] ^= directions[bit]
    if rng is not None:
        digits ^= rng.integers(1 << BITS, size=dimensions)
    return digits / (1 << BITS)


@cache
def _directions(dimensions: int) -> NDArray[np.int64]:
    """Direction numbers, shape (BITS, dimensions)."""
    found = np.empty((BITS, dimensions), dtype=np.int64)
    found[:, 0] = 1 << (BITS - 1 - np.arange(BITS))
    for column, (degree, inner, first) in enumerate(POLYNOMIALS[: dimensions - 1], start=1):
        numbers = list(first)
        for k in range(degree, BITS):
            number = numbers[k - degree] ^ (numbers[k - degree] << degree)
            for step in range(1, degree):
                number ^= (inner >> (degree - 1 - step) & 1) * (numbers[k - step] << step)
            numbers.append(number)
        found[:, column] = [number << (BITS - 1 - k) for k, number in enumerate(numbers)]
    return found
