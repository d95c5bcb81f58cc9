"""Vectors as arrays whose first axis holds x, y, z; every other axis is candidates, positions, or both."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]


def vector(x: float, y: float, z: float) -> Array:
    """Return one read-only vector, shape (3,)."""
    made = np.array([x, y, z], dtype=float)
    made.flags.writeable = False
    return made


def over(v: Array, axes: int) -> Array:
    """Give a vector of shape (3, ...) `axes` more trailing axes of length one, so that it broadcasts."""
    return v.reshape(v.shape + (1,) * axes)


def beside(v: Array, axes: int) -> Array:
    """Shape a vector (3,), or one for each candidate (3, N), to broadcast with (3, ...) of `axes` axes behind the 3."""
    return v.reshape(v.shape[:1] + (1,) * (axes + 1 - v.ndim) + v.shape[1:])


def dot(a: Array, b: Array) -> Array:
    """Scalar product along the first axis; shapes (3, ...) broadcast."""
    product: Array = np.einsum("i...,i...->...", a, b)
    return product


def cross(a: Array, b: Array) -> Array:
    """Vector product along the first axis; shapes (3, ...) broadcast."""
    (a_x, a_y, a_z), (b_x, b_y, b_z) = a, b
    x = a_y * b_z - a_z * b_y
    product = np.empty((3, *x.shape))  # filled part by part: stacking would copy it all once more
    product[0] = x
    np.subtract(a_z * b_x, a_x * b_z, out=product[1, ...])
    np.subtract(a_x * b_y, a_y * b_x, out=product[2, ...])
    return product


def norm(a: Array) -> Array:
    """Length along the first axis."""
    length: Array = np.sqrt(dot(a, a))
    return length


def unit(a: Array) -> Array:
    """Vector of length one in the direction of `a`, shape (3, ...)."""
    direction: Array = a / norm(a)
    return direction


def read_only(points: object) -> Array:
    """Return an array that cannot be written to."""
    made = np.array(points, dtype=float)
    made.flags.writeable = False
    return made
