"""From the tables of a scenario to the parts that may meet: obstacles, tubes, rim."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from objectives.parts import Obstacle, Parts, Rim, Tube
from optimizer.schema import LowerArmTable, UpperArmTable
from optimizer.tables import Tables

if TYPE_CHECKING:
    from optimizer.defaults import Defaults

RIM_WALL = 12.0
"""mm that a barrel reaches inside its nominal diameter; common practice, no source."""


def parts_of(tables: Tables, defaults: Defaults) -> Parts:
    """Build the parts that have a size."""
    tie_rod = tables.steering.tie_rod_diameter
    return Parts(
        obstacles=tuple(_obstacle(table.name, table.points, table.diameter) for table in tables.obstacles),
        upper_arm=_tube_of(tables.upper_arm),
        lower_arm=_tube_of(tables.lower_arm),
        tie_rod_radius=None if tie_rod is None else 0.5 * tie_rod,
        rim=_rim_of(tables, defaults),
    )


def _obstacle(name: str, points: list[list[float]], diameter: float) -> Obstacle:
    centre_line = np.array(points, dtype=float)
    centre_line.flags.writeable = False
    return Obstacle(name, centre_line, 0.5 * diameter)


def _tube_of(arm: UpperArmTable | LowerArmTable) -> Tube | None:
    if arm.tube_diameter is None:
        return None
    return Tube(0.5 * arm.tube_diameter, None if arm.legs_x is None else (arm.legs_x[0], arm.legs_x[1]))


def _rim_of(tables: Tables, defaults: Defaults) -> Rim | None:
    wheel = tables.wheel
    if wheel is None:
        return None
    why = "how far the barrel reaches inside the nominal diameter; common practice, no source"
    wall = defaults.fill("wheel.rim_wall", wheel.rim_wall, RIM_WALL, "length", why)
    radius = 0.5 * wheel.rim_diameter
    return Rim(radius=radius, width=wheel.rim_width, inner_radius=radius - wall, offset=wheel.offset)
