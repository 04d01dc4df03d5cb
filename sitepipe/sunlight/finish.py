"""From what is lost to what is left: hours, sky and energy of each cell."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import BoolArray, Float32Array, FloatArray


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
    months = np.full((12, *known.shape), np.nan, dtype=np.float32)
    for month in range(12):
        months[month, known] = np.maximum(full[month] - lost[known, month], 0.0)
    season, energy, sky_view = (np.full(known.shape, np.nan) for _ in range(3))
    season[known] = np.maximum(full[12] - lost[known, 12], 0.0)
    up, eastward, northward = 1.0 - sky[known, 0], sky[known, 1], sky[known, 2]
    sky_view[known] = np.clip(up, 0.0, 1.0)
    rise_east, rise_north = east[known], north[known]
    beam = full[13:] - lost[known, 13:]
    beam_met = np.maximum(beam[:, 2] - rise_east * beam[:, 0] - rise_north * beam[:, 1], 0.0)
    sky_met = np.clip(up + rise_east * eastward + rise_north * northward, 0.0, 1.0)
    energy[known] = (beam_met + sky_energy * sky_met) / np.sqrt(1.0 + rise_east**2 + rise_north**2)
    return months, season, energy, sky_view
