"""``sitepipe sketch``: write the page on which the parcel and what stands on it are drawn."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sitepipe.commands import console
from sitepipe.commands.site_folder import read_site_folder, write_whole


def sketch(
    site: Annotated[Path, typer.Argument(metavar="SITE", help="Folder with site.toml.")],
    out: Annotated[
        Path | None, typer.Option("--out", help="File to write; sketch.html in the site folder without it.")
    ] = None,
) -> None:
    """Write one page to draw on, by tapping or by measure. It works without a network, on a desk or a phone."""
    settings = read_site_folder(site)
    from sitepipe.sketching.draw import sketch_of

    page = sketch_of(site, settings)
    target = out if out is not None else site / "sketch.html"
    write_whole(target, page.encode())
    console.say(f"Open {target} in a browser, draw, and save the drawing into {site}.")
