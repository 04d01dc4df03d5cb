"""Own survey inside, the heights around it: brought to one level, and joined over a collar."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.errors import InputError

FEWEST_SHARED = 9


@dataclass(frozen=True, slots=True)
class Blended:
    """Ground of two sources.

    Parameters
    ----------
    elevation, error : (rows, columns) float array
        [m]
    shift : float
        What was added to the heights around. [m]
    spread : float
        Robust standard deviation of survey minus shifted heights where both are known. [m]
    tilt : (float, float)
        Rise of the survey over the heights around, down the rows and along the columns. [1]
    tilt_error : float
        Standard error of its steepest. [1]
    """

    elevation: FloatArray
    error: FloatArray
    shift: float
    spread: float
    tilt: tuple[float, float]
    tilt_error: float


def blend(
    survey: FloatArray,
    survey_error: FloatArray,
    around: FloatArray,
    around_error: float,
    cell: float,
    collar: float,
) -> Blended:
    """Lay a survey into the heights around it.

    The heights around are shifted by the median difference where both are known; a bird or a roof in them does
    not move it. What then still differs at the survey's rim fades out over the collar, outside the survey:
    inside, the survey stands untouched.

    Parameters
    ----------
    survey, survey_error : (rows, columns) float array
        NaN beyond the surveyed area. [m]
    around : (rows, columns) float array
        NaN where unknown. [m]
    around_error : float
        Standard deviation of the heights around. [m]
    cell, collar : float
        [m]

    Raises
    ------
    InputError
        If the two share fewer than nine cells.

    Examples
    --------
    >>> inside = np.full((5, 9), np.nan)
    >>> inside[1:4, 1:4] = 100.0
    >>> around = np.full((5, 9), 42.0)
    >>> joined = blend(inside, inside * 0.0 + 0.01, around, 0.1, 1.0, 3.0)
    >>> joined.shift, float(joined.elevation[0, 8])
    (58.0, 100.0)
    """
    from scipy.ndimage import distance_transform_edt

    is_surveyed = np.isfinite(survey)
    shared = is_surveyed & np.isfinite(around)
    if int(shared.sum()) < FEWEST_SHARED:
        raise InputError(
            f"the surveyed ground and the heights around share {int(shared.sum())} cells; {FEWEST_SHARED} are "
            "needed to bring "
            "them to one level. Check where the levels lie"
        )
    apart = survey[shared] - around[shared]
    shift = float(np.median(apart))
    spread = 1.4826 * float(np.median(np.abs(apart - shift)))
    tilt, tilt_error = _tilt(apart, shared, cell)
    shifted = around + shift
    distance, (row, column) = distance_transform_edt(~is_surveyed, sampling=cell, return_indices=True)
    # The step is measured at the nearest surveyed cell whose neighbourhood outside is known too.
    step = np.where(np.isfinite(shifted), survey - shifted, 0.0)[row, column]
    share = np.clip(1.0 - (distance - 0.5 * cell) / max(collar, cell), 0.0, 1.0)
    share = share * share * (3.0 - 2.0 * share)
    outside = shifted + share * step
    rim_error = survey_error[row, column]
    error = np.sqrt(
        (share * rim_error) ** 2 + ((1.0 - share) * around_error) ** 2 + (share * (1.0 - share) * spread) ** 2
    )
    elevation = np.where(is_surveyed, survey, outside)
    return Blended(
        elevation=elevation,
        error=np.where(is_surveyed, survey_error, np.where(np.isfinite(outside), np.round(error, 4), np.nan)),
        shift=shift,
        spread=spread,
        tilt=tilt,
        tilt_error=tilt_error,
    )


def _tilt(apart: FloatArray, shared: BoolArray, cell: float) -> tuple[tuple[float, float], float]:
    """Fit a plane to differences, outliers left out; return its slopes and the standard error of the steepest. [1]."""
    row, column = np.nonzero(shared)
    x, y = (column - column.mean()) * cell, (row - row.mean()) * cell
    off = np.abs(apart - np.median(apart))
    fits = off <= 4.0 * 1.4826 * max(float(np.median(off)), 1e-6)
    terms = np.column_stack([np.ones(x.size), x, y])
    plane = np.linalg.lstsq(terms[fits], apart[fits], rcond=None)[0]
    left = np.full(shared.shape, np.nan)
    left[row[fits], column[fits]] = (apart - terms @ plane)[fits]
    variance = max(float(np.nanvar(left)), 1e-12)
    # Neighbours that err alike count for less: exp(-d / c) over the plane makes 2 pi c2 of them one.
    alike = float(np.nan_to_num(np.nanmean(left[:, 1:] * left[:, :-1]))) / variance
    length = cell / -np.log(np.clip(alike, 1e-3, 0.999))
    independent = max(fits.sum() / max(2.0 * np.pi * (length / cell) ** 2, 1.0), 4.0)
    reach = max(min(float(np.std(x)), float(np.std(y))), cell)
    return (float(plane[2]), float(plane[1])), float(np.sqrt(variance / independent)) / reach
