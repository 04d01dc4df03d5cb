"""The one way to compile a kernel: cached on disk, free of the interpreter lock, exact in its arithmetic."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import ParamSpec, TypeVar, cast

import numba

Parameters = ParamSpec("Parameters")
Returned = TypeVar("Returned")


def kernel(function: Callable[Parameters, Returned]) -> Callable[Parameters, Returned]:
    """Compile a loop over arrays on its first call and keep the machine code for later runs.

    Kernels release the interpreter lock, so a stage may run them on two threads; none of them reorders
    sums (no ``fastmath``), so the bytes are the same for any number of threads.
    """
    compiled = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
    return cast("Callable[Parameters, Returned]", compiled)


def is_cold() -> bool:
    """Tell whether no kernel has been compiled on this machine yet, so that the run can say why it waits."""
    package = Path(__file__).parent
    elsewhere: str = getattr(numba.config, "CACHE_DIR", "")
    if elsewhere:
        return not any(Path(elsewhere).rglob("*.nbi"))
    return not any(package.rglob("*.nbi"))
