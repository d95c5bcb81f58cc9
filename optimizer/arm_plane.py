"""The plane square to the upper arm's inner axis, through its pivot: there the arm swings in its true length."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from objectives.corner import UpperAxis
from objectives.vectors import Array, cross, dot, over, vector


@dataclass(frozen=True)
class ArmPlane:
    """The plane and its two directions; mm.

    Attributes
    ----------
    zero
        Where the vehicle's centre plane and the frame datum meet in it: the drawing's own (0, 0), shape (3,).
    across, up
        Its directions: level and outboard, and square to that, shape (3,).
    normal
        Direction of the inner axis, shape (3,).
    """

    zero: Array
    across: Array
    up: Array
    normal: Array

    @staticmethod
    def of(axis: UpperAxis, pivot: Array) -> ArmPlane:
        """Plane through the pivot, shape (3,), square to the axis."""
        normal = axis.direction
        level = float(np.hypot(normal[0], normal[1]))
        across = vector(-normal[1] / level, normal[0] / level, 0.0)
        zero = vector(float(dot(pivot, normal)) / normal[0], 0.0, 0.0)
        return ArmPlane(zero, across, cross(normal, across), normal)

    def seen(self, points: Array) -> Array:
        """Points (3, ...) looked at along the axis, on the drawing, shape (..., 2)."""
        away = points - over(self.zero, points.ndim - 1)
        flat = [dot(over(v, points.ndim - 1), away) for v in (self.across, self.up)]
        return np.stack(flat, axis=-1)

    def cut(self, front: Array) -> Array:
        """Where what runs straight fore and aft passes through the plane: y and z (points, 2), on the drawing."""
        y, z = np.asarray(front, dtype=float).T
        x = self.zero[0] - (y * self.normal[1] + z * self.normal[2]) / self.normal[0]
        return self.seen(np.stack((x, y, z)))

    @property
    def lean(self) -> float:
        """How far the plane leans back from upright, radians; negative: forward."""
        return float(np.arcsin(self.normal[2]))

    @property
    def turn(self) -> float:
        """How far it is turned from square to the centre plane, seen from above, radians."""
        return float(np.arctan2(self.normal[1], self.normal[0]))
