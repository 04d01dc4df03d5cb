"""The one way to compile a kernel: cached on disk, free of the interpreter lock, exact in its arithmetic."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, ParamSpec, TypeVar, cast

import numba
from numba.core.caching import FunctionCache

Parameters = ParamSpec("Parameters")
Returned = TypeVar("Returned")


def kernel(function: Callable[Parameters, Returned]) -> Callable[Parameters, Returned]:
    """Compile a loop over arrays on its first call and keep the machine code for later runs.

    Kernels release the interpreter lock, so a stage may run them on two threads; none of them reorders
    sums (no ``fastmath``), so the bytes are the same for any number of threads.
    """
    compiled: Any = numba.njit(nogil=True, error_model="numpy")(function)
    # What ``cache=True`` does, with a cache that is looked at before it is believed.
    compiled._cache = _CheckedCache(function)
    return cast("Callable[Parameters, Returned]", compiled)


class _CheckedCache(FunctionCache):
    """Machine code on disk, each file with its digest; what is damaged is compiled again."""

    def __init__(self, function: Callable[..., object]) -> None:
        cast("Any", super()).__init__(function)
        files: Any = self._cache_file
        write, read = files._save_data, files._load_data

        def save(name: str, data: object) -> None:
            write(name, data)
            path = Path(files._data_path(name))
            _sealed(path).write_bytes(_digest(path))

        def load(name: str) -> object:
            path = Path(files._data_path(name))
            if _sealed(path).is_file() and _sealed(path).read_bytes() != _digest(path):
                raise ValueError(f"{path} is damaged")
            return read(name)

        files._save_data, files._load_data = save, load

    def load_overload(self, signature: object, context: object) -> object:
        """Return the machine code kept for a signature, or None to have it compiled."""
        try:
            return cast("Any", super()).load_overload(signature, context)
        except Exception:  # noqa: BLE001 (whatever a damaged pickle raises)
            with suppress(OSError):
                cast("Any", self).flush()
            return None


def _sealed(path: Path) -> Path:
    return path.with_suffix(".seal")


def _digest(path: Path) -> bytes:
    return hashlib.sha256(path.read_bytes()).digest()


def is_cold() -> bool:
    """Tell whether no kernel has been compiled on this machine yet, so that the run can say why it waits."""
    package = Path(__file__).parent
    elsewhere: str = getattr(numba.config, "CACHE_DIR", "")
    if elsewhere:
        return not any(Path(elsewhere).rglob("*.nbi"))
    return not any(package.rglob("*.nbi"))
