"""What a live page is told, and long work that is handed out and reported back in the server's one thread."""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from bokeh.document import Document
    from bokeh.models import ColumnDataSource

Tone = Literal["good", "bad", "busy"]


@dataclass
class Channel:
    """The way from Python to one page."""

    document: Document
    told: ColumnDataSource
    answers: int = 0  # number of the latest ask that what is told takes in
    closed: bool = False  # nobody looks any more

    def tell(self, kind: str, **what: Any) -> None:
        """Tell the page something."""
        message = {"kind": kind, "answers": self.answers, **what}
        self.told.data = {"text": [json.dumps(message, allow_nan=False)]}

    def say(self, tone: Tone, text: str, **more: Any) -> None:
        """Tell the page a sentence for its reader."""
        self.tell("said", tone=tone, text=text, **more)

    def then(self, work: Future[Any], done: Callable[[Future[Any]], None]) -> None:
        """Call back in the server's thread when long work is done."""

        def call(finished: Future[Any]) -> None:
            if not self.closed and not finished.cancelled():
                self.document.add_next_tick_callback(partial(done, finished))

        work.add_done_callback(call)
