"""Where the sun reaches, in sentences."""

from __future__ import annotations

import calendar

import numpy as np

from sitepipe.analysis import Analysis
from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.units import NO_BREAK, say_hours


def inside_parcel(analysis: Analysis) -> BoolArray:
    """Return which cells lie in a zone of the parcel."""
    return np.asarray(np.isfinite(analysis.zones.zone) & (analysis.zones.zone > 0))


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
    sun, inside = analysis.sunlight, inside_parcel(analysis)
    mean, leanest = (say_hours(mean_inside(hours, inside)) for hours in (sun.sun_hours, sun.leanest_hours))
    full = analysis.settings.sun.light_breaks[1]
    share = _tenths(share_inside(sun.leanest_hours, inside, full))
    month = calendar.month_name[sun.leanest_month]
    return (
        f"{season(analysis)}: {mean} of direct sun a day on the mean.",
        f"{month} is the leanest month, with {leanest}; {share} {say_hours(full)} or more.",
    )


def _tenths(share: float) -> str:
    if not np.isfinite(share):
        return "how much of the parcel is in full sun is not known:"
    tenths = int(np.floor(share * 10.0 + 0.5))
    told = {0: "hardly any of the parcel keeps", 1: "1 tenth of the parcel keeps", 10: "all or nearly all of it keeps"}
    return told.get(tenths, f"{tenths} tenths of the parcel keep")
