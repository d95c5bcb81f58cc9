"""Where bump stop and limit strap must end the travel: before any joint comes near its angle, at any steering."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from objectives.corner import BallJoint, Corner, RodEnd
from objectives.curves import link_length_at
from objectives.evaluate import measure
from objectives.steering import steering_positions
from optimizer.candidate import Candidate

LEAST_ANGLE = np.radians(0.01)  # what is left of a joint whose whole angle is margin


@dataclass(frozen=True)
class Stops:
    """Travels (mm, positive) at which to stop the wheel, what binds there, and the strap's length or None."""

    droop: float
    droop_limited_by: str
    bump: float
    bump_limited_by: str
    strap: float | None


def stops_of(candidate: Candidate) -> Stops:
    """Stops of one candidate that keep `Scenario.rod_end_margin` from every joint's largest angle.

    They lie no farther than the required travel, for beyond it nothing else was checked. The strap is as long as its
    two points are apart at the droop stop, at that steering position where they are nearest.
    """
    scenario = candidate.scenario
    corner, batch = scenario.corner, candidate.as_batch
    found = measure(_with_margin(corner, scenario.rod_end_margin), batch)
    droop = _stop(found["droop_limit"], found["limited_by"], corner.travel.droop, "the required droop")
    bump = _stop(found["bump_limit"], found["bump_limited_by"], corner.travel.bump, "the required bump")
    strap = None
    if scenario.strap is not None:
        at = np.array([-droop[0]])
        lengths = [
            link_length_at(corner, batch, scenario.strap, at, position.shift) for position in steering_positions(corner)
        ]
        strap = float(np.nanmin(lengths)) if np.isfinite(lengths).any() else None
    return Stops(*droop, *bump, strap)


def _stop(reached: np.ndarray, limited_by: np.ndarray, required: float, words: str) -> tuple[float, str]:
    travel = float(reached[0])
    return (required, words) if travel >= required else (travel, str(limited_by[0]))


def _with_margin(corner: Corner, margin: float) -> Corner:
    """The same corner with so much less angle in every joint, radians."""

    def tighter(joint: RodEnd) -> RodEnd:
        return replace(joint, max_angle=max(joint.max_angle - margin, LEAST_ANGLE))

    def tighter_ball(joint: BallJoint | None) -> BallJoint | None:
        return None if joint is None else replace(joint, max_angle=max(joint.max_angle - margin, LEAST_ANGLE))

    steering = corner.steering
    return replace(
        corner,
        steering=replace(
            steering, outer_rod_end=tighter(steering.outer_rod_end), inner_rod_end=tighter(steering.inner_rod_end)
        ),
        upper_outer_joint=tighter_ball(corner.upper_outer_joint),
        lower_outer_joint=tighter_ball(corner.lower_outer_joint),
    )
