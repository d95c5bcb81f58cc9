"""Tables as CSV that a spreadsheet shows as it stands: words in them never become formulas."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from numbers import Integral
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

_FORMULAS = ("=", "+", "-", "@")
"""Beginnings of a cell that spreadsheets take for a formula; common practice, no source."""


def as_csv(table: Mapping[str, Any] | list[dict[str, Any]] | pd.DataFrame) -> str:
    """Write a table as CSV, one line for each row, whatever its words hold.

    Words that begin as a formula does get an apostrophe before them: a file name, a part's name, or a tape dimension
    such as "-1/16 in". Numbers stay as they are.

    Examples
    --------
    >>> print(as_csv({"name": ["=1+1", "tank"], "tape": ["-1/16 in", "2 in"], "y": [-1.5, 50.8]}), end="")
    name,tape,y
    '=1+1,'-1/16 in,-1.5
    tank,2 in,50.8
    >>> print(as_csv([{"case": 1.0, "usable": 20}, {"case": 2.0}]), end="")
    case,usable
    1.0,20
    2.0,
    """
    import pandas as pd

    frame = pd.DataFrame(table)
    if isinstance(table, list):  # where a row lacks a count, the others are none the less whole
        frame = frame.astype({name: "Int64" for name in frame.columns if _counts(row.get(name) for row in table)})
    frame = frame.set_axis([_plain(name) for name in frame.columns], axis="columns")
    words = [name for name in frame.columns if not pd.api.types.is_numeric_dtype(frame[name])]
    frame = frame.assign(**{name: frame[name].map(_plain) for name in words})
    return frame.to_csv(index=False, lineterminator="\n")


def write_csv(file: Path, table: Mapping[str, Any] | list[dict[str, Any]] | pd.DataFrame) -> None:
    """Write a table to a file, as `as_csv` does."""
    file.write_text(as_csv(table), encoding="utf-8", newline="\n")


def _counts(cells: Iterable[Any]) -> bool:
    """Whether there are whole numbers and nothing else, cells without any left aside."""
    given = [cell for cell in cells if cell is not None]
    return bool(given) and all(isinstance(cell, Integral) and not isinstance(cell, bool) for cell in given)


def _plain(cell: Any) -> Any:
    if not isinstance(cell, str):
        return cell
    line = " ".join(cell.split())
    return f"'{line}" if line.startswith(_FORMULAS) else line
