"""A corner as built, by constraint equations on one rigid spindle and scipy's root finder: no formula of the package.

Unknown are the wheel centre and the spindle's attitude. Held are the distances of both outer pivots from two points of
their inner axes (a rigid arm on its axis), the tie rod's length, and the height of the wheel centre.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root
from scipy.spatial.transform import Rotation

from objectives.as_built import OFFSETS
from objectives.corner import Candidates, Corner
from tests.reference import rigid_body

Array = NDArray[np.float64]

LEVER = 200.0  # mm: turns the unknown attitude into lengths, so that all unknowns are of a size
RESIDUAL = 1e-9  # mm by which a length may be off


class Built:
    """One corner as built; `offsets`, shape (20,), are those of `objectives.as_built`."""

    def __init__(self, corner: Corner, candidate: Candidates, offsets: Array) -> None:
        points = rigid_body.hardpoints(corner, candidate)
        off = {name: offsets[rows] for name, rows in OFFSETS.items()}
        self.points, self.radius = points, points.loaded_radius
        # points of the spindle from the wheel centre, in the attitude the design has at ride
        attitude = rigid_body.attitude(corner.spindle.pitch, candidate.static_camber[0], corner.static_toe)
        self.spindle = np.stack(
            [
                points.lower_outer - points.wheel + attitude.apply(off["spindle_lower"]),
                points.upper_outer - points.wheel + attitude.apply(off["spindle_upper"]),
                points.steering_outer - points.wheel + attitude.apply(off["spindle_steering"]),
            ]
        )
        self.lower_axis = points.lower_axis + off["lower_pivot"]
        self.upper_axis = points.upper_axis + off["pivot"]
        self.inner = points.inner_joint + off["inner_joint"]
        self.lower_lengths = np.linalg.norm(points.lower_outer - points.lower_axis, axis=1)
        self.upper_lengths = np.linalg.norm(
            _longer(points.upper_outer, points.upper_axis, off["arm_length"][0]) - points.upper_axis, axis=1
        )
        self.tie_rod = np.linalg.norm(points.steering_outer - points.inner_joint) + off["tie_rod"][0]

    def solve(self, travel: float, guess: Array | None = None) -> tuple[Array, Array, Array]:
        """Wheel centre, spin axis, and unknowns to start the next solution from, at a travel from the designed ride."""
        height = self.points.wheel[2] + travel

        def miss(x: Array) -> Array:
            lower, upper, steering = x[:3] + Rotation.from_rotvec(x[3:] / LEVER).apply(self.spindle)
            return np.concatenate(
                (
                    np.linalg.norm(lower - self.lower_axis, axis=1) - self.lower_lengths,
                    np.linalg.norm(upper - self.upper_axis, axis=1) - self.upper_lengths,
                    [np.linalg.norm(steering - self.inner) - self.tie_rod, x[2] - height],
                )
            )

        start = np.concatenate((self.points.wheel, np.zeros(3))) if guess is None else guess
        found = np.asarray(root(miss, start, method="hybr", options={"xtol": 1e-15}).x)
        if np.abs(miss(found)).max() > RESIDUAL:
            raise ArithmeticError(f"{np.abs(miss(found)).max():.1e} mm are left")
        return found[:3], Rotation.from_rotvec(found[3:] / LEVER).apply(self.points.spin), found

    def attitude(self, travel: float) -> tuple[float, float, Array]:
        """Camber, toe (radians) and contact centre at a travel, walked to in steps."""
        guess = None
        for part in np.linspace(0.0, travel, 2 + int(abs(travel) / 60.0)):
            wheel, spin, guess = self.solve(float(part), guess)
        contact = rigid_body.contact_centre(wheel, spin, self.radius)
        return float(np.arcsin(-spin[2])), float(np.arctan2(spin[0], spin[1])), contact


def _longer(outer: Array, axis: Array, by: float) -> Array:
    """Outer pivot moved away from its axis, square to it."""
    along = (axis[1] - axis[0]) / np.linalg.norm(axis[1] - axis[0])
    arm = outer - axis[0]
    arm = arm - (arm @ along) * along
    return np.asarray(outer + by * arm / np.linalg.norm(arm))
