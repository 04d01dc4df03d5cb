"""How far heights can be believed, and who says so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.settings import GroundSettings

LIDAR_CELL, MAP_CELL = 2.0, 10.0
LIDAR_ERROR = 0.10
"""Public lidar on bare ground, standard deviation; value from memory. [m]"""
MAP_ERROR = 0.5
"""Heights with cells of 2 to 10 m; common practice, no source. [m]"""
COARSE_ERROR = 3.0
"""Heights with cells above 10 m; common practice, no source. [m]"""
CORRELATION = 10.0
"""Neighbouring lidar heights err together over about this distance; common practice, no source. [m]"""
CORRELATION_CELLS = 3.0


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Standard deviation of a height and the distance over which errors go together. [m]."""

    error: float
    correlation: float
    source: str


def height_error_of_source(source_cell: float, is_measured: bool, step: float, settings: GroundSettings) -> Accuracy:
    """Return how far heights can be believed.

    Parameters
    ----------
    source_cell : float
        [m]
    is_measured : bool
        Whether they come from a point cloud, whatever the cell.
    step : float
        Step between heights where they come in steps; its rounding is added. [m]
    settings : GroundSettings
        What the user says wins.

    Examples
    --------
    >>> height_error_of_source(1.0, False, 0.0, GroundSettings()).error
    0.1
    """
    correlation = settings.error_correlation or max(CORRELATION, CORRELATION_CELLS * source_cell)
    if settings.error is not None:
        return Accuracy(settings.error, correlation, "site.toml, ground.error")
    if is_measured:
        error, reason = LIDAR_ERROR, "a laser scan: about 10 cm on bare ground (from memory)"
    elif source_cell <= LIDAR_CELL:
        error, reason = (
            LIDAR_ERROR,
            "cells of 2 m or less, as public lidar has: about 10 cm on bare ground (from memory)",
        )
    elif source_cell <= MAP_CELL:
        error, reason = MAP_ERROR, "cells of 2 to 10 m: about half a metre (common practice, no source)"
    else:
        error, reason = COARSE_ERROR, "cells above 10 m: some metres (common practice, no source)"
    if step > 0.01:
        error = float(np.hypot(error, step / np.sqrt(12.0)))
        reason += f", and heights rounded to {step:.3g} m"
    return Accuracy(error, correlation, reason)
