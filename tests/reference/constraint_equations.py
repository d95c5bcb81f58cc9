"""One corner as six equations in six unknowns, solved by scipy's general root finder.

Unknowns: the wheel centre, and the spindle's turn from ride as a Gibbs vector g (axis times the tangent of half the
angle), R v = v + 2 (g x v + g x (g x v)) / (1 + g.g) (Goldstein, Classical Mechanics, ch. 4, from memory). Equations:
each arm's outer pivot stays on its circle about the inner axis, which is to keep its place along the axis and its
distance to it (four), the tie rod keeps its length (one), the wheel centre stands at a given height (one). Squared
lengths are divided by twice the length, so that a residual is a distance in mm.

The root finder (`scipy.optimize.root`, MINPACK's hybrid method) is told nothing of slopes. It starts from the last
position, carried on from the last three, so it stays on the way of assembling that holds at ride. On the way to a
position asked for it goes only as far as a good start needs.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root
from scipy.spatial.transform import Rotation

from tests.reference.rigid_body import Gear, Hardpoints, measured, rack_gear

Array = NDArray[np.float64]

LARGEST_STEP = 60.0  # mm of travel, or of the inner joint along its way, between two solutions
REACH = 200.0  # mm: turns are counted as the way of a point this far off, so that all unknowns are lengths
STEP_TOLERANCE = 1e-14  # of the unknowns, between two steps of the root finder: as far as rounding lets it go
RESIDUAL = 1e-10  # mm by which an equation may be off where the root finder stops
ON_THE_WAY = 1e-6  # the same two at positions that are only passed
PASSED = 1e-3


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
        lengths = np.linalg.norm(outer - [*self.centres, points.inner_joint], axis=1)
        self.squares, self.twice = lengths**2, 2.0 * lengths
        self.unknowns = np.append(points.wheel, np.zeros(3))

    def equations(self, unknowns: Array, height: float, inner: Array) -> Array:
        """Six residuals, mm; `height` of the wheel centre, both circles' centres and the inner joint, (3, 3)."""
        outer = unknowns[:3] + turned(unknowns[3:] / REACH, self.offsets)
        bars = outer - inner
        found = np.empty(6)
        found[:3] = (np.vecdot(bars, bars) - self.squares) / self.twice
        found[3:5] = np.vecdot(bars[:2], self.along)
        found[5] = unknowns[2] - height
        return found

    def go(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Move from one travel and way of the inner joint (mm) to another.

        Raises
        ------
        ArithmeticError
            The root finder stopped where an equation is off by more than `RESIDUAL`.
        """
        way = np.subtract(end, start)
        steps = int(np.ceil(np.abs(way).max() / LARGEST_STEP))
        before = [self.unknowns] * 3
        for number in range(1, steps + 1):
            travel, gone = start + number / steps * way
            inner = np.vstack((self.centres, self.points.inner_joint + self.gear(gone)))
            last, second, third = before
            guess = 2.0 * last - second if number < 3 else 3.0 * (last - second) + third
            near, far = (STEP_TOLERANCE, RESIDUAL) if number == steps else (ON_THE_WAY, PASSED)
            found = root(self.equations, guess, args=(self.points.wheel[2] + travel, inner), tol=near)
            if np.abs(found.fun).max() > far:
                raise ArithmeticError(f"off by {np.abs(found.fun).max():.1e} mm on the way to {end}")
            before = [found.x, last, second]
        self.unknowns = before[0]


def turned(g: Array, vectors: Array) -> Array:
    """Vectors (N, 3) turned by a Gibbs vector."""
    x, y, z = g.tolist()
    xx, yy, zz = x * x, y * y, z * z
    # from the right, and with g x (g x v) = (g.v) g - (g.g) v
    turn = np.array(
        [
            [1.0 + xx - yy - zz, 2.0 * (x * y + z), 2.0 * (x * z - y)],
            [2.0 * (x * y - z), 1.0 + yy - zz - xx, 2.0 * (y * z + x)],
            [2.0 * (x * z + y), 2.0 * (y * z - x), 1.0 + zz - xx - yy],
        ],
    )
    moved: Array = vectors @ turn / (1.0 + xx + yy + zz)
    return moved


def solve(points: Hardpoints, travel: Array, gone: float = 0.0, gear: Gear = rack_gear) -> dict[str, Array]:
    """Sweep one corner over `travel` (P,), mm, with the inner joint `gone` mm along its way.

    Angles in radians (P,), points in mm (3, P), by name.
    """
    found: list[dict[str, Array]] = [{} for _ in travel]
    corner = Corner(points, gear)
    corner.go((0.0, 0.0), (0.0, gone))
    at_ride = corner.unknowns
    for side in (travel >= 0.0, travel < 0.0):
        corner.unknowns, at = at_ride, 0.0
        for index in sorted(np.flatnonzero(side), key=lambda i: abs(travel[i])):
            corner.go((at, gone), (travel[index], gone))
            at = travel[index]
            turn = Rotation.from_quat([*corner.unknowns[3:] / REACH, 1.0])  # of any length: tan, then 1
            found[index] = measured(points, corner.unknowns[:3], turn, gear(gone))
    return {name: np.stack([place[name] for place in found], axis=-1) for name in found[0]}
