"""``sitepipe today``: the jobs of a day, for the people and the hours that there are."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from sitepipe.commands import console
from sitepipe.commands.site_folder import SiteFolder, read_site_folder, write_whole
from sitepipe.errors import SettingsError


def today(
    site: SiteFolder,
    on: Annotated[datetime, typer.Option("--on", formats=["%Y-%m-%d"], metavar="DATE", help="Such as 2027-04-10.")],
    people: Annotated[int, typer.Option("--people", min=1, max=100, metavar="N", help="How many come.")],
    hours: Annotated[float, typer.Option("--hours", min=0.5, max=24.0, metavar="H", help="For how many hours.")],
    sheet: Annotated[Path | None, typer.Option("--sheet", metavar="FILE", help="Also a sheet to print, PDF.")] = None,
    done: Annotated[str, typer.Option("--done", metavar="1,2", help="Jobs that are ticked, by number.")] = "",
) -> None:
    """Say which jobs are ready on a day, in order, with what to bring and where not to walk."""
    settings = read_site_folder(site)
    ticked = job_numbers(done)
    from sitepipe.analysis import analyse
    from sitepipe.answers.brief import lines_of
    from sitepipe.answers.today import title
    from sitepipe.answers.today import today as said
    from sitepipe.works.jobs.ready import jobs_of_day

    with console.progress() as tell:
        analysis = analyse(site, tell)
    jobs = analysis.plan.jobs
    unknown = sorted(ticked - {job.number for job in jobs})
    if unknown:
        raise SettingsError(f"--done names job {unknown[0]}; the jobs of this plan are 1 to {len(jobs)}")
    day = jobs_of_day(jobs, on.date(), (people, hours), ticked, settings.water_table.wet_at(analysis.site.latitude))
    console.say(f"{analysis.site.name}: {title(day)}", heading=True)
    for line in lines_of(said(analysis, day)):
        console.say(line)
    if sheet is not None:
        from sitepipe.writing.sheets.today import draw_today

        write_whole(sheet, draw_today(analysis, day))
        console.say(f"To print: {sheet}")


def job_numbers(text: str) -> set[int]:
    """Return the numbers of jobs that a text lists."""
    pieces = [piece.strip() for piece in text.split(",") if piece.strip()]
    wrong = [piece for piece in pieces if not piece.isdecimal()]
    if wrong:
        raise SettingsError(f"--done has {wrong[0]!r}; write the numbers of jobs with commas, such as 1,2,5")
    return {int(piece) for piece in pieces}
