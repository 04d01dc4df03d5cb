"""Months: when each plant is sown or set out."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import groupby

from sitepipe.planting.beds import Bed
from sitepipe.planting.palette import Own, Plant
from sitepipe.planting.record import BedPlan, Early, Planting, PlantingMonth, SetOut
from sitepipe.site import Found, OwnPlant, Stock
from sitepipe.works.jobs.record import Job, Task
from sitepipe.works.land import Land

PER_HOUR: Mapping[Stock, float] = {
    Stock.SEED: 225.0,
    Stock.CUTTING: 225.0,
    Stock.PLUG: 60.0,
    Stock.DIVISION: 60.0,
    Stock.BARE_ROOT: 22.0,
    Stock.POT: 7.5,
}
"""Set by one person, the middle of 150 to 300 cuttings, 40 to 80 plugs, 15 to 30 bare roots, 5 to 10 shrubs in a dug
hole: common practice, no source. [plants/h]"""
ORDER = ("canopy", "shrub", "climber", "edging", "herb", "ground cover")
"""In which layers are planted: the largest holes first, what is easily trodden on last."""
DORMANT = (Stock.BARE_ROOT, Stock.CUTTING, Stock.DIVISION)
BEFORE_FROST, AFTER_FALL, TO_ROOT = timedelta(weeks=-4), timedelta(weeks=2), timedelta(weeks=-6)
"""What sleeps is set four weeks before the last frost or two after the first; what grows has six weeks to root: thaw to
bud break, leaf fall to four to six weeks before hard frost. Common practice, no source."""
LEAST_HOURS = 0.5
"""No job is shorter. [h]"""
HEELING_HOURS = 1.0
"""To heel in what comes in one month: common practice, no source. [h]"""
LATEST = 10
"""Years over which planting waits for hours: own choice."""


def sowings(plant: Plant, season: tuple[date, date]) -> tuple[date, ...]:
    """Return when a vegetable is sown or planted out in a year.

    Tender kinds wait two weeks into the season, hardy ones begin four weeks before it and may end four weeks after it
    (common practice, no source); each sowing must still ripen. What takes most of a year is planted as the season ends.

    Examples
    --------
    >>> radish = Plant("R", "radish", form="vegetable", days=30, succession_weeks=8, frost="light frost")
    >>> [f"{day:%d %b}" for day in sowings(radish, (date(2025, 5, 1), date(2025, 9, 30)))]
    ['03 Apr', '29 May', '24 Jul', '18 Sep']
    """
    if not plant.is_annual or plant.days is None:
        return ()
    first, last = season
    last = last if last > first else last.replace(year=last.year + 1)
    if plant.days > 200.0:
        return (last,)
    day = first + timedelta(weeks=2 if plant.warm_season else -4)
    end = last + timedelta(weeks=0 if plant.warm_season else 4)
    found = []
    while day + timedelta(days=plant.days) <= end:
        found.append(day)
        if not plant.succession_weeks:
            break
        day += timedelta(weeks=plant.succession_weeks)
    return tuple(found)


def months_for(stock: Stock, season: tuple[date, date]) -> frozenset[int]:
    """Return the months in which plants of a form are set out, between the last frost and the first.

    Examples
    --------
    >>> season = date(2025, 5, 1), date(2025, 9, 30)
    >>> sorted(months_for(Stock.BARE_ROOT, season)), sorted(months_for(Stock.POT, season))
    ([4, 10], [5, 6, 7, 8])
    """
    first, last = season
    if stock in DORMANT:
        return frozenset({(first + BEFORE_FROST).month, (last + AFTER_FALL).month})
    length = ((last + TO_ROOT).month - first.month) % 12
    return frozenset((first.month - 1 + month) % 12 + 1 for month in range(length + 1))


def first_in(months: Collection[int], earliest: tuple[int, int]) -> tuple[int, int]:
    """Return the first (year, month) that is one of the months and no earlier than another.

    Examples
    --------
    >>> first_in({4, 10}, (1, 5)), first_in({4}, (1, 5))
    ((1, 10), (2, 4))
    """
    year, month = earliest
    return min((year + (each < month), each) for each in months)


def form_of(plant: Plant) -> Stock:
    """Return in what form a kind is usually bought or raised: common practice, no source."""
    if plant.is_annual:
        by = plant.increase_by
        return Stock.PLUG if by in ("transplant", "slips") else Stock.DIVISION if "plant" in by else Stock.SEED
    return {"canopy": Stock.BARE_ROOT, "shrub": Stock.BARE_ROOT, "climber": Stock.POT}.get(plant.layer, Stock.PLUG)


@dataclass(frozen=True, slots=True)
class Calendar:
    """When plants can go in: the season between the frosts, the wet months, and the year that counts as the first."""

    season: tuple[date, date]
    wet: frozenset[int]
    first_year: int | None

    def ready(self, mine: OwnPlant) -> tuple[int, int] | None:
        """Return when the grower's own are at hand, by years of the plan; a year alone says no month."""
        parts = [int(part) for part in mine.ready.split("-")[:2]] if mine.ready else []
        if not parts or self.first_year is None:
            return None
        year = parts[0] - self.first_year + 1
        return (year, parts[1]) if len(parts) > 1 else first_in(months_for(mine.stock, self.season), (year, 1))

    def can_begin(self, bed: Bed, waits: bool) -> tuple[int, int]:
        """Return from when a bed can be planted: a mound from the last dry month of its year, or a year later."""
        if bed.year is None:
            return 1, 1
        dry = [month for month in range(1, 13) if month not in self.wet]
        built = max((month for month in dry if month % 12 + 1 in self.wet), default=self.season[1].month)
        return bed.year + (waits and bed.place.is_mound), built

    def months(self, plant: Plant, stock: Stock, bed: Bed) -> frozenset[int]:
        """Return in which months a kind goes into a bed: in wet ground while it bears a foot."""
        dates = sowings(plant, self.season)
        months = frozenset({dates[0].month}) if dates else months_for(stock, self.season)
        if bed.of.kind is not Found.ZONE:
            return months
        return months - self.wet or months_for(Stock.POT, self.season) - self.wet or months


def calendar_of(land: Land) -> Calendar:
    """Return the calendar of a site; the first year is the one in which the first of the grower's plants is at hand."""
    years = [int(mine.ready[:4]) for mine in land.site.own_plants if mine.ready]
    wet = land.settings.water_table.wet_at(land.site.latitude)
    return Calendar(land.sunlight.season, wet, min(years, default=None))


def months_of(
    bed_plans: Sequence[BedPlan],
    beds: Sequence[Bed],
    own: Own,
    palette: Sequence[Plant],
    calendar: Calendar,
    spare: Callable[[int], float] = lambda _: math.inf,
) -> tuple[tuple[PlantingMonth, ...], tuple[Early, ...]]:
    """Return what is set out in each month, and what of the grower's is at hand before its place is.

    ``spare`` are the hours of each year that no other job takes. [h]
    """
    plants = {plant.latin: plant for plant in palette}
    lines = {plant.latin: [mine for kind, mine in own if kind is plant] for plant, _ in own}
    left = {id(mine): mine.count for _, mine in own}
    bed_of = {bed.of: bed for bed in beds}
    sets: list[SetOut] = []
    at_hand: list[tuple[int, int] | None] = []
    for bed_plan in bed_plans:
        bed = bed_of[bed_plan.of]
        for choice in bed_plan.chosen:
            plant, still = plants[choice.latin], choice.own
            count = choice.count if choice.nursery is None else choice.nursery.set_a_year
            for mine in lines.get(choice.latin, ()):
                taken = min(left[id(mine)], still)
                if not taken:
                    continue
                left[id(mine)] -= taken
                still, count = still - taken, count - taken
                earliest, ready = calendar.can_begin(bed, plant.waits), calendar.ready(mine)
                when = first_in(calendar.months(plant, mine.stock, bed), max(earliest, ready or earliest))
                sets.append(_set(bed_plan, plant, taken, mine.stock, when, calendar, is_own=True))
                at_hand.append(None if mine.stock is Stock.SEED else ready)
            if count > 0:
                stock, months = form_of(plant), calendar.months(plant, form_of(plant), bed)
                if choice.nursery is not None:
                    stock, months = Stock.CUTTING, frozenset({choice.nursery.from_month})
                when = first_in(months, calendar.can_begin(bed, plant.waits))
                sets.append(_set(bed_plan, plant, count, stock, when, calendar))
                at_hand.append(None)
    trenches = Counter(max(year, 1) for year, _ in {ready for ready in at_hand if ready is not None})
    sets = put_off(sets, lambda year: spare(year) - HEELING_HOURS * trenches[year])
    early = [
        Early(each.common, each.count, each.stock, *ready, each.year, each.month)
        for each, ready in zip(sets, at_hand, strict=True)
        if ready is not None and ready < (each.year, each.month)
    ]
    return tuple(_by_month(sets, plants)), tuple(sorted(early, key=lambda e: (e.year, e.month, e.common)))


def put_off(sets: Sequence[SetOut], spare: Callable[[int], float]) -> list[SetOut]:
    """Put off to the next year what a year has no hours for, the same kinds in the same order.

    The grower's own plants go in before any that have to be got, mounds before open ground, what is early in the year
    before what is late. What finds no hours in ``LATEST`` years stays in the one after them.
    """
    due = list(sets)
    for year in range(1, LATEST + 1):
        now = [index for index, each in enumerate(due) if each.year == year]
        now.sort(key=lambda index: (not due[index].is_own, due[index].of.kind is Found.ZONE, due[index].month, index))
        while now and sum(_hours_by_month([due[index] for index in now]).values()) > spare(year):
            last = now.pop()
            due[last] = replace(due[last], year=year + 1)
    return due


def _hours_by_month(sets: Iterable[SetOut]) -> dict[tuple[int, int], float]:
    """Hours of each month's job, as it is listed. [h]."""
    hours: defaultdict[tuple[int, int], float] = defaultdict(float)
    for each in sets:
        hours[each.year, each.month] += each.count / PER_HOUR[each.stock]
    return {month: round(max(taken, LEAST_HOURS), 1) for month, taken in hours.items()}


def _set(
    bed: BedPlan,
    plant: Plant,
    count: int,
    stock: Stock,
    when: tuple[int, int],
    calendar: Calendar,
    *,
    is_own: bool = False,
) -> SetOut:
    dates = sowings(plant, calendar.season)
    again, until = (plant.succession_weeks, dates[-1].month) if len(dates) > 1 else (None, None)
    return SetOut(bed.of, plant.latin, plant.common, count, stock, *when, is_own=is_own, again=again, until=until)


def _by_month(sets: Iterable[SetOut], plants: Mapping[str, Plant]) -> Iterator[PlantingMonth]:
    def turn(each: SetOut) -> tuple[int, int, int, str]:
        return each.year, each.month, ORDER.index(plants[each.latin].layer), each.latin

    for (year, month), own in groupby(sorted(sets, key=turn), key=lambda each: (each.year, each.month)):
        these = tuple(own)
        yield PlantingMonth(year, month, these, sum(each.count / PER_HOUR[each.stock] for each in these))


def planting_jobs(planting: Planting) -> Iterator[Job]:
    """Yield a job for each month of planting, and one for each in which plants come before their place is ready."""
    ground = {bed.of: bed.ground for bed in planting.beds if bed.ground is not None}
    for (year, month), _ in groupby(planting.early, key=lambda early: (early.year, early.month)):
        yield Job(Task.HEEL_IN, None, 1, HEELING_HOURS, year=max(year, 1), months=(month,), digs=True)
    for each in planting.months:
        beds = tuple(dict.fromkeys(one.of for one in each.sets))
        place = ground[beds[0]].representative_point()
        hours = round(max(each.people_hours, LEAST_HOURS), 1)
        yield Job(Task.PLANT, place, 2, hours, beds, each.year, (each.month,), digs=True)
