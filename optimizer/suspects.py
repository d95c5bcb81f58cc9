"""Which point of a tacked corner is most likely off, from what was measured on it.

Every part is off by chance within its tolerance. Either that is all, or one part is off by anything up to a few
centimetres as well: which of these stories fits best is judged by how likely each makes what was measured, the unknown
errors averaged over (marginal likelihood, Kass and Raftery, Bayes factors, Journal of the American Statistical
Association 90, 1995; from memory). Within a story the errors come by least squares, weighed by tolerances and by what
the measuring itself leaves; their uncertainty is that of the straight lines through the solution.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from objectives.as_built import COUNT, OFFSETS, built, designed, trimmed
from objectives.curves import poses_of
from objectives.ride import Placed
from objectives.vectors import Array
from optimizer.build import HELD_BY
from optimizer.build_surface import as_far_as_asked, exact, kept, with_limits
from optimizer.candidate import Candidate
from optimizer.measurement import Measurement

CAMBER_ERROR = np.radians(0.1)  # of a digital gauge on a machined face; common practice, no source
CONTACT_ERROR = 1.0  # mm, of a plumb line and a tape; common practice, no source
GROSS = 10.0  # mm, standard deviation of a part that is off by more than its tolerance
TELLS = 20.0  # times as likely: from there on one story counts as told from another (Kass and Raftery: strong)
SEEN = 0.5  # of what was possible before: an error that stays more uncertain than this was not seen
_ROUNDS = 12
_SHORTER = (1.0, 0.5, 0.25, 0.1, 0.03)  # of a step
_SETTLED = 1e-6  # of the sum of squares: what is not worth another step
_STEP = 0.25  # mm, for slopes

BUILDS = 2048  # that fit the measurement, to see whether they keep the limits
UNLIKELY = 0.01  # a story less likely than this is left out of them

WITHIN = "within tolerance"


@dataclass(frozen=True)
class Story:
    """One explanation.

    Attributes
    ----------
    likelihood
        Of what was measured, relative to all stories, 0 to 1.
    offsets, spread
        Most likely offsets and their standard deviations, mm, shape (20,).
    covariance
        Of the offsets, shape (20, 20).
    before
        Standard deviations before anything was measured, mm, shape (20,).
    misfit
        Root mean square of what is left, in measuring errors: about 1 or less where it fits.
    """

    likelihood: float
    offsets: Array
    spread: Array
    covariance: Array
    before: Array
    misfit: float

    def seen(self, row: int) -> bool:
        """Whether the measurement says anything of one offset."""
        return bool(self.spread[row] < SEEN * self.before[row])


def suspects(
    candidate: Candidate,
    measured: Measurement,
    camber_error: float = CAMBER_ERROR,
    contact_error: float = CONTACT_ERROR,
) -> Mapping[str, Story]:
    """Explain a measurement: stories by part, `WITHIN` for none, the likeliest first.

    Parameters
    ----------
    candidate
        What was to be built.
    measured
        On the tacked corner, steering straight ahead.
    camber_error, contact_error
        Standard deviations of the measuring, radians and mm.
    """
    build = candidate.scenario.build
    design = designed(candidate.scenario.corner, candidate.as_batch)
    tolerance = build.bands(design)[:, 0] * (0.5 if build.normal else 1.0 / np.sqrt(3.0))
    found = {}
    for part in (WITHIN, *HELD_BY):
        before = tolerance.copy()
        if part != WITHIN:
            before[OFFSETS[part]] = np.hypot(before[OFFSETS[part]], GROSS)
        found[part] = _fit(design, measured, before, (camber_error, contact_error))
    most = max(likelihood for likelihood, _ in found.values())
    weights = {part: float(np.exp(likelihood - most)) for part, (likelihood, _) in found.items()}
    total = sum(weights.values())
    stories = {part: replace(story, likelihood=weights[part] / total) for part, (_, story) in found.items()}
    return dict(sorted(stories.items(), key=lambda item: -item[1].likelihood))


def _fit(design: Placed, measured: Measurement, before: Array, errors: tuple[float, float]) -> tuple[float, Story]:
    """Logarithm of how likely a story makes the measurement, and the story, by Gauss and Newton's method.

    A step that makes the fit worse is halved. The likelihood is that of the straight lines through the solution
    (Laplace's approximation): the least sum of squares, and the size of what was possible beforehand.
    """
    wanted, there = _wanted(measured, errors)
    free = np.flatnonzero(before > 0.0)
    variance = before[free] ** 2

    def costs(offsets: Array) -> Array:
        """Sums of squares of builds (20, K), infinite where one does not assemble, shape (K,)."""
        misses = (wanted[:, None] - _readings(design, measured.travel, offsets, errors))[there]
        squares = (misses**2).sum(axis=0) + (offsets[free] ** 2 / variance[:, None]).sum(axis=0)
        return np.where(np.isfinite(squares), squares, np.inf)

    offsets = np.zeros(COUNT)
    least = float(costs(offsets[:, None])[0])
    for _ in range(_ROUNDS):
        now, slopes = _predicted(design, measured.travel, offsets, free, errors)
        slopes = np.nan_to_num(slopes[there])
        # the measurement as the straight lines through here see it, from offsets of nothing
        seen = wanted[there] - now[there] + slopes @ offsets[free]
        spread = (slopes * variance) @ slopes.T + np.eye(seen.size)
        gain = np.linalg.solve(spread, slopes * variance).T
        step = np.zeros(COUNT)
        step[free] = gain @ seen - offsets[free]
        tried = costs(offsets[:, None] + step[:, None] * np.array(_SHORTER))
        better = np.flatnonzero(tried < least)
        if not better.size:
            break
        offsets = offsets + _SHORTER[better[0]] * step
        before_step, least = least, float(tried[better[0]])
        if before_step - least < _SETTLED:
            break
    covariance = np.zeros((COUNT, COUNT))
    covariance[np.ix_(free, free)] = np.diag(variance) - gain @ (slopes * variance)
    deviation = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    left = (wanted - _readings(design, measured.travel, offsets[:, None], errors)[:, 0])[there]
    misfit = float(np.sqrt(np.mean(left**2)))
    likelihood = -0.5 * (least + float(np.linalg.slogdet(spread)[1]))
    return likelihood, Story(0.0, offsets, deviation, covariance, before, misfit)


def _wanted(measured: Measurement, errors: tuple[float, float]) -> tuple[Array, NDArray[np.intp]]:
    """Everything measured, in measuring errors, and which of it there is."""
    every = np.concatenate((measured.camber / errors[0], measured.contact_y / errors[1]))
    return every, np.flatnonzero(np.isfinite(every))


def _predicted(
    design: Placed, travel: Array, offsets: Array, free: NDArray[np.intp], errors: tuple[float, float]
) -> tuple[Array, Array]:
    """What a build would measure, in measuring errors, shape (2 P,), and its slopes by the free offsets, (2 P, F)."""
    steps = np.concatenate((np.zeros((1, COUNT)), _STEP * np.eye(COUNT)[free], -_STEP * np.eye(COUNT)[free]))
    values = _readings(design, travel, (offsets + steps).T, errors)
    up, down = values[:, 1 : 1 + free.size], values[:, 1 + free.size :]
    return values[:, 0], (up - down) / (2.0 * _STEP)


def _readings(design: Placed, travel: Array, offsets: Array, errors: tuple[float, float]) -> Array:
    """What builds with offsets (20, K) would measure, in measuring errors, shape (2 P, K); NaN where they lock."""
    each = design.take(np.zeros(offsets.shape[1], dtype=np.intp))
    at, assembles = poses_of(built(each, offsets), travel)
    readings: Array = np.concatenate(
        (np.where(assembles, at.camber, np.nan) / errors[0], np.where(assembles, at.contact[1], np.nan) / errors[1])
    )
    return readings


def fitting_builds(stories: Mapping[str, Story], builds: int = BUILDS, seed: int = 1) -> Array:
    """Offsets of corners that fit the measurement, from every story that is not unlikely, about (20, builds)."""
    rng = np.random.default_rng(seed)
    likely = [story for story in stories.values() if story.likelihood >= UNLIKELY]
    total = sum(story.likelihood for story in likely)
    drawn = []
    for story in likely:
        count = max(1, round(builds * story.likelihood / total))
        drawn.append(rng.multivariate_normal(story.offsets, story.covariance, count, method="eigh").T)
    return np.concatenate(drawn, axis=1)


@dataclass(frozen=True)
class Verdict:
    """Share of the corners that fit the measurement that keep every limit: as they stand, and with threads turned."""

    as_tacked: float
    adjusted: float


def verdict(candidate: Candidate, stories: Mapping[str, Story], builds: int = BUILDS) -> Verdict:
    """Judge by so many builds whether a measured corner still keeps the limits."""
    scenario = as_far_as_asked(candidate.scenario)
    offsets = fitting_builds(stories, builds)
    design = designed(scenario.corner, candidate.as_batch).take(np.zeros(offsets.shape[1], dtype=np.intp))
    shares = [
        float(kept(scenario, exact(scenario, design, each, with_limits(scenario))).mean())
        for each in (offsets, trimmed(design, offsets, scenario.build.threads))
    ]
    return Verdict(*shares)
