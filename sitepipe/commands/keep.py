"""``sitepipe keep``: what was proposed and pleases stays, with its number."""

from __future__ import annotations

from typing import Annotated

import typer

from sitepipe.commands import console
from sitepipe.commands.site_folder import SiteFolder, read_site_folder, write_whole


def keep(
    site: SiteFolder,
    names: Annotated[list[str], typer.Argument(metavar="NAME...", help="As: mound 1 mound 3 'hoop house'; or all.")],
) -> None:
    """Write proposed works into works.geojson: from then on they stay where they are, with their numbers."""
    settings = read_site_folder(site)
    from sitepipe.analysis import analyse
    from sitepipe.answers.names import called
    from sitepipe.writing.kept import chosen_of, kept_works, read_kept

    target = site / (settings.works or "works.geojson")
    document = read_kept(target)
    with console.progress() as tell:
        analysis = analyse(site, tell)
    chosen = chosen_of(analysis.plan, names)
    write_whole(target, kept_works(analysis, chosen, document).encode())
    for work in chosen:
        console.say(f"Kept: {called(work.ref)}.")
    console.say(f"They stand in {target.name}; 'sitepipe run {site}' plans around them.")
