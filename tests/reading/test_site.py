"""From a folder to a Site: planes, windows, units, holes, and real fields."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from pyproj import CRS, Transformer
from shapely import Polygon

from sitepipe.errors import SettingsError
from sitepipe.reading.site import read_site
from sitepipe.reading.source import open_folder
from sitepipe.site import Kind
from sitepipe.units import FOOT, SURVEY_FOOT
from sitepipe.window import reached_sides
from tests.reading.folders import (
    NORTH,
    PARCEL,
    UTM,
    WEST,
    line,
    make_folder,
    point,
    polygon,
    read,
    settings_of,
    slope,
    write_drawing,
    write_heights,
)


def fall(elevation: np.ndarray, cell: float) -> tuple[float, float]:
    """Mean rise per metre to the east and to the north."""
    return float(np.nanmean(np.diff(elevation, axis=1)) / cell), float(-np.nanmean(np.diff(elevation, axis=0)) / cell)


def test_a_plain_folder_gives_the_heights_of_the_file_cell_by_cell(tmp_path: Path) -> None:
    site = read(make_folder(tmp_path), ground={"margin": "10 m"})
    row, column = round(NORTH - site.grid.north), round(site.grid.west - WEST)
    rows, columns = site.grid.shape
    assert (site.elevation == slope()[row : row + rows, column : column + columns]).all()
    assert site.grid.bounds == (WEST + 10.0, NORTH - 50.0, WEST + 70.0, NORTH - 5.0)
    assert site.parcel.area == 1000.0


def test_a_layer_of_one_polygon_without_a_kind_is_the_parcel_and_is_said_to_be(tmp_path: Path) -> None:
    make_folder(tmp_path)
    write_drawing(tmp_path / "parcel.geojson", polygon())
    site = read(tmp_path)
    assert [feature.kind for feature in site.features] == [Kind.PARCEL]
    assert any("taken as the parcel" in said for said in site.assumptions)


@pytest.mark.parametrize(
    ("epsg", "foot"),
    [(2249, SURVEY_FOOT), (2868, FOOT)],
    ids=["US survey feet", "international feet"],
)
def test_a_grid_in_feet_is_the_same_projection_in_metres(tmp_path: Path, epsg: int, foot: float) -> None:
    feet = CRS.from_epsg(epsg)
    lon, lat = (-72.0, 42.3) if epsg == 2249 else (-112.0, 33.4)
    x, y = Transformer.from_crs(4326, feet, always_xy=True).transform(lon, lat)
    x, y = float(round(x)), float(round(y))
    heights = slope() / foot
    write_heights(tmp_path / "elevation.tif", heights, f"EPSG:{epsg}", (3.0, 0.0, x, 0.0, -3.0, y))
    corners = [(x + 60.0, y - 120.0), (x + 180.0, y - 120.0), (x + 180.0, y - 45.0), (x + 60.0, y - 45.0)]
    on_earth = [
        Transformer.from_crs(feet, 4326, always_xy=True).transform(*corner) for corner in [*corners, corners[0]]
    ]
    write_drawing(tmp_path / "parcel.geojson", polygon(on_earth), crs=None)
    unit = "us-ft" if foot == SURVEY_FOOT else "ft"
    site = read(tmp_path, ground={"unit": unit, "margin": "5 m"})
    assert site.grid.cell == pytest.approx(3.0 * foot, rel=1e-9)
    assert site.grid.west == pytest.approx(round((site.grid.west / foot - x) / 3.0) * 3.0 * foot + x * foot, abs=1e-6)
    east, north = fall(site.elevation, site.grid.cell)
    # The slope file rises 0.01 and 0.02 m per cell of one; here a cell is 3 feet.
    assert (east, north) == pytest.approx((0.01 / (3.0 * foot), 0.02 / (3.0 * foot)), rel=1e-9)
    metric = CRS.from_wkt(site.grid.crs)
    there = Transformer.from_crs(4326, metric, always_xy=True).transform(lon, lat)
    assert np.allclose(there, Transformer.from_crs(4326, feet, always_xy=True).transform(lon, lat) * np.array(foot))


@pytest.mark.case(15)
def test_a_feet_grid_that_leaves_the_height_unit_open_is_asked_about(tmp_path: Path) -> None:
    write_heights(tmp_path / "elevation.tif", slope(), "EPSG:2249", (3.0, 0.0, 700_000.0, 0.0, -3.0, 2_900_000.0))
    feet = polygon(
        [(700_060, 2_899_880), (700_180, 2_899_880), (700_180, 2_899_955), (700_060, 2_899_955), (700_060, 2_899_880)]
    )
    write_drawing(tmp_path / "parcel.geojson", feet, crs="EPSG:2249")
    with pytest.raises(SettingsError, match="does not say the unit of its heights"):
        read(tmp_path)


def test_the_band_says_the_unit_and_site_toml_overrules_it_with_a_warning(tmp_path: Path) -> None:
    make_folder(tmp_path)
    write_heights(tmp_path / "elevation.tif", slope() / FOOT, unit="ft")
    site = read(tmp_path)
    assert site.ground.unit == "feet"
    assert fall(site.elevation, site.grid.cell) == pytest.approx((0.01, 0.02), rel=1e-9)
    said = read(tmp_path, ground={"unit": "m"})
    assert any("site.toml is believed" in warning for warning in said.warnings)


def test_the_unit_of_a_compound_system_comes_first(tmp_path: Path) -> None:
    make_folder(tmp_path)
    # EPSG:6360: NAVD88 height (ftUS).
    write_heights(tmp_path / "elevation.tif", slope() / SURVEY_FOOT, "EPSG:32618+6360")
    site = read(tmp_path)
    assert site.ground.unit == "US survey feet"
    assert fall(site.elevation, site.grid.cell) == pytest.approx((0.01, 0.02), rel=1e-9)


@pytest.mark.case(13)
def test_south_up_heights_are_turned_over(tmp_path: Path) -> None:
    make_folder(tmp_path)
    upright = read(tmp_path)
    write_heights(tmp_path / "elevation.tif", slope()[::-1], transform=(1.0, 0.0, WEST, 0.0, 1.0, NORTH - 60.0))
    assert (read(tmp_path).elevation == upright.elevation).all()


@pytest.mark.case(12)
def test_a_rotated_raster_gives_the_same_plane(tmp_path: Path) -> None:
    """A plane sampled on turned cells is found exactly on upright ones."""
    make_folder(tmp_path)
    angle = np.radians(30.0)
    a, b = np.cos(angle), np.sin(angle)
    transform = (a, b, WEST - 30.0, b, -a, NORTH + 10.0)
    row, column = np.mgrid[0:140, 0:140] + 0.5
    x = transform[0] * column + transform[1] * row + transform[2]
    y = transform[3] * column + transform[4] * row + transform[5]
    write_heights(tmp_path / "elevation.tif", 0.01 * (x - WEST) + 0.02 * (y - NORTH) + 100.0, transform=transform)
    site = read(tmp_path, ground={"margin": "5 m"})
    grid_x, grid_y = np.meshgrid(site.grid.x, site.grid.y)
    expected = 0.01 * (grid_x - WEST) + 0.02 * (grid_y - NORTH) + 100.0
    known = np.isfinite(site.elevation)
    assert known.mean() > 0.99
    assert np.abs(site.elevation - expected)[known].max() < 1e-9
    assert any("turned or not square" in said for said in site.assumptions)


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857"])
@pytest.mark.case(8, 9)
def test_degrees_and_stretched_maps_are_warped_to_metres(tmp_path: Path, crs: str) -> None:
    """A plane in metres, sampled in the other system, comes back with its slope."""
    make_folder(tmp_path)
    to_other = Transformer.from_crs(UTM, crs, always_xy=True)
    corners = [to_other.transform(WEST + dx, NORTH + dy) for dx in (-20, 110) for dy in (-90, 20)]
    west, east = min(c[0] for c in corners), max(c[0] for c in corners)
    south, north = min(c[1] for c in corners), max(c[1] for c in corners)
    step = (east - west) / 160.0
    rows = int((north - south) / step)
    x, y = np.meshgrid(west + (np.arange(160) + 0.5) * step, north - (np.arange(rows) + 0.5) * step)
    east_m, north_m = Transformer.from_crs(crs, UTM, always_xy=True).transform(x, y)
    heights = 100.0 + 0.01 * (east_m - WEST) + 0.02 * (north_m - NORTH)
    write_heights(tmp_path / "elevation.tif", heights, crs, (step, 0.0, west, 0.0, -step, north))
    site = read(tmp_path, ground={"margin": "5 m"})
    assert CRS.from_wkt(site.grid.crs).to_epsg() == 32618
    assert any("warped to EPSG:32618" in said for said in site.assumptions)
    # Bilinear between points of a plane that is bent by the projection: under a tenth of a millimetre.
    assert fall(site.elevation, site.grid.cell) == pytest.approx((0.01, 0.02), abs=1e-5)


def test_our_warp_agrees_with_the_one_of_gdal(tmp_path: Path) -> None:
    """Independent witness: rasterio.warp.reproject, bilinear, exact transformer."""
    import rasterio
    from rasterio.warp import Resampling, reproject

    rng = np.random.default_rng(5)
    make_folder(tmp_path)
    corner = Transformer.from_crs(UTM, 4326, always_xy=True).transform(WEST - 20.0, NORTH + 20.0)
    step = 1e-5
    rough = 100.0 + rng.normal(0.0, 1.0, (140, 160))
    write_heights(tmp_path / "elevation.tif", rough, "EPSG:4326", (step, 0.0, corner[0], 0.0, -step, corner[1]))
    site = read(tmp_path, ground={"margin": "5 m", "cell": "0.5 m"})
    theirs = np.full(site.grid.shape, np.nan)
    reproject(
        rough,
        theirs,
        src_transform=rasterio.Affine(step, 0.0, corner[0], 0.0, -step, corner[1]),
        src_crs="EPSG:4326",
        dst_transform=rasterio.Affine(*site.grid.transform),
        dst_crs="EPSG:32618",
        resampling=Resampling.bilinear,
        tolerance=0.0,
    )
    # On noise of 1 m a height moves by 0.2 mm where the two place a cell 0.2 mm apart.
    assert np.abs(site.elevation - theirs).max() < 5e-4


def test_an_asked_for_coarser_cell_is_the_mean_of_the_cells_in_it(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    rough = 50.0 + rng.normal(0.0, 0.3, (60, 80))
    site = read(make_folder(tmp_path, rough), ground={"cell": "4 m", "margin": "0 m"})
    top, left = int(NORTH - site.grid.north), int(site.grid.west - WEST)
    rows, columns = site.grid.shape
    block = rough[top : top + 4 * rows, left : left + 4 * columns]
    expected = block.reshape(rows, 4, columns, 4).mean(axis=(1, 3))
    assert np.abs(site.elevation - expected).max() < 1e-9
    assert any("averaged to 4 m" in said for said in site.assumptions)


def test_a_finer_cell_is_called_smoother_and_not_finer(tmp_path: Path) -> None:
    site = read(make_folder(tmp_path), ground={"cell": "0.5 m"})
    assert any("drawn smoother, not known more finely" in said for said in site.assumptions)


def test_kinds_sizes_and_attributes_are_read(tmp_path: Path) -> None:
    make_folder(tmp_path)
    write_drawing(
        tmp_path / "parcel.geojson",
        polygon(kind="parcel", name="Sedge End"),
        polygon([(WEST + 30, NORTH - 30), (WEST + 36, NORTH - 30), (WEST + 36, NORTH - 25), (WEST + 30, NORTH - 30)],
                kind="Building", height="22 ft"),
        point(WEST + 50, NORTH - 20, kind="tree", height="12.5 m", width="8 ft 6 in", evergreen=True),
        line((WEST, NORTH - 50), (WEST + 70, NORTH - 50), kind="buried_line", height_ft=3),
    )  # fmt: skip
    site = read(tmp_path)
    building, tree, buried = site.features[1:]
    assert building.height == pytest.approx(6.7056)
    assert tree.width == pytest.approx(2.5908)
    assert tree.attributes == {"evergreen": True}
    assert buried.kind is Kind.BURIED_LINE
    assert buried.height == pytest.approx(0.9144)
    assert site.features[0].name == "Sedge End"


def test_the_window_grows_until_the_whole_catchment_is_inside(tmp_path: Path) -> None:
    """A valley that falls to the south, 500 m long, with a ridge line at its head and sides."""
    rows, columns = 520, 300
    y, x = np.mgrid[rows - 1 : -1 : -1, 0:columns].astype(np.float64)
    valley = 100.0 + 0.02 * np.minimum(y, 900.0 - y) + 0.05 * np.abs(x - 150.0)
    valley = np.where(np.abs(x - 150.0) > 120.0, valley - 0.2 * (np.abs(x - 150.0) - 120.0), valley)
    make_folder(tmp_path, valley)
    low = polygon(
        [(WEST + 130, NORTH - 490), (WEST + 170, NORTH - 490), (WEST + 170, NORTH - 450), (WEST + 130, NORTH - 450),
         (WEST + 130, NORTH - 490)], kind="parcel",
    )  # fmt: skip
    write_drawing(tmp_path / "parcel.geojson", low)
    small = read(tmp_path)
    grown = read_site(open_folder(tmp_path, settings_of()), reached_sides)
    assert small.grid.rows < 120
    # To the divides at the sides, and at the head to where 900 - y takes over, at y = 450.
    assert grown.grid.west <= WEST + 30.0
    assert grown.grid.east >= WEST + 270.0
    assert grown.grid.north >= NORTH - 70.0
    assert not grown.open_edge


def test_heights_that_end_too_early_are_said_to(tmp_path: Path) -> None:
    site = read_site(open_folder(make_folder(tmp_path), settings_of()), reached_sides)
    assert site.open_edge
    assert site.open_sides is not None
    assert 0.0 in site.open_sides.sides
    assert site.open_sides.most_cells is None


def test_a_window_larger_than_allowed_stops_growing_and_says_so(tmp_path: Path) -> None:
    site = read_site(
        open_folder(make_folder(tmp_path), settings_of(ground={"widest_window": 3000, "margin": "2 m"})), reached_sides
    )
    assert site.grid.rows * site.grid.columns <= 3000
    assert site.open_sides is not None
    assert site.open_sides.most_cells == 3000


@pytest.mark.real_ground
@pytest.mark.parametrize(("name", "area"), [("silstrup-field", 1.736), ("faardrup-field", 2.397)])
def test_real_fields_run_from_three_lines(real_ground: Path, name: str, area: float) -> None:
    """Areas of the drawn boundaries by the shoelace formula, in the plane of the file. [ha]."""
    folder = real_ground / name
    site = read_site(open_folder(folder, settings_of(elevation="dtm_1m6.tif", parcel="parcel.geojson")), reached_sides)
    assert site.grid.cell == 1.6
    assert site.parcel.area / 1e4 == pytest.approx(area, abs=0.001)
    assert isinstance(site.parcel, Polygon)
    assert not site.parcel.has_z
    assert not site.open_edge
    assert 55.0 < site.latitude < 57.0
    assert site.ground.vertical_error == 0.1
    assert "from memory" in site.ground.error_source


def test_the_same_folder_gives_the_same_bytes(tmp_path: Path) -> None:
    make_folder(tmp_path)
    first, second = (read_site(open_folder(tmp_path, settings_of()), reached_sides) for _ in range(2))
    assert first.elevation.tobytes() == second.elevation.tobytes()
    assert (first.assumptions, first.warnings) == (second.assumptions, second.warnings)


def test_reading_imports_no_heavy_library_it_does_not_need(tmp_path: Path) -> None:
    make_folder(tmp_path)
    program = (
        "import sys; from pathlib import Path; from sitepipe.reading.site import read_site\n"
        "from sitepipe.reading.source import open_folder\n"
        "from sitepipe.settings import Settings\n"
        "settings = Settings(elevation=Path('elevation.tif'), parcel=Path('parcel.geojson'))\n"
        f"read_site(open_folder(Path({str(tmp_path)!r}), settings))\n"
        "heavy = ('pandas', 'geopandas', 'scipy', 'numba', 'matplotlib', 'laspy')\n"
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_local_plane_needs_its_place_on_earth(tmp_path: Path) -> None:
    write_heights(tmp_path / "elevation.tif", slope(), None, (1.0, 0.0, 0.0, 0.0, -1.0, 60.0))
    write_drawing(tmp_path / "parcel.geojson", polygon([(10, 10), (60, 10), (60, 50), (10, 50), (10, 10)]), crs=None)
    with pytest.raises(SettingsError, match=r"latitude = 45\.2 and longitude"):
        read(tmp_path)
    site = read(tmp_path, latitude=44.0, longitude=-73.0)
    assert (site.latitude, site.longitude) == (44.0, -73.0)
    assert CRS.from_wkt(site.grid.crs).is_engineering
    assert fall(site.elevation, 1.0) == pytest.approx((0.01, 0.02))


def test_the_parcel_is_where_it_was_drawn_on_the_ground(tmp_path: Path) -> None:
    """Drawn in degrees or in metres, it covers the same cells."""
    make_folder(tmp_path)
    in_metres = read(tmp_path)
    to_earth = Transformer.from_crs(UTM, 4326, always_xy=True)
    write_drawing(tmp_path / "parcel.geojson", polygon([to_earth.transform(x, y) for x, y in PARCEL]), crs=None)
    in_degrees = read(tmp_path)
    assert in_degrees.parcel.symmetric_difference(in_metres.parcel).area < 0.01
