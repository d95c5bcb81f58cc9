"""One candidate as the shop will build it: how many builds keep every limit, and which bracket decides that."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from objectives.as_built import COUNT, OFFSETS, STATIC, attitude, designed, trimmed
from objectives.registry import OBJECTIVES
from objectives.ride import Placed
from objectives.vectors import Array
from optimizer.build import HELD_BY
from optimizer.build_surface import (
    SEED,
    Surface,
    Values,
    even_errors,
    exact,
    kept,
    surfaces,
    unit_errors,
    with_limits,
)
from optimizer.candidate import Candidate
from optimizer.scenario import Scenario

EXACT = 4096  # builds of the chosen candidate, each a corner of its own
TRIED = 1024  # builds at each tolerance that is tried for an allowance: a yield to a thousandth is near enough
WIDEST = 25.0  # mm: an allowance beyond this is no bracket's
NOTHING = 1e-5  # mm or radians: a standard deviation below this, such as threads leave, has no shares
_NARROW = 1e-3  # mm to which an allowance is found


@dataclass(frozen=True)
class Spread:
    """What 90 of 100 builds lie between, the middle one, and as designed; mm or radians."""

    low: float
    middle: float
    high: float
    design: float


@dataclass(frozen=True)
class Allowance:
    """What one part may have for the required yield, the others as given.

    Attributes
    ----------
    given
        Its tolerance, mm.
    allowed
        Mm; None where even a perfect part does not help, `WIDEST` where more would do.
    yield_if_perfect
        Share of builds that keep every limit with this part perfect.
    """

    given: float
    allowed: float | None
    yield_if_perfect: float


@dataclass(frozen=True)
class BuildFigures:
    """Statistics of one candidate as built.

    Attributes
    ----------
    builds
        How many exact corners stand behind yields and spreads.
    as_welded, adjusted
        Share of builds that keep every limit, before and after threads are turned; the same without threads.
    on_surface
        The adjusted share as the surface gives it for the same builds.
    spreads_welded, spreads
        Of every measured objective and of `STATIC`, before and after threads are turned.
    shares
        By objective, then by part: its share of the variance, 0 to 1.
    allowances
        By part.
    """

    builds: int
    as_welded: float
    adjusted: float
    on_surface: float
    spreads_welded: Mapping[str, Spread]
    spreads: Mapping[str, Spread]
    shares: Mapping[str, Mapping[str, float]]
    allowances: Mapping[str, Allowance]


def build_figures(candidate: Candidate, builds: int = EXACT) -> BuildFigures:
    """Build a candidate some thousands of times, exactly, and a few thousand times more on its surface."""
    scenario = candidate.scenario
    design = designed(scenario.corner, candidate.as_batch)
    objectives = tuple(o for o in OBJECTIVES if scenario.targets[o.name].measured)
    bands, pull = scenario.build.bands(design), scenario.build.pull(design)
    offsets = pull + bands * even_errors(builds, scenario.build.normal)
    each = design.take(np.zeros(builds, dtype=np.intp))
    surface = surfaces(scenario, design, objectives, pull)[0]
    nominal = exact(scenario, design, np.zeros((COUNT, 1)), objectives)
    nominal |= dict(zip(STATIC, attitude(design), strict=True))
    welded = exact(scenario, each, offsets, objectives)
    adjusted = welded
    if scenario.build.threads.rows:
        adjusted = exact(scenario, each, trimmed(each, offsets, scenario.build.threads), objectives)
    names = (*(o.name for o in objectives), *STATIC)
    on_surface = kept(scenario, surface.read(offsets))
    return BuildFigures(
        builds=builds,
        as_welded=float(kept(scenario, welded).mean()),
        adjusted=float(kept(scenario, adjusted).mean()),
        on_surface=float(on_surface.mean()),
        spreads_welded=_spreads(names, welded, nominal),
        spreads=_spreads(names, adjusted, nominal),
        shares=variance_shares(scenario, surface, pull[:, 0], bands[:, 0], builds),
        allowances=_allowances(scenario, design, min(builds, TRIED)),
    )


def _spreads(names: tuple[str, ...], values: Values, nominal: Values) -> dict[str, Spread]:
    found = {}
    for name in names:
        there = values[name][np.isfinite(values[name])]
        low, middle, high = np.percentile(there, (5.0, 50.0, 95.0)) if there.size else (np.nan,) * 3
        found[name] = Spread(float(low), float(middle), float(high), float(nominal[name][0]))
    return found


def variance_shares(
    scenario: Scenario, surface: Surface, pull: Array, bands: Array, builds: int
) -> dict[str, dict[str, float]]:
    """Share of each value's variance that goes where one part is perfect and the others are not, by value and part.

    Total effects by taking one part's errors from a second sample: half the mean squared change over the variance
    (Jansen's estimator in Saltelli and others, Variance based sensitivity analysis of model output, Computer Physics
    Communications 181, 2010; from memory). They sum to 1 where parts add up, to more where some work together.

    Parameters
    ----------
    scenario
        Says how errors are spread.
    surface
        Of the candidate.
    pull
        Offsets of its mean build, mm, shape (20,).
    bands
        Plus or minus of every offset, mm, shape (20,).
    builds
        Of each sample, a power of two.
    """
    both = unit_errors(builds, 2 * COUNT, scenario.build.normal, SEED + 1)
    first, second = (pull[:, None] + bands[:, None] * part for part in (both[:COUNT], both[COUNT:]))

    one = surface.read(first)
    found: dict[str, dict[str, float]] = {name: {} for name in one}
    for part in HELD_BY:
        mixed = first.copy()
        mixed[OFFSETS[part]] = second[OFFSETS[part]]
        for name, values in surface.read(mixed).items():
            found[name][part] = _share(one[name], values)
    return found


def _share(values: Array, mixed: Array) -> float:
    there = np.isfinite(values) & np.isfinite(mixed)
    spread = np.concatenate((values[there], mixed[there])).var() if there.any() else 0.0
    return float(0.5 * ((mixed[there] - values[there]) ** 2).mean() / spread) if spread > NOTHING**2 else 0.0


def _allowances(scenario: Scenario, design: Placed, builds: int) -> dict[str, Allowance]:
    """What each part may have, the others as given."""
    objectives, pull = with_limits(scenario), scenario.build.pull(design)
    laid: dict[bytes, Surface] = {}  # parts begin on the same one, where all offsets of each are held alike

    def surface(step: Array) -> Surface:
        key = step.tobytes()
        if key not in laid:
            laid[key] = surfaces(scenario, design, objectives, pull, step)[0]
        return laid[key]

    return {part: _allowance(scenario, design, part, builds, surface) for part in HELD_BY}


def _allowance(
    scenario: Scenario, design: Placed, part: str, builds: int, surface_of: Callable[[Array], Surface]
) -> Allowance:
    """Bisect one part's tolerance, on a surface that is laid anew as wide as the tolerance found on the first."""
    build = scenario.build
    bands, pull = build.bands(design), build.pull(design)
    errors = even_errors(builds, build.normal)
    given = float(bands[OFFSETS[part]].max())

    def on(reach: float) -> tuple[float, float]:
        """Allowance, and the yield of a perfect part, on a surface laid so wide for this part."""
        step = bands.copy()
        step[OFFSETS[part]] = reach
        surface = surface_of(step)

        def share(tolerance: float) -> float:
            held = bands.copy()
            held[OFFSETS[part]] = tolerance
            return float(kept(scenario, surface.read(pull + held * errors)).mean())

        perfect = share(0.0)
        if perfect < build.required_yield:
            return -1.0, perfect
        low, high = 0.0, WIDEST
        if share(high) >= build.required_yield:
            return high, perfect
        while high - low > _NARROW:
            middle = 0.5 * (low + high)
            low, high = (middle, high) if share(middle) >= build.required_yield else (low, middle)
        return low, perfect

    allowed, perfect = on(given)
    if allowed > 0.0:
        allowed, perfect = on(allowed)
    return Allowance(given, None if allowed < 0.0 else allowed, perfect)
