"""General tolerances of linear dimensions that bear none of their own.

ISO 2768-1, General tolerances, part 1, table 1 (1989 edition, from memory; classes m and c from 30 to 2000 mm seen in a
published table, everything else from memory). Plus or minus, mm, by nominal size in ranges "over ... up to and
including ...", the first from 0.5 mm. Printed figures are taken as they stand: no tolerance.
"""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.iso_tolerances import CLASSES, read_class

ENDS = np.array([0.5, 3.0, 6.0, 30.0, 120.0, 400.0, 1000.0, 2000.0, 4000.0])  # mm
SEEN = {"m": (0.3, 0.5, 0.8, 1.2), "c": (0.8, 1.2, 2.0, 3.0)}  # over 30 to 2000
RECALLED = {  # by number of the first range
    "f": (0, (0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5)),
    "m": (0, (0.1, 0.1, 0.2, *SEEN["m"], 2.0)),
    "c": (0, (0.2, 0.3, 0.5, *SEEN["c"], 4.0)),
    "v": (1, (0.5, 1.0, 1.5, 2.5, 4.0, 6.0, 8.0)),
}
JUST_OVER = 0.001  # mm


@pytest.mark.parametrize("letter", RECALLED)
def test_table_1(letter: str) -> None:
    first, printed = RECALLED[letter]
    held, ends = read_class(f"ISO 2768-{letter}"), ENDS[first : first + len(printed) + 1]
    assert held.at(ends[:-1] + JUST_OVER).tolist() == list(printed)
    assert held.at(ends[1:]).tolist() == list(printed)
    assert (held.shortest, held.longest) == (ends[0], ends[-1])


def test_there_are_no_other_classes() -> None:
    assert CLASSES["ISO 2768"].keys() == RECALLED.keys()
