"""True fronts of ZDT1, ZDT2 and ZDT3: which rows are non-dominated, and the volume they dominate.

E. Zitzler, K. Deb and L. Thiele, Comparison of multiobjective evolutionary algorithms: empirical results, Evolutionary
Computation 8(2), 2000 (fronts from memory). ZDT1: f2 = 1 - sqrt f1; ZDT2: f2 = 1 - f1^2; ZDT3: f2 = 1 - sqrt f1 -
f1 sin(10 pi f1), of which five pieces are non-dominated. Reference (11, 11). Volumes of the first two follow from the
integrals: 110 beside the front, and 10 + 2/3 or 10 + 1/3 over it. ZDT3's pieces are given by their ends to ten figures
(Deb, as repeated in test suites; from memory), its volume, 128.7781, likewise from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.front import hypervolume, non_dominated

REFERENCE = np.array([11.0, 11.0])
PIECES = (
    (0.0, 0.0830015349),
    (0.1822287280, 0.2577623634),
    (0.4093136748, 0.4538821041),
    (0.6183967944, 0.6525117038),
    (0.8233317983, 0.8518328654),
)
STEP = 2.5e-5  # of f1; a piece's end lies up to a step beyond the last row that is kept


@pytest.mark.parametrize(("power", "volume"), [(0.5, 120 + 2 / 3), (2.0, 120 + 1 / 3)], ids=["ZDT1", "ZDT2"])
def test_volume(power: float, volume: float) -> None:
    f1 = np.linspace(0, 1, 4001)
    found = hypervolume(np.column_stack((f1, 1 - f1**power)), REFERENCE)
    # A staircase of steps h under a front falling by 1 misses less than h.
    assert volume - 1 / 4000 < found < volume


@pytest.fixture(scope="module")
def zdt3() -> np.ndarray:
    f1 = np.linspace(0.0, 1.0, 40001)
    return np.column_stack((f1, 1.0 - np.sqrt(f1) - f1 * np.sin(10.0 * np.pi * f1)))


def test_the_five_pieces_of_zdt3(zdt3: np.ndarray) -> None:
    kept = non_dominated(zdt3)
    gaps = np.flatnonzero(np.diff(kept) > 1)
    begins, ends = kept[np.append(0, gaps + 1)], kept[np.append(gaps, -1)]
    assert np.column_stack((zdt3[begins, 0], zdt3[ends, 0])) == pytest.approx(np.array(PIECES), abs=STEP)


def test_volume_of_zdt3(zdt3: np.ndarray) -> None:
    """A staircase misses less than its steps times the front's fall, and the figure is rounded to four decimals."""
    fall = 1.0 - zdt3[:, 1].min()
    assert 128.7781 - 5e-5 - fall * STEP < hypervolume(zdt3, REFERENCE) < 128.7781 + 5e-5
