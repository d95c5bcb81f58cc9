"""Kills real searches and picks, each at a random moment, and looks whether anything was lost. Run by itself:

    python tests/stress/kills.py KILLS FOLDER

Every run replaces earlier results with --force. After each kill the earlier results, or new ones, have to be whole at
their place; the next command has to find nothing in its way, and no draft may be left once it has ended.
"""

from __future__ import annotations

import json
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from optimizer.drafts import put_right  # noqa: E402 - the checkout has to be found first
from optimizer.results import RECORD, digest  # noqa: E402

SCENARIO = ROOT / "scenarios" / "tight.toml"


def command(folder: Path, *words: str) -> subprocess.Popen[bytes]:
    """Start pivotfront in a folder."""
    start = "import sys; sys.path.insert(0, sys.argv.pop(1)); from optimizer.cli import main; main()"
    quiet = subprocess.DEVNULL
    return subprocess.Popen([sys.executable, "-c", start, str(ROOT), *words], cwd=folder, stdout=quiet, stderr=quiet)


def whole(place: Path) -> int:
    """When results were written; fails where a file of theirs is missing, empty, or not what was written."""
    record = json.loads((place / RECORD).read_text(encoding="utf-8"))
    assert sorted(path.name for path in place.iterdir()) == record["files"], place
    assert all((place / name).stat().st_size for name in record["files"]), place
    assert all(digest(place / name) == found for name, found in record.get("sha256", {}).items()), place
    for page in place.glob("*.html"):
        assert page.read_text(encoding="utf-8").rstrip().endswith("</html>"), page
    for picture in place.glob("*.svg"):
        assert picture.read_text(encoding="utf-8").rstrip().endswith("</svg>"), picture
    return (place / RECORD).stat().st_mtime_ns


def main(kills: int, folder: Path) -> None:
    """Kill and look, and say what happened."""
    folder.mkdir(parents=True)
    runs: dict[str, Sequence[str]] = {
        "front": ("search", str(SCENARIO), "--out", "front", "--force"),
        "chosen": ("pick", "front", "--id", "1", "--out", "chosen", "--force"),
    }
    takes = {}
    for name, words in runs.items():
        begun = time.monotonic()
        assert command(folder, *words).wait() == 0
        takes[name] = time.monotonic() - begun
        print(f"{words[0]} takes {takes[name]:.1f} s", flush=True)
    chance, seen = random.Random(1), Counter[str]()
    for kill in range(kills):
        name = list(runs)[kill % 2]
        before = whole(folder / name)
        child = command(folder, *runs[name])
        try:
            child.wait(chance.uniform(0.0, 1.1 * takes[name]))
        except subprocess.TimeoutExpired:
            child.send_signal(signal.SIGKILL)
        ended = child.wait()
        seen["ended before it was killed" if ended == 0 else "killed"] += 1
        seen["left a draft"] += any(path.name.startswith(".") for path in folder.iterdir())
        seen["new results"] += whole(folder / name) != before
        print(f"{kill + 1}: {dict(seen)}", flush=True)
    put_right(folder)
    assert sorted(path.name for path in folder.iterdir()) == sorted(runs)


if __name__ == "__main__":
    main(int(sys.argv[1]), Path(sys.argv[2]))
