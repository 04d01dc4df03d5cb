"""Trellises and the shade that the plan casts on itself, in sentences."""

from __future__ import annotations

import math

from sitepipe.analysis import Analysis
from sitepipe.answers.names import called, capital, count, spoken, work_named
from sitepipe.saying import NO_BREAK, say_distance, say_hours, say_length
from sitepipe.site import Kind
from sitepipe.units import compass_word
from sitepipe.works.houses.ground import SHOULDER_MONTHS
from sitepipe.works.mounds.record import Lacking
from sitepipe.works.record import ShadeCost
from sitepipe.works.rows.record import Arch, Trellis

LEAST_LOST = 0.01
"""Beds that lose less are not shaded to speak of. [h/day]"""
LEAST_SAID = 0.05
"""Shorter times are summed up as next to nothing. [h]"""
MOST_SAID = 4
"""Shadows that are told one by one."""


def rows(analysis: Analysis) -> tuple[str, ...]:
    """Say where the trellises go, or why there is none."""
    if analysis.plan.trellises:
        return tuple(_row(row, analysis) for row in analysis.plan.trellises)
    if not analysis.settings.trellis.propose or analysis.plan.mound_choice.lacking is Lacking.FINER_HEIGHTS:
        return ()
    if analysis.plan.mounds or analysis.site.of_kind(Kind.BED):
        return ("Trellis: beside no bed or mound is there free, sunny ground for one.",)
    return ("Trellis: there is no bed or mound whose vines it could carry. Draw the bed that you have.",)


def _row(row: Trellis, analysis: Analysis) -> str:
    units = analysis.settings.units
    return (
        f"Trellis {row.number}: {say_distance(row.line.length, units)} long, {say_length(row.height, units)} high, "
        f"running {say_ends(row.bearing)}; {row.posts} posts, {say_length(row.post_depth, units)} in the ground. "
        f"{row_reason(row, analysis)}"
    )


def row_reason(row: Trellis, analysis: Analysis) -> str:
    """Say whose vines a row carries, which way it runs and why, what the beds lose to it, and how far to keep."""
    units = analysis.settings.units
    if row.beds_lose <= row.turned_beds_lose:
        why = "which costs the beds less than the other way"
    elif abs(math.sin(math.radians(row.bearing))) < math.sqrt(0.5):
        why = "which lights both sides of the vines"
    else:
        why = "which lies along the beds"
    shade = (
        f"the beds in its reach lose {_sun_a_day(row.beds_lose)} to it, {_sun_a_day(row.turned_beds_lose)} to it turned"
    )
    if max(row.beds_lose, row.turned_beds_lose) < LEAST_LOST:
        why, shade = "", "it shades no bed either way"
    of = "" if row.beside is None else f"For vines on {spoken(row.beside, analysis.site)}, which it stands beside. "
    braced = ", braced at both ends, for the ground is wet" if row.is_wet else ""
    return (
        f"{of}Runs {say_ridge(row.bearing)}"
        f"{f', {why}' if why else ''}: {shade}. Beyond {say_length(row.clear_distance, units)} on its "
        f"shaded side a bed keeps three quarters of its sun. Posts {say_length(row.post_depth, units)} deep{braced}."
    )


SPRINGS = "Two people bend a panel, and nobody stands in its line: it springs. Cap its cut ends."


def say_arch(arch: Arch, analysis: Analysis) -> str:
    """Say what an arch takes and where it stands."""
    units = analysis.settings.units
    over = "" if arch.beside is None else f" over {spoken(arch.beside, analysis.site)}"
    wet = ", for the ground is wet" if arch.is_wet else ""
    return (
        f"{count(arch.panels, 'bent panel')}{over}, {say_length(arch.span, units)} from foot to foot and "
        f"{say_length(arch.height, units)} high inside; {arch.posts} posts, {say_length(arch.post_depth, units)} "
        f"deep{wet}. Vines are planted at both feet."
    )


def arches(analysis: Analysis) -> tuple[str, ...]:
    """Say each arch."""
    return tuple(f"{capital(work_named(arch))}: {say_arch(arch, analysis)}" for arch in analysis.plan.arches)


def own_shade(costs: tuple[ShadeCost, ...]) -> str:
    """Say in a sentence which work loses how much to which, the most first; what stands for none is summed up."""
    told = sorted((c for c in costs if c.hours >= LEAST_SAID), key=lambda c: (-c.hours, c.work, c.by))[:MOST_SAID]
    if not told:
        return (
            "The plan takes next to no sun from itself: no mound, bed, row or house loses 3 minutes a day to another."
        )
    parts = [f"{called(cost.work)} loses {say_sun(cost.hours)}{_when(cost)} to {called(cost.by)}" for cost in told]
    return f"What the plan shades itself, on a mean day: {'; '.join(parts)}; nothing else loses more."


def say_ridge(bearing: float) -> str:
    """Say a bearing as a pair of directions.

    Examples
    --------
    >>> say_ridge(90.0), say_ridge(170.0)
    ('east-west', 'north-south')
    """
    names = ("north-south", "north-east to south-west", "east-west", "south-east to north-west")
    return names[round((bearing % 180.0) / 45.0) % 4]


def say_ends(bearing: float) -> str:
    """Say from where to where a line runs."""
    return f"{compass_word(bearing)} to {compass_word(bearing + 180.0)}"


def say_sun(hours: float) -> str:
    """Say hours of sun, short ones in minutes.

    Examples
    --------
    >>> say_sun(0.4).replace(NO_BREAK, " ")
    '24 minutes of sun'
    """
    minutes = round(60.0 * hours)
    return f"{minutes}{NO_BREAK}minutes of sun" if minutes < 45 else f"{say_hours(hours)} of sun"


def _sun_a_day(hours: float) -> str:
    if hours < LEAST_LOST:
        return "next to no sun"
    minutes = round(60.0 * hours)
    if minutes < 45:
        return f"{minutes}{NO_BREAK}{'minute' if minutes == 1 else 'minutes'} of sun a day"
    return f"{say_hours(minutes / 60.0)} of sun a day"


def _when(cost: ShadeCost) -> str:
    return " in spring and autumn" if cost.months == SHOULDER_MONTHS else " in the growing season"
