"""The planting stage: for every zone and mound a ranked list, and a bed set out to scale."""

from __future__ import annotations

from datetime import date
from typing import TypeAlias

import numpy as np
from shapely import Point, contains_xy

from sitepipe.arrays import FloatArray
from sitepipe.drainage.record import PondingUncertainty
from sitepipe.errors import SettingsError
from sitepipe.planting.bed_plan import Outline
from sitepipe.planting.match import Fit, Place, fit
from sitepipe.planting.palette import Plant, read_palette
from sitepipe.planting.prevalence import WEIGHTS, prevalence_index
from sitepipe.planting.record import BedPlan, Nursery, PlantChoice, Planting, Prevalence
from sitepipe.planting.setting_out import SetOut, open_ground, set_out_bed, start_of, taken_ground
from sitepipe.scoring.record import Use, Zones
from sitepipe.settings import PlantingSettings, Settings
from sitepipe.site import Found, Ref, Site, Work
from sitepipe.sunlight.position import solar_midnight, sun_position
from sitepipe.sunlight.record import Sunlight
from sitepipe.wetness.record import WaterTable
from sitepipe.works.record import Mound, Plan

Ranked: TypeAlias = list[tuple[Plant, Fit]]

SEASONS_TO_SIZE = {"hardwood cuttings": 2, "division": 1, "seed or layers": 3}
"""Growing seasons until a plant can be sold (common practice, no source)."""


def choose_plants(
    site: Site,
    uncertainty: PondingUncertainty,
    sunlight: Sunlight,
    water_table: WaterTable,
    zones: Zones,
    plan: Plan,
    settings: Settings,
) -> Planting:
    """Rank the palette for every zone and mound, and set the best kinds out where planting is proposed."""
    palette = read_palette(site.plant_list, settings.planting.replaces_palette)
    sun = season_sun(site, sunlight)
    taken = taken_ground(site, plan, uncertainty)
    beds = []
    for zone in zones.zones:
        if zone.use in (Use.KEEP_CLEAR, Use.PATH):
            continue
        place = _place_of_zone(zone.number, zone.area, uncertainty, sunlight, water_table, zones, settings)
        if place is None:
            continue
        outline, start = None, None
        if zone.use is Use.WET_PLANTING and not (outline := open_ground(zone, taken)).is_empty:
            start = start_of(outline, site, plan)
        beds.append(_bed(Ref(Found.ZONE, zone.number), place, outline, start, palette, sun, settings, None))
    for mound in plan.mounds:
        lost = dict(plan.own_shade).get(mound.number, 0.0)
        place = _place_of_mound(site, mound, sunlight, lost, water_table, settings)
        year = _year_of(mound, plan)
        beds.append(_bed(Ref(Work.MOUND, mound.number), place, mound.outline, None, palette, sun, settings, year))
    return Planting(
        beds=tuple(beds),
        prevalence=prevalence_of(palette, settings),
        indicator_regions=tuple(sorted({plant.indicator_region for plant in palette if plant.indicator_region})),
    )


def season_sun(site: Site, sunlight: Sunlight) -> FloatArray:
    """Altitude, azimuth and weight of the sun each hour of the middle days of the season's months.

    Returns
    -------
    (instants, 3) float array
        [deg], [deg], [h/day]
    """
    pieces = []
    hours = np.arange(0.5, 24.0, 1.0) * 3600.0
    for month in sunlight.season_months:
        midnight = solar_midnight(date(sunlight.season[0].year, month, 15), site.longitude)
        sun = sun_position(midnight + hours, site.latitude, site.longitude)
        weight = np.full(len(hours), 1.0 / len(sunlight.season_months))
        pieces.append(np.column_stack([sun.elevation, sun.azimuth, weight])[sun.elevation > 0.0])
    return np.concatenate(pieces) if pieces else np.empty((0, 3))


def _place_of_zone(
    number: int,
    area: float,
    uncertainty: PondingUncertainty,
    sunlight: Sunlight,
    water_table: WaterTable,
    zones: Zones,
    settings: Settings,
) -> Place | None:
    here = zones.zone == number
    if not here.any():
        return None
    return Place(
        drained=_middle(water_table.water_table_depth[here], 0.0),
        drained_error=_middle(water_table.error[here], 0.1),
        standing=_middle(uncertainty.ponding_probability[here], 0.0),
        sun=_middle(sunlight.sun_hours[here], 0.0),
        width=float(np.sqrt(area)),
        area=area,
        coldest=settings.planting.coldest_night,
        is_mound=False,
    )


def _place_of_mound(
    site: Site, mound: Mound, sunlight: Sunlight, lost: float, water_table: WaterTable, settings: Settings
) -> Place:
    """Return what a plant meets on a mound; ``lost`` are the hours a day that the plan's own things shade it."""
    x, y = np.meshgrid(site.grid.x, site.grid.y)
    here = contains_xy(mound.outline, x, y)
    return Place(
        drained=mound.height.finished + mound.height.depth_to_water,
        drained_error=min(_middle(water_table.error[here], 0.1), 0.1),
        standing=0.0,
        sun=max(_middle(sunlight.sun_hours[here], 6.0) - lost, 0.0),
        width=mound.base_width,
        area=mound.outline.area,
        coldest=settings.planting.coldest_night,
        is_mound=True,
    )


def _middle(values: FloatArray, otherwise: float) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else otherwise


def _bed(
    of: Ref,
    place: Place,
    outline: Outline | None,
    start: Point | None,
    palette: tuple[Plant, ...],
    sun: FloatArray,
    settings: Settings,
    year: int | None,
) -> BedPlan:
    ranked = _ranked(place, palette, settings)
    chosen = _unlike(ranked, settings.planting.kinds_in_a_bed)
    bed = set_out_bed(chosen, outline, sun, start, settings.planting) if outline is not None else SetOut()
    counts = {plant.common: sum(name == plant.common for name, _ in bed.positions) for plant in chosen}
    shown = [item for item in ranked if item[0] in chosen]
    shown += [item for item in ranked if item[0] not in chosen][: max(settings.planting.choices - len(shown), 0)]
    choices = tuple(_choice(plant, judged, counts.get(plant.common), settings.planting) for plant, judged in shown)
    return BedPlan(of, choices, bed.positions, bed.ground, bed.room_for, bed.left, year)


def _ranked(place: Place, palette: tuple[Plant, ...], settings: Settings) -> Ranked:
    judged = [(plant, fit(plant, place)) for plant in palette]
    fitting = [(plant, judgement) for plant, judgement in judged if judgement.score >= 0.2 and _wanted(plant, settings)]
    order = {use: k for k, use in enumerate(settings.planting.wanted)}

    def key(item: tuple[Plant, Fit]) -> tuple[float, int, bool, float, str]:
        plant, judgement = item
        rank = min((order[use] for use in plant.uses if use in order), default=len(order))
        # Of plants that fit alike, the one grown for a crop first, then the one that needs most of what is there.
        spare = round(abs(place.drained - (plant.aerated or 0.0)), 2)
        return -round(judgement.score, 1), rank, plant.crop_sun is None, spare, plant.latin

    return sorted(fitting, key=key)


def _unlike(ranked: Ranked, count: int) -> list[Plant]:
    """Choose kinds for one bed: the best, then the next of other growth where they fit as well."""
    able = [(plant, judged) for plant, judged in ranked if plant.in_row and plant.row]
    chosen: list[Plant] = []
    for plant, judged in able:
        if len(chosen) < count and judged.score >= 0.6 and all(plant.form != other.form for other in chosen):
            chosen.append(plant)
    for plant, _ in able:
        if len(chosen) < count and plant not in chosen:
            chosen.append(plant)
    return chosen


def _wanted(plant: Plant, settings: Settings) -> bool:
    return any(use in settings.planting.wanted for use in plant.uses)


def _choice(plant: Plant, judged: Fit, count: int | None, settings: PlantingSettings) -> PlantChoice:
    """Return what is said of a plant; ``count`` is None for one that is not among the kinds of the bed."""
    return PlantChoice(
        latin=plant.latin,
        common=plant.common,
        fit=round(judged.score, 3),
        uses=plant.uses,
        count=count or 0,
        spacing=plant.in_row or 0.0,
        form=plant.form,
        reasons=judged.why + judged.doubts,
        unknowns=judged.unknown,
        caution=plant.caution,
        asks_locally=plant.status == "ask",
        acidity=plant.acidity,
        is_chosen=count is not None,
        waits=plant.waits,
        nursery=_nursery(plant, count or 0, settings),
    )


def _nursery(plant: Plant, count: int, settings: PlantingSettings) -> Nursery | None:
    """Divide the plants of a kind into a block for each year that it stands; fewer plants than blocks are none."""
    blocks = SEASONS_TO_SIZE.get(plant.increase_by, 2)
    if "nursery stock" not in plant.uses or count <= blocks:
        return None
    a_year = count // blocks
    price = settings.prices.get(plant.latin, settings.prices.get(plant.common))
    return Nursery(plant.increase_by, blocks, a_year, None if price is None else a_year * price)


def _year_of(mound: Mound, plan: Plan) -> int:
    return next((year.year for year in plan.years if mound.number in year.builds), 1)


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
