"""A corner and its candidate written out as a scenario file, in either unit of length."""

from __future__ import annotations

import numpy as np

from objectives.corner import Candidates, Corner, RodEnd, Steering
from objectives.vectors import Array

MM_PER_UNIT = {"mm": 1.0, "inch": 25.4}


def scenario_text(corner: Corner, candidate: Candidates, units: str) -> str:
    """Every number at full precision; the candidate is the baseline. Needs bodywork and an inner joint at its place."""

    def length(mm: float) -> str:
        return repr(float(mm) / MM_PER_UNIT[units])

    def point(mm: Array) -> str:
        return f"[{', '.join(length(part) for part in mm)}]"

    def span(mm: float) -> str:
        return f"[{length(mm - 1.0)}, {length(mm + 1.0)}]"

    def angle(radians: float) -> str:
        return repr(float(np.degrees(radians)))

    def axis(direction: Array) -> str:
        plan, kick = np.arctan2(direction[1], direction[0]), np.arctan2(direction[2], np.hypot(*direction[:2]))
        return f"kick_up = {angle(kick)}\nplan_angle = {angle(plan)}"

    def rod_end(end: RodEnd) -> str:
        return f"axis = [{', '.join(repr(float(part)) for part in end.axis)}]\nmax_angle = {angle(end.max_angle)}"

    def gear(steering: Steering) -> str:
        box = steering.pitman
        if box is None:
            return f"rack_travel = {length(steering.rack_travel)}"
        axis = ", ".join(repr(float(part)) for part in box.axis)
        return f"[steering.pitman]\npivot = {point(box.pivot)}\naxis = [{axis}]\nangle = {angle(box.angle)}"

    def curve(points: Array) -> str:
        return ", ".join(f"[{length(travel)}, {angle(camber)}]" for travel, camber in points)

    tyre, spindle, steering, travel = corner.tyre, corner.spindle, corner.steering, corner.travel
    y, z, camber = candidate.pivot_y[0], candidate.pivot_z[0], candidate.static_camber[0]
    return f"""\
units = "{units}"
[vehicle]
track = {length(2.0 * corner.half_track)}
ride_height = {length(-corner.ground_z)}
static_camber = {angle(corner.static_camber)}
static_toe = {angle(corner.static_toe)}
[tyre]
radius = {length(tyre.radius)}
width = {length(tyre.width)}
shoulder_radius = {length(tyre.shoulder_radius)}
loaded_radius = {length(tyre.loaded_radius)}
[spindle]
lower_pivot = {point(spindle.lower_pivot)}
upper_pivot = {point(spindle.upper_pivot)}
steering_pivot = {point(spindle.steering_pivot)}
pitch = {angle(spindle.pitch)}
[lower_arm]
inner_pivot = {point(corner.lower_arm.inner_pivot)}
{axis(corner.lower_arm.direction)}
[upper_arm]
pivot_x = {length(corner.upper_axis.pivot_x)}
pivot_y = {span(y)}
pivot_z = {span(z)}
static_camber = {angle(camber)}
{axis(corner.upper_axis.direction)}
[steering]
inner_joint = {point(steering.inner_joint)}
{gear(steering)}
[steering.outer_rod_end]
{rod_end(steering.outer_rod_end)}
[steering.inner_rod_end]
{rod_end(steering.inner_rod_end)}
[travel]
bump = {length(travel.bump)}
droop = {length(travel.droop)}
droop_cap = {length(travel.droop_cap)}
[bodywork]
outlines = [{", ".join(f"[{', '.join(point(corner_point) for corner_point in line)}]" for line in corner.outlines)}]
[targets]
camber_curve = [{curve(corner.camber_curve)}]
[baseline]
pivot_y = {length(y)}
pivot_z = {length(z)}
static_camber = {angle(camber)}
"""
