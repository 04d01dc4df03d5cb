"""From what is lost to what is left: hours, sky and energy of each cell."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, Float32Array, FloatArray


@kernel
def finish(
    full: FloatArray,
    lost: Float32Array,
    sky: Float32Array,
    known: BoolArray,
    east: FloatArray,
    north: FloatArray,
    sky_energy: float,
) -> tuple[Float32Array, FloatArray, FloatArray, FloatArray]:
    """Return hours by month, hours of the season, energy on the ground as it slopes, and sky view.

    Parameters
    ----------
    full : (16,) float array
        Without any horizon: hours of twelve months and of the season, beam east, north, up. [h/day], [MJ/m2/day]
    lost : (rows, columns, 16) float32 array
        The same, taken by horizons.
    sky : (rows, columns, 3) float32 array
        Taken from an even sky, up, east, north. [1]
    known : (rows, columns) bool array
    east, north : (rows, columns) float array
        Rise of the ground per run. [1]
    sky_energy : float
        Of the whole sky on level ground. [MJ/m2/day]

    Returns
    -------
    months : (12, rows, columns) float32 array
        [h/day]
    season, energy, sky_view : (rows, columns) float array
        [h/day], [MJ/m2/day], [1]; NaN where unknown.
    """
    rows, columns = known.shape
    months = np.full((12, rows, columns), np.nan, dtype=np.float32)
    season = np.full((rows, columns), np.nan)
    energy = np.full((rows, columns), np.nan)
    sky_view = np.full((rows, columns), np.nan)
    for row in range(rows):
        for month in range(12):
            for column in range(columns):
                if known[row, column]:
                    months[month, row, column] = max(full[month] - lost[row, column, month], 0.0)
        for column in range(columns):
            if not known[row, column]:
                continue
            season[row, column] = max(full[12] - lost[row, column, 12], 0.0)
            open_sky = min(1.0, max(0.0, 1.0 - sky[row, column, 0]))
            sky_view[row, column] = open_sky
            length = np.sqrt(1.0 + east[row, column] ** 2 + north[row, column] ** 2)
            beam = full[15] - lost[row, column, 15]
            beam -= east[row, column] * (full[13] - lost[row, column, 13])
            beam -= north[row, column] * (full[14] - lost[row, column, 14])
            tilted = 1.0 - sky[row, column, 0]
            tilted += east[row, column] * sky[row, column, 1] + north[row, column] * sky[row, column, 2]
            energy[row, column] = (max(beam, 0.0) + sky_energy * min(1.0, max(tilted, 0.0))) / length
    return months, season, energy, sky_view
