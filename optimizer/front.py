"""Everything non-dominated that a search has seen, the volume it dominates, the few hundred worth showing.

All costs are minimised. A cost row dominates another when it is nowhere worse and somewhere better.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from optimizer.even import even_points

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

EXACT_COSTS = 5  # up to so many costs volumes are exact; their price grows with every cost as with a power
EVEN_POINTS = 16_384  # beyond, the share of so many evenly spread points that is dominated stands for a volume
FEW = 100  # times as many rows kept as new ones: then each new row is held against all of them, which is faster
CHUNK = 16_384  # rows filtered at once: a large batch is mostly dominated by its own first rows
MARGIN = 0.1  # of the nadir's distance from the ideal point, added to make the reference point


def non_dominated(costs: Array) -> Rows:
    """Rows dominated by no other; of several equal rows the first.

    Parameters
    ----------
    costs : (N, M) array

    Returns
    -------
    (K,) array of int
        In increasing order.
    """
    import moocore

    if len(costs) == 0:
        return np.empty(0, dtype=np.intp)
    kept: Rows = np.flatnonzero(moocore.is_nondominated(costs))
    return kept


def _beside(kept: Array, fresh: Array) -> Rows:
    """As `non_dominated` of two tables one below the other, in neither of which a row dominates or equals another."""
    columns, stays = np.ascontiguousarray(kept.T), np.ones(len(kept), dtype=np.bool_)
    comes = np.ones(len(fresh), dtype=np.bool_)
    for i, row in enumerate(fresh):
        comes[i] = not _all_of(columns, row, np.less_equal).size
        if comes[i]:
            stays[_all_of(columns, row, np.greater_equal)] = False
    return np.flatnonzero(np.concatenate((stays, comes)))


def _all_of(columns: Array, row: Array, compares: np.ufunc) -> Rows:
    """Which rows, given by their columns (M, N), compare so with a row (M,) in every cost."""
    found = np.flatnonzero(compares(columns[0], row[0]))
    for column, value in zip(columns[1:], row[1:], strict=True):
        found = found[compares(column[found], value)]
    return found


@dataclass
class Archive:
    """Every non-dominated usable candidate seen, in the order of arrival.

    The filter is exact, so the kept costs do not depend on how the candidates were split into batches.
    Of candidates with equal costs the first to come is kept. Only past `most` rows is the archive thinned
    on a grid (`thin_on_grid`); `grid` then holds the cell, in units of `scale`, and is zero otherwise.

    Attributes
    ----------
    x : (K, V) array
    costs : (K, M) array
    scale : (M,) array
        Size of a difference that matters in each cost.
    most : int
        Rows above which the archive is thinned.
    grid : float
        Side of the thinning cell in units of `scale`; 0 while every non-dominated row is kept.
    """

    variables: int
    scale: Array
    most: int = 200_000
    grid: float = 0.0
    x: Array = field(init=False)
    costs: Array = field(init=False)

    def __post_init__(self) -> None:
        self.x = np.empty((0, self.variables))
        self.costs = np.empty((0, len(self.scale)))

    def __len__(self) -> int:
        return len(self.costs)

    def add(self, x: Array, costs: Array) -> Array:
        """Take in a batch of usable candidates.

        Parameters
        ----------
        x : (N, V) array
        costs : (N, M) array

        Returns
        -------
        (L, M) array
            Costs of the newcomers worth a look: not dominated within their own chunk of the batch.
        """
        fresh = []
        for start in range(0, len(costs), CHUNK):
            own = start + non_dominated(costs[start : start + CHUNK])
            fresh.append(costs[own])
            self._merge(x[own], costs[own])
        return np.concatenate(fresh) if fresh else self.costs[:0]

    def _merge(self, x: Array, costs: Array) -> None:
        stacked = np.concatenate((self.costs, costs))
        few = FEW * len(costs) < len(self)
        kept = _beside(self.costs, costs) if few else non_dominated(stacked)
        self.x, self.costs = np.concatenate((self.x, x))[kept], stacked[kept]
        if len(kept) > self.most:
            self._thin()

    def _thin(self) -> None:
        """Double the cell until at most three quarters of `most` are left, so that it is done seldom."""
        cell = self.grid or 1 / 64
        kept = thin_on_grid(self.costs, self.scale * cell)
        while len(kept) > 0.75 * self.most and cell < 2.0**40:
            cell *= 2
            kept = thin_on_grid(self.costs, self.scale * cell)
        self.grid = cell
        self.x, self.costs = self.x[kept], self.costs[kept]


def thin_on_grid(costs: Array, cell: Array) -> Rows:
    """One row from each occupied cell of a grid, and the best row of every cost.

    The row nearest its cell's lower corner stays, so every row dropped is within one cell, in every cost,
    of one that stays (the additive epsilon idea of Laumanns, Thiele, Deb and Zitzler, Evolutionary
    Computation 10(3), 2002; recalled from memory).

    Parameters
    ----------
    costs : (N, M) array
    cell : (M,) array
        Sides of a cell, in the costs' units.

    Returns
    -------
    (K,) array of int
        In increasing order.
    """
    place = (costs - costs.min(axis=0)) / cell
    corner = np.floor(place)
    order = np.lexsort(((place - corner).sum(axis=1), *corner.T))
    changes = np.any(np.diff(corner[order], axis=0) != 0, axis=1)
    first = order[np.concatenate(([True], changes))]
    return np.unique(np.concatenate((first, costs.argmin(axis=0))))


def reference_point(costs: Array, scale: Array) -> Array:
    """Corner from which the dominated volume is measured: a little beyond the worst non-dominated costs.

    The nadir (worst of each cost among the non-dominated rows) alone would give the best row of one cost no
    volume, for it is often the worst in another. A tenth of the front's extent beyond it keeps the ends
    without letting them outweigh the middle; the tenth is common practice, no source. Where the front is
    flat in a cost, or is one point, the margin is the difference that matters, so it is never nil.

    Parameters
    ----------
    costs : (N, M) array, N >= 1
    scale : (M,) array, positive

    Returns
    -------
    (M,) array

    Raises
    ------
    ValueError
        If there are no rows.
    """
    if len(costs) == 0:
        raise ValueError("a reference point needs at least one row of costs")
    front = costs[non_dominated(costs)]
    worst = front.max(axis=0)
    margin: Array = np.maximum(MARGIN * (worst - front.min(axis=0)), scale)
    return np.asarray(worst + margin, dtype=np.float64)


def hypervolume(costs: Array, reference: Array) -> float:
    """Volume of the region dominated by `costs` and bounded by `reference`; exact up to `EXACT_COSTS` costs.

    Beyond, it is estimated from evenly spread points. Rows not better than the reference in every cost add nothing.
    Seconds for more than about 15,000 rows in five costs.

    Parameters
    ----------
    costs : (N, M) array
    reference : (M,) array

    Returns
    -------
    float
        In the product of the costs' units.
    """
    import moocore

    inside = costs[np.all(costs < reference, axis=1)]
    if not len(inside):
        return 0.0
    if costs.shape[1] <= EXACT_COSTS:
        return float(moocore.hypervolume(inside, ref=reference))
    covered, box = _covered(inside, reference)
    return float(covered.any(axis=0).mean() * box)


def _covered(costs: Array, reference: Array) -> tuple[NDArray[np.bool_], float]:
    """Which rows dominate which of the points spread over the box from ideal to reference, and the box's volume."""
    ideal = costs.min(axis=0)
    spread = even_points(costs.shape[1], EVEN_POINTS)
    points = ideal + (reference - ideal) * spread
    covered = np.ones((len(costs), len(points)), dtype=bool)
    for column, place in zip(costs.T, points.T, strict=True):
        covered &= column[:, None] <= place
    return covered, float(np.prod(reference - ideal))


def greedy_hypervolume(costs: Array, count: int, reference: Array, always: Iterable[int] = ()) -> Rows:
    """Rows that together dominate most: each next row is the one that adds the largest volume.

    What a row adds is its own volume less the volume that the chosen rows dominate within it: exact up to
    `EXACT_COSTS` costs, beyond counted in evenly spread points. It can only shrink as rows are chosen (the
    dominated volume is submodular), so an old value is an upper bound and most rows need no new one (lazy
    greedy: Minoux 1978). Greedy choice dominates at least 1 - 1/e of
    what the best choice of as many rows would (Nemhauser, Wolsey and Fisher 1978). Both recalled from
    memory. Ties go to the earlier row, so the choice is deterministic.

    Parameters
    ----------
    costs : (N, M) array
    count : int
        Rows wanted; fewer come back only when there are fewer rows. `always` rows count among them, and
        all come back even if they alone are more.
    reference : (M,) array
    always : iterable of int
        Rows to include whatever they add; they come first, in the order given.

    Returns
    -------
    (K,) array of int
        Best first, after the `always` rows.
    """
    import moocore

    forced = list(dict.fromkeys(int(row) for row in always))
    wanted = min(len(costs), max(count, len(forced)))
    if costs.shape[1] > EXACT_COSTS:
        return _greedy_by_points(np.minimum(costs, reference), wanted, reference, forced)
    # Rows beyond the reference in some cost are moved onto it, where they dominate nothing.
    clipped = np.minimum(np.asarray(costs, dtype=np.float64), reference)
    bounds = _Bounds(clipped, np.asarray(reference, dtype=np.float64))
    exact_at = np.full(len(costs), -1)  # how many rows were chosen when a row's gain was last exact
    chosen_costs = np.empty((wanted, clipped.shape[1]))
    chosen: list[int] = []
    while len(chosen) < wanted:
        done = len(chosen)
        row = forced[done] if done < len(forced) else int(bounds.gain.argmax())
        while done >= len(forced) and done > 0 and exact_at[row] != done:
            shared = moocore.hypervolume(np.maximum(clipped[row], chosen_costs[:done]), ref=reference)
            bounds.gain[row] = max(bounds.volume[row] - shared, 0.0)
            exact_at[row] = done
            row = int(bounds.gain.argmax())
        chosen_costs[done] = clipped[row]
        chosen.append(row)
        bounds.choose(row)
    return np.array(chosen, dtype=np.intp)


def _greedy_by_points(costs: Array, wanted: int, reference: Array, forced: list[int]) -> Rows:
    """Greedy choice by how many of the evenly spread points a row newly dominates, lazily as above."""
    covered, _ = _covered(costs, reference)
    open_points = np.ones(covered.shape[1], dtype=bool)
    gain, exact_at = covered.sum(axis=1).astype(float), np.zeros(len(costs), dtype=np.intp)
    chosen: list[int] = []
    while len(chosen) < wanted:
        done = len(chosen)
        row = forced[done] if done < len(forced) else int(gain.argmax())
        while done >= len(forced) and exact_at[row] != done:
            gain[row], exact_at[row] = np.count_nonzero(covered[row] & open_points), done
            row = int(gain.argmax())
        chosen.append(row)
        open_points &= ~covered[row]
        gain[row] = -1.0
    return np.array(chosen, dtype=np.intp)


class _Bounds:
    """Upper bounds on what each row would still add, from the two chosen rows that overlap it most.

    Two, because the exact volume of a union of three boxes is still eight products: it halves the number of
    exact values needed compared with one.
    """

    def __init__(self, costs: Array, reference: Array) -> None:
        self.reference = reference
        self.columns = np.ascontiguousarray(costs.T)
        self.volume = self._box(self.columns)
        self.gain = self.volume.copy()
        self.first = np.repeat(reference[:, None], len(costs), axis=1)
        self.second = self.first.copy()
        self.first_volume = np.zeros(len(costs))
        self.second_volume = np.zeros(len(costs))
        self.both_volume = np.zeros(len(costs))

    def _box(self, columns: Array) -> Array:
        volume: Array = self.reference[0] - columns[0]
        for corner, column in zip(self.reference[1:], columns[1:], strict=True):
            volume = volume * (corner - column)
        return volume

    def choose(self, row: int) -> None:
        """Lower the bounds for a newly chosen row, which leaves the contest itself."""
        shared = np.maximum(self.columns, self.columns[:, row : row + 1])
        volume = self._box(shared)
        with_first = np.maximum(shared, self.first)
        first_shared = self._box(with_first)
        second_shared = self._box(np.maximum(shared, self.second))
        all_shared = self._box(np.maximum(with_first, self.second))
        union = self.first_volume + self.second_volume - self.both_volume
        taken = union + volume - first_shared - second_shared + all_shared
        np.minimum(self.gain, np.maximum(self.volume - taken, 0.0), out=self.gain)
        self.gain[row] = -1.0

        keep_first = self.first_volume + volume - first_shared
        keep_second = self.second_volume + volume - second_shared
        drop_second = (keep_first > union) & (keep_first >= keep_second)
        drop_first = (keep_second > union) & ~drop_second
        self.second[:, drop_second] = shared[:, drop_second]
        self.second_volume[drop_second] = volume[drop_second]
        self.both_volume[drop_second] = first_shared[drop_second]
        self.first[:, drop_first] = shared[:, drop_first]
        self.first_volume[drop_first] = volume[drop_first]
        self.both_volume[drop_first] = second_shared[drop_first]


class Coverage:
    """Share of a fixed box that is dominated so far: cheap, and never falling.

    The exact volume of ten thousand rows in five costs takes seconds, far too long to follow a search by.
    The box is laid once, from the costs known then, and filled with evenly spread points; a point once
    dominated stays so, whatever the archive drops later. The box reaches below the ideal point of that time
    as well, so that later improvement shows.
    """

    def __init__(self, costs: Array, scale: Array, points: int = 2048) -> None:
        upper = reference_point(costs, scale)
        lower = costs.min(axis=0) - np.maximum(MARGIN * np.ptp(costs, axis=0), scale)
        spread = even_points(len(scale), points)
        self.points = points
        self.open = lower + (upper - lower) * spread

    def add(self, costs: Array) -> None:
        """Mark what the rows of `costs` (N, M) dominate."""
        for start in range(0, len(costs), 512):
            block = costs[start : start + 512]
            covered = np.ones((len(self.open), len(block)), dtype=bool)
            for m in range(costs.shape[1]):
                covered &= block[None, :, m] <= self.open[:, m, None]
            self.open = self.open[~covered.any(axis=1)]

    @property
    def share(self) -> float:
        """Dominated share of the box, 0 to 1."""
        return 1.0 - len(self.open) / self.points
