"""The routed ground: everything that follows from heights alone, checked for lost water."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import FloatArray, IntArray
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.descent import LEAVES, steepest_receivers
from sitepipe.drainage.heights import PER_METRE, UNKNOWN
from sitepipe.drainage.routing import accumulated, route_level_ground
from sitepipe.errors import InternalError


@dataclass(frozen=True, slots=True)
class Network:
    """Flood and routes of one ground.

    Parameters
    ----------
    heights, level : (rows, columns) int32 array
        Ground and filled ground. [0.1 mm]
    receiver : (rows, columns) int32 array
    order : (known cells,) int32 array
        From the outlets up.
    cells : (rows, columns) int32 array
        Cells that drain through each, itself included.
    hollow : (rows, columns) int32 array
        Number of the outermost hollow from 1, 0 elsewhere.
    spill : (hollows + 1,) int32 array
        Flat index of the rim cell that each spills over.
    outflow_cells : int
        Sum of ``cells`` where water leaves: the number of known cells.
    """

    heights: IntArray
    level: IntArray
    receiver: IntArray
    order: IntArray
    cells: IntArray
    hollow: IntArray
    spill: IntArray
    outflow_cells: int

    @property
    def depth(self) -> FloatArray:
        """Depth of every full hollow, 0 outside, NaN where unknown. [m]."""
        depth = (self.level.astype(np.float64) - self.heights) / PER_METRE
        depth[self.heights == UNKNOWN] = np.nan
        return depth


def route(heights: IntArray) -> Network:
    """Flood the ground and route every cell's water to where it leaves.

    Parameters
    ----------
    heights : (rows, columns) int32 array
        ``UNKNOWN`` where not known. [0.1 mm]

    Raises
    ------
    InternalError
        If what leaves is not what there was.

    Examples
    --------
    >>> import numpy as np
    >>> route(np.array([[3, 3, 3], [3, 1, 2], [3, 3, 3]], dtype=np.int32)).outflow_cells
    9
    """
    level = filled(heights)
    receiver = steepest_receivers(level, heights)
    hollow, spill = route_level_ground(level, heights, receiver)
    order, cells = accumulated(receiver)
    known = int(np.count_nonzero(heights != UNKNOWN))
    outflow = int(cells[receiver == LEAVES].sum(dtype=np.int64))
    if outflow != known or order.size != known:
        raise InternalError(
            f"{known} cells were routed, but {outflow} leave the heights; water was lost, which must never be: "
            "please report it with the heights"
        )
    return Network(heights, level, receiver, order, cells, hollow, spill, outflow)
