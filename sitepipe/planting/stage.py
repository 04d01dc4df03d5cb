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
from sitepipe.planting.nursery import SEASONS_TO_SIZE, rotation
from sitepipe.planting.palette import Plant, read_palette
from sitepipe.planting.prevalence import prevalence_index, reading_of
from sitepipe.planting.record import BedPlan, PlantChoice, Planting
from sitepipe.planting.setting_out import SetOut, open_ground, set_out_bed, start_of, taken_ground
from sitepipe.planting.succession import order_of_planting
from sitepipe.scoring.record import Use, Zones
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.position import solar_midnight, sun_position
from sitepipe.sunlight.record import Sunlight
from sitepipe.wetness.record import WaterTable
from sitepipe.works.record import Mound, Plan

Ranked: TypeAlias = list[tuple[Plant, Fit]]

_POISON = (
    "Eat nothing that somebody who knows the plants has not named for you: water hemlock and poison hemlock are deadly "
    "and grow in ground like this."
)
_INVASIVE = (
    "Never plant purple loosestrife, yellow flag, common reed, reed canary grass, glossy buckthorn or autumn olive; "
    "look up the local list of prohibited plants before you buy."
)


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
        beds.append(_bed(place, outline, start, palette, sun, settings, None))
    for mound in plan.mounds:
        lost = dict(plan.own_shade).get(mound.number, 0.0)
        place = _place_of_mound(site, mound, sunlight, lost, water_table, settings)
        beds.append(_bed(place, mound.outline, None, palette, sun, settings, _year_of(mound, plan)))
    return Planting(
        beds=tuple(beds),
        cautions=_cautions(tuple(beds)),
        prevalence=prevalence_said(palette, settings),
        notes=_notes(palette, settings),
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
        name=f"zone {number}",
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
        name=f"mound {mound.number}",
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
    choices = tuple(_choice(plant, judged, counts.get(plant.common, 0)) for plant, judged in shown)
    note = _note(place, chosen, counts, year, settings)
    return BedPlan(place.name, choices, bed.positions, note, bed.ground, bed.room_for, bed.left)


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


def _choice(plant: Plant, judged: Fit, count: int) -> PlantChoice:
    verdict = "fits" if judged.score >= 0.8 else "fits only just"
    why = "; ".join(judged.why + judged.doubts)
    ask = "Ask the local list before planting: it is unwanted in places. " if plant.status == "ask" else ""
    return PlantChoice(
        latin=plant.latin,
        common=plant.common,
        fit=round(judged.score, 3),
        verdict=verdict,
        why=f"{why[:1].upper()}{why[1:]}." if why else "",
        unknown=", ".join(judged.unknown),
        uses=plant.uses,
        caution=f"{ask}{plant.caution}",
        count=count,
        spacing=plant.in_row or 0.0,
        form=plant.form,
    )


def _note(place: Place, chosen: list[Plant], counts: dict[str, int], year: int | None, settings: Settings) -> str:
    if not chosen:
        return "Nothing on the list fits here: leave it as it is, or ask locally."
    sentences = []
    if year is not None:
        sentences.append(order_of_planting(chosen, year))
    for plant in chosen:
        seasons = SEASONS_TO_SIZE.get(plant.increase_by, 2)
        # Fewer plants than blocks are no rotation.
        if "nursery stock" not in plant.uses or counts.get(plant.common, 0) <= seasons:
            continue
        turn = rotation(counts[plant.common], seasons, seasons + 1)
        worth = ""
        price = settings.planting.prices.get(plant.latin, settings.planting.prices.get(plant.common))
        if price is not None:
            worth = f", worth {turn.plants_per_block * price:.0f} at your price"
        sentences.append(
            f"Nursery: {plant.common} from {plant.increase_by}, {_in_blocks(turn.blocks)}; from the autumn of year "
            f"{turn.blocks} dig {turn.plants_per_block} a year{worth} and fill the block again in spring."
        )
    if place.is_mound and any(plant.form in ("shrub", "tree") for plant in chosen):
        sentences.append("White clover or chips cover the rest of the crest; chips stay on the surface.")
    return " ".join(sentences)


def _in_blocks(blocks: int) -> str:
    return "in one block" if blocks == 1 else f"in {blocks} blocks"


def _year_of(mound: Mound, plan: Plan) -> int:
    return next((year.year for year in plan.years if mound.number in year.builds), 1)


def _cautions(beds: tuple[BedPlan, ...]) -> tuple[str, ...]:
    named = {choice.latin: choice for bed in beds for choice in bed.choices if choice.caution}
    general = (f"{_POISON} {_INVASIVE} Never burn or chip poison sumac or poison ivy.",)
    return general + tuple(f"{named[key].common}: {named[key].caution}." for key in sorted(named))


def prevalence_said(palette: tuple[Plant, ...], settings: Settings) -> str:
    """Say what the plants that were seen tell of the ground, nothing where none are named."""
    if not settings.planting.seen:
        return ""
    by_name = {name: plant for plant in palette for name in (plant.latin.lower(), plant.common.lower())}
    cover: dict[str, float] = {}
    unrated = []
    for name, amount in settings.planting.seen.items():
        if name.upper() in ("OBL", "FACW", "FAC", "FACU", "UPL"):
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
    said = reading_of(prevalence_index(cover))
    return said + (f" {', '.join(unrated)} unrated, counted as UPL." if unrated else "")


def _notes(palette: tuple[Plant, ...], settings: Settings) -> tuple[str, ...]:
    regions = sorted({plant.indicator_region for plant in palette if plant.indicator_region})
    notes = [
        f"Wetland indicators in the palette are for: {'; '.join(regions)}. An indicator is not a crop tolerance.",
        "Sizes and spacings are from memory; the nursery's own label is better.",
    ]
    if settings.planting.coldest_night is None:
        notes.append("The coldest night is not given (planting.coldest_night), so no plant was struck out for cold.")
    return tuple(notes)
