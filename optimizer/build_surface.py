"""What candidates become as built: exactly, and on surfaces that are fast enough for thousands of builds each.

A surface follows the smooth pieces that the measures are made of (`objectives.pieces`) by their slope and bend in
every offset, from exact corners at either end of its tolerance, and joins them again for every build; so a kink of a
measure costs no accuracy. What two offsets do only together is left out, but for threads. It is laid around the mean
build, weld shrinkage included, where it is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from objectives.as_built import (
    COUNT,
    SPARE,
    STATIC,
    Threads,
    pieces_as_built,
    trimmed,
    values_as_built,
)
from objectives.corner import Travel
from objectives.objective import Objective, Pieces
from objectives.pieces import pieces_of
from objectives.registry import OBJECTIVES
from objectives.ride import Placed
from objectives.vectors import Array
from optimizer.even import even_points
from optimizer.scenario import Scenario

BUILDS = 512  # of each row of a front; a power of two, which the even sample wants
SEED = 1  # of the even sample: every candidate is built with the same errors, so that differences are its own

LEAST_STEP = 0.5  # mm: slopes are taken over at least so much, far above rounding and far below any part
SLACK = 1e-9  # mm and radians by which a limit counts as kept

_LEAST = Pieces(lambda motion: motion.straight.required.toe, lambda p, _: p.min(axis=0))
"""How `STATIC` and `SPARE` are joined; their pieces are taken by `pieces_as_built`."""

Values = dict[str, Array]
"""Values of builds by name of objective, and of `STATIC` and `SPARE`; shape (B,), mm and radians."""


def even_errors(count: int, normal: bool, seed: int = SEED) -> Array:
    """Errors of builds as shares of the tolerance, evenly spread, shape (20, count).

    A shifted Sobol sequence: within plus or minus 1, or normal with a standard deviation of a half.
    """
    return unit_errors(count, COUNT, normal, seed)


def unit_errors(count: int, rows: int, normal: bool, seed: int) -> Array:
    """The same for any number of rows, shape (rows, count)."""
    from scipy.special import ndtri

    drawn = even_points(rows, count, np.random.default_rng(seed)).T
    if not normal:
        return np.asarray(2.0 * drawn - 1.0)
    return np.asarray(0.5 * ndtri(np.clip(drawn, 1e-12, 1.0 - 1e-12)))


def with_limits(scenario: Scenario) -> tuple[Objective, ...]:
    """The objectives whose limits a build has to keep."""
    return tuple(objective for objective in OBJECTIVES if scenario.targets[objective.name].limit is not None)


def kept(scenario: Scenario, values: Values) -> NDArray[np.bool_]:
    """Which builds assemble over the required travel and keep every limit, shape (B,)."""
    good = np.logical_and.reduce([values[name] >= -SLACK for name in SPARE])
    for objective in with_limits(scenario):
        limit = scenario.targets[objective.name].limit
        assert limit is not None
        room = limit - values[objective.name]
        # a value that does not exist keeps no limit
        good &= (room if objective.better == "less" else -room) >= -SLACK
    found: NDArray[np.bool_] = good
    return found


def exact(scenario: Scenario, design: Placed, offsets: Array, objectives: Sequence[Objective]) -> Values:
    """Measure builds exactly, counted no farther than the scenario counts; `design` one for each, offsets (20, B)."""
    values = values_as_built(design, offsets, objectives)
    for objective in objectives:
        if objective.most is not None:
            values[objective.name] = np.minimum(values[objective.name], objective.most[1](scenario.corner.travel))
    return values


@dataclass(frozen=True)
class Surface:
    """One candidate as built, around its mean build.

    Where a thread can be turned, the surface follows corners on which it has been turned as far as it takes, and the
    row of its part holds what it then lacks for want of thread: so what errors and threads do together is kept.

    Attributes
    ----------
    centre
        Offsets of the mean build, mm, shape (20,); in the row of a thread what the mean build lacks.
    value, slope, bend
        Of the pieces there, shape (P,), (20, P), (20, P).
    places
        Which pieces belong to which value.
    joins
        How each value is joined.
    lift
        What joining the pieces misses of the exact value at the centre.
    travel
        Of which travels are counted.
    threads
        Rows of offsets that threads can turn, and how far, mm.
    """

    centre: Array
    value: Array
    slope: Array
    bend: Array
    places: dict[str, slice]
    joins: dict[str, Pieces]
    lift: dict[str, float]
    travel: Travel
    threads: dict[int, float]

    def read(self, offsets: Array) -> Values:
        """Values of builds with offsets of shape (20, B), after threads have been turned."""
        off = offsets - self.centre[:, None]
        off[list(self.threads)] = 0.0
        for row, most in self.threads.items():
            # where the part ends up does not depend on how long it was cut
            needed = self._pieces(off, self.places[_turned(row)])[0] - offsets[row]
            off[row] = np.clip(needed, -most, most) - needed - self.centre[row]
        return {
            name: join.join(self._pieces(off, self.places[name]), self.travel) + self.lift[name]
            for name, join in self.joins.items()
        }

    def _pieces(self, off: Array, place: slice) -> Array:
        """Pieces of one value so far off the centre, (20, B); shape (P, B)."""
        bent = 0.5 * self.bend[:, place].T @ (off * off)
        found: Array = self.value[place, None] + self.slope[:, place].T @ off + bent
        return found


def _turned(row: int) -> str:
    """Name of the offset that a thread is turned to."""
    return f"turned {row}"


@dataclass(frozen=True)
class Between:
    """Designs at which slopes are taken, and how they are read for those between.

    Attributes
    ----------
    rows
        Which of R designs, shape (C,).
    weights
        How much each of them counts for every design, shape (C, R); the weights of a design add up to 1.
    """

    rows: NDArray[np.intp]
    weights: Array

    def read(self, slopes: Array) -> Array:
        """Slopes (20, P, C) as those of every design, (20, P, R); what does not exist has no say."""
        there = np.isfinite(slopes)
        counted = there @ self.weights
        with np.errstate(divide="ignore", invalid="ignore"):
            found: Array = (np.where(there, slopes, 0.0) @ self.weights) / counted
        return found


def surfaces(
    scenario: Scenario,
    design: Placed,
    objectives: Sequence[Objective],
    pull: Array,
    reach: Array | None = None,
    between: Between | None = None,
) -> list[Surface]:
    """Surfaces of R designs around their mean builds.

    Parameters
    ----------
    scenario
        Gives tolerances, limits and travel.
    design
        R of them, from `objectives.as_built.designed`.
    objectives
        What to follow.
    pull
        Offsets of the mean builds, mm, shape (20, R).
    reach
        How far to either side slopes are taken, mm, shape (20, R); else the tolerances.
    between
        Where the designs lie so near each other that slopes of some do for all; else each has its own.
    """
    bands = scenario.build.bands(design) if reach is None else reach
    threads, count = scenario.build.threads, design.ride_angle.size
    step, moving = np.maximum(bands, LEAST_STEP), _moving(bands, threads)
    # the mean builds, then every offset up and down
    shifts = np.concatenate((np.zeros((1, COUNT)), np.eye(COUNT)[moving], -np.eye(COUNT)[moving]))
    rows = np.arange(count) if between is None else between.rows
    centre, offsets, turned = _turned_builds(design, pull, shifts[:1], step, threads)
    _, around, turned_around = _turned_builds(design.take(rows), pull[:, rows], shifts, step[:, rows], threads)
    # the mean builds of the rows are among those of all
    which = np.concatenate((np.arange(count), np.tile(rows, len(shifts) - 1)))
    offsets = np.concatenate((offsets, around[:, rows.size :]), axis=1)
    turned = np.concatenate((turned, turned_around[:, rows.size :]), axis=1)
    tables = pieces_as_built(design.take(which), offsets, objectives)
    tables |= {_turned(row): turned[None, row] for row in threads.rows}
    there = exact(scenario, design, offsets[:, :count], objectives)
    places, start = {}, 0
    for name, table in tables.items():
        places[name] = slice(start, start + len(table))
        start += len(table)
    stacked = np.concatenate(list(tables.values()))
    value, moved = stacked[:, :count], stacked[:, count:].reshape(start, len(shifts) - 1, rows.size)
    slope, bend = _slopes(value[:, None, rows], moved, step[:, rows], moving)
    if between is not None:
        slope, bend = between.read(slope), between.read(bend)
    joins = dict.fromkeys((*STATIC, *SPARE), _LEAST) | {o.name: pieces_of(o) for o in objectives}
    laid = []
    for row in range(count):
        lift = {
            name: float(there[name][row] - join.join(value[places[name], row], scenario.corner.travel))
            for name, join in joins.items()
        }
        at = centre[:, row], value[:, row], slope[:, :, row], bend[:, :, row]
        laid.append(Surface(*at, places, joins, lift, scenario.corner.travel, threads.rows))
    return laid


def _turned_builds(
    design: Placed, pull: Array, shifts: Array, step: Array, threads: Threads
) -> tuple[Array, Array, Array]:
    """Corners to lay R surfaces on, those of the first shift first.

    Returns
    -------
    centre
        As in `Surface`, shape (20, R).
    offsets
        With threads turned, short of where they should be by as much as the mean build is, shape (20, S R).
    turned
        Where they should be, shape (20, S R).
    """
    moved = np.stack([shift[:, None] * step for shift in shifts], axis=1)  # (20, S, R)
    offsets = pull[:, None] + moved
    centre, turned = pull.copy(), offsets.copy()
    every = design.take(np.tile(np.arange(pull.shape[1]), len(shifts)))
    offsets[list(threads.rows)] -= moved[list(threads.rows)]
    left = threads.without_end
    for row, most in threads.rows.items():
        # the first thread as if both had no end, then the second for what the first leaves
        turned[row] = trimmed(every, offsets.reshape(COUNT, -1), left)[row].reshape(offsets.shape[1:])
        needed = turned[row, 0] - pull[row]
        centre[row] = np.clip(needed, -most, most) - needed
        offsets[row] = turned[row] + centre[row] + moved[row]
        left = replace(left, arm=0.0)
    return centre, offsets.reshape(COUNT, -1), turned.reshape(COUNT, -1)


def _moving(bands: Array, threads: Threads) -> NDArray[np.intp]:
    """Rows of offsets that vary from build to build or can be turned."""
    return np.flatnonzero((bands > 0.0).any(axis=1) | np.isin(np.arange(COUNT), list(threads.rows)))


def _slopes(middle: Array, moved: Array, step: Array, moving: NDArray[np.intp]) -> tuple[Array, Array]:
    """Slope and bend of pieces in every offset, shape (20, P, R) each.

    Pieces are (P, 1, R) at the mean builds and (P, 2 M, R) with every moving offset up and then down. Where a corner on
    one side does not assemble the slope is that of the other side.
    """
    up, down = moved[:, : moving.size], moved[:, moving.size :]
    size = step[moving]
    rise, fall = (up - middle) / size, (middle - down) / size
    both = np.isfinite(rise) & np.isfinite(fall)
    one = np.where(np.isfinite(rise), rise, fall)
    shape = COUNT, len(middle), middle.shape[2]
    slope, bend = np.zeros(shape), np.zeros(shape)
    slope[moving] = np.where(both, 0.5 * (rise + fall), one).swapaxes(0, 1)
    bend[moving] = np.where(both, (rise - fall) / size, 0.0).swapaxes(0, 1)
    return slope, bend


def as_far_as_asked(scenario: Scenario) -> Scenario:
    """The scenario with nothing counted beyond what travel and limits ask for: enough for a yield, and soon swept."""
    travel, targets = scenario.corner.travel, scenario.targets
    droop, bump = (targets[name].limit or 0.0 for name in ("droop_limit", "bump_limit"))
    least = replace(travel, droop_cap=max(travel.droop, droop), bump_cap=max(travel.bump, bump))
    return replace(scenario, corner=replace(scenario.corner, travel=least))
