"""Where the inner tie-rod joint goes, what misplacing it costs, and how near it is to the edge of its region."""

from __future__ import annotations

from typing import Any

import numpy as np

from optimizer.candidate import Candidate, with_inner_joint
from optimizer.page import Block, Heading, Points
from optimizer.scenario import Scenario

STEP = 0.5  # mm each way


def steering_advice(scenario: Scenario, chosen: Candidate, found: dict[str, Any]) -> list[Block]:
    """Blocks of the rationale; none where the scenario fixes the joint.

    Parameters
    ----------
    scenario
        With the region.
    chosen
        The candidate to build, its joint fixed.
    found
        What was measured of it.
    """
    region = scenario.corner.steering.inner_region
    if region is None:
        return []
    unit, step = scenario.unit, scenario.build.round_to
    joint = np.array([found["inner_joint_y"], found["inner_joint_z"]])
    x = unit.tape(float(scenario.corner.steering.inner_joint[0]), step)
    left = unit.brief(found["bump_steer"], "angle")
    items = [
        f"Put the inner tie-rod joint at x {x}, y {unit.tape(joint[0], step)}, z {unit.tape(joint[1], step)}, steering "
        f"straight ahead: place rack or steering box so that its joint stands there. Of the tape's marks beside "
        f"the best place this one keeps the limits with the least bump steer, {left}.",
    ]
    per, words = unit.slip
    for axis, name in ((0, "outboard"), (1, "up")):
        rate = _bump_steer_rate(chosen, joint, axis) * per
        items.append(
            f"A joint {words} too far {name} or the other way adds up to {np.degrees(rate):.3f} deg of bump steer."
        )
    for axis, name in ((0, "y"), (1, "z")):
        low, high = joint[axis] - region[axis, 0], region[axis, 1] - joint[axis]
        room = min(low, high)
        side = "least" if low < high else "greatest"
        if room < step:
            items.append(f"It stands at the {side} {name} of its region: more room there would give less bump steer.")
        else:
            items.append(f"It is {unit.tape(float(room), step)} inside the {side} {name} of its region.")
    return [Heading("Where the inner tie-rod joint goes"), Points(items)]


def _bump_steer_rate(chosen: Candidate, joint: np.ndarray, axis: int) -> float:
    """Most that bump steer grows by one mm of misplacement, radians, to either side."""
    here = chosen.designed_measures()["bump_steer"]
    moved = [
        with_inner_joint(chosen, *(joint + shift * np.eye(2)[axis]).tolist()).designed_measures()["bump_steer"]
        for shift in (STEP, -STEP)
    ]
    return max(float(np.nanmax(moved)) - here, 0.0) / STEP
