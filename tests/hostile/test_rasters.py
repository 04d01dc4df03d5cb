# ruff: noqa: E501 (a case is one row of a table)
"""Bad and hostile heights: cases 1 to 42 of the hardening list, each with one clear line or a stated repair."""

from __future__ import annotations

import os
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sitepipe.errors import InputError, SettingsError
from tests.reading.folders import (
    NORTH,
    WEST,
    make_folder,
    polygon,
    read,
    ring,
    slope,
    write_drawing,
    write_heights,
)

Change = Callable[[Path], Any]


def heights(folder: Path) -> Path:
    return folder / "elevation.tif"


def rewrite(values: Any, **profile: Any) -> Change:
    def change(folder: Path) -> None:
        heights(folder).unlink(missing_ok=True)
        write_heights(heights(folder), values(slope()) if callable(values) else values, **profile)

    return change


def raw(content: bytes) -> Change:
    return lambda folder: heights(folder).write_bytes(content)


def cut_short(folder: Path) -> None:
    rng = np.random.default_rng(1)
    noisy = 100.0 + rng.normal(0.0, 1.0, (512, 512))
    write_heights(heights(folder), noisy, tiled=True, blockxsize=256, blockysize=256, compress="deflate")
    content = heights(folder).read_bytes()
    heights(folder).write_bytes(content[: len(content) // 10])


def a_directory(folder: Path) -> None:
    heights(folder).unlink()
    heights(folder).mkdir()


def tiff(width: int, height: int, samples: int = 1, **tags: int) -> bytes:
    """Return a TIFF that declares what it does not hold: no strip has any bytes."""
    numbers = {256: width, 257: height, 258: 32, 259: 1, 262: 1, 273: 8, 277: samples, 278: 256, 279: 0, 339: 3}
    numbers |= {int(name[1:]): value for name, value in tags.items()}
    entries = b"".join(struct.pack("<HHII", tag, 4, 1, value) for tag, value in sorted(numbers.items()))
    return b"II*\x00" + struct.pack("<IH", 8, len(numbers)) + entries + struct.pack("<I", 0)


def declares(content: bytes) -> Change:
    return raw(content)


def sparse(rows: int, columns: int) -> Change:
    def change(folder: Path) -> None:
        import rasterio

        with rasterio.open(
            heights(folder), "w", driver="GTiff", width=columns, height=rows, count=1, dtype="float32",
            crs="EPSG:32618", transform=rasterio.Affine(0.01, 0, WEST, 0, -0.01, NORTH), tiled=True, blockxsize=512, blockysize=512,
            sparse_ok=True, bigtiff=True,
        ):  # fmt: skip
            pass

    return change


def no_place(folder: Path) -> None:
    import rasterio

    write_heights(heights(folder), slope(), crs=None)
    with rasterio.open(heights(folder), "r+") as file:
        profile, values = file.profile, file.read()
    profile.pop("transform")
    heights(folder).unlink()
    with pytest.warns(rasterio.errors.NotGeoreferencedWarning), rasterio.open(heights(folder), "w", **profile) as file:
        file.write(values)


def one_tile(folder: Path) -> None:
    heights(folder).write_bytes(tiff(32768, 32768, t322=32768, t323=32768))


def with_hole_in_parcel(values: Any) -> Any:
    values = values.copy()
    values[20:30, 30:40] = np.nan
    return values


def with_number(number: float) -> Callable[[Any], Any]:
    def change(values: Any) -> Any:
        values = values.copy()
        values[0:3, 0:3] = number
        values[21, 31] = number
        return values

    return change


def spiked(values: Any) -> Any:
    values = values.copy()
    values[20, 40] += 60.0
    return values


RGB = np.zeros((3, 60, 80), dtype=np.uint8)

REFUSED: list[tuple[str, Change, str]] = [
    ("1 missing", lambda folder: heights(folder).unlink(), r"elevation is 'elevation\.tif', and .* has no such file"),
    ("2 directory", a_directory, "elevation.tif is a folder or a list that holds no height raster"),
    ("3 zero bytes", raw(b""), r"elevation\.tif \(elevation\) is empty"),
    ("4 text", raw(b"these are no heights\n" * 20), r"elevation\.tif is text, not a height raster"),
    ("5 cut short", cut_short, "cut short or damaged|is damaged"),
    ("5 cut in the header", raw(b"II*\x00\x08\x00\x00\x00"), "cut short or damaged"),
    ("7 no system, drawing has one", rewrite(slope(), crs=None), "states no place on earth, and parcel.geojson does"),
    ("11 no place", no_place, "does not say where it lies"),
    ("21 all unknown", rewrite(np.full((60, 80), np.nan)), "no known height near the parcel"),
    ("24 picture", rewrite(RGB), "3 bands, like a picture"),
    ("25 shaded picture", rewrite(np.full((60, 80), 128, dtype=np.uint8)), "like a shaded picture"),
    ("29 one cell", rewrite(np.full((1, 1), 5.0)), "1 x 1 cells; at least 3 x 3"),
    ("29 one row", rewrite(np.full((1, 80), 5.0)), "80 x 1 cells; at least 3 x 3"),
    ("32 one tile", one_tile, r"blocks of 32,768 x 32,768 cells \(4,096 MiB each\)"),
    ("33 bands", declares(tiff(60, 80, samples=65529)), "65,529 bands; heights have one"),
    ("35 complex", rewrite(slope().astype(np.complex64)), "complex numbers"),
    ("37 virtual", raw(b'<VRTDataset rasterXSize="9" rasterYSize="9"></VRTDataset>'), "virtual raster that points"),
    ("41 parcel elsewhere", rewrite(slope(), crs="EPSG:32633"), r"the parcel lies [\d,.]+ km .* of elevation\.tif"),
    ("23 parcel outside", rewrite(slope(), transform=(1, 0, WEST + 200, 0, -1, NORTH)), "lies 140 m west of"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "said"), [case[1:] for case in REFUSED], ids=[case[0] for case in REFUSED])
def test_heights_that_cannot_be_used_are_refused_in_one_line(tmp_path: Path, change: Change, said: str) -> None:
    make_folder(tmp_path)
    change(tmp_path)
    with pytest.raises(InputError, match=said) as caught:
        read(tmp_path)
    assert "\n" not in str(caught.value)
    assert caught.value.exit_code == 3


WARNED: list[tuple[str, Change, str]] = [
    ("6 constant", rewrite(np.zeros((60, 80), dtype=np.float32)), "is a constant raster"),
    ("17 -9999", rewrite(with_number(-9999.0)), r"holds the number -9999 in \d+ cells? without declaring it"),
    ("17 -32768", rewrite(with_number(-32768.0)), "holds the number -32768"),
    ("17 -3.4e38", rewrite(with_number(-3.4e38), dtype="float64"), "not on earth"),
    ("20 infinite", rewrite(with_number(np.inf)), "infinite height"),
    ("22 hole", rewrite(with_hole_in_parcel), r"10% of the parcel \(100\u00a0m²\) has no known height"),
    ("23 partly outside", rewrite(slope()[:, :50]), "25% of the parcel lies beyond elevation.tif"),
    ("23 a strip of it", rewrite(slope()[:, :21]), "98% of the parcel lies beyond elevation.tif"),
    ("26 whole metres", rewrite(lambda v: np.round(v).astype(np.int16)), "steps of 1 m: the lawn is terraced"),
    ("27 spike", rewrite(spiked), "one cell far off"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "said"), [case[1:] for case in WARNED], ids=[case[0] for case in WARNED])
def test_heights_that_look_wrong_are_warned_of(tmp_path: Path, change: Change, said: str) -> None:
    import re

    make_folder(tmp_path)
    change(tmp_path)
    site = read(tmp_path)
    assert any(re.search(said, warning) for warning in site.warnings), site.warnings
    assert not np.isinf(site.elevation).any()
    known = site.elevation[np.isfinite(site.elevation)]
    assert known.min() > -440.0
    assert known.max() < 8850.0


@pytest.mark.parametrize("number", [-9999.0, -3.4e38, np.inf])
def test_an_undeclared_unknown_never_becomes_a_height(tmp_path: Path, number: float) -> None:
    make_folder(tmp_path)
    rewrite(with_number(number))(tmp_path)
    site = read(tmp_path)
    row, column = site.grid.cell_at(WEST + 31.5, NORTH - 21.5)
    assert np.isnan(site.elevation[row, column])


def test_18_and_19_a_declared_unknown_is_unknown_even_if_it_is_zero(tmp_path: Path) -> None:
    make_folder(tmp_path)
    low = slope() - 100.0
    low[21, 31] = 0.0
    for unknown in (np.nan, 0.0):
        rewrite(np.where(low == 0.0, unknown, low), nodata=unknown)(tmp_path)
        site = read(tmp_path)
        assert np.isnan(site.elevation[site.grid.cell_at(WEST + 31.5, NORTH - 21.5)])
    assert any("declares 0 as unknown" in warning for warning in site.warnings)


def test_19_zero_on_a_coast_stays_a_height_where_nothing_declares_it(tmp_path: Path) -> None:
    make_folder(tmp_path)
    rewrite(np.maximum(slope() - 101.0, 0.0))(tmp_path)
    site = read(tmp_path)
    assert np.isfinite(site.elevation).all()
    assert (site.elevation == 0.0).any()


def test_10_a_plane_of_its_own_is_taken_with_its_place(tmp_path: Path) -> None:
    rewrite(slope(), crs='LOCAL_CS["yard",UNIT["metre",1]]', transform=(1, 0, 0, 0, -1, 60))(tmp_path)
    write_drawing(tmp_path / "parcel.geojson", polygon(ring(10, 10, 60, 40)), crs=None)
    with pytest.raises(SettingsError, match="latitude"):
        read(tmp_path)
    assert read(tmp_path, latitude=44.0, longitude=-72.0).parcel.area == 1500.0


def test_14_cells_that_are_not_square_are_sampled_anew(tmp_path: Path) -> None:
    make_folder(tmp_path)
    rewrite(slope()[:, ::2], transform=(2, 0, WEST, 0, -1, NORTH))(tmp_path)
    site = read(tmp_path)
    assert any("turned or not square" in said for said in site.assumptions)
    assert any("known more finely" in said for said in site.assumptions)


def test_16_the_survey_foot_and_the_foot_are_told_apart(tmp_path: Path) -> None:
    """2 parts in a million: 0.2 mm at 100 m, and 1 m in an easting of 500 km (U01, NIST definition)."""
    make_folder(tmp_path)
    rewrite(slope())(tmp_path)
    by_unit = {unit: read(tmp_path, ground={"unit": unit}).elevation[0, 0] for unit in ("ft", "us-ft")}
    assert by_unit["us-ft"] / by_unit["ft"] - 1.0 == pytest.approx(2.0e-6, rel=1e-3)


def test_28_a_surface_with_a_house_in_it_is_pointed_at(tmp_path: Path) -> None:
    make_folder(tmp_path)
    surface = slope()
    surface[22:30, 30:42] += 5.0
    rewrite(surface)(tmp_path)
    site = read(tmp_path)
    assert any("stands up like a building" in warning for warning in site.warnings)


def test_30_a_window_that_cannot_fit_is_refused_with_a_cell_that_would(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_folder(tmp_path)
    sparse(6_000, 8_000)(tmp_path)
    write_drawing(tmp_path / "parcel.geojson", polygon(ring(WEST + 5, NORTH - 55, WEST + 75, NORTH - 5), kind="parcel"))
    monkeypatch.setattr(os, "sysconf", {"SC_PHYS_PAGES": 2**30, "SC_PAGE_SIZE": 4096}.__getitem__)
    with pytest.raises(InputError, match=r"GiB at 750 bytes a cell; 16,000,000 cells fit\. Set cell = '0\.05 m'"):
        read(tmp_path)
    monkeypatch.setattr(os, "sysconf", {"SC_PHYS_PAGES": 2**19, "SC_PAGE_SIZE": 4096}.__getitem__)
    # Eight tenths of 2 GiB at 750 bytes.
    with pytest.raises(InputError, match=r"; 2,290,649 cells fit\. Set cell = '0\.05 m'"):
        read(tmp_path)


def test_31_a_sparse_file_that_declares_149_gib_is_read_by_window_in_little_memory(tmp_path: Path) -> None:
    make_folder(tmp_path)
    sparse(200_000, 200_000)(tmp_path)
    with pytest.raises(InputError, match="cells fit"):
        read(tmp_path, ground={"margin": "600 m"})


def test_34_a_big_tiff_is_read(tmp_path: Path) -> None:
    make_folder(tmp_path)
    plain = read(tmp_path).elevation
    rewrite(slope(), bigtiff=True)(tmp_path)
    assert (read(tmp_path).elevation == plain).all()


def test_35_scale_and_offset_are_applied_and_a_palette_is_refused(tmp_path: Path) -> None:
    import rasterio

    make_folder(tmp_path)
    plain = read(tmp_path).elevation
    rewrite(np.round((slope() - 90.0) * 1000.0).astype(np.int32))(tmp_path)
    with rasterio.open(heights(tmp_path), "r+") as file:
        file.scales, file.offsets = (0.001,), (90.0,)
    assert np.abs(read(tmp_path).elevation - plain).max() < 1e-3
    rewrite(np.ones((60, 80), dtype=np.uint8))(tmp_path)
    with rasterio.open(heights(tmp_path), "r+") as file:
        file.write_colormap(1, {1: (255, 0, 0, 255)})
    with pytest.raises(InputError, match="numbers of colours"):
        read(tmp_path)


def test_36_a_mask_and_an_alpha_band_make_cells_unknown(tmp_path: Path) -> None:
    import rasterio

    make_folder(tmp_path)
    mask = np.full((60, 80), 255, dtype=np.uint8)
    mask[21, 31] = 0
    with (
        rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True),
        rasterio.open(heights(tmp_path), "r+") as file,
    ):
        file.write_mask(mask)
    site = read(tmp_path)
    assert np.isnan(site.elevation[site.grid.cell_at(WEST + 31.5, NORTH - 21.5)])
    assert np.isnan(site.elevation).sum() == 1


@pytest.mark.parametrize(
    "named",
    [
        '<VRTDataset rasterXSize="9" rasterYSize="9"/>',
        "/vsicurl/http://127.0.0.1:9/a.tif",
        "http://127.0.0.1:9/a.tif",
        "s3://bucket/a.tif",
        "vrt://elevation.tif",
        "GTIFF_DIR:1:elevation.tif",
        '{"type":"gdal"}',
        "/vsistdin/",
    ],
)
def test_38_and_39_names_that_are_no_paths_are_refused_before_anything_opens_them(tmp_path: Path, named: str) -> None:
    make_folder(tmp_path)
    with pytest.raises(InputError, match=r"not the path of a file|no such file"):
        read(tmp_path, elevation=named)


def test_40_sidecars_change_nothing(tmp_path: Path) -> None:
    make_folder(tmp_path)
    plain = read(tmp_path)
    (tmp_path / "elevation.tif.aux.xml").write_text(
        "<PAMDataset><GeoTransform>0, 9, 0, 0, 0, -9</GeoTransform><PAMRasterBand band='1'>"
        "<NoDataValue>100.5</NoDataValue><Scale>7</Scale></PAMRasterBand></PAMDataset>"
    )
    (tmp_path / "elevation.tfw").write_text("9\n0\n0\n-9\n0\n0\n")
    (tmp_path / "elevation.tif.ovr").write_bytes(b"II*\x00garbage")
    (tmp_path / "elevation.tif.msk").write_bytes(b"II*\x00garbage")
    again = read(tmp_path)
    assert again.elevation.tobytes() == plain.elevation.tobytes()
    assert again.grid == plain.grid


def test_an_ascii_grid_takes_its_system_from_the_file_beside_it(tmp_path: Path) -> None:
    from pyproj import CRS

    make_folder(tmp_path)
    plain = read(tmp_path)
    rows = "\n".join(" ".join(f"{value:.4f}" for value in row) for row in slope())
    (tmp_path / "elevation.asc").write_text(
        f"ncols 80\nnrows 60\nxllcorner {WEST}\nyllcorner {NORTH - 60}\ncellsize 1\nNODATA_value -9999\n{rows}\n"
    )
    (tmp_path / "elevation.prj").write_text(CRS.from_epsg(32618).to_wkt("WKT1_ESRI"))
    site = read(tmp_path, elevation="elevation.asc")
    assert np.abs(site.elevation - plain.elevation).max() < 1e-3


def test_a_zip_bomb_of_a_strip_is_not_unpacked(tmp_path: Path) -> None:
    """A strip of zeros packed a thousandfold is declared as one block of 400 MiB."""
    make_folder(tmp_path)
    packed = zlib.compress(bytes(2**20))
    heights(tmp_path).write_bytes(tiff(10_000, 10_000, t278=10_000, t259=8, t279=len(packed)) + packed)
    with pytest.raises(InputError, match="at most 64 MiB can be unpacked"):
        read(tmp_path)


@pytest.mark.parametrize("seed", range(40))
def test_a_flipped_byte_ends_in_a_site_or_one_line(tmp_path: Path, seed: int) -> None:
    make_folder(tmp_path)
    content = bytearray(heights(tmp_path).read_bytes())
    rng = np.random.default_rng(seed)
    for place in rng.integers(0, min(len(content), 700), 3):
        content[place] = int(rng.integers(0, 256))
    heights(tmp_path).write_bytes(bytes(content))
    told = ""
    try:
        read(tmp_path)
    except (InputError, SettingsError) as error:
        told = str(error)
    assert "\n" not in told
