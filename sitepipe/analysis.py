"""The whole pipeline, one function that reads like the README."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Annotated

from sitepipe.drainage.ponding_uncertainty import estimate_ponding_uncertainty
from sitepipe.drainage.record import Drainage, PondingUncertainty
from sitepipe.drainage.stage import trace_drainage
from sitepipe.fields import Goes
from sitepipe.planting.months import planting_jobs
from sitepipe.planting.record import Planting
from sitepipe.planting.stage import choose_plants
from sitepipe.reading.site import read_site
from sitepipe.reading.source import open_folder
from sitepipe.scoring.record import Scores, Zones
from sitepipe.scoring.stage import score_uses
from sitepipe.scoring.zones import draw_zones
from sitepipe.settings import Settings, read_settings
from sitepipe.site import Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.sunlight.stage import trace_sunlight
from sitepipe.terrain.record import Terrain
from sitepipe.terrain.stage import derive_terrain
from sitepipe.wetness.record import WaterTable, Wetness
from sitepipe.wetness.stage import estimate_wetness
from sitepipe.wetness.water_table import estimate_water_table
from sitepipe.window import reached_sides
from sitepipe.works.jobs.listing import list_jobs
from sitepipe.works.jobs.plan import with_hours
from sitepipe.works.land import Land
from sitepipe.works.record import Plan
from sitepipe.works.stage import plan_works
from sitepipe.works.standing import with_standing


@dataclass(frozen=True, slots=True)
class Analysis:
    """Everything that one run found out; ``made_on`` is the day that the page and the sheets carry, if any."""

    site: Site
    settings: Annotated[Settings, Goes.INTERNAL]
    terrain: Terrain
    drainage: Drainage
    ponding_uncertainty: PondingUncertainty
    sunlight: Sunlight
    wetness: Wetness
    water_table: WaterTable
    scores: Scores
    zones: Zones
    plan: Plan
    planting: Planting
    made_on: Annotated[date | None, Goes.SAID] = None


def analyse(folder: Path | str, tell: Callable[[str], None] = lambda _: None) -> Analysis:
    """Read a site folder and work everything out; ``tell`` is told each stage as it begins.

    Raises
    ------
    SettingsError, InputError
        If the folder does not hold what a run needs.
    """
    folder = Path(folder)
    tell("Reading the heights and the drawing")
    source = open_folder(folder, read_settings(folder / "site.toml"))
    return analyse_site(read_site(source, reached_sides), source.settings, tell)


def analyse_site(site: Site, settings: Settings, tell: Callable[[str], None] = lambda _: None) -> Analysis:
    """Work everything out for a site that is already read."""
    site = with_standing(site, settings)
    terrain = derive_terrain(site, settings)
    tell("Following the water")
    drainage = trace_drainage(site, settings)
    tell("Asking how sure that is")
    uncertainty = estimate_ponding_uncertainty(site, drainage, settings)
    tell("Following the sun")
    sunlight = trace_sunlight(site, settings)
    tell("Weighing wetness and uses")
    wetness = estimate_wetness(site, terrain, drainage, uncertainty, settings)
    water_table = estimate_water_table(site, terrain, drainage, settings)
    scores = score_uses(site, terrain, drainage, sunlight, wetness, water_table, settings)
    zones = draw_zones(site, scores, wetness, sunlight, settings)
    tell("Trying what to build")
    land = Land(site, settings, terrain, drainage, sunlight, wetness, water_table, scores, zones)
    plan = plan_works(land)
    planting = choose_plants(land, uncertainty, plan)
    jobs = list_jobs(land, plan, tuple(planting_jobs(planting)))
    plan = replace(plan, jobs=jobs, years=with_hours(plan.years, jobs, settings.jobs))
    return Analysis(
        site, settings, terrain, drainage, uncertainty, sunlight, wetness, water_table, scores, zones, plan, planting
    )
