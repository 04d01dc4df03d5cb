"""The array types that kernels take and return, and the one way to make them read-only."""

from __future__ import annotations

from typing import Any, TypeAlias, TypeVar

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.float64]
Float32Array: TypeAlias = npt.NDArray[np.float32]
IntArray: TypeAlias = npt.NDArray[np.int32]
LongArray: TypeAlias = npt.NDArray[np.int64]
ByteArray: TypeAlias = npt.NDArray[np.uint8]
BoolArray: TypeAlias = npt.NDArray[np.bool_]

AnyArray = TypeVar("AnyArray", bound=npt.NDArray[Any])


def frozen(array: AnyArray) -> AnyArray:
    """Return the array itself, closed for writing."""
    array.flags.writeable = False
    return array
