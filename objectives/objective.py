"""What every objective file hands to the registry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from numpy.typing import NDArray

from objectives.vectors import Array

if TYPE_CHECKING:
    from objectives.corner import Travel
    from objectives.motion import Motion


@dataclass(frozen=True)
class Column:
    """One measured thing.

    Attributes
    ----------
    name
        Identifier.
    title
        Words for an axis or a table head, without unit.
    quantity
        "length" (mm inside), "angle" (radians inside), "ratio" (a plain number) or "text".
    """

    name: str
    title: str
    quantity: Literal["length", "angle", "ratio", "text"]

    @property
    def column(self) -> str:
        """Name in every file and key in `[targets]`: the identifier, with `_deg` behind it for an angle."""
        return f"{self.name}_deg" if self.quantity == "angle" else self.name


@dataclass(frozen=True)
class Pieces:
    """Smooth curves and numbers that a value is made of: a value has kinks where its pieces change places.

    Attributes
    ----------
    of
        Takes the motion of N candidates; returns shape (P, N).
    join
        Takes pieces of shape (P, ...) and the travel of which they were counted; returns values, shape (...).
    """

    of: Callable[[Motion], Array]
    join: Callable[[Array, Travel], Array]


@dataclass(frozen=True, kw_only=True)
class Goal(Column):
    """One thing a builder wants less or more of.

    Attributes
    ----------
    meaning
        One line in the builder's words.
    better
        "less" or "more".
    explains
        Further columns that say why the objective is what it is.
    over_required_travel
        Whether the value means something only where a candidate assembles over the required travel.
    on_by_default
        Whether the search trades it off unless the scenario says otherwise.
    needs
        Keys of the scenario, dotted; at least one of them must be given for it to have a value. None: always has one.
    most
        Scenario key that says how far it is counted, and that number (mm) from the travel.
    must_reach
        What a candidate has to reach (mm), from the travel, where the scenario sets no limit.
    missing
        Why a candidate that assembles may have no value: what a search says of those it leaves out for it.
    """

    quantity: Literal["length", "angle", "ratio"]
    meaning: str
    better: Literal["less", "more"]
    explains: tuple[Column, ...] = ()
    over_required_travel: bool = True
    on_by_default: bool = True
    needs: tuple[str, ...] = ()
    most: tuple[str, Callable[[Travel], float]] | None = None
    must_reach: Callable[[Travel], float] | None = None
    missing: str = ""


@dataclass(frozen=True, kw_only=True)
class Objective(Goal):
    """One thing the wheel does that a builder wants less or more of.

    Attributes
    ----------
    measure
        Takes the motion of N candidates; returns arrays of shape (N,): the objective, then what `explains` names.
    pieces
        What the value is made of, where it has kinks; None where it is smooth in the corner's points.
    """

    measure: Callable[[Motion], tuple[NDArray[Any], ...]]
    pieces: Pieces | None = None
