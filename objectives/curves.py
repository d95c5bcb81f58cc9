"""Everything about given candidates at given wheel travels: the rows of a curve table."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from objectives import chebyshev
from objectives.corner import Candidates, Corner, Link, Travel
from objectives.fender_clearance import gap_at
from objectives.inner_joint import assembled
from objectives.joints import joints_of
from objectives.linkage import STRAIGHT
from objectives.parts_clearance import gap_at as parts_gap_at
from objectives.rates import rates
from objectives.ride import Placed
from objectives.shock import link_length, motion_ratio
from objectives.steering import Position
from objectives.sweep import Sweep, steer
from objectives.vectors import Array

_POINTS = 41  # of the sweep that rows are found on: few candidates, and travels far beyond what is required


@dataclass(frozen=True)
class Curves:
    """N candidates at P travels; NaN where not assembled. Vectors (3, N, P), the rest (N, P); mm and radians.

    `kingpin` is kingpin inclination; angles of joints are >= 0, and NaN where the corner has no such joint, as are
    the shock's columns without a shock; `fender_clearance` is +inf without bodywork, `parts_clearance` without parts
    that may meet;
    `roll_centre_z` is where the line from the contact centre square to its path meets the vehicle centre plane.
    """

    travel: Array
    camber: Array
    toe: Array
    caster: Array
    kingpin: Array
    wheel: Array
    contact: Array
    outer_rod_end: Array
    inner_rod_end: Array
    upper_outer_joint: Array
    lower_outer_joint: Array
    shock_length: Array
    motion_ratio: Array
    fender_clearance: Array
    parts_clearance: Array
    kingpin_offset: Array
    roll_centre_z: Array
    lower_outer: Array
    upper_outer: Array
    steering_outer: Array
    spin: Array
    inner_joint: Array
    arm_length: Array
    tie_rod_length: Array


def curves_at(corner: Corner, candidates: Candidates, travel: Array, shift: Array = STRAIGHT) -> Curves:
    """Read candidates at given travels.

    Parameters
    ----------
    corner
        What is settled.
    candidates
        N pivots that stand at ride.
    travel
        Wheel-centre travel, mm, shape (P,); it may go beyond what is required.
    shift
        How far steering has moved the inner joint from straight ahead, mm, shape (3,) or (3, N).
    """
    at, there = _poses_at(corner, candidates, np.asarray(travel, dtype=float), shift)
    return _read(at, there, np.repeat(np.asarray(travel, dtype=float)[:, None], candidates.count, axis=1))


def link_length_at(corner: Corner, candidates: Candidates, link: Link, travel: Array, shift: Array = STRAIGHT) -> Array:
    """Length of a shock or strap at given travels, mm, shape (N, P); NaN where not assembled. As `curves_at`."""
    at, there = _poses_at(corner, candidates, np.asarray(travel, dtype=float), shift)
    return np.where(there, link_length(at, link), np.nan).T


def _poses_at(corner: Corner, candidates: Candidates, travel: Array, shift: Array) -> tuple[Sweep, NDArray[np.bool_]]:
    """Exact poses at given travels, and whether they assemble, shape (P, N)."""
    if not travel.size or not candidates.count:
        raise ValueError("curves need at least one candidate and one travel")
    return poses_of(assembled(corner, candidates), travel, shift)


def poses_of(placed: Placed, travel: Array, shift: Array = STRAIGHT) -> tuple[Sweep, NDArray[np.bool_]]:
    """Exact poses of N placed candidates at given travels, (P,), and whether they assemble there, shape (P, N)."""
    placed = replace(placed, corner=_reaching(placed.corner, travel))
    count = placed.ride_angle.size
    steered = steer(placed, Position("", np.zeros(()), shift), _POINTS)
    whole = steered.whole
    wanted = np.repeat(travel[:, None], count, axis=1)
    each = whole.take(np.tile(np.arange(count), travel.size))
    u = _place_at(each, wanted.ravel()).reshape(wanted.shape)
    return whole.at(np.nan_to_num(u)), np.isfinite(u) & steered.reaches


def _reaching(corner: Corner, travel: Array) -> Corner:
    """The same corner, swept as far as the travels asked for."""
    asked = corner.travel
    bump, droop = max(asked.bump, float(travel.max())), max(asked.droop_cap, float(-travel.min()))
    return replace(corner, travel=Travel(bump, asked.droop, droop))


def _place_at(whole: Sweep, level: Array) -> Array:
    """Place u on the whole sweep at a travel of one for each candidate, (N,); NaN where it does not get there."""

    def above(sweep: Sweep) -> Array:
        return sweep.travel - level

    place = np.full(level.shape, np.nan)
    for direction in (-1, 1):
        crossing = chebyshev.first_crossing(direction * above(whole), whole.ride, direction)
        # at ride itself neither way crosses
        there = np.isfinite(crossing) & (crossing != whole.ride)
        there &= direction * (whole.turning(direction) - crossing) > 0.0
        place = np.where(there & np.isnan(place), crossing, place)
    place = np.where(np.abs(level) < 1e-9, whole.level, place)
    settled = whole.settle(above, np.nan_to_num(place))
    return np.where(np.isfinite(place), settled, np.nan)


def _parts(at: Sweep) -> dict[str, Array]:
    """Joint angles and the shock, shape (P, N); NaN for parts the corner has not."""
    corner, none = at.placed.corner, np.full(at.travel.shape, np.nan)
    found = dict.fromkeys(("upper_outer_joint", "lower_outer_joint", "shock_length", "motion_ratio"), none)
    found |= {joint.column: joint.tilt(at) for joint in joints_of(corner)}
    if corner.shock is not None:
        link = corner.shock.link
        found |= {"shock_length": link_length(at, link), "motion_ratio": motion_ratio(at, link)}
    return found


def _read(at: Sweep, assembled: NDArray[np.bool_], travel: Array) -> Curves:
    placed, where, corner = at.placed, at.pose, at.placed.corner

    def rows(values: Array) -> Array:
        return np.swapaxes(np.where(assembled, values, np.nan), -1, -2)

    kingpin = where.frame.kingpin
    to_ground = (at.contact[2] - where.lower_outer[2]) / kingpin[2]
    axis_y = where.lower_outer[1] + to_ground * kingpin[1]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = rates(placed, where).roll_slope
        parts = _parts(at)
    return Curves(
        travel=travel.T,
        camber=rows(at.camber),
        toe=rows(at.toe),
        caster=rows(np.arctan2(-kingpin[0], kingpin[2])),
        kingpin=rows(np.arctan2(-kingpin[1], kingpin[2])),
        wheel=rows(where.wheel),
        contact=rows(at.contact),
        **{name: rows(values) for name, values in parts.items()},
        fender_clearance=rows(gap_at(corner, where.wheel, where.spin)),
        parts_clearance=rows(parts_gap_at(at)),
        kingpin_offset=rows(at.contact[1] - axis_y),
        roll_centre_z=rows(at.contact[2] + at.contact[1] * slope),
        lower_outer=rows(where.lower_outer),
        upper_outer=rows(where.upper_outer),
        steering_outer=rows(where.steering_outer),
        spin=rows(where.spin),
        inner_joint=rows(where.inner_joint * np.ones(where.angle.shape)),
        arm_length=placed.upper.radius,
        tie_rod_length=placed.tie_rod_length,
    )
