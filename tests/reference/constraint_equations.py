"""One corner as six equations in six unknowns, solved by scipy's general root finder.

Unknowns: the wheel centre, and the spindle's turn from ride as a Gibbs vector g (axis times the tangent of half the
angle), R v = v + 2 (g x v + g x (g x v)) / (1 + g.g) (Goldstein, Classical Mechanics, ch. 4, from memory). Equations:
each arm's outer pivot stays on its circle about the inner axis, which is to keep its place along the axis and its
distance to it (four), the tie rod keeps its length (one), the wheel centre stands at a given height (one). Squared
lengths are divided by twice the length, so that a residual is a distance in mm.

The root finder (`scipy.optimize.root`, MINPACK's hybrid method) is told nothing of slopes. It starts from the last
position, carried on straight from the last two, so it stays on the way of assembling that holds at ride.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root
from scipy.spatial.transform import Rotation

from tests.reference.rigid_body import Gear, Hardpoints, measured, rack_gear

Array = NDArray[np.float64]

LARGEST_STEP = 20.0  # mm of travel, or of the inner joint along its way, between two solutions
REACH = 200.0  # mm: turns are counted as the way of a point this far off, so that all unknowns are lengths
STEP_TOLERANCE = 1e-14  # of the unknowns, between two steps of the root finder: as far as rounding lets it go
RESIDUAL = 1e-10  # mm by which an equation may be off where the root finder stops


class Corner:
    """The equations of one corner and the position reached so far."""

    def __init__(self, points: Hardpoints, gear: Gear) -> None:
        self.points, self.gear = points, gear
        outer = np.array([points.lower_outer, points.upper_outer, points.steering_outer])
        self.offsets = outer - points.wheel
        axes = np.array([points.lower_axis, points.upper_axis])
        self.along = axes[:, 1] - axes[:, 0]
        self.along /= np.linalg.norm(self.along, axis=1)[:, None]
        place = np.einsum("ij,ij->i", outer[:2] - axes[:, 0], self.along)
        self.centres = axes[:, 0] + place[:, None] * self.along
        self.lengths = np.linalg.norm(outer - [*self.centres, points.inner_joint], axis=1)
        self.unknowns = np.append(points.wheel, np.zeros(3))

    def equations(self, unknowns: Array, travel: float, gone: float) -> Array:
        """Six residuals, mm."""
        outer = unknowns[:3] + self.offsets @ turned(unknowns[3:] / REACH).T
        joint = self.points.inner_joint + self.gear(gone)
        bars = outer - np.array([*self.centres, joint])
        stretch = (np.einsum("ij,ij->i", bars, bars) - self.lengths**2) / (2.0 * self.lengths)
        slide = np.einsum("ij,ij->i", bars[:2], self.along)
        return np.array([*stretch, *slide, unknowns[2] - self.points.wheel[2] - travel])

    def go(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Move from one travel and way of the inner joint (mm) to another.

        Raises
        ------
        ArithmeticError
            The root finder stopped where an equation is off by more than `RESIDUAL`.
        """
        way = np.subtract(end, start)
        steps = int(np.ceil(np.abs(way).max() / LARGEST_STEP))
        before = self.unknowns
        for share in np.arange(1, steps + 1) / steps:
            guess, before = 2.0 * self.unknowns - before, self.unknowns
            found = root(self.equations, guess, args=tuple(start + share * way), tol=STEP_TOLERANCE)
            if np.abs(found.fun).max() > RESIDUAL:
                raise ArithmeticError(f"off by {np.abs(found.fun).max():.1e} mm on the way to {end}")
            self.unknowns = found.x


def turned(g: Array) -> Array:
    """Rotation matrix (3, 3) of a Gibbs vector."""
    x, y, z = g
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    matrix: Array = np.eye(3) + 2.0 * (cross + cross @ cross) / (1.0 + x * x + y * y + z * z)
    return matrix


def solve(points: Hardpoints, travel: Array, gone: float = 0.0, gear: Gear = rack_gear) -> dict[str, Array]:
    """Sweep one corner over `travel` (P,), mm, with the inner joint `gone` mm along its way.

    Angles in radians (P,), points in mm (3, P), by name.
    """
    found: list[dict[str, Array]] = [{} for _ in travel]
    for side in (travel >= 0.0, travel < 0.0):
        corner, at = Corner(points, gear), 0.0
        corner.go((0.0, 0.0), (0.0, gone))
        for index in sorted(np.flatnonzero(side), key=lambda i: abs(travel[i])):
            corner.go((at, gone), (travel[index], gone))
            at = travel[index]
            turn = Rotation.from_matrix(turned(corner.unknowns[3:] / REACH))
            found[index] = measured(points, corner.unknowns[:3], turn, gear(gone))
    return {name: np.stack([place[name] for place in found], axis=-1) for name in found[0]}
