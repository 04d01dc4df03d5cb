"""A height raster on disk: what it says of itself, and its cells by window."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from pyproj import CRS

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError
from sitepipe.reading.coordinates import horizontal, read_crs
from sitepipe.reading.files import FileType, recognise
from sitepipe.reading.tiff_header import TiffHeader, read_tiff_header

LARGEST_BLOCK = 64 * 2**20
"""Libraries unpack a whole block at once. [bytes]"""
MOST_BANDS = 16
DRIVERS = {FileType.GEOTIFF: "GTiff", FileType.ASCII_GRID: "AAIGrid"}

Affine6 = tuple[float, float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class HeightRaster:
    """What a height raster says of itself.

    Parameters
    ----------
    path : Path
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


@contextmanager
def heights_by_window(raster: HeightRaster) -> Iterator[Any]:
    """Yield a function (first row, first column, rows, columns) -> heights as stated, NaN where masked."""
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
    if driver == "GTiff":
        _check_header(read_tiff_header(path), path.name)
    # An ASCII grid keeps its coordinate system in a .prj file beside it.
    listing = "FALSE" if driver == "AAIGrid" else "EMPTY_DIR"
    try:
        with rasterio.Env(GDAL_DISABLE_READDIR_ON_OPEN=listing):
            with warnings.catch_warnings():
                # A raster without a place is refused below, in our own words.
                warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
                opened = rasterio.open(path, driver=driver)
            with opened as source:
                yield source
    except (rasterio.errors.RasterioIOError, rasterio.errors.CRSError, CPLE_BaseError, UnicodeDecodeError) as error:
        raise InputError(f"{path.name} cannot be read as a {driver} raster: it is damaged. Fetch it again") from error


def _called(kind: FileType) -> str:
    return {
        FileType.VIRTUAL: "a virtual raster that points to other files",
        FileType.TEXT: "text",
        FileType.OTHER: "of no known kind",
        FileType.ZIP: "a zip archive",
    }.get(kind, f"a {kind.value} file")


def _check_header(header: TiffHeader, name: str) -> None:
    if header.samples > MOST_BANDS:
        raise InputError(f"{name} has {header.samples:,} bands; heights have one. Export the heights alone")
    if header.block_bytes > LARGEST_BLOCK:
        raise InputError(
            f"{name} is stored in blocks of {header.block_columns:,} x {header.block_rows:,} cells "
            f"({header.block_bytes / 2**20:,.0f} MiB each); at most {LARGEST_BLOCK // 2**20} MiB can be unpacked. "
            "Save it with tiles of 256 x 256 cells"
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
