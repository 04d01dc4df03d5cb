"""The planting stage: one assignment of plants to beds, and each bed set out to scale."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TypeAlias

import numpy as np
import shapely
from shapely import LineString, Point, contains_xy
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.drainage.record import PondingUncertainty
from sitepipe.errors import InputError, SettingsError
from sitepipe.planting.assign import Counts, assign
from sitepipe.planting.match import LEADERS, Fit, Place, Purpose, fit
from sitepipe.planting.palette import Plant, read_palette
from sitepipe.planting.prevalence import WEIGHTS, prevalence_index
from sitepipe.planting.record import BedPlan, Nursery, PlantChoice, Planting, Prevalence, Reason, Unplaced
from sitepipe.planting.setting_out import Outline, bed_beside, set_out, start_of
from sitepipe.scoring.record import Use, Zones
from sitepipe.settings import PlantingSettings, Settings
from sitepipe.site import STANDING, Found, Kind, OwnPlant, Ref, Site, Work
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.outline import outlines, polygons_of
from sitepipe.wetness.record import WaterTable
from sitepipe.works.record import Plan

Own: TypeAlias = tuple[tuple[Plant, OwnPlant], ...]

SEASONS_TO_SIZE = {"hardwood cuttings": 2, "division": 1, "seed or layers": 3}
"""Growing seasons until a plant can be sold (common practice, no source)."""
PURPOSES = {
    "strawberries": Purpose.VEGETABLES,
    "shallow vegetables": Purpose.VEGETABLES,
    "deep vegetables": Purpose.VEGETABLES,
    "blueberries": Purpose.SHRUBS,
    "berry bushes": Purpose.SHRUBS,
    "fruit trees": Purpose.TREES,
}
"""What a mound that was raised for a group of crops is for."""
STANDS = 0.8
"""Ground that stands under water with more than this chance is left open. Common practice, no source. [1]"""
BESIDE_POSTS = 0.5
"""Kept from a trellis. Common practice, no source. [m]"""
MEANT = {Reason.ANOTHER_PURPOSE, Reason.NO_SUPPORT, Reason.RUNS}
"""What speaks against a bed for what it is for, and not for its ground."""
PROPOSED_FROM = 0.2
"""A kind that fits less is not proposed. [1]"""
LED_BY = 2.0
"""Worth of a plant that the bed was made for against one that only bears its company: own choice."""
KINDS_AT_LEAST = 8
"""Among so many kinds the ground is shared before any gets more of it: own choice."""
PART = {"canopy": 0.5, "shrub": 0.34, "climber": 0.5}
"""Of a bed that one kind may be proposed for, a fifth in the other layers: own choice, for a mixture. [1]"""
EDGED = 1.0 / 3.0
"""Of a bed's edge that edging is proposed for: the side from which one works. Common practice, no source. [1]"""
NUT_TREES = re.compile(r"\b(walnut|butternut|hickory|pecan|juglans|carya)\b", re.IGNORECASE)
"""Names of drawn trees that poison what is sensitive to juglone."""


@dataclass(frozen=True, slots=True)
class Bed:
    """A place to plant.

    Parameters
    ----------
    of : Ref
    place : Place
    ground : polygon
        That may be planted. [m]
    left : float
        Ground of its zone beside it. [m2]
    supports : tuple of line
        For climbers. [m]
    year : int or None
        In which its mound is built.
    """

    of: Ref
    place: Place
    ground: Outline
    left: float = 0.0
    supports: tuple[LineString, ...] = ()
    year: int | None = None

    @property
    def capacity(self) -> tuple[float, ...]:
        """What it has to give, in the order of ``assign.CAPACITIES`` without the count of plants."""
        if self.supports:
            return 0.0, 0.0, 0.0, sum(line.length for line in self.supports)
        return self.ground.area, self.ground.area, EDGED * self.ground.length, 0.0


def choose_plants(
    site: Site,
    uncertainty: PondingUncertainty,
    sunlight: Sunlight,
    water_table: WaterTable,
    zones: Zones,
    plan: Plan,
    settings: Settings,
) -> Planting:
    """Find a place for what the grower has, then propose what else would do well, over all beds at once."""
    palette = read_palette(site.plant_list, settings.planting.replaces_palette)
    own = own_kinds(site, palette)
    beds = _beds(site, uncertainty, sunlight, water_table, zones, plan, settings, sum(p.room * m.count for p, m in own))
    fits = [[fit(plant, bed.place) for bed in beds] for plant in palette]
    scores = np.array([[judged.score for judged in row] for row in fits]).reshape(len(palette), len(beds))
    leads = np.array([[plant.layer in LEADERS[bed.place.purpose] for bed in beds] for plant in palette])
    worth = scores * np.where(leads.reshape(scores.shape), LED_BY, 1.0)
    given = _own_places(own, palette, beds, worth)
    proposed = _proposals(palette, beds, given, worth, scores, settings)
    planted = [_planted(bed, palette, given[:, k], proposed[:, k], site, settings) for k, bed in enumerate(beds)]
    return Planting(
        beds=tuple(
            _bed_plan(bed, palette, [row[k] for row in fits], planted[k], given[:, k], sunlight, settings)
            for k, bed in enumerate(beds)
        ),
        unplaced=tuple(_unplaced(own, palette, beds, fits, planted, given)),
        rotation_years=sum(bed.place.purpose is Purpose.VEGETABLES for bed in beds),
        prevalence=prevalence_of(palette, settings),
        indicator_regions=tuple(sorted({plant.indicator_region for plant in palette if plant.indicator_region})),
    )


def own_kinds(site: Site, palette: Sequence[Plant]) -> Own:
    """Return the grower's plants with their kinds in the palette.

    Raises
    ------
    InputError
        If the palette does not know a name, or not how far apart it stands; the nearest name is told.
    """
    by_name = {name.lower(): plant for plant in palette for name in (plant.common, plant.latin)}
    found = []
    for mine in site.own_plants:
        plant = by_name.get(mine.name.lower())
        if plant is None:
            close = difflib.get_close_matches(mine.name.lower(), by_name, n=1, cutoff=0.6)
            hint = f" (did you mean {close[0]!r}?)" if close else ""
            raise InputError(
                f"{mine.where}: {mine.name!r} is in no list of plants{hint}. Give it a row in a list of your own "
                "(planting.palette), with its spacing and how wet it may stand"
            )
        if not plant.room:
            raise InputError(
                f"{mine.where}: no list says how far apart {mine.name!r} stands. Give it a row with in_row_m"
            )
        found.append((plant, mine))
    return tuple(found)


def _beds(
    site: Site,
    uncertainty: PondingUncertainty,
    sunlight: Sunlight,
    water_table: WaterTable,
    zones: Zones,
    plan: Plan,
    settings: Settings,
    wanted: float,
) -> list[Bed]:
    """List every place to plant: wet ground beside the paths, drawn beds, mounds, trellises.

    ``wanted`` is the ground that the grower's own plants take: so much larger each piece of wet ground may be. [m2]
    """
    nuts = [tree.geometry for tree in site.of_kind(Kind.TREE) if NUT_TREES.search(tree.name)]
    near_nuts = shapely.union_all(nuts).buffer(settings.planting.juglone_reach)
    first, last = sunlight.season
    season = float((last - first).days % 365)
    x, y = np.meshgrid(site.grid.x, site.grid.y)

    def place(shape: BaseGeometry, purpose: Purpose, width: float, raised: float = 0.0, lost: float = 0.0) -> Place:
        here = contains_xy(shape, x, y) & np.isfinite(water_table.water_table_depth)
        if not here.any():
            here[site.grid.cell_at(shape.centroid.x, shape.centroid.y)] = True
        is_mound = raised > 0.0
        error = _middle(water_table.error[here], 0.1)
        return Place(
            drained=raised or _middle(water_table.water_table_depth[here], 0.0),
            drained_error=min(error, 0.1) if is_mound else error,
            standing=0.0 if is_mound else _middle(uncertainty.ponding_probability[here], 0.0),
            sun=max(_middle(sunlight.sun_hours[here], 6.0) - lost, 0.0),
            width=width,
            area=float(shape.area),
            coldest=settings.planting.coldest_night,
            is_mound=is_mound,
            purpose=purpose,
            season=season,
            has_juglone=bool(near_nuts.intersects(shape)),
        )

    beds = []
    taken = _taken(site, plan, uncertainty, settings)
    for zone in zones.zones:
        ground = polygons_of(zone.outline.difference(taken)) if zone.use is Use.WET_PLANTING else Point().buffer(0.0)
        if ground.is_empty:
            continue
        there = place(zone.outline, Purpose.WET, math.sqrt(zone.area))
        bed = bed_beside(ground, start_of(ground, site, plan), settings.planting.bed_area + wanted)
        beds.append(Bed(Ref(Found.ZONE, zone.number), there, bed, ground.area - bed.area))
    for drawn in site.of_kind(Kind.BED):
        ground = polygons_of(drawn.geometry)
        width = 2.0 * float(shapely.maximum_inscribed_circle(ground, tolerance=0.01).length)
        beds.append(Bed(Ref(Kind.BED, drawn.number), place(ground, Purpose.VEGETABLES, width), ground))
    losses = dict(plan.own_shade)
    for mound in plan.mounds:
        raised = mound.height.finished + mound.height.depth_to_water
        purpose = PURPOSES.get(mound.crops, Purpose.SHRUBS)
        there = place(mound.outline, purpose, mound.base_width, raised, losses.get(mound.number, 0.0))
        year = next((year.year for year in plan.years if mound.number in year.builds), 1)
        beds.append(Bed(Ref(Work.MOUND, mound.number), there, polygons_of(mound.outline), year=year))
    for row in plan.trellises:
        strip = polygons_of(row.line.buffer(BESIDE_POSTS))
        there = replace(place(strip, Purpose.VINES, 1.0), area=row.line.length * row.line.length)
        beds.append(Bed(Ref(Work.TRELLIS, row.number), there, strip, supports=(row.line,)))
    return beds


def _taken(site: Site, plan: Plan, uncertainty: PondingUncertainty, settings: Settings) -> BaseGeometry:
    """Return the ground that no plant of a zone is set on: what is built or stands, and water that likely stands."""
    built = [thing.outline for thing in site.of_kind(*STANDING, Kind.BED)]
    built += [site.parcel.boundary.buffer(settings.planting.boundary_room)]
    built += [path.outline for path in plan.paths]
    built += [mound.outline for mound in plan.mounds]
    built += [house.outline for house in plan.hoop_houses]
    built += [place.outline for place in plan.tipping_places]
    built += [trellis.line.buffer(BESIDE_POSTS) for trellis in plan.trellises]
    built += outlines(np.nan_to_num(uncertainty.ponding_probability, nan=0.0) >= STANDS, site.grid)
    return shapely.union_all(built)


def _middle(values: FloatArray, otherwise: float) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else otherwise


def _takes(palette: Sequence[Plant]) -> FloatArray:
    """Return what one plant takes of each capacity, in the order of ``assign.CAPACITIES``."""
    rows = []
    for plant in palette:
        room, along = plant.room, plant.in_row or 0.0
        rows.append(
            {
                "climber": (0.0, 0.0, 0.0, along, 1.0),
                "edging": (0.0, 0.0, along, 0.0, 1.0),
                "ground cover": (0.0, room, 0.0, 0.0, 1.0),
                "herb": (room, room, 0.0, 0.0, 1.0),
            }.get(plant.layer, (room, 0.0, 0.0, 0.0, 1.0))
        )
    return np.array(rows)


def _own_places(own: Own, palette: Sequence[Plant], beds: Sequence[Bed], worth: FloatArray) -> Counts:
    counts = dict.fromkeys((plant.latin for plant in palette), 0)
    for plant, mine in own:
        counts[plant.latin] += mine.count
    most = np.array([float(counts[plant.latin]) for plant in palette])
    capacity = np.array([(*bed.capacity, np.inf) for bed in beds]).reshape(len(beds), 5)
    return assign(_takes(palette), np.where(most[:, None] > 0.0, worth, 0.0), most, capacity)


def _proposals(
    palette: Sequence[Plant],
    beds: Sequence[Bed],
    given: Counts,
    worth: FloatArray,
    scores: FloatArray,
    settings: Settings,
) -> Counts:
    """Fill what is left with a mixture of the kinds that fit, by ground and not by number of plants."""
    if not beds:
        return given
    takes = _takes(palette)
    capacity = np.array([(*bed.capacity, float(settings.planting.most_plants)) for bed in beds])
    capacity = np.maximum(capacity - given.T @ takes, 0.0)
    order = {use: k for k, use in enumerate(settings.planting.wanted)}
    wanted = np.array([min((order[use] for use in plant.uses if use in order), default=-1) for plant in palette])
    is_able = (wanted >= 0) & np.array([plant.room > 0.0 and plant.is_known for plant in palette])
    value = np.where(is_able[:, None] & (scores >= PROPOSED_FROM), worth, 0.0) * 0.9 ** np.maximum(wanted, 0)[:, None]
    size = takes[:, :4].max(axis=1)
    value = value * size[:, None]
    # A kind's share: an even part, among at least so many kinds, of all that its layer could have.
    room = np.array([capacity[:, np.argmax(row[:4])] for row in takes])
    reach = np.where(value > 0.0, room, 0.0).sum(axis=1)
    layers = np.array([plant.layer for plant in palette])
    rivals = np.array([((layers == layer) & (value > 0.0).any(axis=1)).sum() for layer in layers])
    size_or_one = np.where(size > 0.0, size, 1.0)
    share = np.maximum(np.floor(reach / np.maximum(rivals, KINDS_AT_LEAST) / size_or_one), 1.0)
    part = np.floor(np.array([PART.get(plant.layer, 0.2) for plant in palette])[:, None] * room / size_or_one[:, None])
    return assign(takes, value, np.full(len(palette), np.inf), capacity, share, np.maximum(part, 1.0))


Planted: TypeAlias = list[tuple[Plant, Point]]


def _planted(
    bed: Bed, palette: Sequence[Plant], given: Counts, proposed: Counts, site: Site, settings: Settings
) -> Planted:
    """Set a bed out: the grower's own first, so that they never give way to a proposal."""
    groups = [[(plant, int(counts[k])) for k, plant in enumerate(palette) if counts[k]] for counts in (given, proposed)]
    return set_out(groups, bed.ground, settings.planting.edge_setback, bed.supports, site.latitude < 0.0)


def _bed_plan(
    bed: Bed,
    palette: Sequence[Plant],
    fits: Sequence[Fit],
    planted: Planted,
    given: Counts,
    sunlight: Sunlight,
    settings: Settings,
) -> BedPlan:
    counts: dict[str, int] = {}
    for plant, _ in planted:
        counts[plant.latin] = counts.get(plant.latin, 0) + 1
    chosen = [k for k, plant in enumerate(palette) if plant.latin in counts]
    chosen.sort(key=lambda k: (-palette[k].room * counts[palette[k].latin], palette[k].latin))
    others = [k for k in _next_best(palette, fits, settings) if palette[k].latin not in counts]
    choices = [
        _choice(palette[k], fits[k], counts[palette[k].latin], int(given[k]), sunlight, settings.planting)
        for k in chosen
    ]
    choices += [
        _choice(palette[k], fits[k], 0, 0, sunlight, settings.planting)
        for k in others[: max(settings.planting.choices - len(chosen), 0)]
    ]
    positions = tuple((plant.common, place) for plant, place in planted)
    is_part = bed.left > 0.05 * bed.ground.area
    room_for = _two_figures(len(planted) * bed.left / bed.ground.area) if is_part else 0
    ground = bed.ground if positions else None
    return BedPlan(bed.of, tuple(choices), positions, ground, room_for, bed.left if is_part else 0.0, bed.year)


def _two_figures(count: float) -> int:
    """Round down to two figures: a count by area is no better."""
    step = int(10 ** max(len(str(int(count))) - 2, 0))
    return int(count) // step * step


def _next_best(palette: Sequence[Plant], fits: Sequence[Fit], settings: Settings) -> list[int]:
    able = [
        k
        for k, plant in enumerate(palette)
        if fits[k].score >= PROPOSED_FROM
        and plant.is_known
        and any(use in settings.planting.wanted for use in plant.uses)
    ]
    return sorted(able, key=lambda k: (-round(fits[k].score, 2), palette[k].latin))


def _choice(
    plant: Plant, judged: Fit, count: int, own: int, sunlight: Sunlight, settings: PlantingSettings
) -> PlantChoice:
    """Return what is said of a plant; ``count`` is 0 for one that is not among the kinds of the bed."""
    return PlantChoice(
        latin=plant.latin,
        common=plant.common,
        fit=round(judged.score, 3),
        uses=plant.uses,
        count=count,
        own=min(own, count),
        spacing=plant.in_row or 0.0,
        form=plant.form,
        layer=plant.layer,
        family=plant.family,
        sown=sowings(plant, sunlight.season) if count else (),
        reasons=judged.why + judged.doubts,
        unknowns=judged.unknown,
        caution=plant.caution,
        asks_locally=plant.status == "ask",
        acidity=plant.acidity,
        is_chosen=count > 0,
        waits=plant.waits,
        nursery=_nursery(plant, count, settings),
    )


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


def _nursery(plant: Plant, count: int, settings: PlantingSettings) -> Nursery | None:
    """Divide the plants of a kind into a block for each year that it stands; fewer plants than blocks are none."""
    blocks = SEASONS_TO_SIZE.get(plant.increase_by, 2)
    if "nursery stock" not in plant.uses or count <= blocks:
        return None
    a_year = count // blocks
    price = settings.prices.get(plant.latin, settings.prices.get(plant.common))
    return Nursery(plant.increase_by, blocks, a_year, None if price is None else a_year * price)


def _unplaced(
    own: Own,
    palette: Sequence[Plant],
    beds: Sequence[Bed],
    fits: Sequence[Sequence[Fit]],
    planted: Sequence[Planted],
    given: Counts,
) -> Iterable[Unplaced]:
    """Say of the grower's plants that found no place why not where they would come nearest to it."""
    for k, plant in enumerate(palette):
        wanted = sum(mine.count for kind, mine in own if kind is plant)
        got = sum(min(int(given[k, bed]), sum(other is plant for other, _ in planted[bed])) for bed in range(len(beds)))
        if wanted <= got:
            continue
        reason, nearest = Reason.NO_ROOM, None
        if beds and not any(judged.score > 0.0 for judged in fits[k]):
            # What the ground lacks can be mended; that a bed is meant for other plants is said where nothing else is.
            fewest = min(
                range(len(beds)), key=lambda bed: (bool(MEANT & {*fits[k][bed].against}), len(fits[k][bed].against))
            )
            reason, nearest = fits[k][fewest].against[0], beds[fewest].of
        yield Unplaced(plant.common, wanted - got, reason, nearest, plant.aerated, plant.least_sun or plant.crop_sun)


def prevalence_of(palette: tuple[Plant, ...], settings: Settings) -> Prevalence | None:
    """Return what the plants that were seen tell of the ground, None where none are named."""
    if not settings.planting.seen:
        return None
    by_name = {name: plant for plant in palette for name in (plant.latin.lower(), plant.common.lower())}
    cover: dict[str, float] = {}
    unrated = []
    for name, amount in settings.planting.seen.items():
        if name.upper() in WEIGHTS:
            status = name.upper()
        elif (plant := by_name.get(name.lower())) is None:
            raise SettingsError(
                f"site.toml: planting.seen names {name!r}, which is not in the palette; "
                "write its indicator status instead (OBL, FACW, FAC, FACU or UPL)"
            )
        else:
            status = plant.indicator or "UPL"
            if not plant.indicator:
                unrated.append(plant.common)
        cover[status] = cover.get(status, 0.0) + amount
    return Prevalence(prevalence_index(cover), tuple(unrated))
