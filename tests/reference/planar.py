"""Corners that move in the front view only: inner axes along x, and a tie rod that never steers.

The inner tie-rod joint lies on the lower inner axis, the outer one beside the lower outer pivot, so that the rod
moves as part of the lower arm.
"""

from __future__ import annotations

import numpy as np

from objectives.corner import (
    Candidates,
    Corner,
    LowerArm,
    RodEnd,
    Spindle,
    Steering,
    Travel,
    Tyre,
    UpperAxis,
)
from objectives.curves import Curves

ALONG_X = np.array([1.0, 0.0, 0.0])
HALF_TRACK, GROUND, LOADED = 780.0, -270.0, 360.0  # mm
WHEEL_Z = GROUND + LOADED
LOWER, UPPER = np.array([6.0, -88.0, -112.0]), np.array([-18.0, -118.0, 118.0])  # outer pivots from the wheel centre

SHAPES = {
    "arms meet inboard": ((250.0, 20.0), (300.0, 235.0), 0.0),
    "short upper arm": ((250.0, 20.0), (345.0, 200.0), 0.0),
    "static camber": ((250.0, -60.0), (280.0, 225.0), np.radians(-2.5)),
    "roll centre high": ((240.0, 60.0), (420.0, 190.0), np.radians(1.5)),
}
"""Lower inner pivot, upper inner pivot (y and z, mm) and static camber (radians) of corners worth a look."""


def planar_corner(
    lower_inner: tuple[float, float],
    *,
    camber: float = 0.0,
    steering_x: float = -110.0,
    inner_x: float = -60.0,
) -> Corner:
    """Corner with its lower inner pivot at y and z; `camber` is the static camber in radians."""
    return Corner(
        half_track=HALF_TRACK,
        ground_z=GROUND,
        static_camber=camber,
        static_toe=0.0,
        tyre=Tyre(368.0, 236.0, 35.0, LOADED),
        spindle=Spindle(LOWER, UPPER, LOWER + np.array([steering_x, 0.0, 0.0])),
        lower_arm=LowerArm(np.array([0.0, *lower_inner]), ALONG_X),
        upper_axis=UpperAxis(0.0, ALONG_X),
        steering=Steering(
            np.array([inner_x, *lower_inner]),
            RodEnd(np.array([0.0, 0.0, 1.0]), np.radians(28)),
            RodEnd(ALONG_X, np.radians(30)),
        ),
        travel=Travel(bump=490.0, droop=330.0, droop_cap=330.0),
        camber_curve=np.array([[-120.0, 0.0], [100.0, 0.0]]),
    )


def parallel_arms(radius: float, ride_angle: float) -> tuple[Corner, Candidates]:
    """Corner with equal parallel arms of `radius` mm, their outer ends `ride_angle` radians above the inner ones."""
    inboard = -radius * np.array([np.cos(ride_angle), np.sin(ride_angle)])
    wheel = np.array([HALF_TRACK, WHEEL_Z])
    lower_y, lower_z = wheel + LOWER[1:] + inboard
    upper_y, upper_z = wheel + UPPER[1:] + inboard
    return planar_corner((lower_y, lower_z)), Candidates(upper_y, upper_z, 0.0)


def instant_centre(corner: Corner, candidate: Candidates, curves: Curves) -> np.ndarray:
    """Front-view meeting point of the two arms' lines, y and z, (2, positions)."""
    inner = [corner.lower_arm.inner_pivot[1:], np.array([candidate.pivot_y[0], candidate.pivot_z[0]])]
    outer = [curves.lower_outer[1:, 0], curves.upper_outer[1:, 0]]
    found = []
    for position in range(outer[0].shape[1]):
        lower, upper = (o[:, position] - i for o, i in zip(outer, inner, strict=True))
        along = np.linalg.solve(np.column_stack([lower, -upper]), inner[1] - inner[0])[0]
        found.append(inner[0] + along * lower)
    return np.array(found).T
