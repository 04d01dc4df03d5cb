"""Where the sun reaches, in sentences."""

from __future__ import annotations

import calendar

import numpy as np

from sitepipe.analysis import Analysis
from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.saying import NO_BREAK, say_hours, say_length
from sitepipe.scoring.record import Reason, Use


def inside_parcel(analysis: Analysis) -> BoolArray:
    """Return which cells lie in a zone of the parcel."""
    return np.asarray(np.isfinite(analysis.zones.zone) & (analysis.zones.zone > 0))


def beside_buildings(analysis: Analysis) -> BoolArray:
    """Return which cells lie in a zone of the parcel and not beneath a drawn building."""
    scores = analysis.scores
    first = [k for k, one in enumerate(scores.exclusions) if one.reason is Reason.BUILDING]
    is_built = np.isin(scores.limited_by[Use.PATH], [-2 - k for k in first])
    return np.asarray(inside_parcel(analysis) & ~is_built)


def mean_inside(values: FloatArray, inside: BoolArray) -> float:
    """Return the mean of the known values inside, NaN where there is none."""
    known = values[inside & np.isfinite(values)]
    return float(known.mean()) if known.size else float("nan")


def share_inside(values: FloatArray, inside: BoolArray, least: float) -> float:
    """Return the share of the known cells inside that reach a value, 0 to 1, NaN where there is none."""
    known = values[inside & np.isfinite(values)]
    return float((known >= least).mean()) if known.size else float("nan")


def season(analysis: Analysis) -> str:
    """Say the season that is counted: ``1 May to 30 September``."""
    first, last = (f"{day.day}{NO_BREAK}{calendar.month_name[day.month]}" for day in analysis.sunlight.season)
    return f"{first} to {last}"


def sunlight(analysis: Analysis) -> tuple[str, ...]:
    """Say how much sun the parcel has over the season and in its leanest month."""
    sun, inside = analysis.sunlight, beside_buildings(analysis)
    mean, leanest = (say_hours(mean_inside(hours, inside)) for hours in (sun.sun_hours, sun.leanest_hours))
    full = analysis.settings.sun.light_breaks[1]
    share = _tenths(share_inside(sun.leanest_hours, inside, full))
    month = calendar.month_name[sun.leanest_month]
    return (
        f"{season(analysis)}: {mean} of direct sun a day on the mean.",
        f"{month} is the leanest month, with {leanest}; {share} {say_hours(full)} or more.",
    )


def assumptions(analysis: Analysis) -> tuple[str, ...]:
    """Say what the hours of sun take for granted."""
    sun = analysis.sunlight
    guesses = {
        "The growing season is guessed from the latitude alone and may be weeks off; "
        "give season.start and season.end where you know them.": sun.is_season_guessed,
        "Leaves are taken to open two weeks after the season begins and to be down three weeks after it.": (
            sun.are_leaves_guessed
        ),
    }
    least = say_length(sun.disbelief, analysis.settings.units)
    return (
        " ".join(guess for guess, is_made in guesses.items() if is_made) or "The season's dates are as given.",
        f"Ground that rises by less than {least} casts no shade: the heights are not that sure.",
    )


def _tenths(share: float) -> str:
    if not np.isfinite(share):
        return "how much of the parcel is in full sun is not known:"
    tenths = int(np.floor(share * 10.0 + 0.5))
    told = {0: "hardly any of the parcel keeps", 1: "1 tenth of the parcel keeps", 10: "all or nearly all of it keeps"}
    return told.get(tenths, f"{tenths} tenths of the parcel keep")
