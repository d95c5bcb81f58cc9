"""What can go wrong in the user's hands; each error knows the exit code of the command line."""

from __future__ import annotations

from dataclasses import dataclass

MOST_SHOWN = 100  # faults of one file in a message: more are one slip many times over
_LONGEST_KEY = 200  # characters of a key in a message


class PivotfrontError(Exception):
    """Something the user can put right; the message is a sentence for them, never a traceback."""

    exit_code = 2


@dataclass(frozen=True)
class Fault:
    """One mistake in a scenario file.

    Attributes
    ----------
    key
        Where, as a key path: ``bodywork.outlines[0][2]``; empty for the file as a whole.
    line
        Line in the file, from 1; None when the mistake has no line.
    value
        What is written there, as written; empty when nothing is.
    sentence
        What is wrong, what is allowed and what to do.
    """

    key: str
    line: int | None
    value: str
    sentence: str

    def __str__(self) -> str:
        line = "" if self.line is None else f"line {self.line}"
        key = self.key if len(self.key) <= _LONGEST_KEY else f"{self.key[:_LONGEST_KEY]} ..."
        what = f"{key} = {self.value}" if key and self.value else key
        where = ", ".join(part for part in (line, what) if part)
        return f"{where}: {self.sentence}" if where else self.sentence


class ScenarioError(PivotfrontError):
    """A scenario that cannot be used; `faults` holds every mistake found, in the order of the file."""

    def __init__(self, name: str, faults: tuple[Fault, ...]) -> None:
        self.name = name
        self.faults = faults
        super().__init__(name, faults)

    def __str__(self) -> str:
        if len(self.faults) == 1:
            return f"{self.name}, {self.faults[0]}"
        lines = [f"{self.name}: {len(self.faults)} faults", *(f"  {fault}" for fault in self.faults[:MOST_SHOWN])]
        if len(self.faults) > MOST_SHOWN:
            lines.append(f"  and {len(self.faults) - MOST_SHOWN:,} more; mend these first")
        return "\n".join(lines)


class ResultsError(PivotfrontError):
    """A directory of results that exists already, cannot be read, or comes from a newer version."""


class NoUsableCandidate(PivotfrontError):  # noqa: N818 - names what happened, as the message does
    """No candidate meets every limit."""

    exit_code = 3
