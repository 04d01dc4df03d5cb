"""The answer on one screen: what stops you first, then water, sun, what to build, and what to do and measure next."""

from __future__ import annotations

import calendar
import textwrap
from collections import Counter
from collections.abc import Iterator

from sitepipe.analysis import Analysis
from sitepipe.answers import advice, ground_water, stock, sun, water, works
from sitepipe.answers.cautions import cautions_of
from sitepipe.answers.hazards import near_lines
from sitepipe.answers.impact import say_growth, verdict
from sitepipe.answers.jobs import say_months
from sitepipe.answers.mounds import say_judgement
from sitepipe.answers.names import capital, count, joined, shown, work_named
from sitepipe.answers.report import Passage
from sitepipe.answers.trial import say_change
from sitepipe.answers.where import name_of_place, say_place
from sitepipe.saying import (
    say_area,
    say_depth,
    say_distance,
    say_hours,
    say_length,
    say_rain,
    say_volume,
    say_work,
)
from sitepipe.scoring.record import Reason
from sitepipe.site import Kind
from sitepipe.wetness.record import SoggyPlace
from sitepipe.works.record import Plan

WIDTH = 72
"""Of a line on the screen. [characters]"""
AT_THE_WALL, AT_THE_HOUSE = 0.3, 3.05
"""Ground must fall away from a wall over its first 10 ft: International Residential Code R401.3, from memory. [m]"""
MOST_STOPS, MOST_PLACES = 3, 3


def brief(analysis: Analysis) -> tuple[Passage, ...]:
    """Return the answer in a few sentences for each question; nothing that is empty."""
    passages = (
        Passage("Stop first", (*tuple(_stops(analysis))[:MOST_STOPS], *_before_digging(analysis))),
        Passage("Water", tuple(_water(analysis))),
        Passage("Sun", (_sun(analysis),)),
        Passage("Build", tuple(_build(analysis))),
        Passage("This year", tuple(_this_year(analysis))),
        Passage("To buy", tuple(stock.to_buy(analysis))),
        Passage("Short", tuple(stock.short(analysis))),
        Passage("Least sure", (least_sure(analysis),)),
        Passage("Measure next", tuple(one.what for one in advice.worth_an_hour(analysis.site, analysis.settings)[:1])),
    )
    return tuple(passage for passage in passages if passage.sentences)


def lines_of(passages: tuple[Passage, ...]) -> Iterator[str]:
    """Yield lines no wider than a screen: each heading runs into its first sentence, the rest hangs below it."""
    for passage in passages:
        for number, sentence in enumerate(passage.sentences):
            start = f"{passage.heading}: " if number == 0 else "  "
            yield from textwrap.wrap(f"{start}{sentence}", WIDTH, subsequent_indent="    ", drop_whitespace=True)


def _stops(analysis: Analysis) -> Iterator[str]:
    """Say what must be cleared up before anyone digs."""
    units = analysis.settings.units
    hidden = sum(one.outline.area for one in analysis.scores.exclusions if one.reason is Reason.UNDRAWN)
    if hidden > 0.0:
        share = max(hidden / analysis.site.parcel.area, 0.01)
        yield f"On {share:.0%} of the parcel stands what is not drawn: wood, a roof? Nothing is planned there; draw it."
    yield from (caution.text for caution in cautions_of(analysis) if caution.is_stop)
    for place in analysis.wetness.soggy_places:
        for building in analysis.site.of_kind(Kind.BUILDING):
            far = float(place.outline.distance(building.geometry))
            if place.depth is not None and far <= AT_THE_HOUSE:
                away = f"{say_distance(far, units)} from" if far >= AT_THE_WALL else "at the wall of"
                yield f"Water stands {away} {shown(building)}: lead it away from there before anything else."
    yield from near_lines(analysis)


def _before_digging(analysis: Analysis) -> tuple[str, ...]:
    if not analysis.plan.jobs:
        return ()
    return ("Before anyone digs: call 811 (elsewhere the local line service), wait.",)


def _water(analysis: Analysis) -> Iterator[str]:
    units = analysis.settings.units
    places = [place for place in analysis.wetness.soggy_places if place.depth is not None]
    storm = water.larger_storm(analysis)
    after = f" after {say_rain(storm.rain_depth, units)} of rain" if storm else ""
    if places:
        hollows, area = count(len(places), "hollow"), say_area(water.standing_area(analysis), units)
        yield f"stands in {hollows}, {area} in all{after}:"
    else:
        yield "stands nowhere for long, as far as the heights can tell."
    names = Counter(name_of_place(place, analysis.site) for place in places[:MOST_PLACES])

    def named(place: SoggyPlace) -> str:
        """Call a place by its name, and by its way from the gate where another has the same name."""
        name = name_of_place(place, analysis.site)
        return name if names[name] == 1 else say_place(place, analysis.site, units)

    for place in places[:MOST_PLACES]:
        doubt = "" if place.probability >= water.ALMOST_SURE else f", {water.likely(place.probability)}"
        depth = say_depth(place.depth or 0.0, units)
        size = f"{say_area(place.area, units)}, {depth} deep{doubt}"
        yield f"{place.rank}. {named(place)}: {size}."
    rest = len(places) - MOST_PLACES
    soaked = len(analysis.wetness.soggy_places) - len(places)
    if rest > 0:
        yield f"{capital(count(rest, 'smaller hollow'))} beside these."
    if soaked:
        more = "more place" if places else "place"
        yield f"{capital(count(soaked, more))} {'is' if soaked == 1 else 'are'} soft rather than flooded."
    yield water.through(analysis)


def _sun(analysis: Analysis) -> str:
    found, inside = analysis.sunlight, sun.beside_buildings(analysis)
    mean, leanest = (say_hours(sun.mean_inside(hours, inside)) for hours in (found.sun_hours, found.leanest_hours))
    month = calendar.month_name[found.leanest_month]
    return f"{mean} a day, {sun.season(analysis)}; {month} least, {leanest}."


def _build(analysis: Analysis) -> Iterator[str]:
    plan, units = analysis.plan.to_build().without_waiting(), analysis.settings.units
    found = []
    if plan.mounds:
        heights = sorted(mound.height.built for mound in plan.mounds)
        low, high = (say_length(height, units) for height in (heights[0], heights[-1]))
        span = low if low == high else f"{low} to {high}"
        guess = " (guesses: bore holes first)" if plan.mounds[0].is_guess else ""
        found.append(f"{count(len(plan.mounds), 'mound')}, {span} high{guess}")
    if plan.hoop_houses:
        house = plan.hoop_houses[0]
        found.append(f"a hoop house {say_distance(house.length, units)} by {say_distance(house.width, units)}")
    if plan.trellises:
        found.append(count(len(plan.trellises), "trellis", "trellises"))
    if plan.arches:
        found.append(count(len(plan.arches), "arch", "arches"))
    if plan.swales:
        found.append(count(len(plan.swales), "swale"))
    if plan.paths:
        length = say_distance(sum(path.length for path in plan.paths), units)
        found.append(f"{count(len(plan.paths), 'path')}, {length}")
    yield f"{'; '.join(found)}." if found else "nothing is proposed; 'sitepipe run --full' says why."
    yield from stock.waits(analysis)
    if plan.impact is not None:
        yield f"{verdict(plan.impact)} {say_growth(plan.impact, units)}".strip()
    yield from (
        f"{capital(work_named(mound))}: {say_judgement(mound, analysis)}" for mound in plan.mounds if mound.would_do
    )
    yield from say_change(analysis)


def _this_year(analysis: Analysis) -> Iterator[str]:
    plan, settings = analysis.plan, analysis.settings
    if not plan.jobs:
        return
    first = plan.years[0] if plan.years else None
    if first is not None and first.works:
        parts = [f"{say_volume(volume, settings.units)} of {stock.in_short(name)}" for name, volume in first.materials]
        yield f"{stock.works_named(stock.without_paths(first.works))}{f', with {joined(parts)}' if parts else ''}."
    hours = work_of_first_year(plan)
    months = f", {say_months(first.months)}" if first is not None and first.months else ""
    yield f"{capital(say_work(hours))} of work{months}: {works.days_said(hours, settings.jobs.people)}."


def work_of_first_year(plan: Plan) -> float:
    """Return the hours of work before the second year. [h]."""
    return sum(job.people_hours for job in plan.jobs if job.year == 1)


def least_sure(analysis: Analysis) -> str:
    """Say what a wrong guess would change most, the gravest first."""
    if analysis.water_table.is_estimated:
        return "how high mounds must be: the depth to water is worked out, not read in a hole."
    if analysis.site.open_edge:
        return "how much water comes: it also comes from beyond the heights."
    notes = ground_water.notes(analysis.water_table, analysis.settings.units)
    if notes:
        return notes[0]
    return "how the ground drains below the spade."
