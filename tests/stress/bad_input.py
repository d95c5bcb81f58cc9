"""Thousands of scenarios that should not be, through `check`, `try`, `search` and `pick`. Run by itself:

    OMP_NUM_THREADS=1 LOKY_MAX_CPU_COUNT=1 python tests/stress/bad_input.py FIRST LAST FOLDER

Cases are numbered and the same at every run; every fifth hundred is drawn by hypothesis, the rest are mutations. Those
that fail are saved to FOLDER. No traceback, no warning, no end that does not come, no number that is none in what is
written, no formula in a table's cells, no script of a title's, and each wrong kind of value named with its key.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from objectives import compiled  # noqa: E402 - the checkout has to be found first
from tests.bad_input import looked_into  # noqa: E402
from tests.mutations import Case, drawn, mutated  # noqa: E402

HUNDRED = 100


def main(first: int, last: int, folder: Path) -> int:
    """Run the cases; say how many failed."""
    folder.mkdir(parents=True, exist_ok=True)
    if compiled.available() and not compiled.is_kept():
        compiled.entry()  # a minute that is no case's own
    counts: Counter[str] = Counter()
    begun = time.monotonic()
    for start in range(first, last, HUNDRED):
        for number, case in numbered(start, min(start + HUNDRED, last)):
            with tempfile.TemporaryDirectory() as place:
                wrong = looked_into(case, Path(place), random.Random(number))
                counts["cases"] += 1
                counts["went as far as try"] += (Path(place) / "view.png").exists()
                counts["searched"] += (Path(place) / "front").exists()
            if wrong:
                counts["failed"] += 1
                (folder / f"{number}.toml").write_bytes(case.content)
                (folder / f"{number}.txt").write_text(f"{case.done}\n\n" + "\n\n".join(wrong), encoding="utf-8")
        print(f"{start}: {dict(counts)}, {time.monotonic() - begun:.0f} s", flush=True)
    return counts["failed"]


def numbered(start: int, end: int) -> list[tuple[int, Case]]:
    """Cases of one hundred by number."""
    if start // HUNDRED % 5 != 4:
        return [(number, mutated(number)) for number in range(start, end)]
    cases: list[Case] = []

    @seed(start)
    @settings(
        max_examples=end - start,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(drawn())
    def collect(case: Case) -> None:
        cases.append(case)

    collect()
    return list(zip(range(start, end), cases, strict=False))


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2]), Path(sys.argv[3])) > 0)
