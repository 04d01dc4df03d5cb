"""``sitepipe run``: the main job."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, date, datetime
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sitepipe.commands import console
from sitepipe.commands.site_folder import DayDrawn, SiteFolder, read_site_folder
from sitepipe.errors import SettingsError

if TYPE_CHECKING:
    from sitepipe.analysis import Analysis


def run(
    site: SiteFolder,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Where the results go; SITE/out if not said.")
    ] = None,
    on: DayDrawn = None,
    full: Annotated[bool, typer.Option("--full", help="Say everything, not only what fits on one screen.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print summary.json instead of sentences.")] = False,
) -> None:
    """Answer where water comes from, stands and leaves, where the sun falls, and what to build; write the map."""
    settings = read_site_folder(site)
    target = out if out is not None else site / "out"
    from sitepipe._jit import is_cold

    if is_cold():
        console.tell("First run on this machine: compiling the kernels. This takes about a minute, once.")
    from sitepipe.analysis import analyse
    from sitepipe.answers.summary import summarise
    from sitepipe.reading.source import files_of
    from sitepipe.settings import Output
    from sitepipe.writing.folder import claimed

    inputs = files_of(site, settings)
    # The libraries that draw and write take most of a second to import: beside the kernels, which need no interpreter.
    with ThreadPoolExecutor(1) as aside, console.progress() as tell, claimed(target, [site, *inputs.values()]) as fresh:
        results = aside.submit(import_module, "sitepipe.writing.results")
        analysis = replace(analyse(site, tell), made_on=day_of_run(on))
        writing = results.result()
        missing = writing.write_results(analysis, inputs, fresh, tell)
    has_page = missing is None and Output.PAGE in settings.write
    page = target / writing.MAP_FILE if has_page else "none"
    if as_json:
        console.say_bytes(writing.as_json(summarise(analysis)))
    elif full:
        _say_all(analysis)
        console.say(f"The map: {page}")
    else:
        _say_brief(analysis)
        sheets = f"; to print: {writing.SHEETS_FILE}" if Output.SHEETS in settings.write else ""
        console.say(f"The map: {page}{sheets}; the rest: --full.")
    if missing:
        raise missing


def day_of_run(asked: datetime | None) -> date:
    """Return the day asked for, else that of SOURCE_DATE_EPOCH, else today: with one of the first two, runs repeat.

    References
    ----------
    reproducible-builds.org, SOURCE_DATE_EPOCH specification: seconds since 1970, in UTC.
    """
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if asked is not None:
        return asked.date()
    if not epoch:
        return date.today()  # noqa: DTZ011 (a day as the grower's own calendar has it)
    try:
        return datetime.fromtimestamp(int(epoch), UTC).date()
    except (ValueError, OverflowError, OSError) as error:
        raise SettingsError(
            f"SOURCE_DATE_EPOCH is {epoch!r}. It must be whole seconds since 1970; unset it, or say --on 2027-04-10."
        ) from error


def _say_brief(analysis: Analysis) -> None:
    from sitepipe.answers.brief import brief, lines_of
    from sitepipe.answers.report import title

    console.say(title(analysis.site, analysis.settings.units), heading=True)
    for line in lines_of(brief(analysis)):
        console.say(line)


def _say_all(analysis: Analysis) -> None:
    from sitepipe.answers.report import opening, report

    console.say(opening(analysis.site, analysis.settings.units))
    for passage in report(analysis):
        console.say()
        console.say(passage.heading, heading=True)
        for sentence in passage.sentences:
            console.say(sentence)
    console.say()
