"""Nothing is lost: killed processes, full disks, taken places, results that were changed or are newer."""

from __future__ import annotations

import errno
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from optimizer import cli, drafts
from optimizer.drafts import EARLIER, NEW, draft_beside, put_right
from optimizer.errors import ResultsError
from optimizer.front_search import Front
from optimizer.outputs import read_front, write_front
from optimizer.results import RECORD, digest, new_directory
from optimizer.scenario import Scenario
from tests.fronts import SCENARIOS, brief_front
from tests.killed_writer import KILLS, number_of, write

ROOT = Path(__file__).parent.parent
TIGHT = SCENARIOS / "tight.toml"
TRY = ("try", TIGHT, "--pivot", 245, 225, "--out", "one")


def contents(folder: Path) -> dict[str, bytes | None]:
    """Every file of a folder and below, hidden ones as well; folders and links hold None."""
    found = {str(path.relative_to(folder)): path for path in folder.rglob("*")}
    return {n: None if p.is_dir() or p.is_symlink() else p.read_bytes() for n, p in found.items()}


@pytest.fixture
def command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    """Run a command in an empty folder, in this process; return what it says on stderr."""
    monkeypatch.chdir(tmp_path)

    def run(*words: object, code: int = 0) -> str:
        monkeypatch.setattr(sys, "argv", ["pivotfront", *map(str, words)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr().err
        assert (ended.value.code or 0) == code, said
        return said

    return run


@pytest.mark.skipif(not hasattr(os, "fork"), reason="children are made by fork")
@pytest.mark.parametrize("moments", ["random", "every"])
@pytest.mark.parametrize("mode", ["new", "force", "two-steps"])
def test_killed_while_writing(moments: str, mode: str, tmp_path: Path) -> None:
    folder = tmp_path / "work"
    folder.mkdir()
    words = [sys.executable, "-m", "tests.killed_writer", str(folder), moments, mode]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    found = re.fullmatch(r"(\d+) kills, (\d+) with nothing at the place\n", done.stdout)
    assert found
    kills, absent = map(int, found.groups())
    assert kills >= (KILLS if moments == "random" else 20)
    if mode != "new" and moments == "every":
        # a system that exchanges folders is never seen without one; any other is at one moment, and is put right
        assert absent == (mode == "two-steps")
        assert (mode == "two-steps") == (b"are back" in done.stderr.encode())


class TestLeftBehind:
    def test_a_draft_in_use_is_left_alone_and_any_other_goes(self, tmp_path: Path) -> None:
        with draft_beside(tmp_path / "front") as mine:
            mine.mkdir()
            (tmp_path / ".front.pivotfront-dead/new").mkdir(parents=True)
            (tmp_path / ".mine").mkdir()
            put_right(tmp_path)
            assert mine.is_dir()
            assert sorted(p.name for p in tmp_path.iterdir()) == [mine.parent.name, ".mine"]
        assert [p.name for p in tmp_path.iterdir()] == [".mine"]

    def test_earlier_results_come_back_before_they_are_read(self, command: Callable[..., str], tmp_path: Path) -> None:
        write(tmp_path / "front", 1, force=False)
        holder = tmp_path / ".front.pivotfront-dead"
        (holder / NEW).mkdir(parents=True)
        (tmp_path / "front").rename(holder / EARLIER)
        said = command("pick", "front", code=2)
        assert "its earlier results are back" in said
        assert number_of(tmp_path / "front") == 1
        assert not holder.exists()

    def test_earlier_results_are_kept_where_their_place_is_taken(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        holder = tmp_path / ".front.pivotfront-dead"
        (holder / NEW).mkdir(parents=True)
        write(holder / EARLIER, 1, force=False)
        (tmp_path / "front").mkdir()
        put_right(tmp_path)
        assert f"its earlier results are in {holder / EARLIER}" in capsys.readouterr().err
        assert number_of(holder / EARLIER) == 1


@contextmanager
def no_space(after: int) -> Iterator[list[str]]:
    """Let so many files be opened for writing, then none: the disk is full. Gives the names of those opened."""
    opened: list[str] = []
    _FULL.append((after, opened))
    try:
        yield opened
    finally:
        _FULL.clear()


_FULL: list[tuple[int, list[str]]] = []


def _refuse(event: str, arguments: tuple[Any, ...]) -> None:
    if event == "open" and _FULL and drafts._MARK in str(arguments[0]) and arguments[2] & (os.O_WRONLY | os.O_RDWR):
        after, opened = _FULL[0]
        opened.append(Path(str(arguments[0])).name)
        if len(opened) > after:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


sys.addaudithook(_refuse)


@pytest.fixture
def plain_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures and page with next to nothing in them: what matters here is that they are written."""

    def write_pictures(_scenario: Scenario, folder: Path, pictures: dict[str, object], *_shown: object) -> list[Path]:
        files = [folder / f"{name}.{kind}" for name in pictures for kind in ("png", "svg")]
        for file in files:
            file.write_bytes(b"picture")
        return files

    monkeypatch.setattr("optimizer.pictures.write_pictures", write_pictures)
    monkeypatch.setattr("optimizer.front_pictures.write_pictures", write_pictures)
    monkeypatch.setattr("optimizer.weld_pictures.write_pictures", write_pictures)
    monkeypatch.setattr("optimizer.pictures.draw_front_view", lambda _one, file, made_by: file.write_text(made_by))
    monkeypatch.setattr("optimizer.front_page.front_page", lambda *_parts: "page")
    monkeypatch.setattr("matplotlib.figure.Figure.draw", lambda *_parts: None)  # sheets of paper are written blank
    monkeypatch.setattr("optimizer.template_pages.lettered", lambda _view, _tiling: [])
    monkeypatch.setattr("optimizer.build_page._fill", lambda _page, *_words: 100.0)


@pytest.fixture(scope="module")
def front() -> Front:
    return brief_front("tight", budget=500)


def remembered(function: Callable[..., Any]) -> Callable[..., Any]:
    """The function, called once: its first answer is every answer."""
    answers: list[Any] = []

    def answer(*words: object) -> Any:
        if not answers:
            answers.append(function(*words))
        return answers[0]

    return answer


@pytest.mark.usefixtures("plain_pictures")
@pytest.mark.parametrize(
    ("words", "made"),
    [
        (("new", "mine.toml"), "mine.toml"),
        (("check", TIGHT, "--picture", "view.png"), "view.png"),
        ((*TRY, "--force"), "one"),
        (("search", TIGHT, "--out", "found", "--force"), "found"),
        (("pick", "found", "--id", 1, "--out", "chosen", "--force", "--paper", "roll"), "chosen"),
    ],
)
def test_a_full_disk_at_every_kind_of_file_in_turn(
    words: tuple[object, ...],
    made: str,
    command: Callable[..., str],
    front: Front,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("optimizer.front_search.search", lambda *_words, **_more: front)
    monkeypatch.setattr("optimizer.outputs.read_front", lambda _folder: front)
    monkeypatch.setattr("optimizer.outputs.rounded", lambda _problem, candidate: candidate)
    monkeypatch.setattr("optimizer.cores.cores", lambda: 1)  # so that every file is written by this process
    # the same for every run: worked out once
    for slow in ("outputs.build_figures", "outputs.weld_region", "shop_files.build_blocks", "shop_files.views_of"):
        module, name = slow.split(".")
        monkeypatch.setattr(f"optimizer.{slow}", remembered(getattr(import_module(f"optimizer.{module}"), name)))
    monkeypatch.setattr(Front, "candidate", remembered(Front.candidate))
    with no_space(after=10_000) as opened:
        command(*words)
    files = {Path(name).name for name in contents(tmp_path)} - {made}
    assert opened
    assert set(opened) - {NEW} == files or files == set()
    if files == set():
        (tmp_path / made).unlink()
    before = contents(tmp_path)
    # one file of every kind as it is written, and one of them as it is handed to the disk
    kinds = [Path(name).suffix for name in opened]
    for after in (*(at for at, kind in enumerate(kinds) if kind not in kinds[:at]), len(opened) - 1):
        with no_space(after):
            said = command(*words, code=2)
        assert "No space left on device" in said
        assert contents(tmp_path) == before, f"changed by a full disk at {opened[after]}"


@pytest.mark.usefixtures("plain_pictures")
class TestPlaces:
    def test_a_file_too_large_for_the_disk(self, command: Callable[..., str], tmp_path: Path) -> None:
        resource = pytest.importorskip("resource")
        command(*TRY)
        before, (_, hard) = contents(tmp_path), resource.getrlimit(resource.RLIMIT_FSIZE)
        for size in (0, 100, 1000):  # the system itself refuses the rest of a file
            resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
            try:
                said = command(*TRY, "--force", code=2)
            finally:
                resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
            assert "nothing was changed" in said
            assert contents(tmp_path) == before

    def test_a_folder_that_cannot_be_written(
        self, command: Callable[..., str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(*_words: object, **_more: object) -> str:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

        monkeypatch.setattr("tempfile.mkdtemp", refuse)  # root writes everywhere, so folders' modes are no test
        before = contents(tmp_path)
        for words in (TRY, ("new", "a.toml"), ("check", TIGHT, "--picture", "a.png")):
            assert "Permission denied" in command(*words, code=2)
        assert contents(tmp_path) == before

    @pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="no folder is closed to root")
    def test_a_folder_closed_by_its_mode(self, command: Callable[..., str], tmp_path: Path) -> None:
        tmp_path.chmod(0o500)
        try:
            assert "Permission denied" in command(*TRY, code=2)
        finally:
            tmp_path.chmod(0o700)

    def test_missing_folders_are_made_for_results_alone(self, command: Callable[..., str], tmp_path: Path) -> None:
        command(*TRY[:-1], "a/b/one")
        assert (tmp_path / "a/b/one" / RECORD).exists()
        assert "No such file or directory" in command("new", "c/mine.toml", code=2)
        assert "No such file or directory" in command("check", TIGHT, "--picture", "c/view.png", code=2)
        assert [p.name for p in tmp_path.iterdir()] == ["a"]

    def test_places_nothing_can_be_put_at(self, command: Callable[..., str], tmp_path: Path) -> None:
        (tmp_path / "file").write_text("precious")
        (tmp_path / "circle").symlink_to("circle")
        before = contents(tmp_path)
        for place, says in (
            ("file", "exists already"),
            ("file/one", "is a file"),
            ("circle", "circle"),
            ("", "exists already"),
            ("/", "exists already"),
            ("..", "exists already"),
            ("n" * 300, "File name too long"),
        ):
            assert says in command(*TRY[:-1], place, code=2)
        assert contents(tmp_path) == before

    def test_a_place_another_run_is_writing_is_refused_at_once(self, tmp_path: Path) -> None:
        pytest.importorskip("fcntl")
        for force in (False, True):
            place = tmp_path / f"front [{force}]"
            with new_directory(place, kind="search", force=False) as first:
                (first / RECORD).write_text('{"number": 1}')
                with pytest.raises(ResultsError, match="being written by another run"):
                    write(place, 2, force=force)
                write(tmp_path / f"front [{force}] too", 3, force=False)
            assert json.loads((place / RECORD).read_text())["number"] == 1
        assert len(list(tmp_path.iterdir())) == 4

    def test_two_at_once_into_one_place(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("optimizer.results.being_written", lambda _place: False)  # as if both began at once
        place = tmp_path / "front"

        def overtaken() -> None:
            with new_directory(place, kind="search", force=False) as slow:
                (slow / RECORD).write_text("{}")
                write(place, 7, force=False)

        with pytest.raises(ResultsError, match="exists already"):
            overtaken()
        assert number_of(place) == 7
        with new_directory(place, kind="search", force=True) as slow:
            (slow / RECORD).write_text('{"number": 8}')
            write(place, 9, force=True)
        assert json.loads((place / RECORD).read_text())["number"] == 8
        assert [p.name for p in tmp_path.iterdir()] == ["front"]

    def test_a_name_taken_between_look_and_writing(
        self, command: Callable[..., str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def taken(place: Path) -> Path:
            (tmp_path / "mine.toml").write_text("precious")
            return place / ".mine.toml.pivotfront-x"

        (tmp_path / ".mine.toml.pivotfront-x").mkdir()
        monkeypatch.setattr("tempfile.mkdtemp", lambda prefix, dir: str(taken(Path(dir))))
        monkeypatch.setattr(drafts, "put_right", lambda _folder: None)
        assert "exists already" in command("new", "mine.toml", code=2)
        assert (tmp_path / "mine.toml").read_text() == "precious"

    def test_without_hard_links_a_new_file_still_replaces_none(
        self, command: Callable[..., str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(*_places: object) -> None:
            raise OSError(errno.EPERM, os.strerror(errno.EPERM))

        monkeypatch.setattr(os, "link", refuse)
        command("new", "mine.toml")
        assert (tmp_path / "mine.toml").read_text(encoding="utf-8").startswith("#")
        assert "exists already" in command("new", "mine.toml", code=2)


@pytest.mark.usefixtures("plain_pictures")
class TestChangedResults:
    @pytest.mark.parametrize(
        ("change", "says"),
        [
            ({"format": 99}, "newer"),
            ({"format": None}, "no number"),
            ({"files": None}, "also holds"),
            ({"files": [[], {}, 3]}, "also holds"),
            ({"files": "front.csv"}, "also holds"),
            ({"kind": ["search"]}, "holds no results"),
        ],
    )
    def test_force_leaves_it_alone(
        self, change: dict[str, object], says: str, command: Callable[..., str], tmp_path: Path
    ) -> None:
        command(*TRY)
        record = tmp_path / "one" / RECORD
        record.write_text(json.dumps({**json.loads(record.read_text()), **change}))
        before = contents(tmp_path)
        assert says in command(*TRY, "--force", code=2)
        assert contents(tmp_path) == before

    @pytest.mark.parametrize(
        ("change", "says"),
        [
            ({"kept": float("inf")}, "changed by hand"),
            ({"usable": -1}, "changed by hand"),
            ({"hypervolume_share": float("nan")}, "changed by hand"),
            ({"history": [[1, float("nan")]]}, "changed by hand"),
            ({"history": [[1, 2, 3]]}, "changed by hand"),
            ({"format": 99}, "newer"),
            ({"sha256": {"front.csv": 3}}, "was changed since"),
        ],
    )
    def test_pick_refuses_a_changed_record(
        self, change: dict[str, object], says: str, command: Callable[..., str], front: Front, tmp_path: Path
    ) -> None:
        with new_directory(tmp_path / "front", kind="search", force=False) as folder:
            write_front(front, folder, seed=1)
        record = tmp_path / "front" / RECORD
        record.write_text(json.dumps({**json.loads(record.read_text()), **change}))
        assert says in command("pick", "front", code=2)

    def test_a_record_nested_without_end(self, command: Callable[..., str], tmp_path: Path) -> None:
        (tmp_path / "front").mkdir()
        (tmp_path / "front" / RECORD).write_text("[" * 100_000)
        assert "holds no results" in command("pick", "front", code=2)

    @pytest.mark.parametrize(
        ("old", "new"),
        [
            (r"pivot_z,", "pivot_zz,"),
            (r"^1,[^,]*,", "1,nan,"),
            (r"^1,[^,]*,", "1,inf,"),
            (r"^1,[^,]*,", "1,wide,"),
            (r"(?s)\n.*", "\n"),
            (r"(?s).*", ""),
        ],
    )
    def test_a_table_edited_and_its_fingerprint_with_it(self, old: str, new: str, front: Front, tmp_path: Path) -> None:
        with new_directory(tmp_path / "front", kind="search", force=False) as folder:
            write_front(front, folder, seed=1)
        table, record = tmp_path / "front/front.csv", tmp_path / "front" / RECORD
        text = table.read_text()
        table.write_text(re.sub(old, new, text, count=1, flags=re.M))
        assert table.read_text() != text
        content = json.loads(record.read_text())
        content["sha256"]["front.csv"] = digest(table)
        record.write_text(json.dumps(content))
        with pytest.raises(ResultsError, match="changed by hand"):
            read_front(tmp_path / "front")
