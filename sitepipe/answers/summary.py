"""The answers as data: what ``summary.json`` holds. Units stand in the names of the keys; unknown is null."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sitepipe.analysis import Analysis
from sitepipe.answers.cautions import cautions_of
from sitepipe.answers.sun import inside_parcel, mean_inside, share_inside
from sitepipe.answers.water import side
from sitepipe.answers.works_summary import Data, summarise_works
from sitepipe.drainage.record import Crossing, Storm
from sitepipe.wetness.record import SoggyPlace

FORMAT = 1
"""Raised when a key changes its name or meaning; new keys do not raise it."""


def summarise(analysis: Analysis) -> Data:
    """Return the whole summary, ready for JSON."""
    site = analysis.site
    summary: Data = _plain(
        {
            "made_by": "sitepipe",
            "format": FORMAT,
            "site": _site(analysis),
            "water": _water(analysis),
            "sun": _sun(analysis),
            "zones": _zones(analysis),
            "works": summarise_works(analysis.plan),
            "planting": _planting(analysis),
            "cautions": [{"topic": c.topic, "title": c.title, "text": c.text} for c in cautions_of(analysis)],
            "warnings": [*site.warnings, *analysis.wetness.notes],
            "assumptions": [*site.assumptions, *analysis.sunlight.assumptions, analysis.water_table.basis],
        }
    )
    return summary


def _site(analysis: Analysis) -> Data:
    site, terrain = analysis.site, analysis.terrain
    return {
        "name": site.name,
        "parcel_area_m2": site.parcel.area,
        "cell_m": site.grid.cell,
        "heights_source": site.ground.source,
        "heights_error_m": site.ground.vertical_error,
        "heights_error_source": site.ground.error_source,
        "scale_of_wetness_m": terrain.broad_scale,
        "least_slope_told_from_level": terrain.slope_floor,
        "more_water_from_outside_the_heights": site.open_edge,
        "features": {
            str(kind): len(site.of_kind(kind)) for kind in sorted({feature.kind for feature in site.features})
        },
    }


def _water(analysis: Analysis) -> Data:
    drainage, wetness = analysis.drainage, analysis.wetness
    agreement = wetness.agreement
    return {
        "ponds": [
            {
                "rank": pond.number,
                "area_m2": pond.area,
                "depth_m": pond.depth,
                "volume_m3": pond.volume,
                "catchment_area_m2": pond.catchment_area,
                "share_in_parcel": pond.share_in_parcel,
            }
            for pond in sorted(drainage.ponds, key=lambda pond: pond.number)
            if pond.number > 0
        ],
        "soggiest_places": [_soggy(place) for place in wetness.soggy_places],
        "comes_in": [_crossing(crossing, analysis) for crossing in drainage.crossings if crossing.is_inflow],
        "leaves": [_crossing(crossing, analysis) for crossing in drainage.crossings if not crossing.is_inflow],
        "storms": [_storm(storm) for storm in drainage.storms],
        "cells_drained": drainage.outflow_cells,
        "equally_likely_grounds": analysis.sureness.grounds,
        "wet_season_depth_to_water": {
            "mean_m": mean_inside(analysis.water_table.water_table_depth, inside_parcel(analysis)),
            "is_estimated": analysis.water_table.is_estimated,
            "basis": analysis.water_table.basis,
            "notes": list(analysis.water_table.notes),
            "holes": [
                {
                    "place": hole.place,
                    "depth_m": hole.depth,
                    "error_m": hole.error,
                    "bound": hole.bound,
                    "modelled_m": hole.modelled,
                    "said": hole.said,
                }
                for hole in analysis.water_table.holes
            ],
        },
        "agreement_with_observations": None
        if agreement is None
        else {
            "seen_wet": agreement.seen_wet,
            "seen_dry": agreement.seen_dry,
            "right": agreement.right,
            "area_under_curve": agreement.area_under_curve,
        },
        "questions": [{"question": said, "x_m": at.x, "y_m": at.y} for said, at in drainage.questions],
    }


def _soggy(place: SoggyPlace) -> Data:
    name, distance, bearing = place.where
    return {
        "rank": place.rank,
        "area_m2": place.area,
        "depth_m": place.depth,
        "depth_low_m": place.depth_low,
        "depth_high_m": place.depth_high,
        "probability": place.probability,
        "is_seen": place.is_seen,
        "catchment_area_m2": place.catchment_area,
        "drains_after_h": place.hours_to_drain,
        "from": name,
        "distance_m": distance,
        "bearing_deg": bearing,
    }


def _crossing(crossing: Crossing, analysis: Analysis) -> Data:
    return {
        "side": side(crossing.place, analysis.site),
        "upslope_area_m2": crossing.upslope_area,
        "more_from_outside_the_heights": crossing.from_outside_heights,
    }


def _storm(storm: Storm) -> Data:
    return {
        "rain_m": storm.rain_depth,
        "rain_m3": storm.rain,
        "infiltrated_m3": storm.infiltrated,
        "stored_m3": storm.stored,
        "left_m3": storm.left,
        "arrives_m3": dict(storm.arrives),
        "leaves_parcel_m3": storm.leaves,
        "drowns_crops": {"count": sum(pond.drowns_crops for pond in storm.ponds)},
        "breeds_mosquitoes": {"count": sum(pond.breeds_mosquitoes for pond in storm.ponds)},
    }


def _sun(analysis: Analysis) -> Data:
    sun, inside = analysis.sunlight, inside_parcel(analysis)
    first, last = sun.season
    return {
        "season_start": f"{first:%m-%d}",
        "season_end": f"{last:%m-%d}",
        "season_mean_h_per_day": mean_inside(sun.sun_hours, inside),
        "monthly_mean_h_per_day": [mean_inside(month, inside) for month in sun.monthly_hours],
        "leanest_month": sun.leanest_month,
        "leanest_month_mean_h_per_day": mean_inside(sun.leanest_hours, inside),
        "share_of_parcel_in_full_sun_in_leanest_month": share_inside(
            sun.leanest_hours, inside, analysis.settings.sun.light_breaks[1]
        ),
        "insolation_mean_mj_per_m2_per_day": mean_inside(sun.insolation, inside),
    }


def _zones(analysis: Analysis) -> list[Data]:
    return [
        {
            "number": zone.number,
            "use": str(zone.use),
            "area_m2": zone.area,
            "score": zone.score,
            "limit": zone.limit,
            "wetness": zone.wetness,
            "sun_h_per_day": zone.sun_hours,
        }
        for zone in analysis.zones.zones
    ]


def _planting(analysis: Analysis) -> Data:
    planting = analysis.planting
    return {
        "beds": [
            {
                "where": bed.where,
                "note": bed.note,
                "set_out_area_m2": bed.ground.area if bed.ground is not None else None,
                "room_for_more": {"count": bed.room_for, "area_m2": bed.left},
                "plants": [
                    {
                        "latin": choice.latin,
                        "common": choice.common,
                        "fit": choice.fit,
                        "verdict": choice.verdict,
                        "why": choice.why,
                        "unknown": choice.unknown,
                        "uses": list(choice.uses),
                        "caution": choice.caution,
                        "count": choice.count,
                        "spacing_m": choice.spacing,
                    }
                    for choice in bed.choices
                ],
            }
            for bed in planting.beds
        ],
        "prevalence": planting.prevalence,
        "notes": list(planting.notes),
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
