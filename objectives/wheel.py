"""Gap between a straight tube and the wheel: tyre and rim as sections turned about the spin axis.

The tube's centre line is looked at point by point: a point's gap to a solid of revolution is that of its axial and
radial place to the section. An arm's outer end sits inside the rim by design, so the whole tube counts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from objectives.corner import Tyre
from objectives.distances import box, rounded_box
from objectives.parts import Rim
from objectives.roots import least_between
from objectives.vectors import Array, dot

LOOKS = 9  # points along the part of a tube that can be nearest, among which the nearest is polished
SHARP = 3.0  # spacings between looks: nearer than this a gap runs along the tube like a V more than a parabola
STEPS = 22  # of golden section between three looks: closes a few cm to a thousandth of a mm

Section: TypeAlias = Callable[[Array, Array], Array]


@dataclass(frozen=True)
class Solid:
    """Something turned about the spin axis: signed distance by axial and radial place, and half its width."""

    section: Section
    half_width: float


def tyre_solid(tyre: Tyre, rim: Rim) -> Solid:
    """The tyre between bead seat and tread, shoulders rounded; square at the beads, so never thinner than built."""
    rings, half = (rim.radius, tyre.radius), 0.5 * tyre.width
    return Solid(lambda axial, radial: rounded_box(axial, radial, half, rings, tyre.shoulder_radius), half)


def rim_solid(rim: Rim) -> Solid:
    """The rim: its barrel, and everything outboard of the mounting face."""
    half = 0.5 * rim.width

    def section(axial: Array, radial: Array) -> Array:
        barrel = box(axial, radial, (-half, half), (rim.inner_radius, rim.radius))
        disc = box(axial, radial, (rim.offset, half), (-np.inf, rim.radius))
        return np.minimum(barrel, disc)

    return Solid(section, half)


@dataclass(frozen=True)
class _Line:
    """Axial and radial places along a centre line, from its outer end (0) to its inner end (1)."""

    axial: Array
    axial_rate: Array
    square: Array
    square_rate: Array
    square_bend: Array

    @staticmethod
    def of(wheel: Array, spin: Array, outer: Array, inner: Array) -> _Line:
        offset, way = outer - wheel, inner - outer
        return _Line(dot(offset, spin), dot(way, spin), dot(offset, offset), 2.0 * dot(offset, way), dot(way, way))

    def take(self, index: tuple[NDArray[np.intp], ...]) -> _Line:
        """Lines at `index` of the axes of their own."""
        parts = (self.axial, self.axial_rate, self.square, self.square_rate, self.square_bend)
        return _Line(*(part[index] for part in parts))

    def gap(self, solid: Solid, share: Array) -> Array:
        axial = self.axial + self.axial_rate * share
        square = self.square + share * (self.square_rate + share * self.square_bend) - axial * axial
        return solid.section(axial, np.sqrt(np.maximum(square, 0.0)))

    def reach(self, solid: Solid) -> Array:
        """Share of the line, from its outer end, beyond which it is farther inboard of the solid than that end is."""
        own = self.gap(solid, np.zeros(()))
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (own + solid.half_width + self.axial) / -self.axial_rate
        return np.where(self.axial_rate < 0.0, np.clip(share, 0.0, 1.0), 1.0)


def tube_gap(solid: Solid, wheel: Array, spin: Array, outer: Array, inner: Array, rough: bool = False) -> Array:
    """Least signed gap of a tube's centre line to a solid about the spin axis, mm, shape (...).

    Parameters
    ----------
    solid
        Tyre or rim.
    wheel, spin
        Wheel centre and spin axis, shape (3, ...).
    outer, inner
        Ends of the centre line, shape (3, ...); they broadcast with the wheel.
    rough
        Whether the least is only read off a parabola through three looks, where the solid is not near.
    """
    line = _Line.of(wheel, spin, outer, inner)
    spacing = line.reach(solid) / (LOOKS - 1)
    looks = np.arange(LOOKS).reshape((LOOKS,) + (1,) * spacing.ndim)
    gaps = line.gap(solid, looks * spacing)
    best = np.argmin(gaps, axis=0)
    least = gaps.min(axis=0)
    low, high = (np.clip(best + side, 0, LOOKS - 1) * spacing for side in (-1, 1))
    if not rough:
        return np.minimum(least, _polished(line, solid, low, high))
    read = least - _dip(gaps, best)
    sharp = np.nonzero(least < SHARP * spacing * np.sqrt(line.square_bend))
    read[sharp] = np.minimum(least[sharp], _polished(line.take(sharp), solid, low[sharp], high[sharp]))
    return read


def _polished(line: _Line, solid: Solid, low: Array, high: Array) -> Array:
    return least_between(lambda share: line.gap(solid, share), low, high, STEPS)[1]


def _dip(gaps: Array, best: NDArray[np.intp]) -> Array:
    """How far a parabola through the least look and its neighbours goes below it; 0 at an end."""
    middle = np.clip(best, 1, LOOKS - 2)[None]
    low, mid, high = (np.take_along_axis(gaps, middle + side, axis=0)[0] for side in (-1, 0, 1))
    bend = np.maximum(low - 2.0 * mid + high, 1e-12)
    dip: Array = np.where(best == middle[0], (low - high) ** 2 / (8.0 * bend), 0.0)
    return dip
