"""Where the upper inner pivot may be welded: every place in the front view at which enough builds keep every limit.

At each place the pivot is taken to stand exactly there, as measured after welding; everything else varies as `[build]`
says, the arm is the one that was cut, and threads are turned where there are any.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from objectives.as_built import OFFSETS, designed, trimmed
from objectives.ride import Placed
from objectives.vectors import Array
from optimizer.build_surface import (
    BUILDS,
    Between,
    as_far_as_asked,
    even_errors,
    exact,
    kept,
    surfaces,
    with_limits,
)
from optimizer.candidate import Candidate
from optimizer.scenario import Scenario

WIDEST = 64.0  # mm from the pick: a bracket farther off is another pick
_FIRST = 8.0  # mm each way that are looked over first
_SCAN = 17  # places each way at which the mean build is looked at
_NODES = 13  # places each way at which builds are made
_COARSE = 7  # of them each way at which slopes are taken
_FINE = 241  # places each way between which the map is read
_RIM = 24  # places on the circle's rim of which
_CHECKED = 3  # those with the least yield are checked on exact corners, and the centre

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class WeldRegion:
    """Map of places for the pivot, mm; `share` has shape (z, y).

    Attributes
    ----------
    y, z
        Places of the map.
    share
        Of builds that keep every limit there, 0 where no bracket fits.
    inside
        The one connected region that counts: that of the pick, or else the largest.
    circle
        Centre y, z and radius of the largest circle in it; radius 0 where there is none.
    rectangle
        Least and greatest y, least and greatest z of the largest rectangle in it; four zeros where there is none.
    holds_pick
        Whether the pick lies in it.
    cut_off
        Whether the region may go on beyond the map.
    checked
        Least share on exact corners at the circle's centre and where its rim has the least; NaN without a circle.
    """

    y: Array
    z: Array
    share: Array
    inside: Mask
    circle: tuple[float, float, float]
    rectangle: tuple[float, float, float, float]
    holds_pick: bool
    cut_off: bool
    checked: float


def weld_region(candidate: Candidate) -> WeldRegion:
    """Map the places around a candidate's pivot at which the required yield is kept."""
    scenario = as_far_as_asked(candidate.scenario)
    design = designed(scenario.corner, candidate.as_batch)
    box, cut_off = _box(scenario, design)
    nodes = [np.linspace(low, high, _NODES) for low, high in box]
    y, z = (part.ravel() for part in np.meshgrid(*nodes))
    shares = _shares(scenario, design, y, z, _between_nodes()).reshape(_NODES, _NODES)
    fine = [np.linspace(low, high, _FINE) for low, high in box]
    share = _read(nodes, shares, *np.meshgrid(*fine))
    y, z = candidate.pivot_y + fine[0], candidate.pivot_z + fine[1]
    share = np.where(scenario.space.allows(*np.meshgrid(y, z)), share, 0.0)
    inside, holds_pick = _connected(share >= scenario.build.required_yield, fine)
    circle, rectangle = largest_circle(inside, y, z), largest_rectangle(inside, y, z)
    checked = _checked(
        scenario, design, nodes, shares, (circle[0] - candidate.pivot_y, circle[1] - candidate.pivot_z), circle[2]
    )
    return WeldRegion(y, z, share, inside, circle, rectangle, holds_pick, cut_off, checked)


def _checked(
    scenario: Scenario, design: Placed, nodes: list[Array], shares: Array, centre: tuple[float, float], radius: float
) -> float:
    """Least share on exact corners at a circle's centre and where the map has the least on its rim; NaN without one."""
    if radius <= 0.0:
        return np.nan
    turn = np.linspace(0.0, 2.0 * np.pi, _RIM, endpoint=False)
    y, z = centre[0] + radius * np.cos(turn), centre[1] + radius * np.sin(turn)
    least = np.argsort(_read(nodes, shares, y, z), kind="stable")[:_CHECKED]
    return float(exact_shares(scenario, design, np.append(y[least], centre[0]), np.append(z[least], centre[1])).min())


def _mean_builds(scenario: Scenario, design: Placed, y: Array, z: Array) -> tuple[Placed, Array]:
    """Design and offsets of mean builds whose pivot stands so far from the design's, (P,) each, before trimming."""
    each = design.take(np.zeros(y.size, dtype=np.intp))
    offsets = scenario.build.pull(each)
    offsets[OFFSETS["pivot"]] = np.stack((np.zeros(y.size), y, z))
    return each, offsets


def _bands(scenario: Scenario, design: Placed) -> Array:
    """Plus or minus of every offset, (20, P), the pivot's none in the front view."""
    bands = scenario.build.bands(design)
    bands[OFFSETS["pivot"].start + 1 : OFFSETS["pivot"].stop] = 0.0
    return bands


def _box(scenario: Scenario, design: Placed) -> tuple[list[tuple[float, float]], bool]:
    """Ranges of y and z around the pick, mm, outside of which even the mean build breaks a limit; whether cut off."""
    reach, ring = _FIRST, np.linspace(-1.0, 1.0, _SCAN)
    sides = np.concatenate([np.stack((ring, np.full(_SCAN, end))) for end in (-1.0, 1.0)], axis=1)
    rim = np.concatenate((sides, sides[::-1]), axis=1)
    while edge := bool(_good(scenario, design, *(reach * rim)).any()):
        if reach >= WIDEST:
            break
        reach *= 2.0
    line = reach * ring
    good = _good(scenario, design, *(part.ravel() for part in np.meshgrid(line, line))).reshape(_SCAN, _SCAN)
    found = []
    for line_is_good in (good.any(axis=0), good.any(axis=1)):
        places = np.flatnonzero(line_is_good)
        first, last = (places[0], places[-1]) if places.size else (_SCAN // 2, _SCAN // 2)
        found.append((float(line[max(first - 1, 0)]), float(line[min(last + 1, _SCAN - 1)])))
    return found, edge


def _good(scenario: Scenario, design: Placed, y: Array, z: Array) -> Mask:
    """Whether mean builds with the pivot at places (P,) from the design's keep every limit."""
    each, offsets = _mean_builds(scenario, design, y, z)
    offsets = trimmed(each, offsets, scenario.build.threads)
    return kept(scenario, exact(scenario, each, offsets, with_limits(scenario)))


def _between_nodes() -> Between:
    """Slopes are taken at every few nodes each way, and read straight between them."""
    coarse = np.linspace(0, _NODES - 1, _COARSE, dtype=np.intp)
    along = np.stack([np.interp(np.arange(_NODES), coarse, line) for line in np.eye(_COARSE)])
    rows = (coarse[:, None] * _NODES + coarse).ravel()
    return Between(rows, np.asarray(np.kron(along, along), dtype=float))


def _shares(scenario: Scenario, design: Placed, y: Array, z: Array, between: Between | None = None) -> Array:
    """Share of builds that keep every limit with the pivot at places (P,) from the design's, on surfaces."""
    each, offsets = _mean_builds(scenario, design, y, z)
    bands, errors = _bands(scenario, each), even_errors(BUILDS, scenario.build.normal)
    found = []
    for row, surface in enumerate(surfaces(scenario, each, with_limits(scenario), offsets, bands, between)):
        builds = offsets[:, row, None] + bands[:, row, None] * errors
        found.append(float(kept(scenario, surface.read(builds)).mean()))
    return np.array(found)


def exact_shares(scenario: Scenario, design: Placed, y: Array, z: Array) -> Array:
    """The same on exact corners, shape (P,)."""
    errors = even_errors(BUILDS, scenario.build.normal)
    each, offsets = _mean_builds(scenario, design, np.repeat(y, BUILDS), np.repeat(z, BUILDS))
    builds = offsets + _bands(scenario, each) * np.tile(errors, y.size)
    builds = trimmed(each, builds, scenario.build.threads)
    good = kept(scenario, exact(scenario, each, builds, with_limits(scenario)))
    return np.asarray(good.reshape(y.size, BUILDS).mean(axis=1))


def _read(nodes: list[Array], shares: Array, y: Array, z: Array) -> Array:
    """Shares of shape (z, y) read at places between the nodes, straight between neighbours."""
    from scipy.interpolate import RegularGridInterpolator

    read = RegularGridInterpolator((nodes[1], nodes[0]), shares)(np.stack((z, y), axis=-1))
    return np.asarray(np.clip(read, 0.0, 1.0))


def _connected(good: Mask, fine: list[Array]) -> tuple[Mask, bool]:
    """The connected part of a mask (z, y) that holds the pick, at 0, 0, or else the largest; and whether it does."""
    from scipy.ndimage import label

    parts, count = label(good)
    if not count:
        return good, False
    pick = parts[np.abs(fine[1]).argmin(), np.abs(fine[0]).argmin()]
    number = pick or int(np.bincount(parts.ravel())[1:].argmax()) + 1
    return np.asarray(parts == number), bool(pick)


def largest_circle(inside: Mask, y: Array, z: Array) -> tuple[float, float, float]:
    """Centre and radius of the largest circle in a mask (z, y) over evenly spaced places; radius 0 if there is none."""
    from scipy.ndimage import distance_transform_edt

    step = z[1] - z[0], y[1] - y[0]
    distance = distance_transform_edt(np.pad(inside, 1), sampling=step)[1:-1, 1:-1]
    row, column = np.unravel_index(int(distance.argmax()), distance.shape)
    # the edge lies somewhere between the last place inside and the next
    return float(y[column]), float(z[row]), float(max(distance[row, column] - max(step), 0.0))


def largest_rectangle(inside: Mask, y: Array, z: Array) -> tuple[float, float, float, float]:
    """Ends in y and z of the rectangle of greatest area in a mask (z, y); four zeros if there is none.

    Row by row, with the heights of the columns that end there: of all stretches of columns that are as tall as their
    lowest the best, by a stack (the largest rectangle under a histogram, common knowledge).
    """
    heights, best, found = np.zeros(y.size, dtype=int), 0.0, (0.0, 0.0, 0.0, 0.0)
    for row in range(z.size):
        heights = np.where(inside[row], heights + 1, 0)
        for left, right, tall in _stretches(heights):
            ends = float(y[left]), float(y[right]), float(z[row - tall + 1]), float(z[row])
            if (size := (ends[1] - ends[0]) * (ends[3] - ends[2])) > best:
                best, found = size, ends
    return found


def _stretches(heights: NDArray[np.int_]) -> list[tuple[int, int, int]]:
    """First and last column, and height, of every stretch that cannot be made wider at its height."""
    open_ones: list[tuple[int, int]] = []
    found = []
    for column, height in enumerate((*heights.tolist(), 0)):
        start = column
        while open_ones and open_ones[-1][1] >= height:
            start, tall = open_ones.pop()
            found.append((start, column - 1, tall))
        if height:
            open_ones.append((start, height))
    return [stretch for stretch in found if stretch[2]]
