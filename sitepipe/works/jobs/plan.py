"""The years planned with what there is: what is built when and how, what it takes, what is short, what waits."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sitepipe.scoring.record import Use
from sitepipe.settings import JobsSettings, Settings
from sitepipe.site import Found, Ref, Stuff, Supply, Work
from sitepipe.works.jobs.candidates import Built, Works, count_hours, mound_candidate, other_candidates, ways_round
from sitepipe.works.jobs.materials import CHIPS, DUG, FILL, LOGS, SODS, SOIL, add_volumes, count_barrows
from sitepipe.works.jobs.means import Means, Offer, means_of, months_for
from sitepipe.works.jobs.record import Article, ChipBed, Job, Quantity, Shortage, WayRound, YearOfWork
from sitepipe.works.jobs.sinking import LOOKED_AFTER, crest_life
from sitepipe.works.jobs.years import POOLS, Candidate, Chosen, choose_years
from sitepipe.works.land import Land
from sitepipe.works.mounds.crops import CROP_GROUPS
from sitepipe.works.mounds.fills import TEXTURES, air_height
from sitepipe.works.mounds.record import Mound
from sitepipe.works.obstacles import inside, inside_any

WORTH_SAYING = 0.05
"""What is less is covered by the last barrow. [m3]"""
HOOP_SPACING, HOOP_ROUND, FILM_OVER = 1.2, 1.8, (0.6, 3.5)
"""Hoops 4 ft apart in snow (UConn), 1.8 widths long, film .6 m wider and 3.5 m longer: common practice. [m], [1]"""
CHIP_BED, LEAST_BED = 0.15, 4.0
"""Chips on cardboard that turf does not grow through, 8 to 15 cm; the smallest bed: common practice. [m], [m2]"""
OVERLAP = 1.2
"""Cardboard for each square metre: 10 to 20 cm over each other. [1]"""


@dataclass(frozen=True, slots=True)
class YearPlan:
    """The mounds as they are built, and all that the years say of the works."""

    mounds: tuple[Mound, ...]
    years: tuple[YearOfWork, ...]
    quantities: tuple[Quantity, ...]
    articles: tuple[Article, ...]
    shortages: tuple[Shortage, ...] = ()
    ways_round: tuple[WayRound, ...] = ()
    waiting: tuple[Ref, ...] = ()
    chip_bed: ChipBed | None = None


def plan_years(works: Works, land: Land, *, is_eased: bool = True) -> YearPlan:
    """Choose the year of each work; where not all fits as wished for, try ways round (unless they may not be)."""
    settings = land.settings
    last = settings.materials.years
    means = means_of(land.site.stock, settings, last + LOOKED_AFTER)
    others = other_candidates(works, land)
    built = [Built(count_hours(mound, works, land)) for mound in works.mounds]

    def choose() -> tuple[list[Candidate], Chosen]:
        candidates = [*others, *(mound_candidate(one, works, land, means.years) for one in built)]
        return candidates, choose_years(candidates, means, last)

    wished, chosen = choose()
    candidates, lacks = wished, None in chosen.years
    if lacks and is_eased:
        built += [other for mound in works.mounds for other in ways_round(mound, works, land)]
        candidates, chosen = choose()
    year_of = {each.work: year for each, year in zip(candidates, chosen.years, strict=True) if year is not None}
    taken = [one for one, year in zip(built, chosen.years[len(others) :], strict=True) if year is not None]
    made = {one.mound.number: one for one in taken}
    share = settings.materials.logs
    if land.site.stock is not None:
        share = _share_of_logs(works, made, means, share)
    wished_of = {one.mound.number: one for one in built if not one.eases}
    mounds = tuple(_with_logs((wished_of | made)[mound.number].mound, share) for mound in works.mounds)
    works = replace(works, mounds=mounds)
    years = tuple(_years(works, year_of, chosen, land))
    left = means.at_hand(last - 1, CHIPS) - sum(dict(year.materials).get(CHIPS, 0.0) for year in years)
    return YearPlan(
        chip_bed=_chip_bed(left, works, land) if lacks and is_eased else None,
        mounds=mounds,
        years=years,
        quantities=add_up(years, means, settings),
        articles=tuple(_articles(works, land.site.stock or ())),
        shortages=tuple(_shortages(wished, means, last)) if lacks else (),
        ways_round=tuple(_way_round(one, wished_of[one.mound.number].mound) for one in taken if one.eases),
        waiting=tuple(dict.fromkeys(each.work for each in wished if each.work not in year_of)),
    )


def _chip_bed(chips: float, works: Works, land: Land) -> ChipBed | None:
    """Find firm ground, in sun, for a bed of the chips that are left: there roots need no mound."""
    options, grid = land.settings, land.site.grid
    fringe = air_height(TEXTURES[options.soil.texture], options.mound.air)
    drained = land.water_table.water_table_depth - CROP_GROUPS[ChipBed.CROPS].roots - fringe
    sunny = land.sunlight.sun_hours >= options.sun.light_breaks[1]
    shapes = (*works.mounds, *works.paths, *((works.house,) if works.house else ()))
    free = ~inside_any([shape.outline.buffer(options.mound.between) for shape in shapes], grid.x, grid.y)
    best: ChipBed | None = None
    for zone in land.zones.zones:
        if zone.use is Use.MOUND or zone.use is Use.PATH:
            firm = inside(zone.outline, grid.x, grid.y) & (drained >= 0.0) & sunny & free
            area = min(float(firm.sum()) * grid.cell_area, chips / CHIP_BED)
            if area >= LEAST_BED and (best is None or area > best.area):
                depth = float(land.water_table.water_table_depth[firm].min())
                best = ChipBed(Ref(Found.ZONE, zone.number), area, CHIP_BED * area, depth)
    return best


def _way_round(one: Built, wished: Mound) -> WayRound:
    soil, other = (sum(v for name, v in mound.materials if name == SOIL) for mound in (wished, one.mound))
    return WayRound(one.mound.number, one.eases, soil - other, one.mound.hours - wished.hours)


def _share_of_logs(works: Works, made: dict[int, Built], means: Means, wished: float) -> float:
    """Share of logs and brush in the cores: as wished for, as far as logs, and the chips that paths leave, allow."""
    core = sum(volume for one in made.values() for name, volume in one.mound.materials if name in {LOGS, CHIPS})
    if core <= 0.0:
        return wished
    chips = means.for_nothing(CHIPS) - sum(path.chips for path in works.paths)
    return min(max(wished, 1.0 - max(chips, 0.0) / core), means.for_nothing(LOGS) / core, 1.0)


def _with_logs(mound: Mound, share: float) -> Mound:
    core = sum(volume for name, volume in mound.materials if name in {LOGS, CHIPS})
    if core <= 0.0:
        return mound
    parts = {LOGS: share * core, CHIPS: (1.0 - share) * core}
    return replace(mound, materials=tuple((name, parts.get(name, volume)) for name, volume in mound.materials))


def _years(works: Works, year_of: dict[Ref, int], chosen: Chosen, land: Land) -> Iterator[YearOfWork]:
    """Yield the years from the first work to when the last mound has settled."""
    materials = land.settings.materials
    started = {mound: year_of[ref] for mound in works.mounds if (ref := Ref(Work.MOUND, mound.number)) in year_of}
    end = max([*year_of.values(), *(year + LOOKED_AFTER for year in started.values())], default=0)
    lives = {mound: crest_life(mound, end, materials) for mound in started}
    for year in range(1, end + 1):
        new = [mound for mound, start in started.items() if start == year]
        old = {mound: year - start for mound, start in started.items() if start < year}
        top_ups = [(lives[mound].material, lives[mound].lifts[age]) for mound, age in old.items()]
        parts = [part for mound in new for part in mound.materials]
        parts += [(CHIPS, path.chips) for path in works.paths if year_of.get(Ref(Work.PATH, path.number)) == year]
        house = works.house
        if house is not None and year_of.get(Ref(Work.HOOP_HOUSE, house.number)) == year:
            parts.append((FILL, works.floor))
        stuffs = add_volumes([*parts, *top_ups])
        volume = sum(amount for _, amount in stuffs)
        cutting = cost = 0.0
        for offer, given in chosen.taken:
            more = given[year - 1] - (given[year - 2] if year > 1 else 0.0)
            cutting += more * offer.hours
            cost += more * (offer.price or 0.0)
        yield YearOfWork(
            year=year,
            builds=tuple(mound.number for mound in new),
            tops_up=tuple(mound.number for mound, age in old.items() if lives[mound].lifts[age] > 0.0),
            loads=volume / materials.load,
            volume=volume,
            crest_heights=tuple(
                (mound.number, lives[mound].heights[year - start]) for mound, start in started.items() if start <= year
            ),
            materials=stuffs,
            top_ups=add_volumes(top_ups),
            works=tuple(work for work, start in year_of.items() if start == year),
            cutting=cutting,
            cost=cost,
        )


def spare_hours(jobs: Sequence[Job], settings: JobsSettings) -> Callable[[int], float]:
    """Tell how many hours each year has beside some jobs; no end of them where nothing is said. [h]."""
    come = math.inf if settings.hours is None else sum(settings.hours.values())
    return lambda year: come - sum(job.people_hours for job in jobs if job.year == year)


def with_hours(years: Sequence[YearOfWork], jobs: Sequence[Job], settings: JobsSettings) -> tuple[YearOfWork, ...]:
    """Add to each year the hours of its jobs, and the months that they take."""
    hours = {year.year: sum(job.people_hours for job in jobs if job.year == year.year) for year in years}
    return tuple(replace(year, hours=hours[year.year], months=months_for(hours[year.year], settings)) for year in years)


def add_up(years: Sequence[YearOfWork], means: Means, settings: Settings) -> tuple[Quantity, ...]:
    """Add up every material over all years, and say what comes for nothing and what has to be found or bought.

    Chips that come are counted on for chips first, what is left of them for logs and brush.
    """
    load, barrow = settings.materials.load, settings.jobs.barrow
    lifts = dict(add_volumes(part for year in years for part in year.top_ups))
    need = dict(add_volumes(part for year in years for part in year.materials))
    first_year = dict(years[0].materials) if years else {}
    chips, wood = means.for_nothing(CHIPS), means.for_nothing(CHIPS, LOGS)
    quantities = []
    for name, volume in need.items():
        if name in {DUG, SODS}:
            free = volume
        elif name == CHIPS:
            free = min(volume, chips)
            wood -= free
        else:
            free = min(volume, wood if name == LOGS else means.for_nothing(name))
        first = first_year.get(name, 0.0)
        price = means.price_of(name)
        quantities.append(
            Quantity(
                material=name,
                volume=volume,
                loads=volume / load,
                barrows=count_barrows(volume, barrow),
                free=free,
                to_buy=max(volume - free, 0.0),
                first_year=first,
                first_loads=first / load,
                first_barrows=min(count_barrows(first, barrow), count_barrows(volume, barrow)),
                top_ups=lifts.get(name, 0.0),
                cost=None if price is None else price * max(volume - free, 0.0),
            )
        )
    return tuple(quantities)


def _shortages(wished: Sequence[Candidate], means: Means, last: int) -> Iterator[Shortage]:
    """Tell what is missing for everything as wished for, and from when on."""
    plenty = tuple(Offer(pool[-1], (math.inf,) * means.years, None) for pool in POOLS)
    no_end = (math.inf,) * means.years
    starts = [start or 1 for start in choose_years(wished, Means(means.years, plenty, no_end, no_end), last).years]
    for pool in POOLS:
        needs = np.zeros(means.years)
        for start, each in zip(starts, wished, strict=True):
            for age, one in enumerate(each.needs[: LOOKED_AFTER + 1]):
                needs[start - 1 + age] += sum(volume for name, volume in one.items() if name in pool)
        lacks = np.cumsum(needs) - [means.in_reach(*pool, year=year) for year in range(means.years)]
        lack = float(needs.sum()) - means.in_reach(*pool)
        # Chips that are short are part of the wood that is: said once, as what is short for paths alone.
        if lack > WORTH_SAYING:
            price = means.price_of(*pool)
            first = int(np.argmax(lacks > WORTH_SAYING)) + 1
            yield Shortage(pool[-1], volume=lack, cost=None if price is None else price * lack, year=first)
    lack = sum(each.hours for each in wished) - sum(means.hours[:last])
    if lack > 0.0 and math.isfinite(lack):
        asked = np.bincount(starts, [each.hours for each in wished], last + 1)[1:]
        yield Shortage("", hours=lack, year=int(np.argmax(np.cumsum(asked) > np.cumsum(means.hours[:last]))) + 1)


def _articles(works: Works, stock: Sequence[Supply]) -> Iterator[Article]:
    """List what is counted: posts, panels of arches, cardboard below the paths, film of the hoop house."""
    posts = sum(row.posts for row in works.rows) + sum(arch.posts for arch in works.arches)
    panels = sum(arch.panels for arch in works.arches)
    area = OVERLAP * sum(float(path.outline.area) for path in works.paths)
    film = 0.0
    if works.house is not None:
        wider, longer = FILM_OVER
        film = (HOOP_ROUND * works.house.width + wider) * (works.house.length + longer)
        posts += 2 * (math.ceil(works.house.length / HOOP_SPACING) + 1)
    for article in (
        Article(Stuff.POSTS, pieces=posts),
        Article(Stuff.PANELS, pieces=panels),
        Article(Stuff.CARDBOARD, area=area),
        Article(Stuff.FILM, area=film),
    ):
        if article.to_find > 0.0:
            own = [supply for supply in stock if supply.what is article.what]
            had = sum(supply.amount for supply in own if supply.price == 0.0)
            price = min((supply.price for supply in own if supply.price), default=None)
            found = replace(article, at_hand=had)
            yield replace(found, cost=None if price is None else price * found.to_find)
