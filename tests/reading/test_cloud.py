"""Point clouds: planes exactly, feet as metres, gaps, and files that cannot be read."""

from __future__ import annotations

from pathlib import Path

import laspy
import numpy as np
import pytest
from laspy.vlrs.known import WktCoordinateSystemVlr
from pyproj import CRS, Transformer

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError, SettingsError
from sitepipe.grid import Grid
from sitepipe.reading.cloud import cloud_cell, describe_cloud, read_cloud
from sitepipe.site import Site
from tests.reading.folders import NORTH, WEST, polygon, read, write_drawing


def write_cloud(
    path: Path, x: FloatArray, y: FloatArray, z: FloatArray, classes: FloatArray | int = 2, epsg: int | None = 32618
) -> Path:
    header = laspy.LasHeader(point_format=3, version="1.2")
    header.offsets, header.scales = [float(np.floor(x.min())), float(np.floor(y.min())), 0.0], [0.001, 0.001, 0.001]
    if epsg is not None:
        header.add_crs(CRS.from_epsg(epsg))
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = x, y, z
    cloud.classification = np.full(x.size, classes) if isinstance(classes, int) else classes
    cloud.return_number = np.ones(x.size, dtype=np.uint8)
    cloud.write(path)
    return path


def scattered(count: int = 20_000, seed: int = 3) -> tuple[FloatArray, FloatArray]:
    rng = np.random.default_rng(seed)
    return WEST + rng.uniform(0.0, 80.0, count), NORTH - rng.uniform(0.0, 60.0, count)


def plane(x: FloatArray, y: FloatArray) -> FloatArray:
    return np.asarray(100.0 + 0.05 * (x - WEST) - 0.03 * (y - NORTH))


def test_a_plane_of_points_is_found_exactly(tmp_path: Path) -> None:
    x, y = scattered()
    cloud = describe_cloud(write_cloud(tmp_path / "c.las", x, y, plane(x, y)))
    grid = Grid(WEST, NORTH, 1.0, 60, 80, "plane")
    found = read_cloud(cloud, None, 1.0, 1.0, grid)
    expected = plane(*np.meshgrid(grid.x, grid.y))
    assert np.isfinite(found.ground).all()
    # The file keeps millimetres.
    assert np.abs(found.ground - expected).max() < 2e-3
    # The file's own rounding puts a few points on the outer edge.
    assert found.ground_points > 19_990


def test_a_gap_is_bridged_by_the_plane_around_it_and_the_outside_stays_blank(tmp_path: Path) -> None:
    x, y = scattered()
    keep = (np.hypot(x - WEST - 40.0, y - NORTH + 30.0) > 5.0) & (x < WEST + 60.0)
    cloud = describe_cloud(write_cloud(tmp_path / "c.las", x[keep], y[keep], plane(x, y)[keep]))
    grid = Grid(WEST, NORTH, 1.0, 60, 80, "plane")
    ground = read_cloud(cloud, None, 1.0, 1.0, grid).ground
    expected = plane(*np.meshgrid(grid.x, grid.y))
    assert abs(ground[30, 40] - expected[30, 40]) < 2e-3
    assert np.isnan(ground[:, 64:]).all()


def test_only_ground_points_are_ground_and_first_returns_stand_on_it(tmp_path: Path) -> None:
    x, y = scattered()
    z = plane(x, y)
    on_roof = (np.abs(x - WEST - 40.0) < 4.0) & (np.abs(y - NORTH + 30.0) < 4.0)
    z = np.where(on_roof, z + 6.0, z)
    classes = np.where(on_roof, 6, 2)
    bird = np.argmin(np.hypot(x - WEST - 10.0, y - NORTH + 10.0))
    z[bird], classes[bird] = z[bird] + 40.0, 7
    write_cloud(tmp_path / "elevation.las", x, y, z, classes)
    write_drawing(
        tmp_path / "parcel.geojson",
        polygon([(WEST + 20, NORTH - 45), (WEST + 60, NORTH - 45), (WEST + 60, NORTH - 15), (WEST + 20, NORTH - 45)]),
    )
    site = read(tmp_path, elevation="elevation.las", ground={"margin": "10 m"})
    row, column = site.grid.cell_at(WEST + 40.0, NORTH - 30.0)
    assert site.obstacle_height[row, column] == pytest.approx(6.0, abs=0.1)
    assert site.obstacle_height.max() < 6.5
    expected = plane(*np.meshgrid(site.grid.x, site.grid.y))
    known = np.isfinite(site.elevation)
    assert np.abs(site.elevation - expected)[known].max() < 5e-3
    assert "laser scan" in site.ground.error_source


def test_unpacking_some_points_at_a_time_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    x, y = scattered(5_000)
    cloud = describe_cloud(write_cloud(tmp_path / "c.laz", x, y, plane(x, y)))
    grid = Grid(WEST, NORTH, 2.0, 30, 40, "plane")
    whole = read_cloud(cloud, None, 1.0, 1.0, grid).ground
    monkeypatch.setattr("sitepipe.reading.cloud.POINTS_AT_ONCE", 700)
    monkeypatch.setattr("sitepipe.reading.cloud.ROWS_AT_ONCE", 7)
    parts = read_cloud(cloud, None, 1.0, 1.0, grid).ground
    assert np.allclose(parts, whole, atol=1e-9, equal_nan=True)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("no class", "none of class ground"),
        ("no crs", "states no coordinate system"),
        ("cut short", "cut short|damaged"),
        ("garbage", "damaged"),
        ("no points", "holds no points"),
    ],
)
@pytest.mark.case(42)
def test_clouds_that_cannot_be_ground_are_refused(tmp_path: Path, change: str, said: str) -> None:
    x, y = scattered(3_000)
    path = tmp_path / "c.laz"
    write_cloud(path, x, y, plane(x, y), 1 if change == "no class" else 2, None if change == "no crs" else 32618)
    if change == "cut short":
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    if change == "garbage":
        path.write_bytes(b"LASF" + bytes(range(256)) * 4)
    if change == "no points":
        header = laspy.LasHeader(point_format=3, version="1.2")
        header.add_crs(CRS.from_epsg(32618))
        laspy.LasData(header).write(path)
    with pytest.raises(InputError, match=said):
        cloud_cell(describe_cloud(path), 1.0)


@pytest.mark.real_ground
def test_ponds_run_and_lie_where_the_water_mask_says(real_ground: Path, tmp_path: Path) -> None:
    """The mask marks 1 for water: the ground read there is level (class 9 and the rim), steeper elsewhere."""
    import rasterio

    corners = [
        (273_400, 5_274_400),
        (273_600, 5_274_400),
        (273_600, 5_274_600),
        (273_400, 5_274_600),
        (273_400, 5_274_400),
    ]
    write_drawing(tmp_path / "parcel.geojson", polygon(corners, kind="parcel"), crs="EPSG:2949")
    site = read(
        tmp_path, elevation=str(real_ground / "ponds-laz" / "ponds.laz"), ground={"margin": "40 m", "cell": "2 m"}
    )
    with rasterio.open(real_ground / "ponds-laz" / "water_mask_1m.tif") as mask:
        water = mask.read(1) == 1
        x, y = np.meshgrid(site.grid.x, site.grid.y)
        column, row = x - mask.transform.c, mask.transform.f - y
        inside = (row >= 0) & (row < water.shape[0]) & (column >= 0) & (column < water.shape[1])
        is_water = np.zeros(site.grid.shape, dtype=bool)
        is_water[inside] = water[row[inside].astype(int), column[inside].astype(int)]
    south, east = np.gradient(site.elevation, site.grid.cell)
    steep = np.hypot(south, east)
    assert is_water.sum() > 200
    assert np.nanmedian(steep[is_water]) < np.nanmedian(steep[~is_water]) / 3.0


PARK = [(636_400.0, 849_050.0), (636_800.0, 849_050.0), (636_800.0, 849_350.0), (636_400.0, 849_350.0)]


def park(real_ground: Path, folder: Path, **ground: object) -> Site:
    source = real_ground / "park-feet-laz" / "park.laz"
    with laspy.open(source) as reader:
        crs = reader.header.parse_crs()
    to_earth = Transformer.from_crs(crs, 4326, always_xy=True)
    ring = [to_earth.transform(*corner) for corner in [*PARK, PARK[0]]]
    write_drawing(folder / "parcel.geojson", polygon(ring, kind="parcel"), crs=None)
    return read(folder, elevation=str(source), ground={"margin": "30 m", "cell": "2 m"} | ground)


@pytest.mark.real_ground
def test_a_park_in_feet_asks_for_the_unit_of_its_heights(real_ground: Path, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"park\.laz has lengths in feet and does not say the unit"):
        park(real_ground, tmp_path)


@pytest.mark.real_ground
def test_slopes_of_the_park_are_the_same_in_feet_and_in_metres(real_ground: Path, tmp_path: Path) -> None:
    """The cloud rewritten in metres by hand gives the same slopes as the cloud in feet."""
    in_feet = park(real_ground, tmp_path, unit="ft")
    with laspy.open(real_ground / "park-feet-laz" / "park.laz") as reader:
        points = reader.read()
    metric = tmp_path / "metric"
    metric.mkdir()
    header = laspy.LasHeader(point_format=3, version="1.2")
    header.offsets, header.scales = [193_000.0, 258_000.0, 0.0], [1e-4, 1e-4, 1e-4]
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = (np.asarray(part) * 0.3048 for part in (points.x, points.y, points.z))
    cloud.classification, cloud.return_number = points.classification, points.return_number
    header.vlrs.append(WktCoordinateSystemVlr(in_feet.grid.crs))
    cloud.write(metric / "park.laz")
    (metric / "parcel.geojson").write_bytes((tmp_path / "parcel.geojson").read_bytes())
    in_metres = read(metric, elevation="park.laz", ground={"margin": "30 m", "cell": "2 m"})
    assert in_feet.grid.bounds == pytest.approx(in_metres.grid.bounds, abs=1e-3)
    slopes = [np.hypot(*np.gradient(site.elevation, site.grid.cell)) for site in (in_feet, in_metres)]
    known = np.isfinite(slopes[0]) & np.isfinite(slopes[1])
    assert known.mean() > 0.7
    assert np.abs(slopes[0] - slopes[1])[known].max() < 1e-3
