"""Aims and limits written back into a scenario's text, everything else of it left as it is, comments too."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from objectives.objective import Goal
from optimizer.errors import ResultsError
from optimizer.units import INCH, Unit, read_number

if TYPE_CHECKING:
    from tomlkit.container import Container

Which = Literal["aim", "limit"]


def with_target(text: str, unit: Unit, objective: Goal, which: Which, typed: str) -> str:
    """A scenario's text with one aim or limit set as typed, or taken out where nothing is typed.

    Parameters
    ----------
    text
        A scenario that can be read.
    unit
        Its unit.
    objective, which
        Whose aim or limit.
    typed
        Length in the scenario's unit, inch fractions accepted, or degrees.

    Raises
    ------
    ResultsError
        What was typed is no such number, or the text cannot be taken apart.
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        targets = _table_in(document, "targets")
        written = targets.get(objective.column, {}).get(which)
        value = _value(unit, objective, typed.strip(), written)
        _put(targets, objective.column, which, value)
        changed = tomlkit.dumps(document)
        if changed.count("\n") == text.count("\n") and objective.column not in tomlkit.parse(text).get("targets", {}):
            targets.add(tomlkit.nl())  # a new line at a table's end takes the place of the blank one behind it
            changed = tomlkit.dumps(document)
        return changed.replace("\r\n", "\n").replace("\n", "\r\n") if "\r\n" in text else changed
    except TOMLKitError as error:
        raise ResultsError(f"the scenario's text cannot be changed here: {error}; change it in an editor") from None


def _table_in(document: Container, name: str) -> Any:
    import tomlkit

    if name not in document:
        document.add(tomlkit.nl())
        document.add(name, tomlkit.table())
    return document[name]


def _value(unit: Unit, objective: Goal, typed: str, written: object) -> Any:
    """What goes into the file: a number, or in inches a fraction in quotes, as the file had it or as it was typed."""
    if not typed:
        return None
    plain = typed.replace(",", ".").replace("\N{MINUS SIGN}", "-")
    try:
        length = objective.quantity == "length"
        number = unit.from_mm(unit.parse_length(plain)) if length else read_number(float(plain))
    except ValueError as error:
        sentence = str(error) if objective.quantity == "length" else "is not a number; write degrees"
        raise ResultsError(f"{objective.title} {typed!r}: {sentence}") from None
    if "/" in plain or (isinstance(written, str) and unit is INCH):
        return " ".join(plain.split())
    whole = isinstance(written, int) and not isinstance(written, bool) and number == int(number)
    return int(number) if whole else number


def _put(targets: Any, column: str, which: Which, value: Any) -> None:
    """Set or take out one key; tables written on a line stay on it, with the comment behind them."""
    import tomlkit
    from tomlkit.items import InlineTable

    found = targets.get(column)
    if found is not None and not isinstance(found, InlineTable):
        if value is None:
            found.pop(which, None)
        else:
            found[which] = value
        return
    kept = {} if found is None else {key: found[key] for key in found}
    kept.pop(which, None) if value is None else kept.update({which: value})
    order = [key for key in ("aim", "limit", "objective") if key in kept]
    made = tomlkit.inline_table()
    for key in order:
        made.append(key, kept[key])
    line = made.as_string().strip("{} ")
    fresh = tomlkit.parse(f"x = {{ {line} }}" if line else "x = {}")["x"]
    if found is not None:
        fresh.trivia.comment, fresh.trivia.comment_ws = found.trivia.comment, found.trivia.comment_ws
        fresh.trivia.trail = found.trivia.trail
    targets[column] = fresh
