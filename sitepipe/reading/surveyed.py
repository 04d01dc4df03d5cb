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
from sitepipe.reading.notes import NO_NOTES, Notes
from sitepipe.reading.survey import Misread, Survey, SurveyedGround, surface_on
from sitepipe.saying import say_area, say_depth, say_length, say_level
from sitepipe.settings import Settings
from sitepipe.units import Units

TILTED = 0.05
"""Less than this from end to end of the levels is not worth a word; own choice. [m]"""
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
    what : str
        The sources, in a phrase.
    notes : Notes
    """

    elevation: FloatArray
    error: FloatArray
    accuracy: Accuracy
    what: str
    notes: Notes = NO_NOTES


def lay_survey(
    clean: CleanHeights, accuracy: Accuracy, survey: Survey, source: OpenGround, grid: Grid, settings: Settings
) -> Surveyed:
    """Lay a survey into the heights around it, or let it stand alone where there are none."""
    units, alone = settings.units, source.name == survey.name
    own = surface_on(survey, grid, np.full(grid.shape, np.nan) if alone else clean.elevation)
    survey = own.survey
    inside = np.isfinite(own.elevation)
    if not inside.any():
        raise InputError(f"{survey.name}: the levels lie outside the heights that are read. Check where they lie")
    typical = float(np.round(np.median(own.error[inside]), 4))
    told = [
        (
            f"{survey.name}: {len(survey.points)} levels some {say_length(survey.spacing, units)} apart speak for "
            f"{say_area(survey.area.area, units)}; the others foretell a level to {say_depth(own.fit.error, units)}."
        ),
    ]
    broken = len(survey.creases) + len(survey.jumps)
    if broken:
        told.append(f"The surveyed ground may break along {broken} drawn ditches, culverts, kerbs and walls.")
    if survey.bottoms:
        levels = len(survey.points) - len(survey.open_points)
        told.append(
            f"{levels} levels of {survey.name} follow a ditch or lie low in a row: between them the ground is taken to "
            "fall evenly, as its bottom does."
            + (f" Its sides are those that {source.name} shows, stretched to that bottom." if own.shown else "")
        )
    reason = f"the levels of {survey.name}, left out in turn and carried to each cell; half the cells are better"
    warnings = [_said_of_misread(one, own, units) for one in own.misread]
    believed = Accuracy(typical, max(survey.spacing, grid.cell), reason)
    if alone:
        return Surveyed(own.elevation, own.error, believed, source.what, Notes(tuple(told), tuple(warnings)))
    joined = blend(own.elevation, own.error, clean.elevation, accuracy.error, grid.cell, settings.survey.collar)
    side, by = "raised" if joined.shift > 0.0 else "lowered", say_length(abs(joined.shift), units)
    moved = "stay at their level" if say_level(joined.shift, units) == "level" else f"are {side} by {by} to the levels"
    told.append(
        f"The heights of {source.name} {moved} (they still differ by {say_depth(joined.spread, units)} here and there) "
        f"and are joined over {say_length(settings.survey.collar, units)} around the levels."
    )
    across = float(np.ptp(np.argwhere(inside) @ np.array(joined.tilt))) * grid.cell
    if np.hypot(*joined.tilt) > 3.0 * joined.tilt_error and across > TILTED:
        warnings.append(
            f"{survey.name} is tilted against {source.name} by {say_length(across, units)} from end to end of the "
            "levels: one of the two drifts. Close the level book on a second known height, or check the staff."
        )
    if joined.spread > LARGE_SPREAD:
        warnings.append(
            f"{survey.name} and {source.name} differ by {say_length(joined.spread, units)} here and there, after one "
            "was shifted to the other. Check where the levels lie, and the unit of either."
        )
    what = f"{survey.name} ({len(survey.points)} levels), around it {source.what}"
    return Surveyed(joined.elevation, joined.error, believed, what, Notes(tuple(told), tuple(warnings)))


def _said_of_misread(one: Misread, own: SurveyedGround, units: Units) -> str:
    usual = float(np.median(np.abs(own.fit.left_out)))
    side = "above" if one.apart > 0.0 else "below"
    told = (
        f"{own.survey.name}: {one.level.point!r} lies {say_length(abs(one.apart), units)} {side} the surface through "
        f"the other levels; half of those lie within {say_depth(usual, units)} of theirs."
    )
    if one.is_left_out:
        return f"{told} It is left out: read it again. If it is right, take levels around it, and it counts."
    return f"{told} Other heights beside it stand out too, so it is kept: take more levels there."
