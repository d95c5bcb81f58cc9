"""Spring and damper: length through travel and motion ratio."""

from __future__ import annotations

import numpy as np

from objectives.arms import carried_point
from objectives.corner import Link
from objectives.linkage import over_all, over_positions
from objectives.rates import rates
from objectives.sweep import Sweep
from objectives.vectors import Array, cross, dot, norm, over


def link_length(sweep: Sweep, link: Link) -> Array:
    """Distance between the two ends of a shock or strap at every pose, mm, shape (K, N)."""
    return norm(_along(sweep, link))


def motion_ratio(sweep: Sweep, link: Link) -> Array:
    """How much the link shortens for each mm the wheel centre rises, shape (K, N).

    For a spring and damper: wheel rate is spring rate times its square, plus the spring's force times its own change
    (Milliken & Milliken, Race Car Vehicle Dynamics, 1995, chapter 16, from memory, page unverified).
    """
    along = _along(sweep, link)
    moved = rates(sweep.placed, sweep.pose)
    if link.arm == "lower":
        axis, centre, turn = over(sweep.placed.lower.axis, 2), over_all(sweep.placed.lower.centre), np.ones(())
    else:
        upper = sweep.placed.upper
        axis, centre = over_positions(upper.axis), over_positions(upper.centre)
        turn = dot(moved.upper_outer, cross(axis, sweep.pose.upper_outer - centre)) / upper.radius**2
    mount = along + over(link.frame_point, 2)
    speed = dot(cross(axis, mount - centre) * turn, along) / norm(along)
    ratio: Array = -speed / moved.wheel[2]
    return ratio


def _along(sweep: Sweep, link: Link) -> Array:
    return carried_point(sweep, link.arm, link.arm_point) - over(link.frame_point, 2)
