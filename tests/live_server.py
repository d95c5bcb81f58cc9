"""A live page's server in a process of its own, as a builder starts it, and its pages in a browser."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.opened_page import DESK, Watched

if TYPE_CHECKING:
    from playwright.sync_api import Browser

PATIENCE = 60_000  # ms: for what Python works out on a machine that does other things too


class Served:
    """`pivotfront explore` of a scenario file."""

    def __init__(self, file: Path, *words: object) -> None:
        command = [sys.executable, "-m", "optimizer.cli", "explore", str(file), "--no-browser", *map(str, words)]
        self.process = subprocess.Popen(
            command,
            stderr=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "OMP_NUM_THREADS": "1"},
        )
        assert self.process.stderr is not None
        said = []
        for line in self.process.stderr:
            said.append(line)
            if found := re.search(r"http://(127\.0\.0\.1):(\d+)/\?token=(\S+)", line):
                break
        else:
            raise AssertionError("".join(said))
        self.address, self.port, self.token = found.group(), int(found.group(2)), found.group(3)

    def stop(self) -> tuple[int, str]:
        """End it as Ctrl-C does; its exit code and its last words."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        _, rest = self.process.communicate(timeout=30)
        return self.process.returncode, rest


class Live(Watched):
    """A live page, and a hand on it."""

    def __init__(self, browser: Browser, served: Served, size: dict[str, int] = DESK, touch: bool = False) -> None:
        super().__init__(browser, served.address, size, touch)

    def settled(self) -> None:
        """Wait until everything is measured as `try` does, and nothing is on its way."""
        self.page.wait_for_selector("body[data-busy=false]", timeout=PATIENCE)

    def mapped(self) -> None:
        """Wait until the surroundings are measured."""
        self.page.wait_for_selector("#map-text:has-text('usable')", timeout=PATIENCE)

    def drag(self, start: tuple[float, float], steps: int, step: tuple[float, float], let_go: bool = True) -> None:
        """Take hold at a place of the window and move on by equal steps, px."""
        mouse = self.page.mouse
        mouse.move(*start)
        mouse.down()
        for n in range(1, steps + 1):
            mouse.move(start[0] + n * step[0], start[1] + n * step[1])
            self.page.wait_for_timeout(20)
        if let_go:
            mouse.up()

    def type(self, id: str, text: str) -> None:
        self.page.fill(f"#{id}", text)
        self.page.press(f"#{id}", "Enter")

    def value(self, id: str) -> str:
        found: str = self.page.input_value(f"#{id}")
        return found

    def pivot(self) -> tuple[float, float]:
        """Where the ring is."""
        found = self.source("pivot")
        return found["x"][0], found["y"][0]

    def figures(self) -> dict[str, Any]:
        """Every figure with all its digits, by column."""
        script = """() => Object.fromEntries(Array.from(document.querySelectorAll('#every td')).map(
            cell => [cell.dataset.column, cell.dataset.value ?? null]))"""
        found: dict[str, Any] = self.page.evaluate(script)
        return found
