"""What is settled before the upper arm's inner pivot is: one left front corner, in mm and radians.

Axes are those of ISO 8855 fixed in the frame: x forward, y left (outboard), z up. Origin: x on the
front-axle line, y on the vehicle centre plane, z on the frame datum.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from objectives.parts import Parts
from objectives.vectors import Array, cross, dot, over, vector


class GeometryError(ValueError):
    """The settled points cannot be assembled; the message says which and why."""


def axis_direction(kick_up: float, plan_angle: float) -> Array:
    """Direction of an arm's inner axis, shape (3,).

    Parameters
    ----------
    kick_up
        Angle by which the front end of the axis is raised, radians.
    plan_angle
        Angle by which the front end of the axis is turned outboard, radians.
    """
    return vector(
        np.cos(kick_up) * np.cos(plan_angle),
        np.cos(kick_up) * np.sin(plan_angle),
        np.sin(kick_up),
    )


@dataclass(frozen=True)
class Tyre:
    """A rounded cylinder, mm: outer radius, width, radius of the shoulder, radius under load."""

    radius: float
    width: float
    shoulder_radius: float
    loaded_radius: float


@dataclass(frozen=True)
class Spindle:
    """Points from the wheel centre, wheel upright and straight ahead, mm, shape (3,) each.

    `pitch` (radians) turns the measured spindle about the spin axis when installed, + top rearward. `upper_holes`,
    shape (3, H), are the places the upper outer pivot may have; `upper_pivot` is then the first of them.
    """

    lower_pivot: Array
    upper_pivot: Array
    steering_pivot: Array
    pitch: float = 0.0
    upper_holes: Array | None = None

    def upper_pivot_at(self, hole: NDArray[np.intp]) -> Array:
        """Upper outer pivots of candidates in these holes, shape (3, N), or the one of all, shape (3,)."""
        return self.upper_pivot if self.upper_holes is None else self.upper_holes[:, hole]


@dataclass(frozen=True)
class LowerArm:
    """Inner axis of the lower arm: any point on it (mm, shape (3,)) and its direction (shape (3,))."""

    inner_pivot: Array
    direction: Array


@dataclass(frozen=True)
class UpperAxis:
    """What is settled of the upper arm's inner axis.

    `pivot_x` (mm) is where along the axis y and z are measured; `direction` has shape (3,).
    """

    pivot_x: float
    direction: Array


@dataclass(frozen=True)
class RodEnd:
    """Bolt axis at ride (unit vector, shape (3,)) and the largest angle to it, radians.

    The outer joint's axis is given in the measured spindle's frame, the inner joint's in the frame's axes.
    """

    axis: Array
    max_angle: float


@dataclass(frozen=True)
class Pitman:
    """Steering box: its arm swings the inner tie-rod joint about the shaft, `angle` (radians) each way.

    `pivot` is any point of the shaft (mm, shape (3,)) with the joint at `Steering.inner_joint`; `axis` its direction.
    """

    pivot: Array
    axis: Array
    angle: float


@dataclass(frozen=True)
class Steering:
    """Inner tie-rod joint straight ahead (mm, shape (3,)), what moves it, both rod ends.

    A rack moves the joint sideways by `rack_travel` each way (mm), a `pitman` arm swings it. With an `inner_region`,
    shape (2, 2), rows y and z from least to most (mm), each candidate gets a joint of its own in it, the one with the
    least bump steer, and rack or box move along with it; `inner_joint` then gives only its x.
    """

    inner_joint: Array
    outer_rod_end: RodEnd
    inner_rod_end: RodEnd
    rack_travel: float = 0.0
    inner_region: Array | None = None
    pitman: Pitman | None = None

    @property
    def lock(self) -> float:
        """Steering input at either lock: rack travel, mm, or the pitman arm's angle, radians."""
        return self.rack_travel if self.pitman is None else self.pitman.angle

    def shift(self, turned: Array) -> Array:
        """How far the inner joint moves from straight ahead, mm, shape (3, ...).

        `turned`, shape (...), is the rack's way outboard (mm) or the pitman arm's right-handed turn (radians).
        """
        turned = np.asarray(turned, dtype=float)
        if self.pitman is None:
            return np.stack((np.zeros_like(turned), turned, np.zeros_like(turned)))
        arm = self.inner_joint - self.pitman.pivot
        return turn_about(self.pitman.axis, over(arm, turned.ndim), np.cos(turned), np.sin(turned)) - over(
            arm, turned.ndim
        )


def turn_about(axis: Array, v: Array, cos: Array, sin: Array) -> Array:
    """Turn vectors, shape (3, ...), about an axis, shape (3, ...), right-handed (Rodrigues' formula)."""
    axis = over(axis, v.ndim - axis.ndim)
    turned: Array = v * cos + cross(axis, v) * sin + axis * (dot(axis, v) * (1.0 - cos))
    return turned


@dataclass(frozen=True)
class BallJoint:
    """Outer joint of an arm: a direction of the spindle and one of the arm, and how far they may part (radians).

    The spindle's, shape (3,), is in the measured spindle's frame, the arm's, shape (3,), in the frame's axes with the
    arm at ride. One may be None: it then stands in line with the other at each candidate's own ride.
    """

    spindle_axis: Array | None
    arm_axis: Array | None
    max_angle: float


@dataclass(frozen=True)
class Link:
    """What runs straight from a point of an arm (with the arm at ride) to one of the frame; mm, shape (3,) each."""

    arm: Literal["lower", "upper"]
    arm_point: Array
    frame_point: Array


@dataclass(frozen=True)
class Shock:
    """Spring and damper: where it sits, and its length extended and collapsed, mm."""

    link: Link
    extended: float
    collapsed: float


@dataclass(frozen=True)
class Travel:
    """Required bump and droop, and the droop and bump beyond which nothing is counted; mm, all positive.

    A bump cap below the required bump, such as the 0 that stands for none, counts as the required bump.
    `roll` (radians) is the body roll at which camber is judged; 0 judges none.
    """

    bump: float
    droop: float
    droop_cap: float
    bump_cap: float = 0.0
    roll: float = 0.0

    @property
    def most_bump(self) -> float:
        """Bump beyond which nothing is counted."""
        return max(self.bump, self.bump_cap)


@dataclass(frozen=True)
class Corner:
    """One left front corner with everything settled but the upper arm's inner pivot; mm and radians.

    Attributes
    ----------
    half_track
        y of the contact centre at ride at the nominal static camber.
    ground_z
        z of the ground at ride, below the frame datum: minus the ride height.
    static_camber, static_toe
        Nominal attitude at ride; a candidate may have another static camber.
    camber_curve
        Target camber, shape (points, 2): travel rising, camber; straight between points.
    outlines
        Bodywork in the front view, one array of shape (points, 2), y and z, for each outline.
    parts
        Thickness of arms and tie rod, the rim and obstacles, as far as they are given.
    """

    half_track: float
    ground_z: float
    static_camber: float
    static_toe: float
    tyre: Tyre
    spindle: Spindle
    lower_arm: LowerArm
    upper_axis: UpperAxis
    steering: Steering
    travel: Travel
    camber_curve: Array
    outlines: tuple[Array, ...] = ()
    upper_outer_joint: BallJoint | None = None
    lower_outer_joint: BallJoint | None = None
    shock: Shock | None = None
    parts: Parts = field(default_factory=Parts)


_NO_HOLES = np.zeros(1, dtype=np.intp)


@dataclass(frozen=True)
class Candidates:
    """Upper inner pivots to judge: y and z at `UpperAxis.pivot_x` (mm), static camber (radians); (N,) each.

    `hole` counts from 0 among `Spindle.upper_holes`.
    """

    pivot_y: Array
    pivot_z: Array
    static_camber: Array
    hole: NDArray[np.intp] = field(default_factory=lambda: _NO_HOLES)
    count: int = field(init=False)

    def __post_init__(self) -> None:
        columns = np.broadcast_arrays(
            np.atleast_1d(np.asarray(self.pivot_y, dtype=float)),
            np.atleast_1d(np.asarray(self.pivot_z, dtype=float)),
            np.atleast_1d(np.asarray(self.static_camber, dtype=float)),
            np.atleast_1d(np.asarray(self.hole, dtype=np.intp)),
        )
        if columns[0].ndim != 1:
            raise ValueError("candidates are one-dimensional arrays of equal length")
        for name, column in zip(("pivot_y", "pivot_z", "static_camber", "hole"), columns, strict=True):
            object.__setattr__(self, name, column)
        object.__setattr__(self, "count", columns[0].size)

    def take(self, index: NDArray[np.intp] | NDArray[np.bool_] | slice) -> Candidates:
        """Return the candidates at `index` (a slice, indices or a mask over (N,))."""
        return Candidates(self.pivot_y[index], self.pivot_z[index], self.static_camber[index], self.hole[index])
