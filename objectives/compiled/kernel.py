"""How a function is compiled: to machine code by numba, once on each machine, kept on disk from then on."""

from __future__ import annotations

import os
import re
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from functools import cache
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeVar, cast

Function = TypeVar("Function", bound=Callable[..., Any])

READY = "ready"  # stands in the folder of what is compiled when everything is
UNUSED = 90 * 86_400.0  # seconds after which such a folder is removed
SWITCH = "PIVOTFRONT_COMPILED"  # environment: "no" measures by arrays alone


@cache
def available() -> bool:
    """Whether functions can be compiled here, and what is compiled be kept."""
    if os.environ.get(SWITCH) == "no":
        return False
    try:
        import numba

        kept_in().mkdir(parents=True, exist_ok=True)
    except Exception:  # numba may not take to the numpy there is, or nobody know of a home folder: arrays always work
        return False
    return not vars(numba.config)["DISABLE_JIT"] and os.access(kept_in(), os.W_OK)


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
    own = Path(__file__).parent.resolve()
    state.update(str(own).encode())  # numba, too, keeps apart what comes from different places
    text = b"".join(source.read_bytes() for source in sorted(own.glob("*.py")))
    taken = re.findall(rb"^from objectives(?:\.(\w+))? import (\w+)", text, re.MULTILINE)
    names = sorted({(module or name).decode() for module, name in taken} - {own.name})
    state.update(b"".join((own.parent / f"{name}.py").read_bytes() for name in names) + text)
    return _cache_home() / "pivotfront" / state.hexdigest()[:16]


def _cache_home() -> Path:
    """Where programs of this system keep what can be made again."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    named = Path(os.environ.get("XDG_CACHE_HOME", ""))
    return named if named.is_absolute() else Path.home() / ".cache"


def clear_old() -> None:
    """Remove what was compiled for states that nobody has used for long."""
    for folder in kept_in().parent.iterdir():
        with suppress(OSError):
            if folder != kept_in() and time.time() - (folder / READY).stat().st_mtime > UNUSED:
                shutil.rmtree(folder)


def kernel(function: Function) -> Function:
    """Compile a function for others that are compiled, when the first of them is."""
    return _compiled(function, no_cpython_wrapper=True, no_cfunc_wrapper=True)


def entry(function: Function) -> Function:
    """Compile a function that Python calls, with all that it calls, and keep it."""
    with _set("CACHE_DIR", str(kept_in())):
        return _compiled(function, cache=True)


def _compiled(function: Function, **options: Any) -> Function:
    """Compile when it is first called; no division raises, and other threads may run meanwhile."""
    import numba

    # a product may be rounded together with the sum it goes into, but nothing is reordered
    njit: Any = numba.njit  # its stubs do not know all of its options
    compiled = njit(nogil=True, error_model="numpy", fastmath={"contract"}, **options)(function)
    return cast(Function, compiled)


def quick_to_compile() -> AbstractContextManager[None]:
    """Have numba optimise less: compiling takes two thirds of the time, and what is compiled runs as fast."""
    from numba import config

    return _set("OPT", type(vars(config)["OPT"])(1))


@contextmanager
def _set(name: str, value: object) -> Iterator[None]:
    """Change one of numba's settings for a while: they are those of the whole process."""
    import numba

    settings = vars(numba.config)
    before, settings[name] = settings[name], value
    try:
        yield
    finally:
        settings[name] = before
