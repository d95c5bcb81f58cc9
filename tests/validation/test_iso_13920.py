"""General tolerances of welded constructions, linear dimensions.

ISO 13920, Welding: general tolerances for welded constructions, table 1 (1996 edition, from memory; the figures of
classes A to D from 30 to 2000 mm seen in a published table, those of 2 to 30 mm and 2000 to 4000 mm from memory). Plus
or minus, whole mm, by nominal size in ranges "over ... up to and including ...". Printed figures are taken as they
stand: no tolerance.
"""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.iso_tolerances import CLASSES, read_class

ENDS = np.array([2.0, 30.0, 120.0, 400.0, 1000.0, 2000.0, 4000.0])  # mm
SEEN = {"A": (1, 1, 2, 3), "B": (2, 2, 3, 4), "C": (3, 4, 6, 8), "D": (4, 7, 9, 12)}  # over 30 to 2000
RECALLED = {"A": (1, 4), "B": (1, 6), "C": (1, 11), "D": (1, 16)}  # 2 to 30, over 2000 to 4000
JUST_OVER = 0.001  # mm


@pytest.mark.parametrize("letter", SEEN)
def test_table_1(letter: str) -> None:
    held, printed = read_class(f"ISO 13920-{letter}"), [RECALLED[letter][0], *SEEN[letter], RECALLED[letter][1]]
    assert held.at(ENDS[:-1] + JUST_OVER).tolist() == printed
    assert held.at(ENDS[1:]).tolist() == printed  # a range holds its upper end
    assert (held.shortest, held.longest) == (ENDS[0], ENDS[-1])


def test_there_are_no_other_classes() -> None:
    assert CLASSES["ISO 13920"].keys() == SEEN.keys()
