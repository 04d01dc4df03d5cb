"""A height raster on disk: what it says of itself, and its cells by window."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from html import unescape
from pathlib import Path
from typing import Any

import numpy as np
from pyproj import CRS

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError
from sitepipe.reading.coordinates import horizontal, read_crs
from sitepipe.reading.files import FileType, recognise

LARGEST_BLOCK = 64 * 2**20
"""Libraries unpack a whole block at once. [bytes]"""
MOST_BANDS = 16
MOST_TILES = 5_000
TILES = frozenset({".tif", ".tiff", ".asc"})
"""What a tile's name ends in; the rest of a folder are its papers."""
LIST = ".vrt"
LONGEST_LIST = 16 * 2**20
"""[bytes]"""
_LISTED_FILE = re.compile(r'<SourceFilename[^>]*relativeToVRT="(\d)"[^>]*>([^<]*)</SourceFilename>')
_MORE_THAN_A_LIST = re.compile(
    r"subClass=|<KernelFilteredSource|<AveragedSource|<PixelFunction|<GDALWarpOptions|<ScaleRatio|<ScaleOffset|<LUT|"
    r"<!ENTITY|resampling="
)
DRIVERS = {FileType.GEOTIFF: "GTiff", FileType.ASCII_GRID: "AAIGrid"}

Affine6 = tuple[float, float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class HeightRaster:
    """What a height raster says of itself, be it one file or a folder of tiles.

    Parameters
    ----------
    path : Path
        Of the file, or of the folder.
    driver : str
    rows, columns : int
    transform : six floats
        (a, b, c, d, e, f): x = a column + b row + c, y = d column + e row + f. [units of the file]
    crs : CRS or None
        As stated, a vertical part included.
    unknown : float or None
        The number that stands for no height.
    band_unit : str
        As stated on the band, empty where it is not.
    number_type : str
        Such as ``float32``.
    scale, offset : float
        height = number x scale + offset.
    date : str
        As stated in the file, empty where it is not.
    tiles : tuple of (HeightRaster, row, column)
        Where it is a folder: its files by name, and the cell of each one's upper left corner.
    """

    path: Path
    driver: str
    rows: int
    columns: int
    transform: Affine6
    crs: CRS | None
    unknown: float | None
    band_unit: str
    number_type: str
    scale: float
    offset: float
    date: str
    tiles: tuple[tuple[HeightRaster, int, int], ...] = ()

    @property
    def name(self) -> str:
        """Its file name."""
        return self.path.name

    @property
    def system(self) -> CRS | None:
        """Its horizontal coordinate system."""
        return None if self.crs is None else horizontal(self.crs)

    @property
    def cell(self) -> tuple[float, float]:
        """Lengths of a cell's two sides, in units of the file."""
        a, b, _, d, e, _ = self.transform
        return float(np.hypot(a, d)), float(np.hypot(b, e))

    @property
    def is_upright(self) -> bool:
        """Whether rows and columns run along the axes and the cells are square to a millionth."""
        a, b, _, d, e, _ = self.transform
        width, height = self.cell
        return abs(b) + abs(d) < 1e-9 * width and a > 0.0 and abs(width - height) <= 1e-6 * width and e != 0.0

    @property
    def middle(self) -> tuple[float, float]:
        """(x, y), in units of the file."""
        x, y = self.corners.mean(axis=0)
        return float(x), float(y)

    @property
    def corners(self) -> FloatArray:
        """The four outer corners, (x, y), in units of the file."""
        a, b, c, d, e, f = self.transform
        places = np.array([[0, 0], [self.columns, 0], [self.columns, self.rows], [0, self.rows]], dtype=np.float64)
        return np.column_stack([a * places[:, 0] + b * places[:, 1] + c, d * places[:, 0] + e * places[:, 1] + f])


def describe_raster(path: Path) -> HeightRaster:
    """Read what a height raster says of itself, and refuse what cannot be heights.

    Raises
    ------
    InputError
        If it is no GeoTIFF or ASCII grid, is broken, has no place, or holds a picture.
    """
    with _opened(path) as source:
        _check_shape(source, path.name)
        _check_band(source, path.name)
        text = source.crs.to_wkt(version="WKT2_2019") if source.crs else ""
        transform = source.transform
        if transform.is_identity and not source.crs:
            raise InputError(
                f"{path.name} does not say where it lies: it has neither a coordinate system nor a cell size. "
                "Export it again as a GeoTIFF with its place"
            )
        if transform.a * transform.e - transform.b * transform.d == 0.0 or not np.all(np.isfinite(transform[:6])):
            raise InputError(f"{path.name} has cells of no size. Export it again as a GeoTIFF with its place")
        tags = source.tags()
        return HeightRaster(
            path=path,
            driver=source.driver,
            rows=source.height,
            columns=source.width,
            transform=tuple(float(value) for value in transform[:6]),  # type: ignore[arg-type]
            crs=read_crs(text, path.name) if text else None,
            unknown=None if source.nodata is None else float(source.nodata),
            band_unit=(source.units[0] or "").strip().lower(),
            number_type=source.dtypes[0],
            scale=float(source.scales[0]),
            offset=float(source.offsets[0]),
            date=str(tags.get("TIFFTAG_DATETIME", ""))[:10].replace(":", "-"),
        )


def is_tiled(path: Path) -> bool:
    """Tell whether heights are tiles: a folder of them, or a list of them, which is told by its name."""
    return path.is_dir() or (path.suffix.lower() == LIST and recognise(path) is FileType.VIRTUAL)


def tiles_in(place: Path) -> tuple[Path, ...]:
    """Return the tiles of a folder by name, or those of a list with those on top first.

    A list is read as text: only plain files that stand beside it or below count, and nothing else that it says.

    Raises
    ------
    InputError
        If it lists what is no plain tile, or nothing is there.
    """
    if place.is_dir():
        paths = [path for path in sorted(place.iterdir()) if path.suffix.lower() in TILES and path.is_file()]
    else:
        paths = [*dict.fromkeys(_listed(place))]
    if not paths:
        raise InputError(
            f"{place.name} is a folder or a list that holds no height raster. Put tiles there, as GeoTIFF or ASCII grid"
        )
    if len(paths) > MOST_TILES:
        raise InputError(f"{place.name} holds {len(paths):,} tiles; at most {MOST_TILES:,} are read. Take fewer")
    return tuple(paths)


def _listed(place: Path) -> Iterator[Path]:
    text = place.read_text(encoding="utf-8", errors="replace") if place.stat().st_size <= LONGEST_LIST else ""
    if not text or _MORE_THAN_A_LIST.search(text):
        raise InputError(
            f"{place.name} is more than a list of tiles: it changes, warps or works out heights. Bring the tiles in a "
            "folder, or write them as one GeoTIFF"
        )
    home = place.parent.resolve()
    for relative, name in reversed(_LISTED_FILE.findall(text)):
        path = (home / unescape(name)).resolve()
        if relative != "1" or not path.is_relative_to(home) or not path.is_file() or path.suffix.lower() not in TILES:
            raise InputError(
                f"{place.name} lists {unescape(name)[:60]!r}, which is no tile beside it or below. Copy the tiles there"
            )
        yield path


def describe_tiles(place: Path) -> HeightRaster:
    """Read what tiles say of themselves, as of one raster that spans them all; once in a process as they stand.

    Tiles may have any size, overlap or leave gaps; their cells must lie on one lattice, in one system and one unit.

    Raises
    ------
    InputError
        If there are none, one cannot be read, or they are no tiles of one another.
    """
    stamps = ((path, path.stat()) for path in tiles_in(place))
    return _described(place, tuple((path, stamp.st_size, stamp.st_mtime_ns) for path, stamp in stamps))


@lru_cache(maxsize=4)
def _described(folder: Path, stamps: tuple[tuple[Path, int, int], ...]) -> HeightRaster:
    found = [describe_raster(path) for path, _, _ in stamps]
    first = found[0]
    for other in found:
        _refuse_foreign(first, other)
    a, e = first.transform[0], first.transform[4]
    west, north = (extreme(one.transform[k] for one in found) for extreme, k in ((min, 2), (max, 5)))
    corners = [(round((one.transform[5] - north) / e), round((one.transform[2] - west) / a)) for one in found]
    return replace(
        first,
        path=folder,
        rows=max(row + one.rows for one, (row, _) in zip(found, corners, strict=True)),
        columns=max(column + one.columns for one, (_, column) in zip(found, corners, strict=True)),
        transform=(a, 0.0, west, 0.0, e, north),
        date=max(one.date for one in found),
        tiles=tuple((one, *corner) for one, corner in zip(found, corners, strict=True)),
    )


def _refuse_foreign(first: HeightRaster, other: HeightRaster) -> None:
    """Refuse a tile whose cells do not continue those of the first."""
    a, b, c, d, e, f = other.transform
    cell = first.transform[0]
    steps = (c - first.transform[2]) / cell, (f - first.transform[5]) / cell
    reasons = {
        "turned, or its rows run from south to north": not other.is_upright or e > 0.0 or b != 0.0 or d != 0.0,
        f"in cells of {a:.6g}": abs(a - cell) > 1e-6 * cell or abs(e + cell) > 1e-6 * cell,
        "in another coordinate system": other.crs != first.crs,
        "in another unit of height": other.band_unit != first.band_unit,
        "shifted by a part of a cell": any(abs(step - round(step)) > 1e-3 for step in steps),
    }
    for what, is_so in reasons.items():
        if is_so:
            raise InputError(
                f"{other.name} is {what}, and {first.name} is not: they are no tiles of one another. Bring tiles of "
                f"one set, or take one of the two out of {first.path.parent.name}"
            )


@contextmanager
def heights_by_window(raster: HeightRaster) -> Iterator[Any]:
    """Yield a function (first row, first column, rows, columns) -> heights as stated, NaN where unknown.

    Of tiles only those that a window meets are opened; where they overlap the first by name that knows counts.
    """
    if not raster.tiles:
        with _heights_of_file(raster) as read:
            yield read
        return
    with ExitStack() as opened:
        readers: dict[Path, Any] = {}

        def read_tiles(row: int, column: int, rows: int, columns: int) -> FloatArray:
            heights = np.full((rows, columns), np.nan)
            for tile, top, left in raster.tiles:
                inside = slice(max(row, top), min(row + rows, top + tile.rows))
                across = slice(max(column, left), min(column + columns, left + tile.columns))
                if inside.start >= inside.stop or across.start >= across.stop:
                    continue
                if tile.path not in readers:
                    readers[tile.path] = opened.enter_context(_heights_of_file(tile))
                part = readers[tile.path](
                    inside.start - top, across.start - left, inside.stop - inside.start, across.stop - across.start
                )
                there = heights[inside.start - row : inside.stop - row, across.start - column : across.stop - column]
                there[:] = np.where(np.isnan(there), part, there)
            return heights

        yield read_tiles


@contextmanager
def _heights_of_file(raster: HeightRaster) -> Iterator[Any]:
    import rasterio
    from rasterio.windows import Window

    with _opened(raster.path) as source:

        def read(row: int, column: int, rows: int, columns: int) -> FloatArray:
            window = Window(column, row, columns, rows)
            try:
                numbers = source.read(1, window=window, masked=True)
            except rasterio.errors.RasterioIOError as error:
                raise InputError(
                    f"{raster.name} is cut short or damaged: rows {row} to {row + rows} cannot be read. Fetch it again"
                ) from error
            except MemoryError as error:
                raise InputError(
                    f"{raster.name}: {rows} x {columns} cells do not fit into memory. Set ground.cell to a "
                    "larger length"
                ) from error
            heights: FloatArray = np.ma.filled(numbers.astype(np.float64), np.nan)
            if raster.scale != 1.0 or raster.offset != 0.0:
                heights = heights * raster.scale + raster.offset
            return heights

        yield read


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    import rasterio
    from rasterio._err import CPLE_BaseError

    driver = DRIVERS.get(recognise(path))
    if driver is None:
        raise InputError(
            f"{path.name} is {_called(recognise(path))}, not a height raster. "
            "Bring heights as a GeoTIFF, an ASCII grid, or a LAZ point cloud"
        )
    # An ASCII grid keeps its coordinate system in a .prj file beside it.
    listing = "FALSE" if driver == "AAIGrid" else "EMPTY_DIR"
    try:
        with rasterio.Env(GDAL_DISABLE_READDIR_ON_OPEN=listing):
            with warnings.catch_warnings():
                # A raster without a place is refused below, in our own words.
                warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
                opened = rasterio.open(path, driver=driver)
            with opened as source:
                _check_blocks(source, path.name)
                yield source
    except (rasterio.errors.RasterioIOError, rasterio.errors.CRSError, CPLE_BaseError, UnicodeDecodeError) as error:
        raise InputError(
            f"{path.name} cannot be read as a {driver} raster: it is cut short or damaged. Fetch it again"
        ) from error


def _called(kind: FileType) -> str:
    return {
        FileType.VIRTUAL: "a virtual raster that points to other files",
        FileType.TEXT: "text",
        FileType.OTHER: "of no known kind",
        FileType.ZIP: "a zip archive",
    }.get(kind, f"a {kind.value} file")


def _check_blocks(source: Any, name: str) -> None:
    """Refuse what would not fit into memory; nothing is unpacked yet."""
    if source.count > MOST_BANDS:
        raise InputError(f"{name} has {source.count:,} bands; heights have one. Export the heights alone")
    rows, columns = source.block_shapes[0]
    size = rows * columns * np.dtype(source.dtypes[0]).itemsize
    # An ASCII grid is read row by row.
    if size > LARGEST_BLOCK and source.driver == "GTiff":
        raise InputError(
            f"{name} is stored in blocks of {columns:,} x {rows:,} cells ({size / 2**20:,.0f} MiB each); at most "
            f"{LARGEST_BLOCK // 2**20} MiB can be unpacked. Save it with tiles of 256 x 256 cells"
        )


def _check_shape(source: Any, name: str) -> None:
    if source.width < 3 or source.height < 3:
        raise InputError(
            f"{name} has {source.width} x {source.height} cells; at least 3 x 3 are needed to see a slope. "
            "Bring heights that cover the parcel and its surroundings"
        )


def _check_band(source: Any, name: str) -> None:
    from rasterio.enums import ColorInterp

    colours = source.colorinterp
    number_type = source.dtypes[0]
    has_alpha = source.count == 2 and colours[1] == ColorInterp.alpha
    if source.count > 1 and not has_alpha:
        raise InputError(
            f"{name} has {source.count} bands, like a picture; heights have one. Bring the heights "
            "themselves, not a view of them"
        )
    if number_type.startswith("complex"):
        raise InputError(f"{name} holds complex numbers; heights are plain ones. Export the heights alone")
    if colours[0] == ColorInterp.palette:
        raise InputError(f"{name} holds numbers of colours, not heights. Bring the heights themselves")
    if number_type in {"uint8", "int8"}:
        raise InputError(
            f"{name} holds whole numbers from 0 to 255, like a shaded picture of the ground. Bring the "
            "heights themselves"
        )
