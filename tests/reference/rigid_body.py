"""One corner solved the slow way: six constraint equations on a rigid spindle, by Newton's method.

The spindle is one body with six freedoms. Each arm's outer pivot keeps its distance to two points of the
arm's inner axis (four equations), the tie rod keeps its length (one), the wheel centre stands at a given
height (one). The pose at ride is known; every other pose is reached from it in small steps, so the way of
assembling is the one that holds at ride. It ends, and nothing beyond is assembled, at the first position
where the wheel can be moved no further up or down (the Jacobian's determinant passes zero) or where a pair
of bars lies in line and would fold over to its other side: upper arm and kingpin, or tie rod and the plane
of kingpin and steering arm.

Vectors here have x, y, z last, unlike the package's.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from objectives.corner import Candidates, Corner

Array = NDArray[np.float64]

UP = np.array([0.0, 0.0, 1.0])
AXIS_REACH = 150.0  # mm from a point of the inner axis to each of the two points that stand for it
Gear = Callable[[float], Array]  # how far the inner joint stands from straight ahead, mm, once it has gone so many mm

LARGEST_STEP = 4.0  # mm of travel or rack between two poses
SMALLEST_STEP = 1e-7  # mm; shorter than this and the corner has locked
_NEXT, _LAST = np.array([1, 2, 0]), np.array([2, 0, 1])
RESIDUAL = 1e-11  # mm by which a constraint may be off; rounding at a metre is 1e-13


@dataclass(frozen=True)
class Hardpoints:
    """One corner as it stands at ride, in the frame's axes, mm; `lower_axis` and `upper_axis` are (2, 3)."""

    lower_axis: Array
    upper_axis: Array
    lower_outer: Array
    upper_outer: Array
    steering_outer: Array
    inner_joint: Array
    wheel: Array
    spin: Array
    outer_bolt: Array
    inner_bolt: Array
    loaded_radius: float

    def mirrored(self) -> Hardpoints:
        """Return the same corner on the other side of the vehicle."""
        flip = np.array([1.0, -1.0, 1.0])
        vectors = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "loaded_radius"}
        return replace(self, **{name: value * flip for name, value in vectors.items()})


@dataclass(frozen=True)
class Sweep:
    """What the wheel does, by position: angles in radians (P,), points in mm (3, P); NaN once locked."""

    camber: Array
    toe: Array
    caster: Array
    kingpin: Array
    outer_rod_end: Array
    inner_rod_end: Array
    kingpin_offset: Array
    roll_centre_z: Array
    wheel: Array
    contact: Array
    lower_outer: Array
    upper_outer: Array
    steering_outer: Array
    spin: Array


def attitude(pitch: float, camber: float, toe: float) -> Rotation:
    """Turn the measured spindle: pitch about y, camber about x, toe about z, each about the fixed axis.

    All three are negative right-hand rotations: + pitch takes the top rearward (z to -x), + camber
    the top outboard (z to y), + toe the front of the wheel inboard (x to -y).
    """
    return Rotation.from_euler("yxz", [-pitch, -camber, -toe])


def contact_centre(wheel: Array, spin: Array, loaded_radius: float) -> Array:
    """Lowest point of the circle of `loaded_radius` about `wheel`, square to `spin`."""
    up_in_wheel_plane = UP - spin * spin[2]
    lowest: Array = wheel - loaded_radius * up_in_wheel_plane / np.linalg.norm(up_in_wheel_plane)
    return lowest


def axis_points(point: Array, direction: Array) -> Array:
    """Two points that stand for an inner axis, (2, 3)."""
    along = np.asarray(direction) / np.linalg.norm(direction)
    return np.array([point - AXIS_REACH * along, point + AXIS_REACH * along])


def _cross(a: Array, b: Array) -> Array:
    """Cross product along the last axis; numpy's own takes most of a pose's time for its checks."""
    product: Array = a[..., _NEXT] * b[..., _LAST] - a[..., _LAST] * b[..., _NEXT]
    return product


def rack_gear(gone: float) -> Array:
    """Steering rack: the inner joint goes along +y."""
    return np.array([0.0, gone, 0.0])


def pitman_gear(joint: Array, pivot: Array, axis: Array) -> tuple[Gear, float]:
    """Steering box whose arm swings the joint about an axis through `pivot`: the gear, and the arm's length, mm.

    It goes along its arc in the right-hand sense.
    """
    along = np.array(axis) / np.linalg.norm(axis)
    arm = np.array(joint) - np.array(pivot)
    radius = float(np.linalg.norm(_cross(along, arm)))
    return lambda gone: Rotation.from_rotvec(along * gone / radius).apply(arm) - arm, radius


def hardpoints(corner: Corner, candidates: Candidates, index: int = 0) -> Hardpoints:
    """Stand the corner at ride for one candidate."""
    spindle, radius = corner.spindle, corner.tyre.loaded_radius
    holes = spindle.upper_holes
    upper_pivot = np.array(spindle.upper_pivot if holes is None else holes[:, candidates.hole[index]])
    lower_axis = axis_points(corner.lower_arm.inner_pivot, corner.lower_arm.direction)

    turn = attitude(spindle.pitch, corner.static_camber, corner.static_toe)
    to_contact = contact_centre(np.zeros(3), turn.apply([0.0, 1.0, 0.0]), radius)
    wheel = np.array([0.0, corner.half_track - to_contact[1], corner.ground_z - to_contact[2]])
    lower_lengths = np.linalg.norm(wheel + turn.apply(np.array(spindle.lower_pivot)) - lower_axis, axis=1)

    wanted = candidates.static_camber[index]
    for camber in np.linspace(corner.static_camber, wanted, 3)[1:]:
        turn = attitude(spindle.pitch, camber, corner.static_toe)
        wheel = _wheel_on_arm(corner, turn, wheel, lower_axis, lower_lengths)

    upper_inner = np.array(
        [corner.upper_axis.pivot_x, candidates.pivot_y[index], candidates.pivot_z[index]],
    )
    return Hardpoints(
        lower_axis=lower_axis,
        upper_axis=axis_points(upper_inner, corner.upper_axis.direction),
        lower_outer=wheel + turn.apply(np.array(spindle.lower_pivot)),
        upper_outer=wheel + turn.apply(upper_pivot),
        steering_outer=wheel + turn.apply(np.array(spindle.steering_pivot)),
        inner_joint=np.array(corner.steering.inner_joint),
        wheel=wheel,
        spin=turn.apply([0.0, 1.0, 0.0]),
        outer_bolt=turn.apply(np.array(corner.steering.outer_rod_end.axis)),
        inner_bolt=np.array(corner.steering.inner_rod_end.axis),
        loaded_radius=radius,
    )


def _wheel_on_arm(corner: Corner, turn: Rotation, wheel: Array, axis: Array, lengths: Array) -> Array:
    """Wheel centre near `wheel` with the lower arm of its length and the contact centre on the ground."""
    pivot = turn.apply(np.array(corner.spindle.lower_pivot))
    to_contact = contact_centre(np.zeros(3), turn.apply([0.0, 1.0, 0.0]), corner.tyre.loaded_radius)
    for _ in range(20):
        links = wheel + pivot - axis
        reach = np.linalg.norm(links, axis=1)
        residual = np.append(reach - lengths, wheel[2] + to_contact[2] - corner.ground_z)
        step = np.linalg.solve(np.vstack([links / reach[:, None], UP]), -residual)
        wheel = wheel + step
        if np.abs(step).max() < 1e-12:
            break
    if np.abs(residual).max() > RESIDUAL:
        raise ArithmeticError("the ride pose did not converge: not a corner this engine can judge")
    return wheel


class _Turn:
    """A rotation as a unit quaternion in plain numbers: scipy's own take most of a pose's time for their checks."""

    def __init__(self, w: float = 1.0, x: float = 0.0, y: float = 0.0, z: float = 0.0) -> None:
        size = math.sqrt(w * w + x * x + y * y + z * z)
        self.parts = w, x, y, z = w / size, x / size, y / size, z / size
        self.transposed = np.array(
            [
                [1.0 - 2.0 * (y * y + z * z), 2.0 * (x * y + w * z), 2.0 * (x * z - w * y)],
                [2.0 * (x * y - w * z), 1.0 - 2.0 * (x * x + z * z), 2.0 * (y * z + w * x)],
                [2.0 * (x * z + w * y), 2.0 * (y * z - w * x), 1.0 - 2.0 * (x * x + y * y)],
            ],
        )

    def apply(self, vectors: Array) -> Array:
        """Turn vectors, (3,) or (N, 3)."""
        turned: Array = vectors @ self.transposed
        return turned

    def then(self, turn: Array) -> _Turn:
        """This one and after it a turn about a vector by its length, radians."""
        x, y, z = turn.tolist()
        angle = math.sqrt(x * x + y * y + z * z)
        share = math.sin(0.5 * angle) / angle if angle else 0.5
        a, b, c, d = math.cos(0.5 * angle), share * x, share * y, share * z
        w, x, y, z = self.parts
        return _Turn(
            a * w - b * x - c * y - d * z,
            a * x + b * w + c * z - d * y,
            a * y - b * z + c * w + d * x,
            a * z + b * y - c * x + d * w,
        )


@dataclass(frozen=True)
class _Pose:
    wheel: Array
    turn: _Turn  # from the attitude at ride


class _Loop:
    """The six equations of one corner: five distances and the height of the wheel centre."""

    def __init__(self, points: Hardpoints, gear: Gear, largest_step: float) -> None:
        self.gear, self.largest_step = gear, largest_step
        outer = np.array(
            [points.lower_outer, points.lower_outer, points.upper_outer, points.upper_outer,
             points.steering_outer],
        )  # fmt: skip
        self.offsets = outer - points.wheel
        self.anchors = np.vstack([points.lower_axis, points.upper_axis, points.inner_joint])
        self.lengths = np.linalg.norm(outer - self.anchors, axis=1)
        self.ride_height = points.wheel[2]
        self.upper_direction = points.upper_axis[1] - points.upper_axis[0]

    def sides(self, pose: _Pose, jacobian: Array, gone: float) -> Array:
        """Signs that change at lock-up (3,): the determinant's, the upper arm's, the tie rod's."""
        lower, upper, steering = pose.wheel + pose.turn.apply(self.offsets[[0, 2, 4]])
        upper_arm, kingpin = upper - self.anchors[2], upper - lower
        tie_rod = steering - self.anchors[4] - self.gear(gone)
        signs: Array = np.sign(
            [
                np.linalg.slogdet(jacobian)[0],
                _cross(self.upper_direction, upper_arm) @ kingpin,
                _cross(kingpin, steering - lower) @ tie_rod,
            ],
        )
        return signs

    def equations(self, pose: _Pose, travel: float, gone: float) -> tuple[Array, Array]:
        """Residuals (6,), mm, and their derivatives by a shift and a small turn of the spindle (6, 6)."""
        arms = pose.turn.apply(self.offsets)
        anchors = self.anchors + np.outer([0, 0, 0, 0, 1], self.gear(gone))
        links = pose.wheel + arms - anchors
        reach = np.linalg.norm(links, axis=1)
        along = links / reach[:, None]
        jacobian = np.zeros((6, 6))
        jacobian[:5, :3], jacobian[:5, 3:] = along, _cross(arms, along)
        jacobian[5, 2] = 1.0
        return np.append(reach - self.lengths, pose.wheel[2] - self.ride_height - travel), jacobian

    def near(self, pose: _Pose, travel: float, gone: float) -> _Pose | None:
        """Pose on the same branch that satisfies the equations, or None."""
        residual, jacobian = self.equations(pose, travel, gone)
        sides = self.sides(pose, jacobian, gone)
        for _ in range(12):
            if np.linalg.slogdet(jacobian)[0] != sides[0]:
                return None
            step = np.linalg.solve(jacobian, -residual)
            if np.abs(step[:3]).max() > 15.0 or np.abs(step[3:]).max() > 0.1:
                return None
            pose = _Pose(pose.wheel + step[:3], pose.turn.then(step[3:]))
            residual, jacobian = self.equations(pose, travel, gone)
            if np.abs(step[:3]).max() < 1e-8 and np.abs(step[3:]).max() < 1e-10:
                break
        same_branch = (self.sides(pose, jacobian, gone) == sides).all()
        return pose if same_branch and np.abs(residual).max() < RESIDUAL else None

    def walk(self, pose: _Pose, start: Array, end: Array) -> _Pose | None:
        """Go from (travel, gone) `start` to `end` in small steps; None if the corner locks on the way."""
        distance = float(np.abs(end - start).max())
        done, step = 0.0, self.largest_step
        while done < distance:
            aim = min(done + step, distance)
            travel, gone = start + (end - start) * (aim / distance)
            reached = self.near(pose, travel, gone)
            if reached is None:
                step /= 2.0
                if step < SMALLEST_STEP:
                    return None
            else:
                pose, done, step = reached, aim, min(2.0 * step, self.largest_step)
        return pose


def solve(
    points: Hardpoints,
    travel: Array,
    gone: float = 0.0,
    gear: Gear = rack_gear,
    largest_step: float = LARGEST_STEP,
) -> Sweep:
    """Sweep one corner over `travel` (P,), mm, with the inner tie-rod joint `gone` mm along its way."""
    travel = np.asarray(travel, dtype=float)
    loop = _Loop(points, gear, largest_step)
    ride = loop.walk(_Pose(points.wheel, _Turn()), np.zeros(2), np.array([0.0, gone]))
    found: list[dict[str, Array]] = [{} for _ in travel]
    for direction in (1.0, -1.0):
        pose, at = ride, 0.0
        for i in np.argsort(np.abs(travel)):
            if pose is None or (travel[i] < 0.0) == (direction > 0.0):
                continue
            pose = loop.walk(pose, np.array([at, gone]), np.array([travel[i], gone]))
            at = travel[i]
            if pose is not None:
                found[i] = measured(points, pose.wheel, pose.turn, gear(gone))
                found[i]["roll_centre_z"] = _roll_centre_z(points, loop, pose, at, gone)
    shapes = {f.name: () if f.name not in _POINTS else (3,) for f in fields(Sweep)}
    return Sweep(
        **{
            name: np.stack([m.get(name, np.full(shape, np.nan)) for m in found], axis=-1)
            for name, shape in shapes.items()
        },
    )


_POINTS = ("wheel", "contact", "lower_outer", "upper_outer", "steering_outer", "spin")


def measured(points: Hardpoints, wheel: Array, turn: Rotation | _Turn, shift: Array) -> dict[str, Array]:
    """Every quantity of `Sweep` but the roll centre, straight from its definition.

    `wheel` is the wheel centre, `turn` the spindle's attitude from that at ride, `shift` how far the
    inner joint stands from straight ahead.
    """
    outer = np.array([points.lower_outer, points.upper_outer, points.steering_outer])
    lower, upper, steering = wheel + turn.apply(outer - points.wheel)
    spin = turn.apply(points.spin)
    contact = contact_centre(wheel, spin, points.loaded_radius)
    kingpin = (upper - lower) / np.linalg.norm(upper - lower)
    tie_rod = steering - points.inner_joint - shift
    tie_rod /= np.linalg.norm(tie_rod)
    at_ground = lower + kingpin * (contact[2] - lower[2]) / kingpin[2]
    return {
        "camber": np.arcsin(-spin[2]),
        "toe": np.arctan2(spin[0], spin[1]),
        "caster": np.arctan2(-kingpin[0], kingpin[2]),
        "kingpin": np.arctan2(-kingpin[1], kingpin[2]),
        "outer_rod_end": np.arcsin(abs(tie_rod @ turn.apply(points.outer_bolt))),
        "inner_rod_end": np.arcsin(abs(tie_rod @ points.inner_bolt)),
        "kingpin_offset": contact[1] - at_ground[1],
        "wheel": wheel,
        "contact": contact,
        "lower_outer": lower,
        "upper_outer": upper,
        "steering_outer": steering,
        "spin": spin,
    }


def _roll_centre_z(points: Hardpoints, loop: _Loop, pose: _Pose, travel: float, gone: float) -> Array:
    """Height where the line square to the path of the contact centre meets the centre plane."""
    contact = contact_centre(pose.wheel, pose.turn.apply(points.spin), points.loaded_radius)
    path = _contact_velocity(points, loop, pose, travel, gone)
    height: Array = contact[2] + contact[1] * path[1] / path[2]
    return height


def _contact_velocity(points: Hardpoints, loop: _Loop, pose: _Pose, travel: float, gone: float) -> Array:
    """Path of the contact centre per mm of travel (3,), from the equations differentiated."""
    jacobian = loop.equations(pose, travel, gone)[1]
    rate = np.linalg.solve(jacobian, np.eye(6)[5])
    spin = pose.turn.apply(points.spin)
    spin_rate = _cross(rate[3:], spin)
    up = UP - spin * spin[2]
    up_rate = -spin_rate * spin[2] - spin * spin_rate[2]
    size = np.linalg.norm(up)
    unit_rate = up_rate / size - up * (up @ up_rate) / size**3
    velocity: Array = rate[:3] - points.loaded_radius * unit_rate
    return velocity
