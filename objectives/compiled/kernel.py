"""How a function is compiled: by numba one by one, then by LLVM as a whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar, cast

import llvmlite.binding as llvm
import numba
import numpy as np
from numba import types

from objectives.compiled.processor import FROM_OUTSIDE, NAME, this_processor

Function = TypeVar("Function", bound=Callable[..., Any])

# a product may be rounded together with the sum it goes into, but nothing is reordered; no division raises
RULES: dict[str, Any] = {"error_model": "numpy", "fastmath": {"contract"}}
DEGREE = 2  # of LLVM's optimising of the whole: a third takes longer and gives nothing


def kernel(function: Function) -> Function:
    """Compile a function for others that are compiled, when the first of them is; from Python it cannot be called."""
    njit: Any = numba.njit  # its stubs do not know all of its options
    return cast(Function, njit(no_cpython_wrapper=True, no_cfunc_wrapper=True, **RULES)(function))


def object_code(function: Callable[..., None], arguments: Sequence[np.dtype[Any] | type[int]]) -> bytes:
    """Machine code for this processor of a function and all that it calls, as an object file.

    Each argument is a whole number or a pointer to numbers or records. numba hands out what it has compiled only where
    it is imported, which takes longer than a search may take to begin; and it looks at functions one by one, where
    the whole can leave out what is handed on for nothing.

    Raises
    ------
    ValueError
        It would need more at run time than a processor and C's mathematics.
    """
    kinds = (types.int64 if kind is int else _pointer(kind) for kind in arguments)
    with _quick():
        compiled = numba.cfunc(types.void(*kinds), **RULES)(function)
    module = llvm.parse_assembly(compiled.inspect_llvm().replace(f"@{compiled.native_name}(", f"@{NAME}("))
    processor = this_processor()
    _go_over(module, processor)
    foreign = {one.name for one in module.functions if one.is_declaration and not one.name.startswith("llvm.")}
    if needed := foreign - FROM_OUTSIDE:
        raise ValueError(f"what is compiled would call {', '.join(sorted(needed))}")
    return bytes(processor.emit_object(module))


def _pointer(kind: Any) -> Any:
    """Pointer to numbers or records of a kind, as numba says it; its stubs do not."""
    pointer: Any = types.CPointer
    return pointer(numba.from_dtype(kind))


def _go_over(module: llvm.ModuleRef, processor: llvm.TargetMachine) -> None:
    """Optimise everything together, with nothing but the entry to be found from outside."""
    for function in module.functions:
        if not function.is_declaration and function.name != NAME:
            function.linkage = llvm.Linkage.internal
    tuning = llvm.create_pipeline_tuning_options(speed_level=DEGREE)
    tuning.loop_vectorization = tuning.loop_unrolling = True
    builder = llvm.create_pass_builder(processor, tuning)
    builder.getModulePassManager().run(module, builder)


@contextmanager
def _quick() -> Iterator[None]:
    """Have numba optimise less: compiling takes two thirds of the time, and what is compiled runs as fast."""
    settings = vars(numba.config)
    before, settings["OPT"] = settings["OPT"], type(settings["OPT"])(1)
    try:
        yield
    finally:
        settings["OPT"] = before
