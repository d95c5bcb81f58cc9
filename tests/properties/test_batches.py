"""What is measured of a candidate does not depend on the candidates beside it.

Not to the last bit: matrix products sum in another order for other shapes.
"""

from __future__ import annotations

from random import Random
from unittest.mock import patch

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from objectives import evaluate
from objectives.evaluate import measure
from tests.properties.alike import assert_alike, rows
from tests.properties.drafts import Case
from tests.properties.strategies import cases, examples


@examples()
@given(cases(count=7), st.integers(1, 3), st.randoms(use_true_random=False))
def test_neither_order_nor_chunk_nor_number_matters(case: Case, chunk: int, random: Random) -> None:
    """In chunks of one a candidate is measured alone."""
    corner, candidates = case.scenario.corner, case.candidates()
    together = measure(corner, candidates)
    order = np.array(random.sample(range(candidates.count), candidates.count))
    with patch.object(evaluate, "CHUNK", chunk):
        apart = measure(corner, candidates.take(order))
    assert_alike(apart, rows(together, order), corner)
