"""A new site folder: a commented settings file in plain words, a sheet to level by, or a copy of the sample."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from sitepipe.errors import SettingsError, WritingError
from sitepipe.settings import presets
from sitepipe.units import Units

_SAMPLE_FILES = ("site.toml", "elevation.tif", "drawn.geojson", "holes.csv", "make_sample.py")


@dataclass(frozen=True, slots=True)
class Start:
    """What cannot be guessed about a new site.

    Parameters
    ----------
    name : str
    units : Units
    preset : str
    elevation : Path or None
        A file of heights to copy in, None where there is none yet.
    latitude, longitude : float or None
        Only for a site that is levelled by hand and tied to no place. [deg]
    """

    name: str
    units: Units
    preset: str
    elevation: Path | None = None
    latitude: float | None = None
    longitude: float | None = None


def make_folder(folder: Path, start: Start) -> tuple[Path, ...]:
    """Make a site folder whole or not at all; nothing that exists is touched.

    Returns
    -------
    tuple of Path
        The files made.

    Raises
    ------
    SettingsError
        If the folder holds anything already, or the preset or the heights do not exist.
    WritingError
        If it cannot be written.
    """
    if start.preset not in presets():
        raise SettingsError(f"preset {start.preset!r} does not exist; choose one of {', '.join(presets())}")
    if start.elevation is not None and not start.elevation.is_file():
        raise SettingsError(f"{start.elevation} is not a file; name the file of heights that you downloaded")

    def fill(place: Path) -> None:
        (place / "site.toml").write_text(settings_text(start), encoding="utf-8")
        if start.elevation is not None:
            shutil.copyfile(start.elevation, place / _plain_name(start.elevation))
        else:
            from sitepipe.starting.level_book import write_level_book

            (place / "levels.csv").write_text(_LEVELS, encoding="utf-8")
            write_level_book(place / "level-book.pdf", start.units)

    return _filled(folder, fill)


def copy_sample(folder: Path) -> tuple[Path, ...]:
    """Copy the sample site into a new folder; nothing that exists is touched."""
    packaged = Path(str(resources.files("sitepipe"))) / "_sample_site"
    source = packaged if packaged.is_dir() else Path(__file__).resolve().parents[2] / "sample_site"

    def fill(place: Path) -> None:
        for name in _SAMPLE_FILES:
            shutil.copyfile(source / name, place / name)

    return _filled(folder, fill)


def _filled(folder: Path, fill: Callable[[Path], None]) -> tuple[Path, ...]:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise SettingsError(f"{folder} exists and is not empty; choose another folder, nothing was changed")
    parent = folder.absolute().parent
    try:
        parent.mkdir(parents=True, exist_ok=True)
        place = Path(tempfile.mkdtemp(prefix=f".{folder.name[:40]}.tmp-", dir=parent))
    except OSError as error:
        raise WritingError(f"{parent} cannot be written: {error.strerror}; choose another place") from error
    try:
        fill(place)
        place.chmod(0o755)
        if folder.is_dir():
            folder.rmdir()
        place.replace(folder)
    except OSError as error:
        raise WritingError(f"{folder} could not be made: {error.strerror or error}; nothing was left behind") from error
    finally:
        if place.is_dir():
            shutil.rmtree(place, ignore_errors=True)
    return tuple(sorted(folder.iterdir()))


def settings_text(start: Start) -> str:
    """Write the settings file of a new site, every line explained."""
    heights = (
        f"elevation = {_quoted(_plain_name(start.elevation))}     # heights of the bare ground\n"
        if start.elevation is not None
        else '# elevation = "elevation.tif"   # heights of the bare ground, once you have them\n'
        'levels = "levels.csv"            # your own level readings: fill in the sheet level-book.pdf, then this file\n'
    )
    place = ""
    if start.latitude is not None and start.longitude is not None:
        place = (
            f"latitude = {start.latitude!r}               # for the sun; a tenth of a degree is enough\n"
            f"longitude = {start.longitude!r}\n"
        )
    elif start.elevation is None:
        place = (
            "# latitude = 43.1               # for the sun, if no file of heights says where you are\n"
            "# longitude = -72.5\n"
        )
    return _SETTINGS.format(
        name=_quoted(start.name),
        heights=heights,
        place=place,
        units=start.units.value,
        preset=start.preset,
        presets=", ".join(presets()),
    )


def _plain_name(path: Path) -> str:
    return "elevation" + path.suffix.lower()


def _quoted(text: str) -> str:
    plain = "".join(sign if sign.isprintable() else " " for sign in text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


_LEVELS = """point,x,y,height
# One line for each spot: a name, metres (or "12 ft 6 in") east and north of your corner, and its levelled height.
# Six spots at the least, more where it is wet. Or copy the sheet level-book.pdf, its heading in place of this one.
"""

_SETTINGS = """\
# What a run is told about this piece of ground. Lines that begin with # are notes, or settings that you may wake up
# by taking the # away. Lengths carry their unit: "8 ft", "2.4 m", "5 ft 7-3/8 in".

name = {name}
{heights}parcel = "drawn.geojson"         # the drawing: run 'sitepipe sketch' on this folder and save it here
{place}
units = "{units}"                # how distances are said: "imperial" or "metric"
preset = "{preset}"              # {presets}

# How far can the heights be believed? Public lidar on a lawn: about 10 cm. A laser or water level: 5 mm to 1 in.
# [ground]
# error = "10 cm"
# error_correlation = "5 m"

# Your growing season, month-day; worked out from the latitude if you say nothing.
# [season]
# start = "05-01"
# end = "09-30"

# The coldest night you remember, so that nothing is proposed that it would kill.
# [planting]
# coldest_night = "-10 F"
"""
