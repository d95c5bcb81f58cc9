"""Searches that end otherwise than by a budget, and go on later."""

from __future__ import annotations

import json
import os
import signal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from optimizer import watching
from optimizer.cli import app
from optimizer.errors import ResultsError
from optimizer.outputs import read_start
from optimizer.results import digest
from optimizer.watching import ending_of, stopped_by_hand
from tests.commands import run_apart

TIGHT = str(Path(__file__).parent.parent / "scenarios" / "tight.toml")
BUDGET = 600


def run(*words: str) -> str:
    done = CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def record(place: Path) -> dict:
    return json.loads((place / "run.json").read_text())


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(watching, "BUDGET", BUDGET)
    # tables and what was kept are looked at here, no picture and no page
    monkeypatch.setattr("optimizer.front_pictures.PICTURES", {})
    monkeypatch.setattr("optimizer.front_page.front_page", lambda *_: "")


def test_a_search_resumed_goes_on_in_its_own_place(tmp_path: Path) -> None:
    place = tmp_path / "front"
    run("search", TIGHT, "--out", str(place))
    first, kept = record(place), read_start(place)
    assert (first["evaluated"], first["ended"], first["kept"]) == (BUDGET, "budget", len(kept.x))
    elsewhere = tmp_path / "further"
    run("search", "--resume", str(place), "--out", str(elsewhere))
    run("search", "--resume", str(place))
    for again in (place, elsewhere):
        assert record(again)["evaluated"] == 2 * BUDGET
        assert record(again)["history"][: len(first["history"])] == first["history"]
        for row in kept.costs:
            assert (read_start(again).costs <= row).all(axis=1).any()
    assert pd.read_csv(place / "front.csv").equals(pd.read_csv(elsewhere / "front.csv"))


def test_what_was_kept_is_not_taken_on_trust(tmp_path: Path) -> None:
    place = tmp_path / "front"
    run("search", TIGHT, "--out", str(place))
    with np.load(place / "kept.npz") as kept:
        np.savez_compressed(place / "kept.npz", x=kept["x"], costs=0.5 * kept["costs"])
    with pytest.raises(ResultsError, match=r"kept\.npz was changed"):
        run("search", "--resume", str(place))
    sound = dict(np.load(place / "kept.npz"))
    for name, values in {
        "x": sound["x"][:, 1:],
        "costs": np.full_like(sound["costs"], np.nan),
        "y": sound["x"],
        "object": np.array([{}], dtype=object),
    }.items():
        changed = {**sound, name: values} if name in sound else {name: values}
        np.savez_compressed(place / "kept.npz", **changed)
        sealed = {**record(place), "sha256": {**record(place)["sha256"], "kept.npz": digest(place / "kept.npz")}}
        (place / "run.json").write_text(json.dumps(sealed))
        with pytest.raises(ResultsError, match=r"kept\.npz was changed by hand"):
            run("search", "--resume", str(place))
    (place / "kept.npz").unlink()
    with pytest.raises(ResultsError, match=r"kept\.npz cannot be read"):
        run("search", "--resume", str(place))


def test_time_ends_a_search(tmp_path: Path) -> None:
    """In a process of its own, with pictures and page: a search as it is typed."""
    said = run_apart("search", TIGHT, "--out", tmp_path / "front", "--time", "0.5s").stdout
    assert record(tmp_path / "front")["ended"] == "time"
    names = {path.name for path in (tmp_path / "front").iterdir()}
    assert {"front.csv", "front.html", "tradeoffs.png"} <= names == set(record(tmp_path / "front")["files"])
    assert f"open {tmp_path / 'front' / 'front.html'} in a browser to look at all" in said


@pytest.mark.parametrize("time", ["5", "5 min", "-3s", "0s", "1e3s", "101h", "soon", ""])
def test_a_time_has_its_unit(time: str) -> None:
    with pytest.raises(ResultsError, match="such as 90s, 5m or 2h"):
        ending_of(time, until_quiet=False)


def test_ends_as_the_builder_says() -> None:
    assert ending_of(None, until_quiet=False).budget == BUDGET
    timed = ending_of("1.5 m", until_quiet=True)
    assert (timed.budget, timed.seconds, timed.quiet) == (None, 90.0, True)


def test_a_scenario_or_an_earlier_search() -> None:
    for words in (["search"], ["search", TIGHT, "--resume", "front"]):
        with pytest.raises(ResultsError, match="one of the two"):
            run(*words)


def test_the_first_ctrl_c_asks_and_the_second_insists(capsys: pytest.CaptureFixture[str]) -> None:
    before = signal.getsignal(signal.SIGINT)
    with stopped_by_hand() as asked:
        assert not asked()
        os.kill(os.getpid(), signal.SIGINT)
        assert asked()
        assert "the front so far is kept" in capsys.readouterr().err
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before
