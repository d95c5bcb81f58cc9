"""Statistics of builds against closed forms, where everything is linear: tolerances of hundredths of a mm.

A value that is linear in independent errors has as its variance the sum of squared slope times squared spread; the
spread of an error uniform within plus or minus t is t / sqrt(3), of a normal one with t at two standard deviations
t / 2 (any textbook of statistics). Slopes come from the constraint equations of `tests/reference/as_built.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import kstest, norm, uniform

from objectives.as_built import COUNT, OFFSETS, STATIC, Threads, designed, trimmed
from objectives.corner import Candidates
from objectives.registry import OBJECTIVES
from optimizer.build import HELD_BY, Tolerance
from optimizer.build_figures import build_figures, variance_shares
from optimizer.build_surface import BUILDS, as_far_as_asked, even_errors, exact, kept, surfaces, with_limits
from optimizer.build_yield import build_yields
from optimizer.candidate import Candidate, candidate_at
from optimizer.scenario import Scenario, load_scenario, parse_scenario
from tests.reference import as_built
from tests.scenario_cases import edited

TINY = 0.02
"""mm: over so little every curve is straight to a few millionths of itself."""
EVEN = 0.01
"""Of a standard deviation or a share: what 4096 evenly spread builds leave; at random it would be 0.011."""
STEP = 2.5 / BUILDS
"""A yield is counted in builds; the even sample may be off by one or two."""

Figures = Callable[[str, str], None]


def _scenario(**changes: object) -> Scenario:
    scenario = parse_scenario(edited())
    return replace(scenario, build=replace(scenario.build, **changes))  # type: ignore[arg-type]


def _demo(**changes: object) -> Scenario:
    """The demo buggy, whose limits its own pivots keep now and then."""
    scenario = load_scenario(Path(__file__).parents[2] / "scenarios" / "buggy.toml")
    return replace(scenario, build=replace(scenario.build, **changes))  # type: ignore[arg-type]


def _holding(tolerance: float, *keys: str) -> dict[str, Tolerance]:
    """All parts perfect but those held by these keys of [build]."""
    return {key: Tolerance(tolerance if key in keys else 0.0) for key in dict.fromkeys(HELD_BY.values())}


ALL = tuple(dict.fromkeys(HELD_BY.values()))


def _candidate(scenario: Scenario) -> Candidate:
    return candidate_at(scenario, 285.0, 228.0)


@pytest.fixture(scope="module")
def slopes() -> dict[str, np.ndarray]:
    """Slopes of static camber and toe in every offset, radians per mm, shape (20,), of the corner all tests share."""
    candidate, step = _candidate(_scenario()), 0.05
    found = []
    for row in range(COUNT):
        ends = []
        for way in (step, -step):
            offsets = np.zeros(COUNT)
            offsets[row] = way
            ends.append(as_built.Built(candidate.scenario.corner, candidate.as_batch, offsets).attitude(0.0)[:2])
        found.append((np.array(ends[0]) - np.array(ends[1])) / (2.0 * step))
    return dict(zip(STATIC, np.transpose(found), strict=True))


@pytest.mark.parametrize(("normal", "spread"), [(False, TINY / np.sqrt(3.0)), (True, TINY / 2.0)])
def test_scatter_and_shares_are_those_of_linear_propagation(
    normal: bool, spread: float, slopes: dict[str, np.ndarray]
) -> None:
    scenario = _scenario(tolerances=_holding(TINY, *ALL), normal=normal)
    candidate = _candidate(scenario)
    design = designed(scenario.corner, candidate.as_batch)
    bands, pull = scenario.build.bands(design), scenario.build.pull(design)
    builds = 4096
    each = design.take(np.zeros(builds, dtype=np.intp))
    values = exact(scenario, each, pull + bands * even_errors(builds, normal), ())
    surface = surfaces(scenario, design, (), pull)[0]
    shares = variance_shares(scenario, surface, pull[:, 0], bands[:, 0], builds)
    for name, slope in slopes.items():
        slope = np.where(np.arange(COUNT) < OFFSETS["tie_rod"].start, slope, 0.0)
        variance = ((slope * spread) ** 2).sum()
        assert values[name].std() == pytest.approx(np.sqrt(variance), rel=EVEN), name
        for part in HELD_BY:
            wanted = ((slope[OFFSETS[part]] * spread) ** 2).sum() / variance
            assert shares[name][part] == pytest.approx(wanted, abs=EVEN), (name, part)
        assert sum(shares[name].values()) == pytest.approx(1.0, abs=3 * EVEN)


@pytest.mark.parametrize(("normal", "wanted"), [(False, uniform(-1.0, 2.0)), (True, norm(0.0, 0.5))])
def test_errors_are_spread_as_they_are_said_to_be(normal: bool, wanted: object) -> None:
    errors = even_errors(1024, normal)
    for row in errors:
        assert kstest(row, wanted.cdf).statistic < 2.0 / 1024  # type: ignore[attr-defined]
    # no two rows go together; at random the correlation of so many has a spread of 0.03
    assert np.abs(np.corrcoef(errors) - np.eye(COUNT)).max() < 0.05


def _scrub_limited(scenario: Scenario, room: float) -> tuple[Scenario, Candidate, float]:
    """Scenario with no limit but scrub's, `room` mm above what the candidate has; its slope by the arm's length."""
    candidate = _candidate(scenario)
    at = candidate.measures()["scrub"]
    only = {
        name: replace(target, limit=at + room if name == "scrub" else None) for name, target in scenario.targets.items()
    }
    scenario = replace(scenario, targets=only)
    design = designed(scenario.corner, candidate.as_batch)
    scrub = tuple(o for o in OBJECTIVES if o.name == "scrub")
    ends = []
    for way in (0.1, -0.1):
        offsets = np.zeros((COUNT, 1))
        offsets[OFFSETS["arm_length"]] = way
        ends.append(exact(scenario, design, offsets, scrub)["scrub"][0])
    return scenario, replace(candidate, scenario=scenario), (ends[0] - ends[1]) / 0.2


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("normal", [False, True])
def test_the_yield_below_one_limit_is_the_distributions(share: float, normal: bool) -> None:
    """One error, one limit: the share below the limit is the distribution function of the error."""
    law = norm(0.0, 0.5) if normal else uniform(-1.0, 2.0)
    scenario = _scenario(tolerances=_holding(TINY, "arm_length_tolerance"), normal=normal)
    _, _, slope = _scrub_limited(scenario, 0.0)
    room = law.ppf(share) * abs(slope) * TINY
    limited, candidate, _ = _scrub_limited(scenario, room)
    assert build_yields(limited, candidate.as_batch)[0] == pytest.approx(share, abs=STEP)


def test_weld_shrinkage_moves_the_mean_by_its_slope(slopes: dict[str, np.ndarray]) -> None:
    scenario = _scenario(tolerances=_holding(0.0), weld_shrinkage=TINY)
    candidate = _candidate(scenario)
    design = designed(scenario.corner, candidate.as_batch)
    pull = scenario.build.pull(design)
    # along the arm, inboard: away from the outer pivot, square to the axis
    assert np.linalg.norm(pull[OFFSETS["pivot"]]) == pytest.approx(TINY)
    assert pull[OFFSETS["pivot"]][1] < 0.0
    assert pull[OFFSETS["arm_length"]] == pytest.approx(-TINY)
    moved = exact(scenario, design, pull, ())["static_camber"][0] - candidate.static_camber
    assert moved == pytest.approx(float(slopes["static_camber"] @ pull[:, 0]), rel=1e-3)


def test_the_allowance_is_the_tolerance_that_gives_the_required_yield() -> None:
    """Uniform error, one limit with room r, slope g: (r / (g t) + 1) / 2 = 0.95 at t = r / (0.9 g)."""
    scenario = _scenario(tolerances=_holding(0.3, "arm_length_tolerance"))
    limited, candidate, slope = _scrub_limited(scenario, 0.1)
    allowances = build_figures(candidate, 1024).allowances
    assert allowances["arm_length"].allowed == pytest.approx(0.1 / (0.9 * abs(slope)), rel=0.03)
    assert allowances["arm_length"].yield_if_perfect == 1.0
    assert limited.build.required_yield == 0.95


def test_where_even_a_perfect_part_does_not_help_it_is_said() -> None:
    scenario = _scenario(tolerances=_holding(1.0, "arm_length_tolerance", "lower_pivot_tolerance"))
    _, candidate, _ = _scrub_limited(scenario, 0.05)
    allowances = build_figures(candidate, 512).allowances
    for part in ("pivot", "spindle_upper"):
        assert allowances[part].allowed is None
        assert allowances[part].yield_if_perfect < 0.95


@pytest.mark.parametrize("threads", [Threads(), Threads(4.0, 8.0)])
def test_surfaces_agree_with_exact_corners_build_by_build(threads: Threads, figures: Figures) -> None:
    """At tolerances of a real shop, over the whole range searched, near limits and far from them."""
    scenario = as_far_as_asked(_demo(threads=threads))
    rng = np.random.default_rng(4)
    y, z, camber = rng.uniform(200.0, 350.0, 24), rng.uniform(215.0, 260.0, 24), rng.uniform(-0.5, 0.5, 24)
    design = designed(scenario.corner, Candidates(y, z, np.radians(camber)))
    bands, pull = scenario.build.bands(design), scenario.build.pull(design)
    errors, objectives = even_errors(BUILDS, False), with_limits(scenario)
    unlike, apart, doubtful = 0.0, 0.0, 0
    for row, surface in enumerate(surfaces(scenario, design, objectives, pull)):
        offsets = pull[:, row, None] + bands[:, row, None] * errors
        each = design.take(np.full(BUILDS, row))
        by_surface, by_corner = (
            kept(scenario, values)
            for values in (
                surface.read(offsets),
                exact(scenario, each, trimmed(each, offsets, threads), objectives),
            )
        )
        unlike = max(unlike, float((by_surface != by_corner).mean()))
        apart = max(apart, abs(float(by_surface.mean() - by_corner.mean())))
        doubtful += bool(0.02 < by_corner.mean() < 0.98)
    name = "build yield on the surface against exact corners" + (", threads turned" if threads.rows else "")
    figures(name, f"{100 * apart:.1f} of 100 apart, {100 * unlike:.1f} of 100 builds judged otherwise")
    assert doubtful >= 3
    assert apart < 0.02
    assert unlike < 0.04


def test_the_same_seed_builds_the_same_corners() -> None:
    scenario = _scenario()
    candidate = _candidate(scenario)
    first, second = (build_yields(scenario, candidate.as_batch)[0] for _ in range(2))
    assert first == second
    assert np.array_equal(even_errors(64, False), even_errors(64, False))
    assert not np.array_equal(even_errors(64, False), even_errors(64, False, seed=7))


def test_a_yield_does_not_depend_on_what_else_is_built() -> None:
    scenario = _demo()
    batch = Candidates(np.array([240.0, 285.0, 346.0]), np.array([252.0, 228.0, 223.0]), np.zeros(3))
    together = build_yields(scenario, batch)
    alone = [build_yields(scenario, batch.take(np.array([row])))[0] for row in range(3)]
    assert together.tolist() == alone
    assert len(set(alone)) > 1
