"""Tables as CSV that a spreadsheet shows as it stands: words in them never become formulas."""

from __future__ import annotations

from collections.abc import Mapping
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
    """
    import pandas as pd

    frame = pd.DataFrame(table)
    frame = frame.set_axis([_plain(name) for name in frame.columns], axis="columns")
    words = [name for name in frame.columns if not pd.api.types.is_numeric_dtype(frame[name])]
    frame = frame.assign(**{name: frame[name].map(_plain) for name in words})
    return frame.to_csv(index=False, lineterminator="\n")


def write_csv(file: Path, table: Mapping[str, Any] | list[dict[str, Any]] | pd.DataFrame) -> None:
    """Write a table to a file, as `as_csv` does."""
    file.write_text(as_csv(table), encoding="utf-8", newline="\n")


def _plain(cell: Any) -> Any:
    if not isinstance(cell, str):
        return cell
    line = " ".join(cell.split())
    return f"'{line}" if line.startswith(_FORMULAS) else line
