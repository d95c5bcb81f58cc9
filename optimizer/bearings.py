"""How far spherical bearings tilt, by series and bore, and what is left of it without spacers.

Dimensions and tilt angles: INA, catalogue 238, 2006, dimension series K and G of ISO 12240-1, mm and degrees. The
angle is that at which the ring meets the shaft's shoulder: asin(B/dK) - asin(C/dK), B the ball's width, C the ring's,
dK the ball's diameter; the catalogue's own figures lie within a degree of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

SOURCE = "INA catalogue 238, 2006, dimension series of ISO 12240-1"


@dataclass(frozen=True)
class Bearing:
    """One bearing, mm and radians: widths of ball and ring, ball diameter, largest tilt to one side."""

    ball_width: float
    ring_width: float
    ball_diameter: float
    tilt: float

    def tilt_between_cheeks(self, eye_diameter: float) -> float:
        """Tilt at which the eye, `eye_diameter` mm across, meets flat cheeks set against the ball's faces, radians.

        The eye's corner, half its diameter out and half the ring's width up, turns to the height of the cheek.
        """
        corner = math.hypot(eye_diameter, self.ring_width)
        between = math.asin(min(1.0, self.ball_width / corner)) - math.atan2(self.ring_width, eye_diameter)
        return min(self.tilt, between)


def _series(rows: str) -> dict[int, Bearing]:
    table = {}
    for row in rows.split(";"):
        bore, ball, ring, diameter, tilt = (float(part) for part in row.split())
        table[int(bore)] = Bearing(ball, ring, diameter, math.radians(tilt))
    return table


SERIES: dict[str, dict[int, Bearing]] = {
    "K": _series(
        "5 8 6 11.112 13; 6 9 6.75 12.7 13; 8 12 9 15.875 14; 10 14 10.5 19.05 13; 12 16 12 22.225 13; "
        "14 19 13.5 25.4 16; 16 21 15 28.575 15; 20 25 18 34.925 14"
    ),
    "G": _series("6 9 5 13 21; 8 11 6 16 21; 10 12 7 18 18; 12 15 9 22 18; 15 16 10 25 16; 20 25 16 35.5 17"),
}
"""Bearings by series and bore in mm; G is the wide series."""
