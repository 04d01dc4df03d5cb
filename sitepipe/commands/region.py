"""``sitepipe region``: many parcels over one set of heights, each a run of its own."""

from __future__ import annotations

import os
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sitepipe.commands import console
from sitepipe.commands.run import day_of_run
from sitepipe.commands.site_folder import DayDrawn
from sitepipe.errors import InputError, SettingsError

if TYPE_CHECKING:
    from sitepipe.region.folder import Region

REGION_FILE = "region.toml"
MOST_FAULTS = 20
REGION_HELP = "Folder with region.toml, the heights and the layer of parcels."


def region(
    folder: Annotated[Path, typer.Argument(metavar="REGION", help=REGION_HELP)],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Where the results go; REGION/out if not said.")
    ] = None,
    workers: Annotated[
        int | None, typer.Option("--workers", min=1, max=1024, metavar="N", help="Processes on this machine.")
    ] = None,
    scheduler: Annotated[
        str | None, typer.Option("--scheduler", metavar="ADDRESS", help="A dask scheduler that runs already.")
    ] = None,
    on: DayDrawn = None,
) -> None:
    """Answer for many parcels what ``run`` answers for one; a second call does only what is missing or changed."""
    if workers is not None and scheduler is not None:
        raise SettingsError("--workers and --scheduler cannot be said together: a scheduler brings its own workers")
    opened = opened_region(folder)
    from sitepipe.region.district import Crews, refuse_failures, run_region
    from sitepipe.region.feed import crew_at, local_crew

    target = (out if out is not None else folder / "out").resolve()
    if scheduler is not None:
        crews = Crews(*(partial(crew_at, scheduler),) * 2)
    else:
        crews = Crews(partial(local_crew, workers or _cores()), partial(local_crew, 1))
    with console.quiet_progress() as tell:
        district = run_region(opened, target, day_of_run(on), crews, tell)
    done = len(district.parcels) - district.failed
    kept = f" ({district.kept:,} of them were done before)" if district.kept else ""
    console.say(f"{opened.own.name}: {done:,} of {len(district.parcels):,} parcels are done{kept}.", heading=True)
    console.say(f"The map and the list: {target / 'index.html'}; the table: parcels.csv, .gpkg and .parquet beside it.")
    refuse_failures(district, target)


def opened_region(folder: Path) -> Region:
    """Open a region folder, or say what it lacks."""
    from sitepipe.region.folder import open_region

    if not folder.is_dir():
        raise InputError(f"{folder} is no folder. Give the folder that holds {REGION_FILE}")
    return open_region(folder)


def check_region(folder: Path, as_json: bool) -> None:
    """Say what a region will take and which parcels cannot be run, without running anything."""
    opened = opened_region(folder)
    from sitepipe.region.forecast import forecast

    told = forecast(opened)
    if as_json:
        data = asdict(told) | {"faults": dict(told.faults)}
        console.say_data(data)
        return
    from sitepipe.answers.region import say_size, say_wait

    rasters, cores = len(opened.rasters), _cores()
    console.say(opened.own.name, heading=True)
    console.say(
        f"{told.parcels:,} parcels over {rasters:,} file{'s' if rasters > 1 else ''} of heights; "
        f"{len(told.faults):,} of them cannot be run."
    )
    console.say(
        f"It reads some {told.cells / 1e6:,.1f} million heights at first, at most {told.most_cells:,} for one parcel; "
        f"more where water comes from farther, to {opened.settings.ground.widest_window:,}."
    )
    console.say(
        f"Roughly: {say_wait(told.core_seconds / cores)} on the {cores} cores here, {say_size(told.memory)} of memory "
        f"for each worker, {say_size(told.disk)} on the disk."
    )
    for key, reason in told.faults[:MOST_FAULTS]:
        console.say(f"- {key}: {reason}.")
    if len(told.faults) > MOST_FAULTS:
        console.say(f"- and {len(told.faults) - MOST_FAULTS:,} more: --json lists all.")


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
