"""The compiled functions say of every scenario what the arrays say."""

from __future__ import annotations

from unittest.mock import patch

import pytest
from hypothesis import given

from objectives import compiled
from objectives.evaluate import measure, measure_compiled
from tests.properties.alike import assert_alike
from tests.properties.drafts import Case
from tests.properties.strategies import cases, examples


@pytest.mark.skipif(not compiled.available(), reason="numba is not installed")
@examples(2.0)
@given(cases(count=7))
def test_compiled_is_the_same(case: Case) -> None:
    corner, candidates = case.scenario.corner, case.candidates()
    found = measure_compiled(corner, candidates, compiled.NAMES)
    with patch.object(compiled, "MANY", 1_000_000):
        expected = measure(corner, candidates, compiled.NAMES)
    assert_alike(found, expected, corner)
