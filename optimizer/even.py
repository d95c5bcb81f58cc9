"""Points spread evenly over a box: the Sobol sequence, shifted at random.

The standard library of this is scipy's, and the tests hold these points against it; but to import that takes longer
than a search needs for its first thousand candidates.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

BITS = 30
# Degree, inner coefficients and first numbers of the primitive polynomial of each dimension after the first: Joe and
# Kuo, Constructing Sobol sequences with better two-dimensional projections, SIAM J. Sci. Comput. 30, 2008, from memory.
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
)


def even_points(dimensions: int, count: int, rng: np.random.Generator | None = None) -> NDArray[np.float64]:
    """First points of a Sobol sequence in the unit box, shape (count, dimensions).

    Parameters
    ----------
    dimensions
        More than ten are left to scipy, which scrambles what is here shifted.
    count
        Evenest where it is a power of two.
    rng
        Shifts all points alike, digit by digit; without it they are the plain sequence.
    """
    if dimensions > 1 + len(POLYNOMIALS):
        from scipy.stats import qmc

        drawn: NDArray[np.float64] = qmc.Sobol(dimensions, scramble=rng is not None, rng=rng).random(count)
        return drawn
    rank = np.arange(count)
    gray = rank ^ (rank >> 1)
    digits = np.zeros((count, dimensions), dtype=np.int64)
    for bit in range(int(count - 1).bit_length()):
        odd = np.flatnonzero(gray >> bit & 1)
        digits[odd] ^= _directions(dimensions)[bit]
    if rng is not None:
        digits ^= rng.integers(1 << BITS, size=dimensions)
    return digits / (1 << BITS)


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
