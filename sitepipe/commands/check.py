"""``sitepipe check``: what was understood, what it allows, and what is worth measuring next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sitepipe.commands import console
from sitepipe.commands.region import REGION_FILE, check_region
from sitepipe.commands.site_folder import AsJson, SiteFolder, read_site_folder, refuse_no_folder

if TYPE_CHECKING:
    from sitepipe.settings import Settings
    from sitepipe.site import Site


def check(
    site: SiteFolder,
    as_json: AsJson = False,
) -> None:
    """Say what was understood of a site folder and what is wrong with it, without running anything."""
    refuse_no_folder(site)
    if (site / REGION_FILE).is_file():
        check_region(site, as_json)
        return
    settings = read_site_folder(site)
    with console.progress() as tell:
        tell("Reading the heights and the drawing")
        from sitepipe.reading.site import read_site
        from sitepipe.reading.source import open_folder
        from sitepipe.window import reached_sides

        found = read_site(open_folder(site, settings), reached_sides)
        _refuse_what_run_would(found, settings)
    if as_json:
        _print_data(found, settings)
    else:
        _say(found, settings)


def _refuse_what_run_would(site: Site, settings: Settings) -> None:
    """Raise for what a run finds wrong only in its later stages."""
    from sitepipe.planting.palette import read_palette
    from sitepipe.planting.prevalence import prevalence_of

    prevalence_of(read_palette(site.plant_list, settings.planting.replaces_palette), settings)


def _gaps(site: Site, settings: Settings) -> tuple[str, ...]:
    """Say what a run would make of the gaps in the heights."""
    from sitepipe.answers import water
    from sitepipe.drainage.drawn import routed_ground

    return water.gaps_said(routed_ground(site.elevation, site, settings.drainage)[2], settings.units)


def _say(site: Site, settings: Settings) -> None:
    from sitepipe.answers import advice, stock, water

    console.say(site.name, heading=True)
    for sentence in advice.understood(site, settings):
        console.say(sentence)
    console.say()
    console.say("What it allows", heading=True)
    for answer in advice.allowed(site, settings):
        console.say(f"- {answer.question}: {answer.verdict}; {answer.why}.")
    warnings = water.warnings(site)
    if warnings:
        console.say()
        console.say("Look at this", heading=True)
        for warning in warnings:
            console.say(f"- {warning}")
    console.say()
    console.say("Taken for granted", heading=True)
    for assumption in (*stock.taken_for_granted(site, settings), *site.assumptions, *_gaps(site, settings)):
        console.say(f"- {assumption}")
    measurements = advice.worth_an_hour(site, settings)
    if measurements:
        console.say()
        console.say("What one more hour would buy, the most worth first", heading=True)
        for number, measurement in enumerate(measurements, start=1):
            take = f" Take: {measurement.tools}." if measurement.tools else ""
            console.say(f"{number}. {measurement.what}{take} So that {measurement.buys}.")


def _print_data(site: Site, settings: Settings) -> None:
    from dataclasses import asdict

    from sitepipe.answers import advice, stock, water

    told = {
        "name": site.name,
        "parcel_area_m2": round(site.parcel.area, 2),
        "cell_m": site.grid.cell,
        "heights_error_m": site.ground.vertical_error,
        "features": [{"number": f.number, "kind": str(f.kind), "name": f.name} for f in site.features],
        "allows": [asdict(answer) for answer in advice.allowed(site, settings)],
        "worth_an_hour": [asdict(measurement) for measurement in advice.worth_an_hour(site, settings)],
        "warnings": list(water.warnings(site)),
        "assumptions": [*stock.taken_for_granted(site, settings), *site.assumptions, *_gaps(site, settings)],
    }
    console.say_data(told)
