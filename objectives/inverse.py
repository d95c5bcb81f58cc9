"""The same candidate named the other way: pivot and arm length given, static camber found."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from objectives.corner import Candidates, Corner
from objectives.ride import place
from objectives.roots import root_between
from objectives.vectors import Array

REACH = np.radians(15.0)  # either side of the nominal static camber
_LOOKS = 121
_STEP = 1e-6  # radians, for the slope of arm length by static camber: Newton needs no better


def static_camber_for(
    corner: Corner, pivot_y: Array, pivot_z: Array, arm_length: Array, hole: NDArray[np.intp] | int = 0
) -> Array:
    """Static camber at which the upper arm has the given length.

    Parameters
    ----------
    corner
        What is settled.
    pivot_y, pivot_z, arm_length
        Shape (N,), mm.
    hole
        Of the spindle, counted from 0, shape () or (N,).

    Returns
    -------
    Shape (N,), radians: the solution nearest the nominal static camber, NaN where none lies within `REACH` of it.
    """
    pivot_y, pivot_z, arm_length = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(part, dtype=float)) for part in (pivot_y, pivot_z, arm_length))
    )
    hole = np.broadcast_to(np.asarray(hole, dtype=np.intp), pivot_y.shape)
    offsets = np.linspace(-REACH, REACH, _LOOKS)
    excess = np.stack(
        [
            _excess(corner, pivot_y, pivot_z, arm_length, hole, np.full(pivot_y.shape, corner.static_camber + o))
            for o in offsets
        ]
    )
    crosses = np.sign(excess[1:]) * np.sign(excess[:-1]) <= 0.0
    distance = np.minimum(np.abs(offsets[1:]), np.abs(offsets[:-1]))[:, None]
    nearest = np.argmin(np.where(crosses, distance, np.inf), axis=0)
    found = np.full(pivot_y.shape, np.nan)
    some = np.flatnonzero(crosses.any(axis=0))
    if some.size:
        low = corner.static_camber + offsets[nearest[some]]
        parts = pivot_y[some], pivot_z[some], arm_length[some], hole[some]

        def value_and_slope(camber: Array) -> tuple[Array, Array]:
            after, before = (_excess(corner, *parts, camber + step) for step in (_STEP, -_STEP))
            return _excess(corner, *parts, camber), (after - before) / (2.0 * _STEP)

        found[some] = root_between(value_and_slope, low, low + offsets[1] - offsets[0], excess[nearest[some], some])
    return found


def _excess(corner: Corner, y: Array, z: Array, arm_length: Array, hole: NDArray[np.intp], camber: Array) -> Array:
    excess: Array = place(corner, Candidates(y, z, camber, hole)).upper.radius - arm_length
    return excess
