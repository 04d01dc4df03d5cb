"""What a site is read from: settings, heights, a drawing and tables; a site folder is one way to bring them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import BaseModel

from sitepipe.errors import InputError, SettingsError
from sitepipe.reading.cloud import PointCloud, describe_cloud
from sitepipe.reading.drawn import DrawnLayer
from sitepipe.reading.files import (
    LARGEST_CLOUD,
    LARGEST_LIST,
    LARGEST_RASTER,
    LARGEST_TABLE,
    LARGEST_VECTOR,
    FileType,
    find_file,
    find_folder,
    recognise,
)
from sitepipe.reading.layers import read_layer
from sitepipe.reading.raster import HeightRaster, describe_raster, describe_tiles, is_tiled, tiles_in
from sitepipe.settings import Settings

HeightFile = HeightRaster | PointCloud
HEIGHTS = ("elevation", "surface")
TABLES = ("levels", "holes", "plants", "stock")
"""Tables that are found under their usual names without being named."""
WORKS = "works.geojson"
"""Where the works that the grower drew or kept are, where no other file is named."""


@dataclass(frozen=True, slots=True)
class Source:
    """Everything that a site is read from; heights are described here and fetched by box.

    Parameters
    ----------
    settings : Settings
    layer, works : DrawnLayer or None
        The drawing, and works that were drawn or kept in a file of their own; None where there is none yet.
    heights, surface : HeightFile or None
        Of the bare ground, and of what stands on it.
    levels, holes, plants, stock, palette, changes : path or None
        Tables; ``plants`` and ``stock`` are what the grower has, ``palette`` a list of kinds;
        ``changes`` is what was tried on the page.
    files : mapping
        Every file that is read, by the setting that names it.
    """

    settings: Settings
    layer: DrawnLayer | None
    heights: HeightFile | None
    works: DrawnLayer | None = None
    surface: HeightFile | None = None
    levels: Path | None = None
    holes: Path | None = None
    plants: Path | None = None
    stock: Path | None = None
    palette: Path | None = None
    changes: Path | None = None
    files: Mapping[str, Path] = field(default_factory=dict)


def open_folder(folder: Path, settings: Settings) -> Source:
    """Open the files of a site folder that its settings name.

    Raises
    ------
    InputError
        If one of them is missing, or is not what it must be.
    SettingsError
        If there is neither a file of heights nor a table of levels.
    """
    tables = {role: _table(folder, getattr(settings, role), role) for role in TABLES}
    if settings.elevation is None and tables["levels"] is None:
        raise nothing_to_stand_on()
    own = settings.planting.palette
    return Source(
        settings=settings,
        layer=_layer(folder, settings.parcel),
        heights=_heights(folder, settings.elevation, "elevation"),
        works=_works(folder, settings.works),
        surface=_heights(folder, settings.surface, "surface"),
        palette=None if own is None else find_file(folder, own, "planting.palette", LARGEST_LIST),
        changes=None if settings.changes is None else find_file(folder, settings.changes, "changes", LARGEST_LIST),
        files=files_of(folder, settings),
        **tables,
    )


def files_of(folder: Path, settings: Settings) -> dict[str, Path]:
    """Return every file of a site folder that a run reads, by the setting that names it."""
    named = {"site.toml": folder / "site.toml"}
    named.update({role: folder / f"{role}.csv" for role in TABLES} | {"works": folder / WORKS})
    named.update({key: folder / path for key, path in _paths_in(settings)})
    for key, path in [*named.items()]:
        if key in HEIGHTS and path.exists() and is_tiled(path):
            named.update({f"{key}.{tile.name}": tile for tile in tiles_in(path)})
    return {key: path for key, path in named.items() if path.is_file()}


def _paths_in(section: BaseModel, above: str = "") -> Iterator[tuple[str, Path]]:
    for key in type(section).model_fields:
        value = getattr(section, key)
        if isinstance(value, BaseModel):
            yield from _paths_in(value, f"{above}{key}.")
        elif isinstance(value, Path):
            yield f"{above}{key}", value


def _layer(folder: Path, named: Path | None) -> DrawnLayer | None:
    if named is None:
        return None
    layer = read_layer(find_file(folder, named, "parcel", LARGEST_VECTOR))
    if not layer.features:
        raise InputError(f"{layer.name} holds no features. Draw the parcel's outline and save it again")
    return layer


def _works(folder: Path, named: Path | None) -> DrawnLayer | None:
    if named is None and not (folder / WORKS).exists():
        return None
    return read_layer(find_file(folder, named or Path(WORKS), "works", LARGEST_VECTOR))


def _heights(folder: Path, named: Path | None, role: str) -> HeightFile | None:
    if named is None:
        return None
    if (folder / named).is_dir():
        return describe_tiles(find_folder(folder, named, role))
    path = find_file(folder, named, role, LARGEST_RASTER)
    if is_tiled(path):
        return describe_tiles(path)
    if recognise(path) is FileType.POINT_CLOUD:
        return describe_cloud(find_file(folder, named, role, LARGEST_CLOUD))
    return describe_raster(path)


def _table(folder: Path, named: Path | None, role: str) -> Path | None:
    if named is None and not (folder / f"{role}.csv").exists():
        return None
    return find_file(folder, named or Path(f"{role}.csv"), role, LARGEST_TABLE)


def nothing_to_stand_on() -> SettingsError:
    """Return the error of a site without any heights."""
    return SettingsError(
        "site.toml: elevation is missing, and there is no levels.csv. Name the file of heights: elevation = "
        "'elevation.tif'"
    )
