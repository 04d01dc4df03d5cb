"""The answers as data: what ``summary.json`` holds. Units stand in the names of the keys; unknown is null."""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

import numpy as np

from sitepipe.analysis import Analysis
from sitepipe.answers import exclusions, ground_water, hazards, houses, impact, plants, rows, ways
from sitepipe.answers.brief import least_sure
from sitepipe.answers.cautions import cautions_of
from sitepipe.answers.jobs import say_job
from sitepipe.answers.mounds import say_why
from sitepipe.answers.names import called
from sitepipe.answers.report import taken_for_granted
from sitepipe.answers.sun import beside_buildings, inside_parcel, mean_inside, share_inside
from sitepipe.answers.water import asked, side, warnings
from sitepipe.answers.works import MATERIAL_NOTES, ditch_why, notes
from sitepipe.drainage.record import Crossing, Pond, Storm
from sitepipe.fields import Data, Sayers, told
from sitepipe.planting.record import BedPlan, PlantChoice, Planting
from sitepipe.scoring.record import Exclusion, Zone
from sitepipe.wetness.record import HoleLevel
from sitepipe.works.hazards import Hazard
from sitepipe.works.houses.record import HoopHouse, PlaceScore, Refusal
from sitepipe.works.jobs.record import Job, Quantity
from sitepipe.works.mounds.record import Mound
from sitepipe.works.record import Plan, ShadeCost
from sitepipe.works.rows.record import Trellis
from sitepipe.works.water.record import DrainAdvice
from sitepipe.works.ways.record import LeftOut, Path, TippingPlace

FORMAT = 2
"""Raised when a key changes its name or meaning; new keys do not raise it."""


def summarise(analysis: Analysis) -> Data:
    """Return the whole summary, ready for JSON; what a record tells is declared on its fields."""
    site, sayers = analysis.site, sayers_of(analysis)
    return {
        name: _plain(section)
        for name, section in {
            "made_by": "sitepipe",
            "format": FORMAT,
            "site": told(site, sayers) | told(analysis.terrain, sayers) | {"features": _counts(analysis)},
            "water": _water(analysis),
            "sun": _sun(analysis),
            "zones": [told(zone, sayers) for zone in analysis.zones.zones],
            "works": told(analysis.plan, sayers),
            "planting": told(analysis.planting, sayers)
            | {"notes": list(plants.notes_of(analysis.planting, analysis.settings.planting))},
            "cautions": [told(caution, sayers) for caution in cautions_of(analysis)],
            "least_sure": least_sure(analysis),
            "warnings": [*warnings(site), *ground_water.unused_observations(analysis)],
            "assumptions": list(taken_for_granted(analysis)),
        }.items()
    }


def sayers_of(analysis: Analysis) -> Sayers:
    """Return the sentences that records tell beside their fields, in ``summary.json`` and in ``plan.gpkg``."""
    settings, choice = analysis.settings, analysis.plan.mound_choice
    return {
        Crossing: {"side": lambda crossing: side(crossing.place, analysis.site)},
        Exclusion: {"reason": exclusions.title, "source": lambda one: exclusions.SOURCES[one.reason]},
        HoopHouse: {
            "why": lambda house: houses.house_why(house, analysis),
            "ridge_advice": lambda _: houses.ridge(analysis),
            "roof_water_goes": lambda house: houses.roof_water(house, analysis),
        },
        PlaceScore: {"sentence": lambda found: houses.judged(found, analysis)},
        Refusal: {"why": lambda refusal: houses.refused(refusal, analysis)},
        Trellis: {"why": lambda row: rows.row_reason(row, analysis)},
        ShadeCost: {"loser": lambda cost: called(cost.work), "shaded_by": lambda cost: called(cost.by)},
        Hazard: {
            "of": lambda hazard: called(hazard.work),
            "near": lambda hazard: hazards.thing_named(analysis, hazard.thing),
        },
        HoleLevel: {"said": lambda hole: ground_water.hole_said(hole, analysis.settings.units)},
        Zone: {"limit": exclusions.limit},
        BedPlan: {
            "where": lambda bed: plants.bed_named(bed, analysis),
            "note": lambda bed: plants.note_of(bed, analysis.planting, analysis.settings.units),
        },
        PlantChoice: {"verdict": plants.verdict_of, "why": plants.why_of, "unknown": plants.unknown_of}
        | {"caution": lambda choice: plants.caution_of(choice, analysis.settings.units)},
        Planting: {"prevalence": plants.prevalence_of},
        Mound: {"why": lambda _: say_why(choice, settings)},
        Path: {
            "why": lambda path: f"{ways.path_why(path, analysis)}{ways.dug_in(path, analysis)}",
            "from_to": lambda path: ways.from_to(path.joins, analysis),
        },
        TippingPlace: {
            "access": lambda place: ways.tipping_access(place, analysis),
            "why": lambda place: ways.tipping_why(place, analysis),
        },
        Job: {
            "title": lambda job: say_job(job, analysis).title,
            "detail": lambda job: say_job(job, analysis).detail,
            "tools": lambda job: list(say_job(job, analysis).tools),
            "quantity": lambda job: say_job(job, analysis).quantity,
            "caution": lambda job: say_job(job, analysis).caution,
        },
        Quantity: {"note": lambda quantity: MATERIAL_NOTES.get(quantity.material, "")},
        DrainAdvice: {"why": lambda drain: ditch_why(drain, analysis)},
        Plan: {"notes": lambda _: list(notes(analysis))},
        LeftOut: {"harm": lambda path: impact.say_harm(path.harm, analysis.site, settings)},
        **impact.sayers(analysis),
    }


def ponds_of_parcel(analysis: Analysis) -> list[Pond]:
    """Return the hollows that touch the parcel, by rank."""
    return sorted((pond for pond in analysis.drainage.ponds if pond.number > 0), key=lambda pond: pond.number)


def _counts(analysis: Analysis) -> Data:
    return dict(sorted(Counter(str(feature.kind) for feature in analysis.site.features).items()))


def _water(analysis: Analysis) -> Data:
    drainage, sayers = analysis.drainage, sayers_of(analysis)
    sure = {drainage.ponds[found.pond].number: told(found, sayers) for found in analysis.ponding_uncertainty.ponds}
    crossings = [(crossing, told(crossing, sayers)) for crossing in drainage.crossings]
    mean = mean_inside(analysis.water_table.water_table_depth, inside_parcel(analysis))
    wetness = told(analysis.wetness, sayers)
    return {
        "ponds": [told(pond, sayers) | sure.get(pond.number, {}) for pond in ponds_of_parcel(analysis)],
        "soggiest_places": wetness["soggy_places"],
        "comes_in": [said for crossing, said in crossings if crossing.is_inflow],
        "leaves": [said for crossing, said in crossings if not crossing.is_inflow],
        "storms": [_storm(storm, analysis) for storm in drainage.storms],
        "cells_drained": drainage.outflow_cells,
        "channels_begin_at_m2": drainage.channel_area,
        "equally_likely_grounds": analysis.ponding_uncertainty.grounds,
        "wet_season_depth_to_water": {"mean_m": mean, "basis": ground_water.basis(analysis)}
        | told(analysis.water_table, sayers)
        | {"notes": list(ground_water.notes(analysis.water_table, analysis.settings.units))},
        "agreement_with_observations": wetness["agreement"],
        "gaps": told(drainage.gaps, sayers),
        "questions": [{"question": asked(question, analysis)} for question in drainage.questions],
    }


def _storm(storm: Storm, analysis: Analysis) -> Data:
    """Return what a storm brings and what it does to the parcel's own ponds."""
    ponds, sayers = analysis.drainage.ponds, sayers_of(analysis)
    return told(storm, sayers) | {
        "drowns_crops": {"count": sum(pond.drowns_crops for pond in storm.ponds)},
        "breeds_mosquitoes": {"count": sum(pond.breeds_mosquitoes for pond in storm.ponds)},
        "ponds": [
            {"rank": ponds[found.pond].number} | told(found, sayers)
            for found in sorted(storm.ponds, key=lambda found: ponds[found.pond].number)
            if ponds[found.pond].number > 0
        ],
    }


def _sun(analysis: Analysis) -> Data:
    sun, inside = analysis.sunlight, beside_buildings(analysis)
    first, last = sun.season
    full = analysis.settings.sun.light_breaks[1]
    return told(sun, sayers_of(analysis)) | {
        "season_start": f"{first:%m-%d}",
        "season_end": f"{last:%m-%d}",
        "season_mean_h_per_day": mean_inside(sun.sun_hours, inside),
        "monthly_mean_h_per_day": [mean_inside(month, inside) for month in sun.monthly_hours],
        "leanest_month_mean_h_per_day": mean_inside(sun.leanest_hours, inside),
        "share_of_parcel_in_full_sun_in_leanest_month": share_inside(sun.leanest_hours, inside, full),
        "insolation_mean_mj_per_m2_per_day": mean_inside(sun.insolation, inside),
    }


def _plain(value: Any) -> Any:
    """Round to what can be meant and turn unknown numbers into null, since JSON has no NaN."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    if isinstance(value, np.bool_):
        return bool(value)
    if isinstance(value, bool | int) or not hasattr(value, "__float__"):
        return value
    number = float(value)
    return round(number, 4) + 0.0 if math.isfinite(number) else None
