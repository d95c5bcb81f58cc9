"""Four-bar linkages of the front view, through the package's one equation of the linkage."""

from __future__ import annotations

import numpy as np

from objectives.linkage import circle_point

AXIS = np.array([1.0, 0.0, 0.0])


def planar(y: float | np.ndarray, z: float | np.ndarray) -> np.ndarray:
    """Point of the front view, (3,) or (3, positions)."""
    y, z = np.broadcast_arrays(np.asarray(y, dtype=float), np.asarray(z, dtype=float))
    return np.stack([np.zeros_like(y), y, z])


def angle(v: np.ndarray) -> np.ndarray:
    """Direction of a front-view vector from y towards z, degrees in [0, 360)."""
    direction: np.ndarray = np.degrees(np.arctan2(v[2], v[1])) % 360.0
    return direction


def circular(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Absolute difference of two angles, degrees."""
    difference: np.ndarray = np.abs((one - other + 180.0) % 360.0 - 180.0)
    return difference


def on_circle(centre: np.ndarray, radius: float, target: np.ndarray, distance: float, side: int) -> np.ndarray:
    """Point of a front-view circle at a distance from `target` (3, positions), one that is in reach."""
    found, spare = circle_point(centre[:, None], AXIS[:, None], radius, target, distance, side)
    assert (spare >= 0.0).all()
    return found
