"""The planting stage: one assignment of plants to beds, and each bed set out to scale."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
import shapely

from sitepipe.drainage.record import PondingUncertainty
from sitepipe.planting.assign import Counts
from sitepipe.planting.beds import Bed, beds_of
from sitepipe.planting.match import Fit, Purpose, fit, leads
from sitepipe.planting.mixture import PROPOSED_FROM, mixture
from sitepipe.planting.months import calendar_of, months_of, sowings
from sitepipe.planting.nursery import price_of, raise_stock
from sitepipe.planting.own import own_kinds, unplaced
from sitepipe.planting.palette import Own, Plant, read_palette
from sitepipe.planting.prevalence import prevalence_of
from sitepipe.planting.record import BedPlan, Nursery, PlantChoice, Planting, Unplaced
from sitepipe.planting.rotation import rotation
from sitepipe.planting.setting_out import Planted, set_out
from sitepipe.terrain.outline import polygons_of
from sitepipe.works.jobs.listing import list_jobs
from sitepipe.works.jobs.plan import spare_hours
from sitepipe.works.land import Land
from sitepipe.works.record import Plan

LED_BY = 2.0
"""Worth of a plant that the bed was made for against one that only bears its company: own choice."""


FOR_SALE = re.compile(r"\b(nursery|sale|sell)\b", re.IGNORECASE)
"""What the grower writes of plants that are to be raised in a nursery bed."""


@dataclass(frozen=True, slots=True)
class _Judged:
    """A kind in a bed: how it fits, how many are set out, and how many of those the grower has."""

    plant: Plant
    fit: Fit
    count: int
    own: int
    nursery: Nursery | None = None


def choose_plants(land: Land, uncertainty: PondingUncertainty, plan: Plan) -> Planting:
    """Find a place for what the grower has, then propose what else would do well, over all beds at once."""
    settings = land.settings
    palette = read_palette(land.site.plant_list, settings.planting.replaces_palette)
    own = own_kinds(land.site, palette)
    beds = beds_of(land, uncertainty, plan, own, palette)
    nursery = [bed for bed in beds if bed.place.purpose is Purpose.NURSERY]
    to_raise = tuple(each for each in own if nursery and FOR_SALE.search(each[1].purpose))
    to_grow = tuple(each for each in own if each not in to_raise)
    garden = _garden([bed for bed in beds if bed not in nursery], to_grow, palette, land)
    grown = {choice.latin for bed in garden.beds for choice in bed.chosen}
    raised, left = _raised(nursery, to_raise, palette, grown, land)
    plans = garden.beds + raised
    spare = spare_hours(list_jobs(land, plan), settings.jobs)
    months, early = months_of(plans, beds, own, palette, calendar_of(land), spare)
    return replace(
        garden,
        beds=plans,
        months=months,
        early=early,
        unplaced=garden.unplaced + left,
        prevalence=prevalence_of(palette, settings),
        indicator_regions=tuple(sorted({plant.indicator_region for plant in palette if plant.indicator_region})),
    )


def _garden(beds: Sequence[Bed], own: Own, palette: Sequence[Plant], land: Land) -> Planting:
    """Plant all beds but those of nursery stock."""
    fits = [[fit(plant, bed.place) for bed in beds] for plant in palette]
    scores = np.array([[judged.score for judged in row] for row in fits]).reshape(len(palette), len(beds))
    led = np.array([[leads(plant, bed.place.purpose) for bed in beds] for plant in palette]).reshape(scores.shape)
    given, proposed = mixture(own, palette, beds, scores * np.where(led, LED_BY, 1.0), scores, land.settings)
    planted = [_planted(bed, palette, given[:, k], proposed[:, k], land) for k, bed in enumerate(beds)]
    counts = _counts(palette, planted)
    placed = np.minimum(given, counts)
    plots, returns = rotation(beds, palette, counts, scores)
    plans = []
    for _, same in groupby(range(len(beds)), lambda bed: beds[bed].of):
        parts = list(same)
        judged = [
            _Judged(plant, fits[k][parts[0]], int(counts[k, parts].sum()), int(placed[k, parts].sum()))
            for k, plant in enumerate(palette)
        ]
        stand = [each for bed in parts for each in planted[bed]]
        plans.append(_bed_plan([beds[bed] for bed in parts], stand, judged, land))
    return Planting(tuple(plans), tuple(unplaced(own, palette, beds, fits, placed)), plots, returns)


def _raised(
    beds: Sequence[Bed], own: Own, palette: Sequence[Plant], grown: Collection[str], land: Land
) -> tuple[tuple[BedPlan, ...], tuple[Unplaced, ...]]:
    """Fill the nursery beds, and say what of the grower's own finds no room there."""
    raised = raise_stock(beds, own, palette, grown, land)
    planted = [[(s.plant, place) for s in stands for block in s.blocks for place in block] for stands in raised]
    counts = _counts(palette, planted)
    fits = [[fit(plant, bed.place) for bed in beds] for plant in palette]
    placed = np.zeros_like(counts)
    plans = []
    for k, (bed, stands) in enumerate(zip(beds, raised, strict=True)):
        told = {s.plant.latin: s.record(price_of(s.plant, land.settings.planting)) for s in stands}
        for row, plant in enumerate(palette):
            asked = sum(mine.count for kind, mine in own if kind is plant)
            placed[row, k] = min(asked, told[plant.latin].set_a_year) if plant.latin in told else 0
        judged = [
            _Judged(plant, fits[row][k], int(counts[row, k]), int(placed[row, k]), told.get(plant.latin))
            for row, plant in enumerate(palette)
        ]
        plans.append(_bed_plan([bed], planted[k], judged, land))
    return tuple(plans), tuple(unplaced(own, palette, beds, fits, placed))


def _counts(palette: Sequence[Plant], planted: Sequence[Planted]) -> Counts:
    """Count what stands in each bed. (kinds, beds)."""
    number = {plant.latin: k for k, plant in enumerate(palette)}
    counts = np.zeros((len(palette), len(planted)), np.int64)
    for bed, stand in enumerate(planted):
        for plant, _ in stand:
            counts[number[plant.latin], bed] += 1
    return counts


def _planted(bed: Bed, palette: Sequence[Plant], given: Counts, proposed: Counts, land: Land) -> Planted:
    """Set a bed out: the grower's own first, so that they never give way to a proposal."""
    groups = [[(plant, int(counts[k])) for k, plant in enumerate(palette) if counts[k]] for counts in (given, proposed)]
    setback = land.settings.planting.edge_setback
    return set_out(groups, bed.ground, setback, bed.supports, land.site.latitude < 0.0)


def _bed_plan(parts: Sequence[Bed], planted: Planted, judged: Sequence[_Judged], land: Land) -> BedPlan:
    """Join the parts of a bed: its kinds, those with most ground first, then the next best."""
    wanted, most = {*land.settings.planting.wanted}, land.settings.planting.choices
    chosen = sorted((j for j in judged if j.count), key=lambda j: (-j.plant.room * j.count, j.plant.latin))
    others = sorted(
        (
            j
            for j in judged
            if not j.count and j.fit.score >= PROPOSED_FROM and j.plant.is_known and wanted & {*j.plant.uses}
        ),
        key=lambda j: (-round(j.fit.score, 2), j.plant.latin),
    )
    ground = polygons_of(shapely.union_all([part.ground for part in parts]))
    left = parts[0].left if parts[0].left > 0.05 * ground.area else 0.0
    return BedPlan(
        of=parts[0].of,
        choices=tuple(_choice(j, land) for j in chosen + others[: max(most - len(chosen), 0)]),
        positions=tuple((plant.common, place) for plant, place in planted),
        ground=ground if planted else None,
        room_for=_two_figures(len(planted) * left / ground.area),
        left=left,
        year=parts[0].year,
    )


def _two_figures(count: float) -> int:
    """Round down to two figures: a count by area is no better."""
    step = int(10 ** max(len(str(int(count))) - 2, 0))
    return int(count) // step * step


def _choice(judged: _Judged, land: Land) -> PlantChoice:
    """Return what is said of a plant in a bed; one that is not among its kinds has no count."""
    plant, count = judged.plant, judged.count
    return PlantChoice(
        latin=plant.latin,
        common=plant.common,
        fit=round(judged.fit.score, 3),
        uses=plant.uses,
        count=count,
        own=judged.own,
        spacing=(plant.in_row or 0.0) if judged.nursery is None else judged.nursery.in_row,
        form=plant.form,
        layer=plant.layer,
        family=plant.family,
        sown=sowings(plant, land.sunlight.season) if count else (),
        reasons=judged.fit.why + judged.fit.doubts,
        unknowns=judged.fit.unknown,
        caution=plant.caution,
        asks_locally=plant.status == "ask",
        acidity=plant.acidity,
        is_chosen=count > 0,
        waits=plant.waits,
        nursery=judged.nursery,
    )
