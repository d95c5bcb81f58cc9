"""The processor at hand as LLVM sees it, and what compiling and loading have to agree upon."""

from __future__ import annotations

import llvmlite.binding as llvm

NAME = "entry"  # of the one function that can be found in what is compiled
FROM_OUTSIDE = frozenset(("acos", "asin", "atan2", "cos", "hypot", "memcpy", "memmove", "memset", "sin", "sqrt"))
"""Functions of C that what is compiled may call."""


def this_processor() -> llvm.TargetMachine:
    """LLVM's way to write machine code for the processor at hand."""
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    cpu, features = llvm.get_host_cpu_name(), llvm.get_host_cpu_features().flatten()
    return llvm.Target.from_default_triple().create_target_machine(cpu=cpu, features=features, opt=3, jit=True)


def in_memory(code: bytes) -> tuple[llvm.ExecutionEngine, int]:
    """Put an object file into memory; where its entry is, and what has to live as long as that is called.

    Raises
    ------
    OSError
        A function of C that it calls is not in this process, for which LLVM would end it; or there is no entry.
    """
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), this_processor())
    if missing := [name for name in FROM_OUTSIDE if not llvm.address_of_symbol(name)]:
        raise OSError(f"this Python has no {', '.join(sorted(missing))}")
    engine.add_object_file(llvm.ObjectFileRef.from_data(code))
    engine.finalize_object()
    address = engine.get_function_address(NAME)
    if not address:
        raise OSError("it holds nothing that can be called")
    return engine, address
