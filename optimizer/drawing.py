"""A drawing at 1:1 as plain lines, holes and words: what is printed and what goes into the drawing file alike."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from objectives.vectors import Array

Part = Literal[
    "upper_arm", "lower_arm", "kingpin", "tie_rod", "brackets", "contact_path", "frame", "obstacles", "tubes", "spindle"
]
Look = Literal["heavy", "plain", "thin", "dashed", "chained", "dotted"]
"""How a line is drawn: weight and dashes, no colour, so that it reads from any printer."""


@dataclass(frozen=True)
class Line:
    """Straight pieces from point to point, shape (points, 2), mm. `core` lines set how far the drawing reaches."""

    part: Part
    points: Array
    look: Look = "plain"
    core: bool = True


@dataclass(frozen=True)
class Hole:
    """Centre of a hole, shape (2,), with its diameter, mm, or None: a centre mark alone."""

    part: Part
    at: Array
    diameter: float | None = None


@dataclass(frozen=True)
class Label:
    """Words that belong to a place of the drawing, shape (2,), mm."""

    at: Array
    text: str
    bold: bool = False


@dataclass
class View:
    """One drawing: its name, what it is for in sentences, and everything in it."""

    name: str
    notes: list[str] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    holes: list[Hole] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def line(self, part: Part, points: object, look: Look = "plain", core: bool = True) -> None:
        """Add a line through points, shape (points, 2)."""
        self.lines.append(Line(part, np.asarray(points, dtype=float).reshape(-1, 2), look, core))

    def hole(self, part: Part, at: Array, diameter: float | None = None) -> None:
        """Add a hole."""
        self.holes.append(Hole(part, at, diameter))

    def label(self, at: Array, text: str, bold: bool = False) -> None:
        """Add words."""
        self.labels.append(Label(at, text, bold))

    def scaled(self, factor: float) -> View:
        """The same drawing larger or smaller, its words kept."""
        return View(
            self.name,
            self.notes,
            [replace(line, points=factor * line.points) for line in self.lines],
            [replace(h, at=factor * h.at, diameter=factor * h.diameter if h.diameter else None) for h in self.holes],
            [replace(label, at=factor * label.at) for label in self.labels],
        )

    def bounds(self) -> tuple[Array, Array]:
        """Least and greatest corner of what sets the drawing's size, shape (2,) each."""
        points = [line.points for line in self.lines if line.core]
        for hole in self.holes:
            reach = 0.5 * (hole.diameter or 0.0) + CROSS
            points.append(hole.at + reach * np.array([[-1.0, -1.0], [1.0, 1.0]]))
        every = np.vstack(points)
        return every.min(axis=0), every.max(axis=0)


CROSS = 4.0  # mm: half a centre mark


def cross_at(at: Array, size: float = CROSS) -> tuple[Array, Array]:
    """The two strokes of a centre mark, shape (2, 2) each."""
    across, up = size * np.array([[-1.0, 0.0], [1.0, 0.0]]), size * np.array([[0.0, -1.0], [0.0, 1.0]])
    return at + across, at + up


def circle_at(at: Array, diameter: float) -> Array:
    """Points of a circle, closed, shape (73, 2)."""
    turn = np.linspace(0.0, 2.0 * np.pi, 73)
    return at + 0.5 * diameter * np.stack((np.cos(turn), np.sin(turn)), axis=1)


def resampled(points: Array, step: float) -> Array:
    """Points along a line no farther apart than `step`, its own corners among them, shape (points, 2)."""
    pieces = [points[:1]]
    for begin, end in pairwise(points):
        count = max(1, int(np.ceil(np.hypot(*(end - begin)) / step)))
        pieces.append(begin + np.linspace(0.0, 1.0, count + 1)[1:, None] * (end - begin))
    return np.vstack(pieces)
