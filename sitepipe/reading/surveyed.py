"""The survey laid into the ground that was read, with what to say of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError
from sitepipe.grid import Grid
from sitepipe.reading.accuracy import Accuracy
from sitepipe.reading.blending import blend
from sitepipe.reading.ground import OpenGround
from sitepipe.reading.heights import CleanHeights
from sitepipe.reading.survey import Survey, surface_on
from sitepipe.settings import SurveySettings

LARGE_SPREAD = 0.3
"""Survey and surroundings that differ by more than this here and there show the same ground badly; own choice. [m]"""


@dataclass(frozen=True, slots=True)
class Surveyed:
    """Ground with or without a survey in it.

    Parameters
    ----------
    elevation, error : (rows, columns) float array
        [m]
    accuracy : Accuracy
        Of the ground in the parcel.
    assumptions, warnings : tuple of str
    what : str
        The sources, in a phrase.
    """

    elevation: FloatArray
    error: FloatArray
    accuracy: Accuracy
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]
    what: str


def lay_survey(
    clean: CleanHeights, accuracy: Accuracy, survey: Survey, source: OpenGround, grid: Grid, settings: SurveySettings
) -> Surveyed:
    """Lay a survey into the heights around it, or let it stand alone where there are none."""
    own = surface_on(survey, grid)
    inside = np.isfinite(own.elevation)
    if not inside.any():
        raise InputError(f"{survey.name}: the levels lie outside the heights that are read. Check where they lie")
    typical = float(np.round(np.median(own.error[inside]), 4))
    told = [
        (
            f"{survey.name}: {len(survey.points)} levels some {survey.spacing:.1f} m apart speak for "
            f"{survey.area.area:,.0f} m2; "
            f"left out in turn, a level is missed by {own.fit.error * 100.0:.1f} cm (root mean square)."
        ),
    ]
    broken = len(survey.creases) + len(survey.jumps)
    if broken:
        told.append(f"The surveyed ground may break along {broken} drawn ditches, culverts, kerbs and walls.")
    reason = f"the levels of {survey.name}, left out in turn and carried to each cell; half the cells are better"
    believed = Accuracy(typical, max(survey.spacing, grid.cell), reason)
    if source.name == survey.name:
        return Surveyed(own.elevation, own.error, believed, tuple(told), (), source.what)
    joined = blend(own.elevation, own.error, clean.elevation, accuracy.error, grid.cell, settings.collar)
    told.append(
        f"The heights of {source.name} are shifted by {joined.shift:+.3f} m to the levels (the median "
        "difference; they still "
        f"differ by {joined.spread:.2f} m here and there) and joined over {settings.collar:g} m around them."
    )
    warnings: tuple[str, ...] = ()
    if joined.spread > LARGE_SPREAD:
        warnings = (
            (
                f"{survey.name} and {source.name} differ by {joined.spread:.2f} m here and there, after one was "
                "shifted to the "
                "other. Check where the levels lie, and the unit of either."
            ),
        )
    what = f"{survey.name} ({len(survey.points)} levels), around it {source.what}"
    return Surveyed(joined.elevation, joined.error, believed, tuple(told), warnings, what)
