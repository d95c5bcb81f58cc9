"""Figures that tests measure, repeated at the end of every run."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable
from typing import Any

import pytest

# the tests themselves run on all cores: a search in one of them keeps to its own
os.environ.setdefault("LOKY_MAX_CPU_COUNT", "1")
# and so does a product of matrices
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")

# pictures are made of very many small objects: to look for cycles among them as often as usual is a tenth of the time
gc.set_threshold(100_000, 20, 100)

from optimizer import front_search  # noqa: E402 - numpy reads what is set above when it is first imported
from tests import shared  # noqa: E402

ALL_ROWS, front_search.ROWS = front_search.ROWS, 120  # every row is built 512 times: only what needs them all has them

LONGEST = (
    "tests/test_live_browser.py",
    "tests/validation/test_constraint_equations.py",
    "tests/test_build.py",
    "tests/test_search_and_pick.py",
    "tests/test_browser.py",
    "tests/test_front_page.py",
    "tests/test_measure.py",
    "notebooks/tour.ipynb",
    "tests/test_pictures.py",
    "tests/test_templates.py",
    "tests/test_bad_input.py",
    "tests/test_front_search.py",
    "tests/validation/test_parts_clearance.py",
    "tests/test_drafts.py",
    "tests/validation/test_multibody.py",
    "tests/validation/test_build_statistics.py",
    "tests/validation/test_derivatives.py",
    "tests/test_notebook.py",
    "tests/test_inner_joint.py",
    "tests/test_part_commands.py",
    "tests/test_command_line.py",
    "tests/test_parts.py",
    "tests/test_long_search.py",
    "notebooks/validation.ipynb",
)
"""Files that take longest, begun first: one of them begun last would be waited for by all workers but its own."""

MEASURED = pytest.StashKey[list[str]]()


def pytest_configure(config: pytest.Config) -> None:
    config.stash[MEASURED] = []
    config.option.loadscopereorder = False  # files in the order below, not by how many tests they hold
    if not hasattr(config, "workerinput"):
        shared.begin(config)
    from objectives import compiled

    # once, before the workers start: each would compile everything for itself
    if not hasattr(config, "workerinput") and compiled.available() and not compiled.is_kept():
        print("compiling what measures many candidates, once on this machine ...", flush=True)
        compiled.entry()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    places = {name: place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: places.get(item.nodeid.split("::")[0], len(places)))


@pytest.fixture(scope="session")
def figures(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Return a function that takes what was measured and its value, for the list after the run."""
    lines = request.config.stash[MEASURED]
    return lambda what, value: lines.append(f"{what}: {value}")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Hand what a worker measured to the process that writes the summary."""
    output = getattr(session.config, "workeroutput", None)
    if output is not None:
        output["measured"] = session.config.stash[MEASURED]


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """Take what a worker measured."""
    node.config.stash[MEASURED] += getattr(node, "workeroutput", {}).get("measured", [])


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    lines = config.stash[MEASURED]
    if lines:
        terminalreporter.section("Measured")
        for line in lines:
            terminalreporter.write_line(line)
