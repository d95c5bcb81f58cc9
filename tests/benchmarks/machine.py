"""What this machine can do, measured, and what the evaluation asks of it, counted.

Counted is what numpy is asked for: every array function and every ufunc, method or operator, on the arrays of
`objectives`, with the bytes it reads and writes. What compiled code does by itself, and places picked by an index, are
not seen, so the counts are at least.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from types import ModuleType
from typing import Any

import numpy as np

LONG = 2**24  # numbers of an array that no cache holds: 128 MB
SHORT = 2**12  # numbers of an array that stays in the cache nearest to the core
SQUARE = 512  # rows and columns of the matrices multiplied
LEAST = 0.05  # seconds that a measurement takes at least
RUNS = 5  # of it, at least: the first one pays for pages that nobody had touched


def seconds_of(work: Callable[[], object]) -> float:
    """Best time of one call: what else runs on the machine only adds to it."""
    best, total, runs = np.inf, 0.0, 0
    while total < LEAST or runs < RUNS:
        begin = time.perf_counter()
        work()
        taken = time.perf_counter() - begin
        best, total, runs = min(best, taken), total + taken, runs + 1
    return best


def streaming() -> float:
    """Bytes a second read and written between memory and one core: a = b, arrays that no cache holds."""
    source, target = np.ones(LONG), np.zeros(LONG)
    return 2 * source.nbytes / seconds_of(lambda: np.copyto(target, source))


def multiply_adds() -> tuple[float, float]:
    """Multiply-adds a second on one core: two ufuncs on arrays in cache, and a product of matrices."""
    a, b, c, out = (np.full(SHORT, 0.5) for _ in range(4))

    def plain() -> None:
        np.multiply(a, b, out=out)
        np.add(out, c, out=out)

    square = np.ones((SQUARE, SQUARE))
    return SHORT / seconds_of(plain), SQUARE**3 / seconds_of(lambda: square @ square)


def rate_of(ufunc: np.ufunc | None) -> float:
    """Numbers a second that one ufunc makes on one core, everything in cache; multiply-adds for None (`einsum`)."""
    if ufunc is None or ufunc is np.matmul:
        return multiply_adds()[0 if ufunc is None else 1]
    for kind in (float, bool, int):
        given = [np.full(SHORT, 0.5).astype(kind) for _ in range(ufunc.nin)]
        try:
            made = ufunc(*given)
        except TypeError:
            continue
        out = made if isinstance(made, tuple) else (made,)
        return SHORT / seconds_of(lambda out=out, given=given: ufunc(*given, out=out))  # type: ignore[misc]
    raise ValueError(f"no rate of {ufunc}")


@dataclass
class Tally:
    """Numbers made, by ufunc; matrix products and `einsum` as multiply-adds; and bytes read and written."""

    made: Counter[np.ufunc | None] = field(default_factory=Counter)
    bytes: int = 0
    calls: int = 0

    def move(self, *arrays: object) -> None:
        """Count one call and what it reads and writes."""
        self.calls += 1
        self.bytes += sum(array.nbytes for array in arrays if isinstance(array, np.ndarray))

    def seconds(self) -> float:
        """What the operations alone would take, each at its own rate."""
        return sum(count / rate_of(ufunc) for ufunc, count in self.made.items())


_TALLY: list[Tally] = []


class Counted(np.ndarray):
    """An array that counts what is done with it."""

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, out: Any = None, **more: Any) -> Any:
        given = [_bare(part) for part in inputs]
        more = {name: _bare(part) for name, part in more.items()}
        if out is not None:
            more["out"] = tuple(_bare(part) for part in out)
        result = getattr(ufunc, method)(*given, **more)
        if _TALLY:
            first = result[0] if isinstance(result, tuple) else result
            each = np.shape(given[0])[-1] if ufunc is np.matmul else 1
            size = np.size(first) if method == "__call__" else np.size(given[0])
            _TALLY[0].made[ufunc] += size * each
            _TALLY[0].move(*given, *(result if isinstance(result, tuple) else (result,)))
        return _counted(result)


def _bare(part: Any) -> Any:
    return part.view(np.ndarray) if isinstance(part, Counted) else part


def _counted(part: Any) -> Any:
    if isinstance(part, tuple | list):
        return type(part)(_counted(one) for one in part)
    plain = type(part) is np.ndarray and part.dtype.kind in "fbi"
    return part.view(Counted) if plain else part


class _Numpy(ModuleType):
    """numpy, with every array it makes counted."""

    def __getattr__(self, name: str) -> Any:
        found = getattr(np, name)
        if isinstance(found, type | ModuleType) or not callable(found) or isinstance(found, np.ufunc):
            return found if not isinstance(found, np.ufunc) else _Ufunc(found)

        def call(*given: Any, **more: Any) -> Any:
            result = found(*given, **more)
            if _TALLY:
                _TALLY[0].move(*(part for part in given if isinstance(part, np.ndarray)), result)
                if name == "einsum":
                    _TALLY[0].made[None] += max(np.size(part) for part in given[1:])
            return _counted(result)

        return call


class _Ufunc:
    """A ufunc that counts also where no array given to it does."""

    def __init__(self, ufunc: np.ufunc) -> None:
        self.ufunc = ufunc

    def __call__(self, *given: Any, **more: Any) -> Any:
        return self.ufunc(*(_counted(part) for part in given), **more)

    def __getattr__(self, name: str) -> Any:
        method = getattr(self.ufunc, name)
        return lambda first, *given, **more: method(_counted(first), *given, **more)


@contextmanager
def counting() -> Iterator[Tally]:
    """Count what the physics asks of numpy meanwhile."""
    modules = [
        module for name, module in sys.modules.items() if name.startswith("objectives.") and hasattr(module, "np")
    ]
    _TALLY.append(Tally())
    for module in modules:
        module.np = _Numpy("numpy")
    try:
        yield _TALLY[0]
    finally:
        _TALLY.clear()
        for module in modules:
            module.np = np
