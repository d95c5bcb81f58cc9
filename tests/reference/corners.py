"""Plausible spatial corners drawn at random, from a small racer's to a truck's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from objectives.corner import (
    Candidates,
    Corner,
    LowerArm,
    Pitman,
    RodEnd,
    Spindle,
    Steering,
    Travel,
    Tyre,
    UpperAxis,
    axis_direction,
)
from tests.reference import rigid_body

STRIDE = 12.0  # mm of travel between two poses, where only whether a corner gets through its travel is asked


def random_corners(count: int, seed: int) -> list[tuple[Corner, Candidates]]:
    """Return `count` corners with one candidate each; some may lock inside their travel."""
    rng = np.random.default_rng(seed)
    return [_draw(rng) for _ in range(count)]


def assembling_corners(count: int, seed: int) -> tuple[list[tuple[Corner, Candidates]], int]:
    """Return `count` corners that assemble over their whole travel, and how many were rejected for them."""
    rng = np.random.default_rng(seed)
    kept: list[tuple[Corner, Candidates]] = []
    rejected = 0
    while len(kept) < count:
        corner, candidate = _draw(rng)
        ends = np.array([-corner.travel.droop, corner.travel.bump])
        sweep = rigid_body.solve(rigid_body.hardpoints(corner, candidate), ends, largest_step=STRIDE)
        if np.isfinite(sweep.camber).all():
            kept.append((corner, candidate))
        else:
            rejected += 1
    return kept, rejected


def with_pitman(corner: Corner, rng: np.random.Generator) -> Corner:
    """A pitman arm in place of the rack, ahead of or behind its shaft, which stands upright or hangs down, about."""
    joint = np.array(corner.steering.inner_joint)
    reach = rng.choice([-1.0, 1.0]) * rng.uniform(80.0, 140.0)
    pivot = joint + np.array([reach, rng.uniform(-30.0, 30.0), rng.uniform(-60.0, 60.0)])
    axis = near(rng, [0.0, 0.0, rng.choice([-1.0, 1.0])], 0.25)
    box = Pitman(pivot, axis, np.radians(rng.uniform(12.0, 25.0)))
    return replace(corner, steering=replace(corner.steering, rack_travel=0.0, pitman=box))


def gear_of(corner: Corner) -> tuple[rigid_body.Gear, float]:
    """How the inner joint goes in the engines beside this one, and how far it goes to a lock, mm."""
    steering = corner.steering
    if steering.pitman is None:
        return rigid_body.rack_gear, steering.rack_travel
    gear, radius = rigid_body.pitman_gear(steering.inner_joint, steering.pitman.pivot, steering.pitman.axis)
    return gear, radius * steering.pitman.angle


def near(rng: np.random.Generator, axis: list[float], by: float = 0.15) -> np.ndarray:
    """Direction near `axis`: within some ten degrees, or with each component off by up to `by`."""
    tilted = np.array(axis) + rng.uniform(-by, by, 3)
    return tilted / np.linalg.norm(tilted)


def _draw(rng: np.random.Generator) -> tuple[Corner, Candidates]:
    """One corner: raked and splayed axes, tie rod in front or behind, sizes over a factor of 2.7."""
    size = rng.uniform(0.6, 1.6)

    def length(low: float, high: float) -> float:
        return size * float(rng.uniform(low, high))

    def angle(largest: float) -> float:
        return float(np.radians(rng.uniform(-largest, largest)))

    radius, half_track, ground_z = length(300, 380), length(620, 800), -length(180, 320)
    loaded = radius * rng.uniform(0.94, 1.0)
    wheel = np.array([0.0, half_track, ground_z + loaded])
    lower = np.array([length(-20, 20), length(-120, -70), length(-150, -95)])
    upper = np.array([length(-35, 10), length(-140, -60), length(95, 160)])
    steering = np.array([rng.choice([-1, 1]) * length(90, 130), length(-120, -70), length(-60, 60)])

    lower_length = length(320, 480)
    lower_inner = wheel + lower + _inboard(lower_length, angle(15))
    upper_inner = wheel + upper + _inboard(lower_length * rng.uniform(0.6, 1.05), angle(15))
    share = (steering[2] - lower[2]) / (upper[2] - lower[2])
    inner_joint = lower_inner + share * (upper_inner - lower_inner) + [0.0, length(-25, 25), length(-25, 25)]
    inner_joint[0] = steering[0] + length(-30, 30)

    nominal = angle(3)
    corner = Corner(
        half_track=half_track,
        ground_z=ground_z,
        static_camber=nominal,
        static_toe=angle(1),
        tyre=Tyre(radius, length(150, 260), length(15, 45), loaded),
        spindle=Spindle(lower, upper, steering, pitch=angle(8)),
        lower_arm=LowerArm(lower_inner, axis_direction(angle(12), angle(12))),
        upper_axis=UpperAxis(length(-40, 40), axis_direction(angle(12), angle(12))),
        steering=Steering(
            inner_joint,
            RodEnd(near(rng, [0.0, 0.0, 1.0]), np.radians(28)),
            RodEnd(near(rng, [1.0, 0.0, 0.0]), np.radians(30)),
            rack_travel=length(20, 60),
        ),
        travel=Travel(bump=length(70, 160), droop=length(70, 190), droop_cap=length(190, 285)),
        camber_curve=np.array([[-1.0, 0.0], [1.0, 0.0]]),
        outlines=(_bodywork(rng, wheel, radius),),
    )
    return corner, Candidates(upper_inner[1], upper_inner[2], np.array([nominal + angle(1.5)]))


def _inboard(length: float, slope: float) -> np.ndarray:
    """From an arm's outer end to its inner axis."""
    return length * np.array([0.0, -np.cos(slope), np.sin(slope)])


def _bodywork(rng: np.random.Generator, wheel: np.ndarray, radius: float) -> np.ndarray:
    """Four points that rise inboard of the tyre and pass over it, clear of it or not, (4, 2)."""
    offsets = np.array([[-0.75, 0.3], [-0.6, 1.0], [-0.1, 1.35], [0.4, 1.4]])
    return wheel[1:] + radius * rng.uniform(0.7, 1.1) * (offsets + rng.uniform(-0.08, 0.08, (4, 2)))
