"""The share of builds that keep every limit, for any number of candidates."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from objectives.as_built import designed
from objectives.corner import Candidates
from objectives.evaluate import Measures, measure
from objectives.ride import place
from objectives.vectors import Array
from optimizer.build_surface import BUILDS, as_far_as_asked, even_errors, kept, surfaces, with_limits
from optimizer.goals import BUILD_YIELD
from optimizer.scenario import Scenario

ROWS = 512  # candidates whose surfaces are laid at once: bounds memory


def measure_with_yield(scenario: Scenario, candidates: Candidates, only: Collection[str] | None = None) -> Measures:
    """Measure candidates as `objectives.evaluate.measure`, the build yield among it where it is wanted."""
    found = measure(scenario.corner, candidates, only)
    if only is None or BUILD_YIELD.name in only:
        found[BUILD_YIELD.name] = build_yields(scenario, candidates)
    return found


def build_yields(scenario: Scenario, candidates: Candidates) -> Array:
    """Share of builds that keep every limit, threads turned where there are any; shape (N,), 0 to 1.

    All candidates are built with the same even sample of errors, `BUILDS` times, on surfaces.
    """
    scenario = as_far_as_asked(scenario)
    share = np.zeros(candidates.count)
    stands = np.flatnonzero(np.isfinite(place(scenario.corner, candidates).ride_angle))
    errors = even_errors(BUILDS, scenario.build.normal)
    for start in range(0, stands.size, ROWS):
        rows = stands[start : start + ROWS]
        share[rows] = _yields(scenario, candidates.take(rows), errors)
    return share


def _yields(scenario: Scenario, candidates: Candidates, errors: Array) -> Array:
    design = designed(scenario.corner, candidates)
    bands, pull = scenario.build.bands(design), scenario.build.pull(design)
    found = []
    for row, surface in enumerate(surfaces(scenario, design, with_limits(scenario), pull)):
        offsets = pull[:, row, None] + bands[:, row, None] * errors
        found.append(float(kept(scenario, surface.read(offsets)).mean()))
    return np.array(found)
