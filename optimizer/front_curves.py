"""The curves of every row of a front in a few hundred kilobytes, for a page that draws any of them at once.

Every curve is read at the same travels and steering positions and held as whole steps of 16 bits between the least
and the greatest value of its kind at its steering position: a 65,000th part of that range, far finer than a pixel.
"""

from __future__ import annotations

import base64
from collections.abc import Callable
from typing import Any

import numpy as np

from objectives.corner import Candidates, Corner
from objectives.curves import Curves, curves_at
from objectives.steering import Position, steering_positions
from objectives.vectors import Array
from optimizer.scenario import Scenario
from optimizer.units import Quantity

TRAVELS = 33  # of every curve; cubics between them are off by less than the 16 bits are
MISSING = -32768  # stands for what does not exist, such as a position that does not assemble
_STEPS = 65_534  # from -32767 to 32767


def _of(vector: str, axis: int) -> Callable[[Curves], Array]:
    return lambda curves: np.asarray(getattr(curves, vector))[axis]


def _points(name: str, vector: str) -> dict[str, tuple[Quantity, Callable[[Curves], Array]]]:
    return {f"{name}_y": ("length", _of(vector, 1)), f"{name}_z": ("length", _of(vector, 2))}


FIELDS: dict[str, tuple[Quantity, Callable[[Curves], Array]]] = {
    **_points("lower", "lower_outer"),
    **_points("upper", "upper_outer"),
    **_points("steering", "steering_outer"),
    **_points("joint", "inner_joint"),
    **_points("wheel", "wheel"),
    **_points("contact", "contact"),
    "camber": ("angle", lambda curves: curves.camber),
    "toe": ("angle", lambda curves: curves.toe),
    "outer_rod_end": ("angle", lambda curves: curves.outer_rod_end),
    "inner_rod_end": ("angle", lambda curves: curves.inner_rod_end),
    "gap": ("length", lambda curves: curves.fender_clearance),
}
"""What is kept of every position: its quantity, and how it is read off the curves, shape (N, P)."""


def front_travels(corner: Corner) -> Array:
    """Travels of every curve, mm, from full droop to full bump, ride among them, shape (TRAVELS,)."""
    each = (TRAVELS + 1) // 2
    below, above = np.linspace(-corner.travel.droop, 0.0, each), np.linspace(0.0, corner.travel.bump, each)
    return np.concatenate((below, above[1:]))


def steering_stops(corner: Corner) -> tuple[list[Position], int]:
    """Steering positions from the right lock to the left, and which of them is straight ahead."""
    stops = sorted(steering_positions(corner), key=lambda position: float(position.share))
    return stops, [float(position.share) for position in stops].index(0.0)


def packed_curves(scenario: Scenario, candidates: Candidates) -> dict[str, Any]:
    """Curves of N candidates that stand at ride, in the scenario's unit and degrees, ready for JSON.

    Returns
    -------
    `travel`; `positions`, the names of the steering positions; `straight`, which of them is straight ahead; `fields`,
    the names in their order; `low` and `step` of each field at each steering position; `data`, 16-bit integers in the
    order field, steering position, candidate, travel, low byte first, as base64. A value is low + step (integer +
    32767); `MISSING` stands for none.
    """
    corner, unit = scenario.corner, scenario.unit
    stops, straight = steering_stops(corner)
    travel = front_travels(corner)
    swept = [curves_at(corner, candidates, travel, stop.shift) for stop in stops]
    packed = [
        [_packed(unit.show(np.asarray(read(curves)), quantity)) for curves in swept]
        for quantity, read in FIELDS.values()
    ]
    data = np.stack([np.stack([whole for whole, _, _ in field]) for field in packed])
    return {
        "travel": unit.show(travel, "length").tolist(),
        "positions": [stop.name for stop in stops],
        "straight": straight,
        "fields": list(FIELDS),
        "low": [[low for _, low, _ in field] for field in packed],
        "step": [[step for _, _, step in field] for field in packed],
        "data": base64.b64encode(data.astype("<i2").tobytes()).decode("ascii"),
    }


def _packed(values: Array) -> tuple[np.ndarray, float, float]:
    """Whole steps, the least value, and the size of a step."""
    there = np.isfinite(values)
    if not there.any():
        return np.full(values.shape, MISSING), 0.0, 0.0
    low, high = float(values[there].min()), float(values[there].max())
    step = (high - low) / _STEPS
    steps = np.rint((values - low) / step) if step > 0.0 else np.zeros(values.shape)
    return np.where(there, np.where(there, steps, 0.0) - 32_767, MISSING).astype(int), low, step
