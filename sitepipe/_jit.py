"""The one way to compile a kernel: cached on disk, free of the interpreter lock, exact in its arithmetic."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import ParamSpec, TypeVar, cast

ROOM = 64 * 2**20
"""Free space below which the first kernels are not kept: a disk that is full must not end a run. [B]"""

_PACKAGE = Path(__file__).parent


def _store() -> Path | None:
    """Return where compiled kernels are kept: where the user says, beside the source, or in the user's own cache."""
    told = os.environ.get("NUMBA_CACHE_DIR")
    if told:
        return Path(told)
    if os.access(_PACKAGE, os.W_OK):
        return _PACKAGE
    try:
        folder = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "sitepipe"
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, RuntimeError):
        return None
    if not os.access(folder, os.W_OK):
        return None
    os.environ["NUMBA_CACHE_DIR"] = str(folder)
    return folder


def is_cold() -> bool:
    """Tell whether no compiled kernel is kept on this machine, so that the run can say why it waits."""
    return _STORE is None or not any(_STORE.rglob("*.nbi"))


def _may_keep() -> bool:
    if _STORE is None:
        return False
    try:
        _STORE.mkdir(parents=True, exist_ok=True)
        return shutil.disk_usage(_STORE).free >= ROOM or not is_cold()
    except OSError:
        return False


_STORE = _store()
_KEEPS = _may_keep()

import numba  # noqa: E402 (it looks at its environment when it is imported)

from sitepipe._compiled import keep_sound  # noqa: E402

Parameters = ParamSpec("Parameters")
Returned = TypeVar("Returned")


def kernel(function: Callable[Parameters, Returned]) -> Callable[Parameters, Returned]:
    """Compile a loop over arrays on its first call and keep the machine code for later runs.

    Kernels release the interpreter lock, so a stage may run them on two threads; none of them reorders
    sums (no ``fastmath``), so the bytes are the same for any number of threads. Where nothing can be kept, for want
    of a folder or of room, each run compiles anew.
    """
    if _KEEPS:
        try:
            compiled = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
            keep_sound(Path(compiled.stats.cache_path or _PACKAGE), Path(function.__code__.co_filename))
            return cast("Callable[Parameters, Returned]", compiled)
        except RuntimeError:  # No folder that may be written to, whatever it said of itself.
            pass
    return cast("Callable[Parameters, Returned]", numba.njit(nogil=True, error_model="numpy")(function))
