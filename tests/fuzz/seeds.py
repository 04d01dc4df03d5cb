"""One small sound site folder for each format that is read, and what it takes to damage it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

import numpy as np

from tests.reading.folders import NORTH, UTM, WEST, make_folder, point, polygon, slope, write_drawing, write_heights

SETTINGS = 'name = "Test"\nelevation = "{heights}"\nparcel = "{drawing}"\n'
HOLES = (
    "place,date,depth to water,rain since,hole depth,depth where gray begins\n"
    "Hole A,2025-04-09,8 in,2 in two days before,40 in,14 in\nhole a,2025-08-18,dry,none for weeks,40 in,none\n"
)


def seed_names() -> tuple[str, ...]:
    """Return the file of each format, by the name under which it stands in its folder."""
    return tuple(MAKERS)


def make_seed(name: str, folder: Path) -> Path:
    """Make a sound site folder around the file ``name`` and return that file."""
    folder.mkdir(parents=True)
    make_folder(folder, slope(40, 50)[:, :])
    write_drawing(
        folder / "parcel.geojson",
        polygon([(WEST + x, NORTH - y) for x, y in ((10, 30), (40, 30), (40, 10), (10, 10), (10, 30))], kind="parcel"),
        point(WEST + 30.0, NORTH - 20.0, kind="observation", name="Hole A"),
        point(WEST + 20.0, NORTH - 20.0, kind="tree", height="20 ft", trunk_height="6 ft"),
    )
    extra = MAKERS[name](folder / name) or ""
    heights = name if name.startswith("elevation") else "elevation.tif"
    drawing = name if name.startswith("drawn") else "parcel.geojson"
    if name != "site.toml":
        (folder / "site.toml").write_text(SETTINGS.format(heights=heights, drawing=drawing) + extra, encoding="utf-8")
    return folder / name


def _tif(path: Path) -> str | None:
    write_heights(path, slope(40, 50).astype(np.float32), compress="deflate", tiled=True, blockxsize=32, blockysize=32)
    return None


def _grid(path: Path) -> str | None:
    from pyproj import CRS

    rows = "\n".join(" ".join(f"{value:.2f}" for value in row) for row in slope(40, 50))
    head = f"ncols 50\nnrows 40\nxllcorner {WEST}\nyllcorner {NORTH - 40}\ncellsize 1\nNODATA_value -9999\n"
    path.write_text(head + rows + "\n", encoding="utf-8")
    path.with_suffix(".prj").write_text(CRS.from_epsg(32618).to_wkt("WKT1_ESRI"), encoding="utf-8")
    return None


def _cloud(path: Path, point_format: int = 3, version: str = "1.2") -> str | None:
    import laspy
    from pyproj import CRS

    rng = np.random.default_rng(3)
    cloud = laspy.LasData(laspy.LasHeader(point_format=point_format, version=version))
    cloud.header.offsets, cloud.header.scales = [WEST, NORTH, 0.0], [0.001, 0.001, 0.001]
    cloud.header.add_crs(CRS.from_epsg(32618))
    x, y = rng.uniform(0.0, 50.0, 3000), rng.uniform(0.0, 40.0, 3000)
    cloud.x, cloud.y, cloud.z = WEST + x, NORTH - y, 100.0 + 0.05 * x
    cloud.classification = np.full(3000, 2)
    cloud.return_number = np.ones(3000, dtype=np.uint8)
    cloud.write(path)
    return None


def _newer_cloud(path: Path) -> str | None:
    return _cloud(path, 6, "1.4")


def _levels(path: Path) -> str | None:
    rng = np.random.default_rng(4)
    rows = [f"P{n},{WEST + x:.2f},{NORTH - y:.2f},{100 + 0.02 * x:.3f} m" for n, (x, y) in enumerate(_spots(rng))]
    path.write_text("point,x,y,height\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return None


def _spots(rng: np.random.Generator) -> Any:
    return zip(rng.uniform(10.0, 40.0, 30), rng.uniform(10.0, 30.0, 30), strict=True)


def _vector(driver: str) -> Callable[[Path], str | None]:
    def write(path: Path) -> str | None:
        import geopandas
        from shapely import box

        shape = box(WEST + 10.0, NORTH - 30.0, WEST + 40.0, NORTH - 10.0)
        frame = geopandas.GeoDataFrame({"kind": ["parcel"], "name": ["Low field"]}, geometry=[shape], crs=UTM)
        if driver != "ESRI Shapefile":
            (frame.to_crs("EPSG:4326") if driver == "KML" else frame).to_file(path, driver=driver)
            return None
        parts = path.parent / "parts"
        parts.mkdir()
        frame.to_file(parts / "drawn.shp", driver=driver)
        shutil.make_archive(str(path.with_suffix("")), "zip", parts)
        return None

    return write


def _drawn(path: Path) -> str | None:
    path.write_bytes((path.parent / "parcel.geojson").read_bytes())
    return None


def _holes(path: Path) -> str | None:
    path.write_text(HOLES, encoding="utf-8")
    return None


def _surface(path: Path) -> str | None:
    top = slope(40, 50)
    top[10:14, 20:26] += 5.0
    write_heights(path, top.astype(np.float32))
    return 'surface = "dsm.tif"\n'


def _settings(path: Path) -> str | None:
    text = SETTINGS.format(heights="elevation.tif", drawing="parcel.geojson")
    tables = (
        "[ground]\nerror = '2 cm'\nmargin = '20 ft'\n[season]\nstart = '05-01'\nend = '10-01'\n[sun]\nturbidity = 3\n"
    )
    path.write_text(text + "units = 'imperial'\nlatitude = 42.5\n" + tables, encoding="utf-8")
    return None


def _palette(path: Path) -> str | None:
    with as_file(files("sitepipe").joinpath("planting", "palette.csv")) as own:
        path.write_bytes(b"".join(own.read_bytes().splitlines(keepends=True)[:14]))
    return None


MAKERS: dict[str, Callable[[Path], str | None]] = {
    "elevation.tif": _tif,
    "elevation.asc": _grid,
    "elevation.las": _cloud,
    "elevation.laz": _cloud,
    "elevation6.laz": _newer_cloud,
    "drawn.geojson": _drawn,
    "drawn.gpkg": _vector("GPKG"),
    "drawn.kml": _vector("KML"),
    "drawn.zip": _vector("ESRI Shapefile"),
    "dsm.tif": _surface,
    "levels.csv": _levels,
    "holes.csv": _holes,
    "site.toml": _settings,
    "palette.csv": _palette,
}
