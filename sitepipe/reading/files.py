"""The files of a site folder: found, measured and recognised by their first bytes before any library opens them."""

from __future__ import annotations

import re
from enum import StrEnum
from pathlib import Path

from sitepipe.errors import InputError, did_you_mean

LARGEST_RASTER = 64 * 2**30
"""Rasters are read by window, so whole-county files are welcome. [bytes]"""
LARGEST_VECTOR = 16 * 2**20
"""A hand-drawn layer is read whole. [bytes]"""
LARGEST_TABLE = 16 * 2**20
LARGEST_LIST = 2**20
"""A list of plants has a few hundred lines. [bytes]"""
LARGEST_CLOUD = 8 * 2**30

_NOT_A_PATH = re.compile(r"^[A-Za-z][A-Za-z0-9_+.-]+:|://|^\s*[<{]|^/vsi|[\x00-\x1f]")


class FileType(StrEnum):
    """What the first bytes of a file say that it is."""

    GEOTIFF = "GeoTIFF"
    ASCII_GRID = "ASCII grid"
    POINT_CLOUD = "point cloud"
    GEOJSON = "GeoJSON"
    GEOPACKAGE = "GeoPackage"
    KML = "KML"
    ZIP = "zip"
    VIRTUAL = "virtual raster or layer"
    SHAPEFILE = "shapefile"
    TEXT = "text"
    OTHER = "unknown"


def find_file(folder: Path, named: Path, role: str, largest: int, said_in: str = "site.toml") -> Path:
    """Return the real path of a file that site.toml names, or say why it may not be opened.

    Parameters
    ----------
    folder : Path
        The site folder; relative names start there.
    named : Path
        As written in site.toml.
    role : str
        The key that names it, such as ``elevation``.
    largest : int
        [bytes]
    said_in : str
        The file that names it.

    Raises
    ------
    InputError
        If it is missing, not a plain file, empty, too large, or not a path at all.
    """
    path, written = _resolved(folder, named, role, said_in), str(named)
    if not path.is_file():
        raise InputError(f"{said_in}: {role} is {_shown(written)!r}, which is a folder or a device. Name one file")
    size = path.stat().st_size
    if size == 0:
        raise InputError(f"{path.name} ({role}) is empty: 0 bytes. Fetch or export it again")
    if size > largest:
        raise InputError(
            f"{path.name} ({role}) has {size / 2**20:,.0f} MiB; at most {largest / 2**20:,.0f} MiB are read. "
            "Cut it to the neighbourhood of the parcel"
        )
    return path


def find_folder(folder: Path, named: Path, role: str, said_in: str = "site.toml") -> Path:
    """Return the real path of a folder that site.toml names, or say why it may not be looked into."""
    path = _resolved(folder, named, role, said_in)
    if path in {folder.resolve(), *folder.resolve().parents}:
        raise InputError(f"{said_in}: {role} is {_shown(str(named))!r}. Give tiles a folder of their own")
    return path


def _resolved(folder: Path, named: Path, role: str, said_in: str) -> Path:
    written = str(named)
    if _NOT_A_PATH.search(written):
        raise InputError(
            f"{said_in}: {role} is {_shown(written)!r}, which is not the path of a file. "
            "Copy the file into the site folder and write its name"
        )
    try:
        return (folder / named).resolve(strict=True)
    except FileNotFoundError as error:
        raise InputError(
            f"{said_in}: {role} is {_shown(written)!r}, and {folder.name or folder} has no such file. "
            f"Copy it there, or correct the name"
            f"{did_you_mean(named.name, (path.name for path in folder.iterdir()) if folder.is_dir() else ())}"
        ) from error
    except (OSError, RuntimeError, ValueError) as error:
        raise InputError(f"{said_in}: {role} is {_shown(written)!r}, which cannot be opened: {error}") from error


def recognise(path: Path) -> FileType:
    """Tell what a file is from its first bytes; its name is not believed."""
    with path.open("rb") as file:
        head = file.read(4096)
    if head[:4] in {b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"}:
        return FileType.GEOTIFF
    if head[:4] == b"LASF":
        return FileType.POINT_CLOUD
    if head[:4] in {b"PK\x03\x04", b"PK\x05\x06"}:
        return FileType.ZIP
    if head[:15] == b"SQLite format 3":
        return FileType.GEOPACKAGE
    if head[:4] == b"\x00\x00\x27\x0a":
        return FileType.SHAPEFILE
    if b"\x00" in head:
        return FileType.OTHER
    return _recognise_text(head)


def _recognise_text(head: bytes) -> FileType:
    text = head.decode("utf-8-sig", errors="replace").lstrip().lower()
    if "<vrtdataset" in text or "<ogrvrt" in text or "<wms" in text or "<gdal_wms" in text:
        return FileType.VIRTUAL
    if re.match(r"(ncols|nrows|xll|yll|cellsize)", text):
        return FileType.ASCII_GRID
    if text.startswith("<") and "<kml" in text:
        return FileType.KML
    if text.startswith("{"):
        return FileType.GEOJSON
    return FileType.TEXT


def _shown(written: str) -> str:
    return written if len(written) <= 80 else f"{written[:77]}..."
