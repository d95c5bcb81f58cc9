"""Results that were edited or damaged since they were written: a sentence, and nothing else."""

from __future__ import annotations

import json
import os
import random
from pathlib import Path

import pytest

from optimizer.errors import ResultsError
from optimizer.outputs import KEPT, PIVOT, SCENARIO, read_pick, read_start, write_front
from optimizer.results import RECORD, digest, new_directory, write_record
from tests.bad_input import bounded
from tests.commands import run
from tests.fronts import SCENARIOS, brief_front

TIGHT = SCENARIOS / "tight.toml"


def test_what_was_kept_damaged_and_its_fingerprint_with_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimizer.front_pictures.write_pictures", lambda *_words: [])
    monkeypatch.setattr("optimizer.front_page.front_page", lambda *_parts: "page")
    front = brief_front("tight", budget=500)
    with new_directory(tmp_path / "front", kind="search", force=False) as folder:
        write_front(front, folder, seed=1)
    kept, record = tmp_path / "front" / KEPT, tmp_path / "front" / RECORD
    assert front.found is not None
    assert len(read_start(tmp_path / "front").x) == len(front.found.x)
    whole, content = kept.read_bytes(), json.loads(record.read_text())
    chance, said = random.Random(1), list[str]()
    for _ in range(60):
        damaged = bytearray(whole)
        at = chance.randrange(len(damaged))
        damaged[at : at + chance.choice((1, 8, 500))] = chance.randbytes(chance.choice((0, 1, 8)))
        kept.write_bytes(damaged)
        content["sha256"][KEPT] = digest(kept)
        record.write_text(json.dumps(content))
        try:
            read_start(tmp_path / "front")  # a flag that nobody reads may have changed
        except ResultsError as error:
            said.append(str(error))
    assert len(said) > 40
    assert all("changed by hand" in words for words in said)


@pytest.fixture
def pick(tmp_path: Path) -> Path:
    """What `read_pick` reads of a pick: record, scenario and pivot."""
    built = {
        "pivot_y": 245.0,
        "pivot_z": 225.0,
        "static_camber_deg": -1.5,
        "inner_joint_y": 200.0,
        "inner_joint_z": 80.0,
    }
    with new_directory(tmp_path / "chosen", kind="pick", force=False) as folder:
        (folder / SCENARIO).write_bytes(TIGHT.read_bytes())
        (folder / PIVOT).write_text(json.dumps({"as_built": built}))
        write_record(folder, "pick", {"sha256": {name: digest(folder / name) for name in (SCENARIO, PIVOT)}})
    return tmp_path / "chosen"


class TestChangedPick:
    def test_as_it_was_written_it_is_read(self, pick: Path) -> None:
        assert read_pick(pick).pivot_y == 245.0

    @pytest.mark.parametrize("name", [PIVOT, SCENARIO])
    def test_a_changed_file_is_refused(self, name: str, pick: Path) -> None:
        (pick / name).write_text((pick / name).read_text(encoding="utf-8") + "\n", encoding="utf-8")
        with pytest.raises(ResultsError, match="was changed since the pick; undo the change, or pick again"):
            read_pick(pick)
        (pick / name).unlink()
        with pytest.raises(ResultsError, match="cannot be read"):
            read_pick(pick)

    @pytest.mark.parametrize(
        "text",
        [
            "",
            "[]",
            "{}",
            '{"as_built": 3}',
            "[" * 100_000,
            *(
                f'{{"as_built": {{"pivot_y": {y}, "pivot_z": 225, "static_camber_deg": {camber}, "upper_hole": {hole}, '
                f'"inner_joint_y": {joint}, "inner_joint_z": 80}}}}'
                for y, camber, hole, joint in (
                    ("NaN", -1.5, 1, 200),
                    ("1e999", -1.5, 1, 200),
                    ('"wide"', -1.5, 1, 200),
                    (245, "null", 1, 200),
                    (245, -1.5, "1e999", 200),
                    (245, -1.5, 99, 200),
                    (245, -1.5, 0, 200),
                    (245, -1.5, 1, "NaN"),
                    (245, -1.5, 1, "[]"),
                )
            ),
        ],
    )
    def test_a_pivot_edited_and_its_fingerprint_with_it(self, text: str, pick: Path) -> None:
        (pick / PIVOT).write_text(text)
        write_record(pick, "pick", {"sha256": {name: digest(pick / name) for name in (SCENARIO, PIVOT)}})
        with pytest.raises(ResultsError, match="is damaged"):
            read_pick(pick)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no pipes with names")
def test_a_pipe_in_place_of_a_file_is_not_waited_for(pick: Path, tmp_path: Path) -> None:
    """Opening one nobody writes to would wait for ever."""
    for name in ("pipe", "pipe.png"):
        os.mkfifo(tmp_path / name)
    with bounded(300.0, wall=True):  # a hang, not a slow machine
        assert "is a pipe or a device" in run("check", tmp_path / "pipe", code=2).stderr
        assert "is no picture" in run("check", TIGHT, "--picture", tmp_path / "pipe.png", code=2).stderr
        assert "is no file" in run("measure", pick, tmp_path / "pipe", code=2).stderr
        (pick / PIVOT).unlink()
        os.mkfifo(pick / PIVOT)
        assert "it is no file" in run("measure", pick, tmp_path / "pipe", code=2).stderr
        (pick / RECORD).unlink()
        os.mkfifo(pick / RECORD)
        assert "holds no results" in run("measure", pick, tmp_path / "pipe", code=2).stderr
        assert "holds no results" in run("try", TIGHT, "--pivot", 245, 225, "--out", pick, "--force", code=2).stderr
