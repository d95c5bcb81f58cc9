"""Places the inboard upper-arm pivot of a double A-arm front: scenario, search, choice, pictures, shop outputs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optimizer.candidate import evaluate
    from optimizer.front_search import search
    from optimizer.scenario import load_scenario

__all__ = ["evaluate", "load_scenario", "search"]

_HOMES = {"evaluate": "candidate", "load_scenario": "scenario", "search": "front_search"}


def __getattr__(name: str) -> Any:
    """Import what is asked for when it is asked for: start-up counts."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
