"""The objectives, in the order of every table: one line each."""

from __future__ import annotations

from objectives import (
    bump_limit,
    bump_steer,
    camber_error,
    droop_limit,
    fender_clearance,
    parts_clearance,
    roll_camber,
    roll_centre_migration,
    scrub,
)
from objectives.objective import Objective

OBJECTIVES: tuple[Objective, ...] = (
    camber_error.OBJECTIVE,
    scrub.OBJECTIVE,
    fender_clearance.OBJECTIVE,
    droop_limit.OBJECTIVE,
    bump_steer.OBJECTIVE,
    bump_limit.OBJECTIVE,
    roll_camber.OBJECTIVE,
    roll_centre_migration.OBJECTIVE,
    parts_clearance.OBJECTIVE,
)
