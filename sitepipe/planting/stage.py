"""The planting stage: one assignment of plants to beds, and each bed set out to scale."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import numpy as np
import shapely

from sitepipe.drainage.record import PondingUncertainty
from sitepipe.planting.assign import Counts
from sitepipe.planting.beds import Bed, beds_of
from sitepipe.planting.match import Fit, fit, leads
from sitepipe.planting.mixture import PROPOSED_FROM, mixture
from sitepipe.planting.months import sowings
from sitepipe.planting.own import own_kinds, unplaced
from sitepipe.planting.palette import Plant, read_palette
from sitepipe.planting.prevalence import prevalence_of
from sitepipe.planting.record import BedPlan, Nursery, PlantChoice, Planting
from sitepipe.planting.rotation import rotation
from sitepipe.planting.setting_out import Planted, set_out
from sitepipe.settings import PlantingSettings
from sitepipe.terrain.outline import polygons_of
from sitepipe.works.land import Land
from sitepipe.works.record import Plan

SEASONS_TO_SIZE = {"hardwood cuttings": 2, "division": 1, "seed or layers": 3}
"""Growing seasons until a plant can be sold (common practice, no source)."""
LED_BY = 2.0
"""Worth of a plant that the bed was made for against one that only bears its company: own choice."""


def choose_plants(land: Land, uncertainty: PondingUncertainty, plan: Plan) -> Planting:
    """Find a place for what the grower has, then propose what else would do well, over all beds at once."""
    site, settings = land.site, land.settings
    palette = read_palette(site.plant_list, settings.planting.replaces_palette)
    own = own_kinds(site, palette)
    beds = beds_of(land, uncertainty, plan, own)
    fits = [[fit(plant, bed.place) for bed in beds] for plant in palette]
    scores = np.array([[judged.score for judged in row] for row in fits]).reshape(len(palette), len(beds))
    led = np.array([[leads(plant, bed.place.purpose) for bed in beds] for plant in palette]).reshape(scores.shape)
    given, proposed = mixture(own, palette, beds, scores * np.where(led, LED_BY, 1.0), scores, settings)
    planted = [_planted(bed, palette, given[:, k], proposed[:, k], land) for k, bed in enumerate(beds)]
    number = {plant.latin: k for k, plant in enumerate(palette)}
    counts = np.zeros(scores.shape, np.int64)
    for bed, stand in enumerate(planted):
        for plant, _ in stand:
            counts[number[plant.latin], bed] += 1
    placed = np.minimum(given, counts)
    plots, returns = rotation(beds, palette, counts, scores)
    alike = [list(same) for _, same in groupby(range(len(beds)), lambda bed: beds[bed].of)]
    return Planting(
        beds=tuple(
            _bed_plan(
                [beds[bed] for bed in same],
                [each for bed in same for each in planted[bed]],
                [
                    (plant, fits[k][same[0]], int(counts[k, same].sum()), int(placed[k, same].sum()))
                    for k, plant in enumerate(palette)
                ],
                land,
            )
            for same in alike
        ),
        unplaced=tuple(unplaced(own, palette, beds, fits, placed)),
        plots=plots,
        rotation_years=returns,
        prevalence=prevalence_of(palette, settings),
        indicator_regions=tuple(sorted({plant.indicator_region for plant in palette if plant.indicator_region})),
    )


def _planted(bed: Bed, palette: Sequence[Plant], given: Counts, proposed: Counts, land: Land) -> Planted:
    """Set a bed out: the grower's own first, so that they never give way to a proposal."""
    groups = [[(plant, int(counts[k])) for k, plant in enumerate(palette) if counts[k]] for counts in (given, proposed)]
    setback = land.settings.planting.edge_setback
    return set_out(groups, bed.ground, setback, bed.supports, land.site.latitude < 0.0)


def _bed_plan(
    parts: Sequence[Bed], planted: Planted, judged: Sequence[tuple[Plant, Fit, int, int]], land: Land
) -> BedPlan:
    """Join the parts of a bed: its kinds, those with most ground first, then the next best.

    ``judged`` has each kind, how it fits, how many of it are set out, and how many of those the grower has.
    """
    wanted, most = {*land.settings.planting.wanted}, land.settings.planting.choices
    chosen = sorted((j for j in judged if j[2]), key=lambda j: (-j[0].room * j[2], j[0].latin))
    others = sorted(
        (j for j in judged if not j[2] and j[1].score >= PROPOSED_FROM and j[0].is_known and wanted & {*j[0].uses}),
        key=lambda j: (-round(j[1].score, 2), j[0].latin),
    )
    ground = polygons_of(shapely.union_all([part.ground for part in parts]))
    left = parts[0].left if parts[0].left > 0.05 * ground.area else 0.0
    return BedPlan(
        of=parts[0].of,
        choices=tuple(_choice(*each, land) for each in chosen + others[: max(most - len(chosen), 0)]),
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


def _choice(plant: Plant, judged: Fit, count: int, own: int, land: Land) -> PlantChoice:
    """Return what is said of a plant; ``count`` is 0 for one that is not among the kinds of the bed."""
    return PlantChoice(
        latin=plant.latin,
        common=plant.common,
        fit=round(judged.score, 3),
        uses=plant.uses,
        count=count,
        own=own,
        spacing=plant.in_row or 0.0,
        form=plant.form,
        layer=plant.layer,
        family=plant.family,
        sown=sowings(plant, land.sunlight.season) if count else (),
        reasons=judged.why + judged.doubts,
        unknowns=judged.unknown,
        caution=plant.caution,
        asks_locally=plant.status == "ask",
        acidity=plant.acidity,
        is_chosen=count > 0,
        waits=plant.waits,
        nursery=_nursery(plant, count, land.settings.planting),
    )


def _nursery(plant: Plant, count: int, settings: PlantingSettings) -> Nursery | None:
    """Divide the plants of a kind into a block for each year that it stands; fewer plants than blocks are none."""
    blocks = SEASONS_TO_SIZE.get(plant.increase_by, 2)
    if "nursery stock" not in plant.uses or count <= blocks:
        return None
    a_year = count // blocks
    price = settings.prices.get(plant.latin, settings.prices.get(plant.common))
    return Nursery(plant.increase_by, blocks, a_year, None if price is None else a_year * price)
