"""Tilt of spherical bearings against their catalogue.

INA, catalogue 238, 2006, dimension series of ISO 12240-1 (seen): bore, ball width B, ring width C, ball diameter dK and
tilt angle of series K and G. The ring meets the shaft's shoulder, as wide as the ball's face, at
asin(B/dK) - asin(C/dK). Without spacers the same joints give some 6.5 to 11 degrees between flat cheeks (derived on
those dimensions for eyes of usual size, not published).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq

from optimizer.bearings import SERIES

Figures = Callable[[str, str], None]

PRINTED = 1.0  # degree: whole degrees in the catalogue, which rounds its own way
CATALOGUE = {
    "K": """5: 8/6/11.112/13; 6: 9/6.75/12.7/13; 8: 12/9/15.875/14; 10: 14/10.5/19.05/13; 12: 16/12/22.225/13;
            14: 19/13.5/25.4/16; 16: 21/15/28.575/15; 20: 25/18/34.925/14""",
    "G": "6: 9/5/13/21; 8: 11/6/16/21; 10: 12/7/18/18; 12: 15/9/22/18; 15: 16/10/25/16; 20: 25/16/35.5/17",
}
USUAL_EYES = {5: 18, 6: 20, 8: 24, 10: 28, 12: 32, 14: 36, 16: 42, 20: 50}
"""Across the eye's outside by bore, mm, of rod ends of series K (from memory)."""
ROUNDED = 0.1  # degree, of "6.5 to 11"


def rows(series: str) -> dict[int, list[float]]:
    pairs = (row.split(":") for row in CATALOGUE[series].split(";"))
    return {int(bore): [float(part) for part in dimensions.split("/")] for bore, dimensions in pairs}


@pytest.mark.parametrize("series", CATALOGUE)
def test_every_row_of_the_catalogue(series: str) -> None:
    expected = rows(series)
    assert set(SERIES[series]) == set(expected)
    for bore, (ball, ring, diameter, tilt) in expected.items():
        bearing = SERIES[series][bore]
        assert (bearing.ball_width, bearing.ring_width, bearing.ball_diameter) == (ball, ring, diameter)
        assert np.degrees(bearing.tilt) == pytest.approx(tilt, abs=1e-12)


def test_the_catalogue_against_its_own_geometry(figures: Figures) -> None:
    off = [
        np.degrees(np.arcsin(b.ball_width / b.ball_diameter) - np.arcsin(b.ring_width / b.ball_diameter) - b.tilt)
        for table in SERIES.values()
        for b in table.values()
    ]
    figures(
        "bearing tilt, catalogue vs asin(B/dK) - asin(C/dK)", f"{np.abs(off).max():.2f} deg over {len(off)} bearings"
    )
    assert np.abs(off).max() <= PRINTED


def test_without_spacers_by_turning_the_eye_until_it_touches() -> None:
    """The eye's section is a rectangle, ring width by eye diameter; turned until a corner is at the cheek's height."""
    for table in SERIES.values():
        for bearing in table.values():
            for eye in (1.2 * bearing.ball_diameter, 1.6 * bearing.ball_diameter, 3.0 * bearing.ball_diameter):
                corners = 0.5 * np.array([[eye, eye, -eye, -eye], [1, -1, 1, -1] * np.array(bearing.ring_width)])

                def above_cheek(tilt: float, corners: np.ndarray = corners, ball: float = bearing.ball_width) -> float:
                    height = np.sin(tilt) * corners[0] + np.cos(tilt) * corners[1]
                    return float(height.max() - 0.5 * ball)

                touching = brentq(above_cheek, 0.0, np.pi / 4)
                expected = min(bearing.tilt, touching)
                assert bearing.tilt_between_cheeks(eye) == pytest.approx(expected, abs=1e-9)


def test_without_spacers_usual_eyes_give_6_5_to_11_degrees() -> None:
    assert set(USUAL_EYES) == set(SERIES["K"])
    found = [np.degrees(SERIES["K"][bore].tilt_between_cheeks(eye)) for bore, eye in USUAL_EYES.items()]
    assert min(found) >= 6.5 - ROUNDED
    assert max(found) <= 11.0 + ROUNDED
    for bore, eye in USUAL_EYES.items():
        assert SERIES["K"][bore].tilt_between_cheeks(eye) < SERIES["K"][bore].tilt
