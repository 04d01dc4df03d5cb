"""``sitepipe sketch``: write the page on which the parcel and what stands on it are drawn."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Annotated

import typer

from sitepipe.commands import console
from sitepipe.commands.site_folder import read_site_folder
from sitepipe.errors import WritingError


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
    _write(target, page)
    console.say(f"Open {target} in a browser, draw, and save the drawing into {site}.")


def _write(target: Path, page: str) -> None:
    if target.exists() and not target.is_file():
        raise WritingError(f"{target} is not a file; name a file to write with --out")
    temporary = None
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name[:40]}.tmp-", dir=target.absolute().parent)
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(page)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(target)
    except OSError as error:
        raise WritingError(f"{target} cannot be written: {error.strerror or error}; nothing was replaced") from error
    finally:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
