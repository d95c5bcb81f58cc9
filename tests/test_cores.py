"""Candidates measured on several cores at once."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np
import pytest

from objectives.corner import Candidates
from optimizer import cores
from optimizer.scenario import load_scenario

SCENARIO = load_scenario(Path(__file__).parent.parent / "scenarios" / "tight.toml")


def drawn(count: int) -> Candidates:
    rng, space = np.random.default_rng(4), SCENARIO.space
    spans = (space.pivot_y, space.pivot_z, space.static_camber)
    return Candidates(*(rng.uniform(low, high, count) for low, high in spans))


def test_two_cores_give_what_one_gives_to_the_last_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    candidates = drawn(2 * cores.BLOCK + 40)
    monkeypatch.setattr(cores, "cores", lambda: 1)
    alone = cores.measure_on_all_cores(SCENARIO.corner, candidates)
    monkeypatch.setattr(cores, "cores", lambda: 2)
    shared = cores.measure_on_all_cores(SCENARIO.corner, candidates)
    assert alone.keys() == shared.keys()
    for name, column in alone.items():
        assert np.array_equal(column, shared[name], equal_nan=column.dtype.kind == "f"), name


def test_no_candidate_is_no_row() -> None:
    measured = cores.measure_on_all_cores(SCENARIO.corner, drawn(0))
    assert {column.shape for column in measured.values()} == {(0,)}


@pytest.mark.parametrize("count", [1, 2])
def test_jobs_begun_are_done_after_waiting(count: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: count)
    files = [tmp_path / name for name in ("one", "two", "three")]
    wait = cores.begin(partial(file.write_text, file.name) for file in files)
    wait()
    assert [file.read_text() for file in files] == ["one", "two", "three"]


def test_a_job_that_fails_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: 2)
    wait = cores.begin([partial(int, "a pivot")])
    with pytest.raises(ValueError, match="a pivot"):
        wait()
