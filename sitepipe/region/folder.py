"""The region folder: what region.toml says, and the layers that it names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import Field, field_validator
from pyproj import CRS

from sitepipe.errors import InputError, SettingsError
from sitepipe.reading.coordinates import is_local, move_geometry
from sitepipe.reading.drawn import DISTRICT, Drawn, DrawnLayer
from sitepipe.reading.files import LARGEST_RASTER, find_file, find_folder
from sitepipe.reading.kinds import plain_kind
from sitepipe.reading.layers import read_members
from sitepipe.reading.place import system_of_drawing
from sitepipe.reading.raster import HeightRaster, describe_raster, describe_tiles, is_tiled
from sitepipe.settings import Section, Settings, checked, read_toml, settle
from sitepipe.site import Kind

REGION_FILE = "region.toml"
LARGEST_LAYER = 4 * 2**30
"""[bytes]"""
OF_ONE_PARCEL = tuple(
    key for key, field in Settings.model_fields.items() if field.annotation == Path | None and key != "surface"
)
"""Files of one parcel: they are put into its own folder."""


class ThingLayer(Section):
    """A layer of things that stand or run in the region; without a kind each of its features says its own."""

    file: Path
    kind: Kind | None = None

    @field_validator("kind", mode="before")
    @classmethod
    def _plain(cls, word: object) -> object:
        return plain_kind(word) if isinstance(word, str) else word


class RegionSettings(Section):
    """What region.toml says of the region itself; the rest of it is what a site.toml may say."""

    name: str = Field(default="Region", min_length=1, max_length=200)
    heights: Path
    parcels: Path
    key: str = Field(min_length=1)
    things: dict[str, ThingLayer] = Field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Region:
    """An opened region.

    Parameters
    ----------
    place : Path
        The heights: one raster, a list of tiles, or a folder of them.
    own : RegionSettings
    shared : mapping
        What each parcel's site.toml says beside its name and its files, as it stands in region.toml.
    settings : Settings
        The same, read over the preset.
    heights : HeightRaster
    parcels : DrawnLayer
        In ``system``, as all layers are.
    things : tuple of (kind or None, DrawnLayer)
    system : CRS or None
        Of the heights; None for a plane of its own.
    """

    place: Path
    own: RegionSettings
    shared: Mapping[str, Any]
    settings: Settings
    heights: HeightRaster
    parcels: DrawnLayer
    things: tuple[tuple[Kind | None, DrawnLayer], ...]
    system: CRS | None

    @property
    def rasters(self) -> tuple[HeightRaster, ...]:
        """Every file of heights."""
        return tuple(tile for tile, _, _ in self.heights.tiles) or (self.heights,)


def open_region(folder: Path) -> Region:
    """Open a region folder.

    Raises
    ------
    SettingsError
        If region.toml asks for what cannot be.
    InputError
        If a file that it names is missing or is not what it must be.
    """
    said = read_toml(folder / REGION_FILE)
    for key in OF_ONE_PARCEL:
        if key in said:
            raise SettingsError(
                f"{REGION_FILE}: {key} belongs to one parcel. Leave it out; put the file into that parcel's own folder"
            )
    own = checked(RegionSettings, {key: said[key] for key in RegionSettings.model_fields if key in said}, REGION_FILE)
    shared = {key: value for key, value in said.items() if key not in RegionSettings.model_fields}
    settings = settle(shared, REGION_FILE)
    place = _heights_in(folder, own.heights)
    heights = describe_tiles(place) if is_tiled(place) else describe_raster(place)
    system = None if heights.system is None or is_local(heights.system) else heights.system
    parcels = _layer(folder, own.parcels, "parcels", heights)
    if not any(own.key in drawn.properties for drawn in parcels.features):
        columns = ", ".join(sorted({str(name) for drawn in parcels.features[:100] for name in drawn.properties}))
        raise SettingsError(
            f"{REGION_FILE}: key is {own.key!r}, and {parcels.name} has no such column. It has: {columns or 'none'}"
        )
    layers = ((layer.kind, _layer(folder, layer.file, f"things.{name}", heights)) for name, layer in own.things.items())
    things = tuple((kind, _with_kinds(layer, kind)) for kind, layer in layers)
    return Region(place, own, _moved_paths(shared, folder), settings, heights, parcels, things, system)


def _heights_in(folder: Path, named: Path) -> Path:
    if (folder / named).is_dir():
        return find_folder(folder, named, "heights", REGION_FILE)
    return find_file(folder, named, "heights", LARGEST_RASTER, REGION_FILE)


def _layer(folder: Path, named: Path, role: str, heights: HeightRaster) -> DrawnLayer:
    """Read a layer and bring it into the system of the heights."""
    layer = read_members(find_file(folder, named, role, LARGEST_LAYER, REGION_FILE), DISTRICT)
    sound = tuple(drawn for drawn in layer.features if not drawn.fault)
    if not sound:
        raise InputError(f"{layer.name} holds no shape that can be used. Save it again")
    crs = system_of_drawing(DrawnLayer(layer.name, sound, layer.crs), heights.name, heights.system)
    return DrawnLayer(layer.name, tuple(_moved(layer.features, crs, heights.system)), heights.system)


def _moved(features: tuple[Drawn, ...], crs: CRS | None, to: CRS | None) -> Iterator[Drawn]:
    for drawn in features:
        if crs is None or to is None or crs == to or drawn.fault:
            yield drawn
        else:
            moved = move_geometry(drawn.geometry, crs, to)
            yield Drawn(drawn.number, moved, drawn.properties, drawn.folder)


def _with_kinds(layer: DrawnLayer, kind: Kind | None) -> DrawnLayer:
    if kind is None and not any(str(name).strip().lower() == "kind" for name in layer.features[0].properties):
        raise SettingsError(
            f"{REGION_FILE}: {layer.name} has no column 'kind'. Write what its features are: kind = 'building'"
        )
    return DrawnLayer(layer.name, tuple(drawn for drawn in layer.features if not drawn.fault), layer.crs)


def _moved_paths(shared: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Return settings whose paths hold from anywhere: those to a surface model and to a list of plants."""
    moved = dict(shared)
    if "surface" in moved:
        moved["surface"] = str((folder / str(moved["surface"])).resolve())
    planting = moved.get("planting")
    if isinstance(planting, dict) and "palette" in planting:
        moved["planting"] = planting | {"palette": str((folder / str(planting["palette"])).resolve())}
    return moved
