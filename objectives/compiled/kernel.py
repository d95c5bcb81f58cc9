"""How a function is compiled: to machine code by numba, once on each machine, kept on disk from then on."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable
from functools import cache
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeVar, cast

Function = TypeVar("Function", bound=Callable[..., Any])

SWITCH = "PIVOTFRONT_COMPILED"  # environment: "no" measures by arrays alone


@cache
def available() -> bool:
    """Whether functions can be compiled here, and what is compiled be kept."""
    if os.environ.get(SWITCH) == "no":
        return False
    try:
        import numba  # noqa: F401 - it may be there and not take to the numpy there is

        kept_in().mkdir(parents=True, exist_ok=True)
    except (ImportError, OSError, RuntimeError):  # the last where nobody knows of a home folder
        return False
    return os.access(kept_in(), os.W_OK)


def give_up() -> None:
    """Measure by arrays from now on, in processes started from here too."""
    os.environ[SWITCH] = "no"
    available.cache_clear()


@cache
def kept_in() -> Path:
    """Folder of what has been compiled from the sources as they are, by the Python and the numba there are.

    numba looks for changes of a function's own file only, not of those it calls or takes numbers from; so every state
    of these gets a folder of its own.
    """
    state = sha256(f"{sys.version} {version('numba')}".encode())
    own = Path(__file__).parent
    text = b"".join(source.read_bytes() for source in sorted(own.glob("*.py")))
    taken = re.findall(rb"^from objectives(?:\.(\w+))? import (\w+)", text, re.MULTILINE)
    names = sorted({(module or name).decode() for module, name in taken} - {own.name})
    state.update(b"".join((own.parent / f"{name}.py").read_bytes() for name in names) + text)
    return _cache_home() / "pivotfront" / state.hexdigest()[:16]


def _cache_home() -> Path:
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")


def kernel(function: Function) -> Function:
    """Compile a function when it is first called; no division raises, and other threads may run meanwhile."""
    import numba

    settings: Any = numba.config
    settings.CACHE_DIR = str(kept_in())
    settings.OPT = type(settings.OPT)(1)  # what is optimised more takes half as long again to compile, and runs as fast
    # a product may be rounded together with the sum it goes into, but nothing is reordered
    compiled: Any = numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})(function)
    return cast(Function, compiled)
