"""What the wet-season water rests on, in sentences."""

from __future__ import annotations

from sitepipe.analysis import Analysis
from sitepipe.answers.names import count, joined, without_controls
from sitepipe.saying import say_depth, say_length
from sitepipe.units import Units
from sitepipe.wetness.record import Bound, Evidence, HoleLevel, WaterTable

NO_HOLES = (
    "No auger hole was read: the depth to water is an estimate from the terrain. Bore three to six holes and read them "
    "weekly through one spring before you build high."
)


def basis(analysis: Analysis) -> str:
    """Say what the depth to water rests on."""
    table, units = analysis.water_table, analysis.settings.units
    flow = table.flow
    measured = ""
    if flow.timed_holes:
        rate = say_length(flow.conductivity, units)
        measured = f", and from {count(flow.timed_holes, 'timed hole')}: water moves {rate} a day"
    levels = sum(hole.bound is Bound.LEVEL for hole in table.holes)
    if levels:
        return f"The depth to water is drawn from {count(levels, 'auger hole')} and the lie of the ground{measured}."
    limits = f", and no deeper than {count(len(table.holes), 'hole')} allowed" if table.holes else ""
    return (
        f"The depth to water is an estimate from the lie of the ground alone{measured}, on the wet side of what may "
        f"be{limits}: no auger hole was read in a wet season."
    )


def hole_said(hole: HoleLevel, units: Units) -> str:
    """Say what an auger hole says of the wet season, and by what."""
    place = without_controls(hole.place)
    if hole.gray_depth is not None and hole.evidence is Evidence.COLOUR:
        return f"{place}: gray from {say_depth(hole.gray_depth, units)} down; no wet-season reading."
    water, day = say_depth(hole.highest or 0.0, units), hole.highest_day
    if day is None:
        return f"{place}: dry to its bottom, {water} down, in a wet season."
    if hole.evidence is Evidence.OUT_OF_SEASON:
        return (
            f"{place}: water {water} down on {day.isoformat()}, out of the wet season: in the wet season it stands "
            "higher."
        )
    rain = f", rain: {without_controls(hole.rain_since)}" if hole.rain_since else ""
    gray = f"; gray from {say_depth(hole.gray_depth, units)}" if hole.gray_depth is not None else ""
    return (
        f"{place}: {len(hole.days)} wet-season reading{'s' if len(hole.days) > 1 else ''}, highest water {water} down "
        f"on {day.isoformat()}{rain}{gray}."
    )


def notes(table: WaterTable, units: Units) -> tuple[str, ...]:
    """Say what is to be known, or done, about the auger holes."""
    if not table.holes and not table.silent:
        return (NO_HOLES,)
    said = [_note(hole) for hole in table.holes]
    said += [
        f"{without_controls(place)} was only read dry, out of the wet season: it says nothing about the wet season."
        for place in table.silent
    ]
    said += [
        f"At {without_controls(hole.place)} the map has water {say_depth(hole.mapped, units)} down, its readings say "
        f"{say_depth(hole.depth, units)}: what was read nearby, or the ground, says otherwise. The wetter is kept; "
        "read it again."
        for hole in table.holes
        if hole.is_departed
    ]
    return tuple(note for note in said if note)


def _note(hole: HoleLevel) -> str:
    place = without_controls(hole.place)
    if hole.evidence is Evidence.OUT_OF_SEASON:
        return (
            f"{place} was read only on {joined([day.isoformat() for day in hole.days])}, out of the wet season: "
            "that is no design level; read it again in spring."
        )
    if hole.evidence is Evidence.COLOUR:
        return f"{place} has no wet-season reading; its level rests on the colour of the soil."
    if hole.evidence is Evidence.WET_SEASON and len(hole.days) == 1:
        return f"{place} was read once in a wet season: read it weekly through one spring for a level to trust."
    return ""


def unused_observations(analysis: Analysis) -> tuple[str, ...]:
    """Name the observations that could not be used."""
    features = analysis.site.features
    return tuple(
        f"Observation {ref.number} ({without_controls(features[ref.number - 1].name)}) lies where no height is known; "
        "it is not used."
        for ref in analysis.wetness.unused
    )
