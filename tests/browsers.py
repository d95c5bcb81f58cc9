"""The browser of the tests, or a word on why there is none."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.opened_page import FLAGS

if TYPE_CHECKING:
    from playwright.sync_api import Browser


def running_browser() -> Iterator[Browser]:
    """Chromium; without it the tests are skipped, and fail where `CI` says that it belongs there."""
    found = shutil.which("chromium")
    if found is None:
        reason = "no chromium: apt-get install chromium, then these tests run"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=found, args=list(FLAGS))
        yield running
        running.close()
