"""The compiled functions as machine code: kept on the disk, and loaded from there without what compiled them."""

from __future__ import annotations

import ctypes
import os
import re
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from hashlib import sha256
from pathlib import Path
from threading import Lock
from typing import Any, TypeAlias, cast

from objectives.compiled.layout import ARGUMENTS

SWITCH = "PIVOTFRONT_COMPILED"  # environment: "no" measures by arrays alone
UNUSED = 90 * 86_400.0  # seconds after which what was compiled for other states of the sources is removed

Entry: TypeAlias = Callable[..., None]

_one_at_a_time = Lock()  # threads that all need the same should not all compile it


class CannotCompileError(Exception):
    """There is no machine code, and none can be made."""


@cache
def available() -> bool:
    """Whether there is machine code, or it can be made here and be kept."""
    if os.environ.get(SWITCH) == "no":
        return False
    try:
        import llvmlite.binding  # noqa: F401

        place = kept_in()
        place.parent.mkdir(parents=True, exist_ok=True)
        if not is_kept():
            import numba  # noqa: F401
    except Exception:  # numba may not take to the numpy there is, or nobody know of a home folder: arrays always work
        return False
    return is_kept() or os.access(place.parent, os.W_OK)


def give_up() -> None:
    """Measure by arrays from now on, in processes started from here too."""
    os.environ[SWITCH] = "no"
    available.cache_clear()


def is_kept() -> bool:
    """Whether the machine code is on the disk already."""
    if _read() is None:
        return False
    with suppress(OSError):
        os.utime(kept_in())  # in use
    return True


def is_loaded() -> bool:
    """Whether this process has the machine code already."""
    return _entry.cache_info().currsize > 0


@cache
def kept_in() -> Path:
    """File of the machine code from the sources as they are, for the processor there is."""
    import llvmlite
    import llvmlite.binding as llvm

    processor = llvm.get_default_triple(), llvm.get_host_cpu_name(), llvm.get_host_cpu_features().flatten()
    state = sha256(" ".join((llvmlite.__version__, *processor)).encode())
    own = Path(__file__).parent
    text = b"".join(source.read_bytes() for source in sorted(own.glob("*.py")))
    taken = re.findall(rb"^from objectives(?:\.(\w+))? import (\w+)", text, re.MULTILINE)
    names = sorted({(module or name).decode() for module, name in taken} - {own.name})
    state.update(b"".join((own.parent / f"{name}.py").read_bytes() for name in names) + text)
    return _cache_home() / "pivotfront" / f"{state.hexdigest()[:16]}.code"


def _cache_home() -> Path:
    """Where programs of this system keep what can be made again."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    named = Path(os.environ.get("XDG_CACHE_HOME", ""))
    return named if named.is_absolute() else Path.home() / ".cache"


def entry() -> Entry:
    """The compiled function; compiled before, for about a minute, where it is not kept.

    Raises
    ------
    CannotCompileError
        It cannot be compiled, or is switched off.
    """
    with _one_at_a_time:
        if os.environ.get(SWITCH) == "no":  # or others that waited would all try what has failed
            raise CannotCompileError(f"{SWITCH}=no")
        return _entry()


@cache
def _entry() -> Entry:
    code = _read()
    if code is None:
        code = _compiled()
        with suppress(OSError):  # next time it is compiled again
            _keep(code)
            _clear_old()
    return _loaded(code)


def _compiled() -> bytes:
    try:
        from objectives.compiled.kernel import object_code
        from objectives.compiled.measures import measure_all

        return object_code(measure_all, tuple(ARGUMENTS.values()))
    except Exception as error:  # numba fails in many ways, on what is fine with another version of it
        raise CannotCompileError(str(error).strip().splitlines()[0] if str(error).strip() else repr(error)) from error


def _read() -> bytes | None:
    """Machine code as kept, behind its digest; None where there is none, or anything but what was written."""
    try:
        kept = kept_in().read_bytes()
    except OSError:
        return None
    digest, code = kept[:32], kept[32:]
    return code if sha256(code).digest() == digest else None


def _keep(code: bytes) -> None:
    place = kept_in()
    place.parent.mkdir(parents=True, exist_ok=True)
    number, draft = tempfile.mkstemp(dir=place.parent, suffix=".draft")
    try:
        with os.fdopen(number, "wb") as file:
            file.write(sha256(code).digest() + code)
        Path(draft).replace(place)
    except OSError:
        Path(draft).unlink()
        raise


def _clear_old() -> None:
    """Remove what was compiled for states that nobody has used for long."""
    for file in kept_in().parent.iterdir():
        with suppress(OSError):
            if time.time() - file.stat().st_mtime > UNUSED:
                file.unlink()


def _loaded(code: bytes) -> Entry:
    """Put machine code into memory; it stays there as long as the process lives."""
    from objectives.compiled.processor import in_memory

    try:
        engine, address = in_memory(code)
    except OSError as error:
        raise CannotCompileError(str(error)) from error
    kinds = (ctypes.c_int64 if kind is int else ctypes.c_void_p for kind in ARGUMENTS.values())
    function: Any = ctypes.CFUNCTYPE(None, *kinds)(address)
    function.engine = engine  # whose end would be the code's
    return cast(Entry, function)
