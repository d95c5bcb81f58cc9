"""Spatial slider-crank of the IFToMM library of computational benchmark problems for multibody dynamics (seen).

Metres. Crank 0.08 about x at (0, 0.1, 0.12), rod 0.3, slider on the x axis: crank end (0, 0.1 - 0.08 sin t, 0.12 +
0.08 cos t), slider at sqrt(0.09 - y^2 - z^2). Published: the slider starts at x = 0.2, exact in the figures given.
"""

from __future__ import annotations

import numpy as np
import pytest

from objectives.linkage import circle_point
from tests.reference.front_view import AXIS

ROUNDING = 1e-12  # m; keeps clear of the dead centres, where the two roots meet


def test_read_from_slider_to_crank() -> None:
    """With the slider where the rod puts it for crank angle t, one of the two crank ends is that angle's."""
    t = np.linspace(-1.0, 1.0, 41)
    end = np.stack([np.zeros_like(t), 0.1 - 0.08 * np.sin(t), 0.12 + 0.08 * np.cos(t)])
    slider = np.sqrt(0.09 - end[1] ** 2 - end[2] ** 2)
    assert slider[20] == pytest.approx(0.2, abs=1e-15)
    target = np.stack([slider, np.zeros_like(t), np.zeros_like(t)])
    centre = np.array([0.0, 0.1, 0.12])[:, None]
    errors = []
    for side in (1, -1):
        found, spare = circle_point(centre, AXIS[:, None], 0.08, target, 0.3, side)
        assert (spare >= 0.0).all()
        assert np.linalg.norm(found - target, axis=0) == pytest.approx(0.3, abs=1e-14)
        errors.append(np.abs(found - end).max(axis=0))
    # The crank passes a dead centre where it points away from the x axis, at tan t = -0.1 / 0.12.
    dead = np.arctan2(-0.1, 0.12)
    clear = np.abs(t - dead) > 0.05
    before, after = t < dead, t > dead
    one = errors[0] if errors[0][after].max() < errors[1][after].max() else errors[1]
    other = errors[1] if one is errors[0] else errors[0]
    assert one[after & clear].max() < ROUNDING
    assert other[before & clear].max() < ROUNDING
