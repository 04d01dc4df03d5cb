"""GeoPackage, KML and zipped shapefile, read through pyogrio."""

from __future__ import annotations

import textwrap
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from sitepipe.errors import InputError
from sitepipe.reading.coordinates import read_crs
from sitepipe.reading.drawn import Drawn, DrawnLayer, Limits, drawn_as
from sitepipe.reading.files import FileType

MOST_MEMBERS = 64
DRIVERS = {FileType.GEOPACKAGE: {"GPKG"}, FileType.KML: {"KML", "LIBKML"}, FileType.ZIP: {"ESRI Shapefile"}}


def read_other_layer(path: Path, kind: FileType, limits: Limits) -> DrawnLayer:
    """Read a drawn layer that is not GeoJSON.

    Raises
    ------
    InputError
        If it is broken, holds tables that are no drawing, or (zip) more than one shapefile or a dangerous name.
    """
    source = f"/vsizip/{{{path}}}/{_only_shapefile(path, limits)}" if kind is FileType.ZIP else str(path)
    try:
        with warnings.catch_warnings():
            # What the library only warns of (an odd application id) is decided by what can be read.
            warnings.simplefilter("ignore", RuntimeWarning)
            return _read(source, path.name, kind, limits)
    except InputError:
        raise
    except Exception as error:
        raise InputError(
            f"{path.name} cannot be read as {kind.value}: it is damaged ({_reason(error, path)}). Export it again"
        ) from error


def _reason(error: Exception, path: Path) -> str:
    """Return what a library says was wrong, without where the file lies on this machine."""
    said = " ".join(str(error).split()) or type(error).__name__
    for place in (f"/vsizip/{{{path}}}", f"/vsizip/{path}", str(path)):
        said = said.replace(place, path.name)
    return textwrap.shorten(said, 160, placeholder=" ...")


def _read(source: str, name: str, kind: FileType, limits: Limits) -> DrawnLayer:
    import pyogrio

    # A shapefile keeps its parts beside one another; this sets only the library that reads vectors.
    pyogrio.set_gdal_config_options({"GDAL_DISABLE_READDIR_ON_OPEN": "FALSE"})
    features: list[Drawn] = []
    crs: CRS | None = None
    for table in _tables(source, kind):
        info = pyogrio.read_info(source, layer=table)
        if info["driver"] not in DRIVERS[kind]:
            raise InputError(f"{name} is opened as {info['driver']}, not as {kind.value}. Export it again")
        if info["features"] > limits.features:
            raise InputError(f"{name} holds {info['features']:,} features; at most {limits.features:,} are read")
        own = read_crs(info["crs"], name) if info["crs"] else None
        if own is None and kind is FileType.ZIP:
            raise InputError(
                f"{name} has no .prj file, so its coordinate system is unknown. Zip the .prj with the rest"
            )
        if crs is not None and own is not None and own != crs:
            raise InputError(f"{name}: its tables are in different coordinate systems. Save them in one")
        crs = crs or own
        features.extend(_features(source, table, name, len(features)))
    return DrawnLayer(name, tuple(features), crs)


def _tables(source: str, kind: FileType) -> list[str]:
    import pyogrio

    # Asked first: a file that is no database is told by its own library.
    real = _feature_tables(Path(source)) if kind is FileType.GEOPACKAGE else None
    listed = [(str(table), geometry) for table, geometry in pyogrio.list_layers(source)]
    tables = [table for table, geometry in listed if geometry is not None or kind is FileType.KML]
    return tables if real is None else [table for table in tables if table in real]


def _feature_tables(path: Path) -> set[str]:
    """Return the tables of a GeoPackage that hold features; a view may reach anything, so none is read."""
    import sqlite3
    from urllib.parse import quote

    with closing(sqlite3.connect(f"file:{quote(str(path))}?mode=ro&immutable=1", uri=True)) as database:
        rows = database.execute(
            "SELECT c.table_name FROM gpkg_contents c JOIN sqlite_master m ON m.name = c.table_name "
            "WHERE c.data_type = 'features' AND m.type = 'table'"
        ).fetchall()
    return {str(row[0]) for row in rows}


def _features(source: str, table: str, name: str, before: int) -> Iterator[Drawn]:
    from pyogrio.raw import read

    meta, _, geometries, columns = read(source, layer=table, force_2d=True)
    fields = [str(field) for field in meta["fields"]]
    for index, encoded in enumerate(geometries):
        number = before + index + 1
        properties = {field: _plain(column[index]) for field, column in zip(fields, columns, strict=True)}
        yield drawn_as(number, partial(_shape, encoded), properties, name, table)


def _shape(encoded: bytes | None, _: str) -> BaseGeometry | None:
    return None if encoded is None else shapely.from_wkb(encoded)


def _plain(value: Any) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and np.isnan(value) else value


def _only_shapefile(path: Path, limits: Limits) -> str:
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
            if len(members) > MOST_MEMBERS:
                raise InputError(
                    f"{path.name} packs {len(members)} files; a shapefile has fewer than ten. Zip it alone"
                )
            for member in members:
                _check_member(member, path.name, limits)
    except (zipfile.BadZipFile, NotImplementedError, OSError, ValueError) as error:
        raise InputError(f"{path.name} is no readable zip archive: {error}. Zip the shapefile again") from error
    if sum(member.file_size for member in members) > limits.unpacked:
        raise InputError(f"{path.name} unpacks to more than {limits.unpacked // 2**20} MiB. Zip the drawn layer alone")
    shapefiles = sorted(member.filename for member in members if member.filename.lower().endswith(".shp"))
    if len(shapefiles) != 1:
        found = ", ".join(shapefiles[:5]) if shapefiles else "none"
        raise InputError(f"{path.name} must pack exactly one shapefile, and packs {found}. Zip one alone")
    return shapefiles[0]


def _check_member(member: zipfile.ZipInfo, name: str, limits: Limits) -> None:
    written = member.filename
    if written.startswith(("/", "\\")) or ".." in Path(written.replace("\\", "/")).parts or ":" in written:
        raise InputError(f"{name} packs a file named {written[:60]!r}, which reaches out of the archive. Zip it again")
    if member.flag_bits & 0x1:
        raise InputError(f"{name} is locked with a password. Zip it without one")
    if written.lower().endswith((".zip", ".gz", ".7z")):
        raise InputError(f"{name} packs another archive, {written[:60]!r}. Zip the shapefile's own files")
    if member.file_size > limits.unpacked:
        raise InputError(f"{name} unpacks to more than {limits.unpacked // 2**20} MiB. Zip the drawn layer alone")
