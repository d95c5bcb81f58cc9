"""Parts with a thickness, and what stands in their way: only what the builder gives, all of it optional; mm."""

from __future__ import annotations

from dataclasses import dataclass

from objectives.vectors import Array


@dataclass(frozen=True)
class Obstacle:
    """Something round in cross-section that runs straight fore and aft, as the bodywork does.

    `points`, shape (points, 2), are y and z of its centre line in the front view: one point is a disc, more are
    joined by straight pieces, all of the same `radius`.
    """

    name: str
    points: Array
    radius: float


@dataclass(frozen=True)
class Tube:
    """What an arm is made of: radius, and x of the bushings on its inner axis, front and rear.

    Without `legs_x` the arm is one tube from its outer pivot square to the inner axis.
    """

    radius: float
    legs_x: tuple[float, float] | None = None


@dataclass(frozen=True)
class Rim:
    """A rim turned about the spin axis, its centre plane that of the tyre.

    Attributes
    ----------
    radius
        Of the bead seat.
    width
        Over the barrel.
    inner_radius
        Of the barrel, where it reaches farthest in.
    offset
        From the centre plane outboard to the mounting face; from there outboard the rim counts as closed.
    """

    radius: float
    width: float
    inner_radius: float
    offset: float


@dataclass(frozen=True)
class Parts:
    """Everything of a corner that may meet something; a part without a size is left out."""

    obstacles: tuple[Obstacle, ...] = ()
    upper_arm: Tube | None = None
    lower_arm: Tube | None = None
    tie_rod_radius: float | None = None
    rim: Rim | None = None
