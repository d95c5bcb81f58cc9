"""What a notebook shows when a cell ends with a front or a candidate."""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from typing import Any


class ShowsItself:
    """An object that a notebook shows as a table and a picture.

    They come from `optimizer.notebook`, which knows what it shows and loads matplotlib; it is looked up by name when a
    notebook asks, so that neither is needed before.
    """

    def _repr_html_(self) -> str:
        return str(import_module("optimizer.notebook").as_html(self))

    def _repr_mimebundle_(self, include: Iterable[str] | None = None, exclude: Iterable[str] | None = None) -> Any:
        """HTML with the picture in it, and one line of plain text in place of every number there is."""
        return {"text/html": self._repr_html_(), "text/plain": import_module("optimizer.notebook").as_text(self)}
