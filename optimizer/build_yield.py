"""The share of builds that keep every limit, for any number of candidates."""

from __future__ import annotations

from collections.abc import Collection
from functools import partial

import numpy as np

from objectives.as_built import designed
from objectives.corner import Candidates
from objectives.evaluate import Measures, measure
from objectives.ride import place
from objectives.vectors import Array
from optimizer.build_surface import BUILDS, as_far_as_asked, even_errors, kept, surfaces, with_limits
from optimizer.cores import results_of
from optimizer.goals import BUILD_YIELD
from optimizer.scenario import Scenario

ROWS = 100  # candidates whose surfaces are laid at once on one core, however many cores there are


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
    cut = [stands[start : start + ROWS] for start in range(0, stands.size, ROWS)]
    found = results_of([partial(_yields, scenario, candidates.take(rows)) for rows in cut])
    for rows, shares in zip(cut, found, strict=True):
        share[rows] = shares
    return share


def _yields(scenario: Scenario, candidates: Candidates) -> Array:
    errors = even_errors(BUILDS, scenario.build.normal)
    design = designed(scenario.corner, candidates)
    bands, pull = scenario.build.bands(design), scenario.build.pull(design)
    found = []
    for row, surface in enumerate(surfaces(scenario, design, with_limits(scenario), pull)):
        offsets = pull[:, row, None] + bands[:, row, None] * errors
        found.append(float(kept(scenario, surface.read(offsets)).mean()))
    return np.array(found)
