"""The worst over all steering, where it lies between the positions that were swept."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from objectives.vectors import Array

ROUNDS = 3  # of parabolas through three places, each followed by an exact look


def valley(shares: Array, values: Array) -> tuple[Array, Array]:
    """Place and depth of the valley of a parabola through three neighbouring places around the least of each column.

    Parameters
    ----------
    shares
        Places of the steering, or any others, rising along the first axis, shape (S, N).
    values
        Shape (S, N), S at least 3.

    Returns
    -------
    Shape (N,) each; infinite where the parabola has no valley among its three places.
    """
    columns = np.arange(values.shape[1])
    middle = np.clip(np.argmin(values, axis=0), 1, values.shape[0] - 2)
    (x0, y0), (x1, y1), (x2, y2) = (
        (shares[middle + step, columns], values[middle + step, columns]) for step in (-1, 0, 1)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second = (y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)
        bend = (second - first) / (x2 - x0)
        place = 0.5 * (x0 + x1 - first / bend)
        depth = y0 + (place - x0) * (first + bend * (place - x1))
    found = (bend > 0.0) & (place > x0) & (place < x2) & np.isfinite(depth)
    return np.where(found, place, np.inf), np.where(found, depth, np.inf)


def least_over_steering(
    shares: Array, values: Array, look: Callable[[NDArray[np.intp], Array], Array], worth: float
) -> tuple[Array, Array]:
    """Least value over all shares from -1 to 1, and its share; shape (N,) each.

    Parameters
    ----------
    shares
        Of the way to the left lock, at which the values stand, shape (S,).
    values
        Shape (S, N).
    look
        Takes which candidates and the share for each, shape (n,); returns their values there.
    worth
        What a parabola must promise to be followed.
    """
    columns = np.arange(values.shape[1])
    if shares.size < 3:
        best = np.argmin(values, axis=0)
        return values[best, columns], shares[best]
    order = np.argsort(shares)
    at, values = np.repeat(shares[order][:, None], columns.size, axis=1), values[order]
    for _ in range(ROUNDS):
        place, depth = valley(at, values)
        todo = np.flatnonzero(depth < values.min(axis=0) - worth)
        if not todo.size:
            break
        seen = look(todo, place[todo])
        at, values = (np.concatenate((table, np.full((1, columns.size), np.inf))) for table in (at, values))
        at[-1, todo], values[-1, todo] = place[todo], seen
        # columns that were not looked at keep their places; the new row sorts to the end there
        rank = np.argsort(at, axis=0, kind="stable")
        at, values = np.take_along_axis(at, rank, axis=0), np.take_along_axis(values, rank, axis=0)
    best = np.argmin(values, axis=0)
    return values[best, columns], at[best, columns]
