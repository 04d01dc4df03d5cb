"""``sitepipe new``: make a site folder, asking only for what cannot be guessed."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from sitepipe.commands import console
from sitepipe.errors import SettingsError
from sitepipe.units import Units

_WHICH_HEIGHTS = """\
Heights: ask your state, province or national elevation portal for a bare-earth elevation raster ("digital terrain \
model"), in cells of 1 m (3 ft) or finer, as GeoTIFF, in metres or feet but say which, covering your ground and \
everything uphill of it: 200 m (600 ft) around is a good start. Good: the file states its coordinate system and \
vertical unit, and a lawn differs in centimetres. Bad: whole metres (the lawn turns to terraces), cells of 10 m or \
more, roofs and tree tops still in it, a picture in colours. With none to be had, level the ground yourself: \
level-book.pdf is the sheet for it."""


def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder to make; it must not exist or be empty.")],
    name: Annotated[str | None, typer.Option("--name", help="What the place is called.")] = None,
    units: Annotated[Units | None, typer.Option("--units", help="How distances are said.")] = None,
    elevation: Annotated[
        Path | None, typer.Option("--elevation", help="File of heights to copy into the folder.")
    ] = None,
    preset: Annotated[str, typer.Option("--preset", help="What kind of ground it is.")] = "wet-lawn",
    latitude: Annotated[float | None, typer.Option("--latitude", min=-80.0, max=84.0)] = None,
    longitude: Annotated[float | None, typer.Option("--longitude", min=-180.0, max=180.0)] = None,
    sample: Annotated[bool, typer.Option("--sample", help="Copy the sample site instead.")] = False,
) -> None:
    """Make a site folder with a commented site.toml. Nothing that exists is overwritten."""
    from sitepipe.starting.folder import Start, copy_sample, make_folder

    if sample:
        if name is not None or elevation is not None:
            raise SettingsError("--sample takes no --name and no --elevation; leave them out")
        _tell(copy_sample(folder))
        console.say(f"Next: sitepipe run {folder}")
        return
    if (latitude is None) != (longitude is None):
        raise SettingsError("--latitude and --longitude go together; give both or neither")
    if sys.stdin is not None and sys.stdin.isatty():
        name = name or typer.prompt("What is the place called", default=folder.name)
        if units is None:
            units = Units.IMPERIAL if typer.confirm("Say feet and inches", default=True) else Units.METRIC
        if elevation is None:
            given = typer.prompt("File of heights (leave empty if you have none)", default="", show_default=False)
            elevation = Path(given).expanduser() if given.strip() else None
    start = Start(name or folder.name, units or Units.METRIC, preset, elevation, latitude, longitude)
    _tell(make_folder(folder, start))
    if elevation is None:
        console.say(_WHICH_HEIGHTS)
    console.say(f"Next: sitepipe sketch {folder}, draw, save the drawing into the folder, then sitepipe run {folder}")


def _tell(files: tuple[Path, ...]) -> None:
    for file in files:
        console.say(f"Made {file}")
