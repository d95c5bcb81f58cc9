"""The corner at ride: installed attitude, settled lower arm, and where a candidate's static camber puts it all.

The measured spindle is installed by pitch about y, then camber about x, then toe about z (fixed axes), so
that the spin axis is (sin toe cos camber, cos toe cos camber, -sin camber).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from objectives.corner import Candidates, Corner, GeometryError, axis_direction
from objectives.frame import Measured
from objectives.vectors import Array, beside, cross, dot, norm, over, unit, vector

__all__ = ["Circle", "Placed", "axis_direction", "half_track_for", "installed", "lower_arm_length", "place"]

_COLUMNS = (
    "ride_angle",
    "upper_side",
    "tie_side",
    "tie_rod_length",
    "ride_height",
    "steering_outer",
    "inner_joint",
)  # of `Placed`, candidates last
_SPINDLE = ("lower_pivot", "upper_pivot", "steering_pivot", "kingpin_length")  # one for all, or candidates last


@dataclass(frozen=True)
class Circle:
    """Path of an arm's outer pivot: centre + radius (outward cos t + upward sin t), t = 0 where it was laid out.

    Vectors have shape (3,) or (3, N), `radius` () or (N,); mm. Those of the lower arm are shared by all candidates,
    but for the centre where each corner is as it was built.
    """

    centre: Array
    axis: Array
    outward: Array
    upward: Array
    radius: Array

    @staticmethod
    def through(outer: Array, on_axis: Array, direction: Array) -> Circle:
        """Circle of `outer` about the axis through `on_axis`; the front end of the axis points forward."""
        centre = on_axis + dot(outer - on_axis, direction) * direction
        arm = outer - centre
        radius = norm(arm)
        outward = arm / radius
        return Circle(centre, direction, outward, cross(direction, outward), radius)

    @property
    def steepest(self) -> Array:
        """Height of the circle's top above its centre, of a radius of one."""
        top: Array = np.hypot(self.outward[2], self.upward[2])
        return top

    def at(self, angle: Array) -> Array:
        """Points at `angle` (radians, any shape; (..., N) of circles (3, N)), shape (3, ...)."""
        centre, outward, upward = (beside(v, np.ndim(angle)) for v in (self.centre, self.outward, self.upward))
        return centre + self.radius * (outward * np.cos(angle) + upward * np.sin(angle))


@dataclass(frozen=True)
class Placed:
    """N candidates assembled at ride: what stays constant while the wheel moves. mm, radians.

    Attributes
    ----------
    lower
        Circle of the lower outer pivot, shared by all candidates or with centres (3, N) of their own; angle 0 at
        the nominal ride pose.
    upper
        Circles of the upper outer pivots, angle 0 at each candidate's own ride pose; `radius` is the arm length.
    ride_angle
        Lower-arm angle at ride, shape (N,); NaN where the candidate cannot stand on the ground.
    lower_pivot, upper_pivot, steering_pivot
        Points of the measured spindle, shape (3,), or (3, N) where candidates choose a hole or are as built.
    kingpin_length
        Distance between the outer pivots, shape () or (N,).
    upper_side, tie_side
        On which side the loop closes at ride, +1 or -1, shape (N,).
    tie_rod_length
        Shape (N,).
    steering_outer
        Outer tie-rod joint at ride, shape (3, N).
    ride_height
        z of the wheel centre at ride, shape (N,).
    inner_joint
        Straight ahead, shape (3, N).
    design
        What was to be built, where these are corners as built (`objectives.as_built`).
    """

    corner: Corner
    lower: Circle
    upper: Circle
    ride_angle: Array
    lower_pivot: Array
    upper_pivot: Array
    steering_pivot: Array
    kingpin_length: Array
    upper_side: Array
    tie_side: Array
    tie_rod_length: Array
    ride_height: Array
    steering_outer: Array
    inner_joint: Array
    design: Placed | None = None

    @cached_property
    def measured(self) -> Measured:
        """The spindle in measured attitude."""
        return Measured.of(self.lower_pivot, self.upper_pivot, self.steering_pivot)

    @property
    def upper_outer(self) -> Array:
        """Upper outer pivots at ride, shape (3, N)."""
        found: Array = self.upper.centre + self.upper.radius * self.upper.outward
        return found

    def with_inner_joint(self, joint: Array) -> Placed:
        """The same candidates with their inner tie-rod joints elsewhere, straight ahead, shape (3, N)."""
        lower_outer = self.lower.at(self.ride_angle)
        kingpin = self.upper_outer - lower_outer
        return replace(
            self,
            tie_side=side(unit(kingpin), joint - lower_outer, self.steering_outer - lower_outer),
            tie_rod_length=norm(self.steering_outer - joint),
            inner_joint=joint,
        )

    def take(self, index: NDArray[np.intp] | NDArray[np.bool_] | slice) -> Placed:
        """Return the candidates at `index`."""
        upper = Circle(
            self.upper.centre[:, index],
            self.upper.axis,
            self.upper.outward[:, index],
            self.upper.upward[:, index],
            self.upper.radius[index],
        )
        columns: dict[str, Any] = {name: getattr(self, name)[..., index] for name in _COLUMNS}
        for name in _SPINDLE:
            if (own := getattr(self, name)).ndim > (name != "kingpin_length"):
                columns[name] = own[..., index]
        if self.lower.centre.ndim > 1:
            columns["lower"] = replace(self.lower, centre=self.lower.centre[:, index])
        if self.design is not None:
            columns["design"] = self.design.take(index)
        return replace(self, upper=upper, **columns)


def installed(v: Array, camber: Array | float, toe: float, pitch: float) -> Array:
    """Turn a vector of the measured spindle, shape (3,) or (3, N), into the frame at ride, the same or (3, N)."""
    x = v[0] * np.cos(pitch) - v[2] * np.sin(pitch)
    z = v[0] * np.sin(pitch) + v[2] * np.cos(pitch)
    y = v[1] * np.cos(camber) + z * np.sin(camber)
    z = z * np.cos(camber) - v[1] * np.sin(camber)
    return np.stack(np.broadcast_arrays(x * np.cos(toe) + y * np.sin(toe), y * np.cos(toe) - x * np.sin(toe), z))


def nominal_wheel_centre(corner: Corner) -> Array:
    """Wheel centre at the nominal ride pose, shape (3,): x = 0, contact centre at half the track on the ground."""
    camber, radius = corner.static_camber, corner.tyre.loaded_radius
    return vector(
        0.0,
        corner.half_track + radius * np.sin(camber) * np.cos(corner.static_toe),
        corner.ground_z + radius * np.cos(camber),
    )


def _nominal_lower_pivot(corner: Corner) -> Array:
    pivot = installed(corner.spindle.lower_pivot, corner.static_camber, corner.static_toe, corner.spindle.pitch)
    return nominal_wheel_centre(corner) + pivot


def lower_circle(corner: Corner) -> Circle:
    """Circle of the lower outer pivot about the lower arm's inner axis.

    Raises
    ------
    GeometryError
        The outer pivot lies on the axis, or the arm stands so steeply that it cannot carry travel.
    """
    arm = corner.lower_arm
    circle = Circle.through(_nominal_lower_pivot(corner), arm.inner_pivot, arm.direction)
    if not circle.radius > 1e-6:
        raise GeometryError("the lower arm has no length: its outer pivot lies on its inner axis")
    if not circle.upward[2] > 1e-3:
        raise GeometryError("the lower arm stands on end at ride, or its inner axis lies outboard of the wheel")
    return circle


def lower_arm_length(corner: Corner) -> float:
    """Distance from the lower outer pivot to the lower inner axis at the nominal ride pose, mm."""
    return float(lower_circle(corner).radius)


def half_track_for(corner: Corner, length: float) -> float:
    """Half the track at which a lower arm of `length` (mm) reaches the spindle; `corner.half_track` is not used.

    Raises
    ------
    GeometryError
        No track fits: the arm is shorter than its height and fore-and-aft offset from the spindle.
    """
    arm = corner.lower_arm
    gap = _nominal_lower_pivot(corner) - vector(0.0, corner.half_track, 0.0) - arm.inner_pivot
    across = vector(0.0, 1.0, 0.0) - arm.direction[1] * arm.direction
    rest = gap - dot(gap, arm.direction) * arm.direction
    # |rest + half_track * across| = length: the outboard root
    a, b, c = dot(across, across), dot(across, rest), dot(rest, rest) - length**2
    spare = b * b - a * c
    if not spare > 0.0:
        shortest = float(np.sqrt(dot(rest, rest) - b * b / a))
        raise GeometryError(
            f"the lower arm cannot reach the spindle: it must be longer than {shortest:.1f} mm at this ride height"
        )
    return float((np.sqrt(spare) - b) / a)


def place(corner: Corner, candidates: Candidates) -> Placed:
    """Assemble candidates at ride: on the settled lower arm, toe kept, contact centre on the ground.

    The spindle tilts to the candidate's static camber; the arm turns the little that keeps the contact centre
    on the ground, which is one trigonometric equation for its angle.
    """
    lower = lower_circle(corner)
    camber, spindle = candidates.static_camber, corner.spindle
    upper_pivot = spindle.upper_pivot_at(candidates.hole)

    def turned(v: Array) -> Array:
        return installed(v, camber, corner.static_toe, spindle.pitch)

    wheel_z = corner.ground_z + corner.tyre.loaded_radius * np.cos(camber)
    height = (wheel_z + turned(spindle.lower_pivot)[2] - lower.centre[2]) / lower.radius
    angle = angle_at_height(lower, height)
    lower_outer = lower.at(angle)
    wheel = lower_outer - turned(spindle.lower_pivot)
    upper_outer = wheel + turned(upper_pivot)
    steering_outer = wheel + turned(spindle.steering_pivot)
    pivot = np.stack((np.full(candidates.count, corner.upper_axis.pivot_x), candidates.pivot_y, candidates.pivot_z))
    upper = Circle.through(upper_outer, pivot, over(corner.upper_axis.direction, 1))
    inner = np.repeat(corner.steering.inner_joint[:, None], candidates.count, axis=1)
    kingpin = upper_outer - lower_outer
    return Placed(
        corner=corner,
        lower=lower,
        upper=upper,
        ride_angle=angle,
        lower_pivot=spindle.lower_pivot,
        upper_pivot=upper_pivot,
        steering_pivot=spindle.steering_pivot,
        kingpin_length=np.asarray(norm(upper_pivot - over(spindle.lower_pivot, upper_pivot.ndim - 1))),
        upper_side=side(upper.axis, lower_outer - upper.centre, upper_outer - upper.centre),
        tie_side=side(unit(kingpin), inner - lower_outer, steering_outer - lower_outer),
        tie_rod_length=norm(steering_outer - inner),
        ride_height=wheel_z,
        steering_outer=steering_outer,
        inner_joint=inner,
    )


def angle_at_height(circle: Circle, height: Array) -> Array:
    """Angle at which outward z cos t + upward z sin t = height (of a radius of one); NaN out of reach."""
    with np.errstate(invalid="ignore"):
        found: Array = np.arctan2(circle.upward[2], circle.outward[2]) - np.arccos(height / circle.steepest)
    return found


def side(axis: Array, towards: Array, point: Array) -> Array:
    """+1 or -1: on which side of the plane through `axis` and `towards` the point lies, shape (N,)."""
    found: Array = np.where(dot(cross(axis, towards), point) >= 0.0, 1.0, -1.0)
    return found
