"""What a scenario leaves out, filled in and remembered with its reason."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from optimizer.units import Quantity, Unit


class Default(NamedTuple):
    """A value the scenario leaves out: its key path, the value used as shown, and why that one."""

    key: str
    value: str
    why: str


@dataclass
class Defaults:
    """Fills what a scenario leaves out, and remembers each filling once."""

    unit: Unit
    filled: dict[str, Default] = field(default_factory=dict)

    def fill(self, key: str, given: float | None, value: float, quantity: Quantity, why: str) -> float:
        """Return the given value, or else `value` (mm or radians) with the reason noted."""
        if given is not None:
            return given
        self.note(key, self.unit.say(value, quantity), why)
        return value

    def note(self, key: str, shown: str, why: str) -> None:
        """Remember that a key was filled in."""
        self.filled[key] = Default(key, shown, why)
