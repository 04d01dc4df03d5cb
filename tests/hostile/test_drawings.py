# ruff: noqa: E501 (a case is one row of a table)
"""Bad and hostile drawings and tables: cases 43 to 72 of the hardening list."""

from __future__ import annotations

import io
import json
import sqlite3
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pyproj import Transformer

from sitepipe.errors import InputError, SettingsError
from sitepipe.site import Kind
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
    ring,
    write_drawing,
)

Change = Callable[[Path], Any]
TO_EARTH = Transformer.from_crs(UTM, 4326, always_xy=True)
ON_EARTH = [TO_EARTH.transform(x, y) for x, y in PARCEL]


def drawing(folder: Path) -> Path:
    return folder / "parcel.geojson"


def drawn(*features: Any, crs: str | None = UTM) -> Change:
    return lambda folder: write_drawing(drawing(folder), *features, crs=crs)


def raw(content: bytes | str) -> Change:
    return lambda folder: drawing(folder).write_bytes(content.encode() if isinstance(content, str) else content)


def shape(name: str, coordinates: Any, **properties: Any) -> Any:
    return properties, {"type": name, "coordinates": coordinates}


BOX = ring(WEST + 20, NORTH - 40, WEST + 60, NORTH - 15)
BOW_TIE = [BOX[0], BOX[2], BOX[1], BOX[3], BOX[0]]
HOLE_OUTSIDE = [BOX, ring(WEST + 70, NORTH - 40, WEST + 75, NORTH - 35)]
SELF_TOUCHING = [BOX[0], BOX[1], [WEST + 40, NORTH - 40], BOX[2], BOX[3], BOX[0]]

REFUSED: list[tuple[str, Change, str]] = [
    ("43 empty", drawn(), "holds no features"),
    ("44 null geometry", raw('{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null}]}'), "has no geometry"),
    ("44 empty geometry", drawn(shape("Polygon", [], kind="parcel")), "has no geometry"),
    ("45 NaN", raw(json.dumps({"type": "Feature", "properties": {"kind": "parcel"}, "geometry": {
        "type": "Polygon", "coordinates": [[[WEST, NORTH], [float("nan"), NORTH], [WEST, NORTH - 9], [WEST, NORTH]]]}})),
     "coordinate that is no number"),
    ("46 bow-tie", drawn(polygon(BOW_TIE, kind="parcel")), r"crosses or touches itself \(Self-intersection"),
    ("47 hole outside", drawn(shape("Polygon", HOLE_OUTSIDE, kind="parcel")), "Hole lies outside shell"),
    ("48 self-touching", drawn(polygon(SELF_TOUCHING, kind="parcel")), "crosses or touches itself"),
    ("49 two corners", drawn(polygon(BOX[:2], kind="parcel")), "needs at least three corners"),
    ("50 line for a parcel", drawn(line(*[(x, y) for x, y in BOX], kind="parcel")), "closes on itself: save it as a polygon"),
    ("50 open line for a parcel", drawn(line((WEST, NORTH), (WEST + 9, NORTH), kind="parcel")), "drawn as a line; it must be a polygon"),
    ("50 one closed line", drawn(line(*[(x, y) for x, y in BOX])), "line that closes on itself. Save it as a polygon"),
    ("51 collection", drawn(({"kind": "parcel"}, {"type": "GeometryCollection", "geometries": [{"type": "Polygon", "coordinates": [BOX]}]})),
     "collection of shapes"),
    ("52 overlapping", drawn(polygon(kind="parcel", name="A"), polygon(kind="parcel", name="B")), "'A' .* and 'B' .* overlap"),
    ("53 none named", drawn(polygon(), polygon(ring(WEST, NORTH - 9, WEST + 9, NORTH))), "none says which is the parcel"),
    ("54 metres called degrees", drawn(polygon(kind="parcel"), crs=None), "no degrees, and states no coordinate system; they look like EPSG:32618"),
    ("54 metres in a system of degrees", drawn(polygon(kind="parcel"), crs="EPSG:4326"), "says that it is in degrees"),
    ("55 exchanged", drawn(polygon([(y, x) for x, y in ON_EARTH], kind="parcel"), crs=None), "latitude and longitude exchanged"),
    ("57 date line", drawn(polygon([(-179, 40), (179, 40), (179, 41), (-179, 40)], kind="parcel"), crs=None), "180th meridian|180"),
    ("57 pole", drawn(polygon([(0, 89), (1, 89), (1, 89.5), (0, 89)], kind="parcel"), crs=None), "the parcel lies|UTM ends"),
    ("58 sliver", drawn(polygon(ring(WEST + 20, NORTH - 40, WEST + 20.1, NORTH - 15), kind="parcel")), "fewer than 9 cells"),
    ("60 misspelt column", drawn(polygon(knid="parcel"), polygon(knid="building"), point(WEST, NORTH, knid="tree")), r"\(is 'knid' meant\?\)"),
    ("60 misspelt kind", drawn(polygon(kind="parcel"), point(WEST, NORTH, kind="treee")), "did you mean 'tree'"),
    ("60 misspelt parcel", drawn(polygon(kind="parzel")), r"no feature of kind 'parcel' .*\(is 'parzel' meant\?\)"),
    ("61 text in a number", drawn(polygon(kind="parcel"), point(WEST, NORTH, kind="tree", height="tall")), "height: 'tall' is not a length"),
    ("61 wrong type", drawn(polygon(kind="parcel"), point(WEST, NORTH, kind="tree", height_m=[1])), "height_m is .* write one word or number"),
    ("61 too tall", drawn(polygon(kind="parcel"), point(WEST, NORTH, kind="tree", height="2 km")), "must lie between 0 and 120 m"),
    ("65 .shp alone", raw(b"\x00\x00\x27\x0a" + bytes(96)), "one file of a shapefile's several"),
    ("69 layer of layers", raw('<OGRVRTDataSource><OGRVRTLayer name="x"/></OGRVRTDataSource>'), "a layer that points to other files"),
    ("not JSON", raw('{"type": "FeatureCollection", "features": ['), "is not valid JSON"),
    ("not GeoJSON", raw('{"hello": 1}'), "no GeoJSON feature collection"),
    ("deep JSON", raw('{"a":' * 100_000), "is not valid JSON"),
    ("not UTF-8", raw(b'{"type": "FeatureCollection", "name": "\xe9"}'), "is not UTF-8"),
    ("unknown system", drawn(polygon(kind="parcel"), crs="EPSG:999999"), "which is unknown"),
    ("no features list", raw('{"type": "FeatureCollection", "features": 3}'), "features is not a list"),
    ("features of text", raw('{"type": "FeatureCollection", "features": ["x"]}'), "has no geometry"),
    ("letters for numbers", drawn(polygon([("a", "b"), ("c", "d"), ("e", "f")], kind="parcel")), "cannot be drawn"),  # type: ignore[list-item]
    ("line of no length", drawn(polygon(kind="parcel"), line((WEST, NORTH), (WEST, NORTH), kind="ditch")), "a line of no length"),
    ("point for a ditch", drawn(polygon(kind="parcel"), point(WEST, NORTH, kind="ditch")), "drawn as a point; it must be a line or a polygon"),
    ("culvert off the heights", drawn(polygon(kind="parcel"), line((WEST, NORTH + 270), (WEST + 9, NORTH + 280), kind="culvert")), r"feature 2 \(culvert\) lies 270 m off the heights of elevation.tif"),
    ("list for a kind", drawn(polygon(kind="parcel"), point(WEST, NORTH, kind=["tree"])), r"feature 2: kind is \['tree'\]; write one word"),
    ("400 digits", drawn(polygon(kind="parcel"), point(WEST, NORTH, kind="tree", height=10**400)), "height is '1000.*; it has too many digits"),
    ("tree of height 0", drawn(polygon(kind="parcel"), point(WEST, NORTH, kind="tree", height="0 m")), "height is 0; write what it is"),
    ("depth in words", drawn(polygon(kind="parcel"), line((WEST, NORTH), (WEST + 9, NORTH), kind="ditch", depth="two feet")), "depth: 'two feet' is not a length"),
    ("hours in words", drawn(polygon(kind="parcel"), point(WEST, NORTH, kind="observation", hours="two days")), "hours is 'two days'; it must be a number"),
    ("hours below 0", drawn(polygon(kind="parcel"), point(WEST, NORTH, kind="observation", hours=-5)), "hours is -5; it must be hours since rain"),
    ("no kind", drawn(polygon(kind="parcel"), point(WEST, NORTH)), "has no 'kind'"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "said"), [case[1:] for case in REFUSED], ids=[case[0] for case in REFUSED])
def test_drawings_that_cannot_be_used_are_refused_in_one_line(tmp_path: Path, change: Change, said: str) -> None:
    make_folder(tmp_path)
    change(tmp_path)
    with pytest.raises(InputError, match=said) as caught:
        read(tmp_path)
    assert "\n" not in str(caught.value)
    assert "parcel.geojson" in str(caught.value)
    assert len(str(caught.value)) < 500


def test_53_several_parcels_that_do_not_overlap_are_one_site(tmp_path: Path) -> None:
    make_folder(tmp_path)
    write_drawing(
        drawing(tmp_path),
        polygon(ring(WEST + 10, NORTH - 40, WEST + 30, NORTH - 20), kind="parcel"),
        polygon(ring(WEST + 40, NORTH - 40, WEST + 60, NORTH - 20), kind="parcel"),
    )
    site = read(tmp_path)
    assert site.parcel.geom_type == "MultiPolygon"
    assert site.parcel.area == 800.0


def test_56_heights_and_measures_in_coordinates_are_left_out(tmp_path: Path) -> None:
    make_folder(tmp_path)
    write_drawing(drawing(tmp_path), polygon([(x, y, 7.0) for x, y in PARCEL], kind="parcel"))
    assert not read(tmp_path).parcel.has_z


@pytest.mark.parametrize(
    ("count", "said"), [(1_000_000, "MiB; at most 16 MiB are read"), (300_000, "300,000 vertices; at most")]
)
def test_59_very_many_vertices_are_refused(tmp_path: Path, count: int, said: str) -> None:
    make_folder(tmp_path)
    text = f"[{WEST:.3f},{NORTH:.3f}]," * (count - 1) + f"[{WEST + 9.0},{NORTH}]"
    drawing(tmp_path).write_text(
        '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"kind":"parcel"},'
        '"geometry":{"type":"Polygon","coordinates":[[' + text + "]]}}]}"
    )
    with pytest.raises(InputError, match=said):
        read(tmp_path)


def test_62_equal_names_are_kept_apart_by_their_numbers(tmp_path: Path) -> None:
    make_folder(tmp_path)
    write_drawing(
        drawing(tmp_path),
        polygon(kind="parcel"),
        *(point(WEST + 30 + n, NORTH - 20, kind="tree", name="Apple") for n in range(3)),
    )
    assert [feature.number for feature in read(tmp_path).of_kind(Kind.TREE)] == [2, 3, 4]


@pytest.mark.parametrize(
    "name",
    [
        "<script>alert(1)</script>",
        "`${alert(1)}`",
        "a\u202egnp.exe",
        "nul\x00byte",
        "x" * 10_000,
        "line\nbreak",
        "\u200b",
    ],
)
def test_71_names_are_carried_as_plain_text_without_control_signs(tmp_path: Path, name: str) -> None:
    make_folder(tmp_path)
    write_drawing(drawing(tmp_path), polygon(kind="parcel", name=name, note=name))
    site = read(tmp_path)
    for text in (site.features[0].name, str(site.features[0].attributes["note"])):
        assert len(text) <= 200
        assert not any(sign in text for sign in "\x00\n\u202e\u200b")


def write_vector(path: Path, driver: str, crs: str | None = UTM, geometry: Any = None, **columns: list[Any]) -> Path:
    import geopandas
    from shapely import Polygon

    shapes = geometry or [Polygon(PARCEL)]
    frame = geopandas.GeoDataFrame(columns or {"kind": ["parcel"]}, geometry=shapes, crs=crs)
    frame.to_file(path, driver=driver)
    return path


def zip_shapefile(folder: Path, *, leave_out: str = "", inside: str = "", crs: str | None = UTM) -> Path:
    parts = folder / "parts"
    parts.mkdir(exist_ok=True)
    write_vector(parts / "drawn.shp", "ESRI Shapefile", crs)
    target = folder / "drawn.zip"
    with zipfile.ZipFile(target, "w") as archive:
        for part in sorted(parts.iterdir()):
            if part.suffix not in {leave_out, ".cpg"}:
                archive.write(part, inside + part.name)
    return target


def test_a_geopackage_kml_and_zipped_shapefile_give_the_same_parcel(tmp_path: Path) -> None:
    make_folder(tmp_path)
    area = read(tmp_path).parcel.area
    write_vector(tmp_path / "drawn.gpkg", "GPKG")
    zip_shapefile(tmp_path)
    ring_text = " ".join(f"{x:.10f},{y:.10f},0" for x, y in ON_EARTH)
    (tmp_path / "drawn.kml").write_text(
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>parcel</name><Polygon>'
        f"<outerBoundaryIs><LinearRing><coordinates>{ring_text}</coordinates></LinearRing></outerBoundaryIs></Polygon>"
        "</Placemark></Document></kml>"
    )
    for name in ("drawn.gpkg", "drawn.zip", "drawn.kml"):
        assert read(tmp_path, parcel=name).parcel.area == pytest.approx(area, abs=0.01), name


def test_63_a_table_of_ten_letters_and_latin_letters_is_read(tmp_path: Path) -> None:
    make_folder(tmp_path)
    parts = tmp_path / "parts"
    parts.mkdir()
    write_vector(parts / "drawn.shp", "ESRI Shapefile", kind=["parcel"], name=["Grünfläche"], note_field=["x"])
    with zipfile.ZipFile(tmp_path / "drawn.zip", "w") as archive:
        for part in sorted(parts.iterdir()):
            archive.write(part, part.name)
    assert read(tmp_path, parcel="drawn.zip").features[0].name == "Grünfläche"


def test_66_a_shapefile_in_a_subfolder_is_found(tmp_path: Path) -> None:
    make_folder(tmp_path)
    zip_shapefile(tmp_path, inside="export/2025/")
    assert read(tmp_path, parcel="drawn.zip").parcel.area == pytest.approx(1000.0)


def packed(*members: tuple[str, bytes], flag: int = 0) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members:
            archive.writestr(name, content)
    packed_up = bytearray(buffer.getvalue())
    if flag:
        for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
            packed_up[packed_up.find(mark) + offset] |= flag
    return bytes(packed_up)


ZIPS: list[tuple[str, bytes, str]] = [
    ("two shapefiles", packed(("a.shp", b"x"), ("b.shp", b"x")), "exactly one shapefile, and packs a.shp, b.shp"),
    ("none", packed(("readme.txt", b"x")), "packs none"),
    ("reaches out", packed(("../../evil.shp", b"x")), "reaches out of the archive"),
    ("absolute", packed(("/etc/evil.shp", b"x")), "reaches out of the archive"),
    ("bomb", packed(("a.shp", bytes(70 * 2**20))), "unpacks to more than 64 MiB"),
    ("locked", packed(("a.shp", b"x"), flag=1), "locked with a password"),
    ("nested", packed(("a.shp", b"x"), ("b.zip", b"x")), "packs another archive"),
    ("many", packed(*((f"{n}.txt", b"x") for n in range(100))), "packs 100 files"),
    ("cut", packed(("a.shp", b"x" * 999))[:60], "no readable zip archive"),
    ("garbage inside", packed(("a.shp", b"x" * 999), ("a.dbf", b""), ("a.shx", b"")), "is damaged"),
]


@pytest.mark.parametrize(("content", "said"), [case[1:] for case in ZIPS], ids=[case[0] for case in ZIPS])
def test_66_archives_that_are_no_shapefile_are_refused(tmp_path: Path, content: bytes, said: str) -> None:
    make_folder(tmp_path)
    (tmp_path / "drawn.zip").write_bytes(content)
    with pytest.raises(InputError, match=said):
        read(tmp_path, parcel="drawn.zip")


def test_64_a_shapefile_without_its_system_is_refused(tmp_path: Path) -> None:
    make_folder(tmp_path)
    zip_shapefile(tmp_path, leave_out=".prj")
    with pytest.raises(InputError, match=r"has no \.prj file"):
        read(tmp_path, parcel="drawn.zip")


BILLION = '<!DOCTYPE k [<!ENTITY a "aaaaaaaaaa">' + "".join(
    f'<!ENTITY {after} "{("&" + before + ";") * 10}">' for before, after in zip("abcdefgh", "bcdefghi", strict=True)
)
KMLS: list[tuple[str, str]] = [
    ("67 entity bomb", f"<?xml version='1.0'?>{BILLION}]><kml><Document><name>&i;</name></Document></kml>"),
    ("67 outer entity", ('<?xml version="1.0"?><!DOCTYPE k [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
     "<kml><Placemark><name>&x;</name><Point><coordinates>0,0</coordinates></Point></Placemark></kml>")),
    ("68 network link", ('<kml xmlns="http://www.opengis.net/kml/2.2"><NetworkLink><Link><href>http://127.0.0.1:9/x.kml</href>'
     "</Link></NetworkLink></kml>")),
    ("cut", '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark>'),
]  # fmt: skip


@pytest.mark.parametrize("text", [case[1] for case in KMLS], ids=[case[0] for case in KMLS])
def test_hostile_kml_is_refused_and_reaches_nothing(tmp_path: Path, text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    import socket

    def no_socket(*_: Any, **__: Any) -> None:
        pytest.fail("a socket was opened")

    make_folder(tmp_path)
    (tmp_path / "drawn.kml").write_text(text)
    monkeypatch.setattr(socket.socket, "connect", no_socket)
    with pytest.raises(InputError, match=r"drawn\.kml"):
        read(tmp_path, parcel="drawn.kml")


def test_70_views_and_strange_tables_of_a_geopackage_are_not_read(tmp_path: Path) -> None:
    make_folder(tmp_path)
    path = write_vector(tmp_path / "drawn.gpkg", "GPKG")
    with sqlite3.connect(path) as database:
        database.execute("CREATE VIEW leak AS SELECT 1 AS fid, sql AS kind, NULL AS geom FROM sqlite_master")
        database.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES ('leak', 'features', 'leak', 32618)"
        )
        database.execute(
            "INSERT INTO gpkg_geometry_columns VALUES ('leak', 'geom', 'GEOMETRY', 32618, 0, 0)"
        )  # fmt: skip
    database.close()
    site = read(tmp_path, parcel="drawn.gpkg")
    assert len(site.features) == 1


@pytest.mark.parametrize("change", ["cut", "garbage"])
def test_70_broken_geopackages_are_refused(tmp_path: Path, change: str) -> None:
    make_folder(tmp_path)
    path = write_vector(tmp_path / "drawn.gpkg", "GPKG")
    content = path.read_bytes()
    path.write_bytes(content[:5000] if change == "cut" else b"SQLite format 3\x00" + bytes(range(256)) * 40)
    with pytest.raises(InputError, match=r"drawn\.gpkg"):
        read(tmp_path, parcel="drawn.gpkg")


def test_70_a_geopackage_in_a_folder_that_cannot_be_written_is_read(tmp_path: Path) -> None:
    """Opened as it stands: no journal, no lock, nothing written beside it."""
    make_folder(tmp_path)
    path = write_vector(tmp_path / "drawn.gpkg", "GPKG")
    with sqlite3.connect(path) as database:
        database.execute("PRAGMA journal_mode=WAL")
    database.close()
    before = sorted(child.name for child in tmp_path.iterdir())
    content = path.read_bytes()
    tmp_path.chmod(0o555)
    try:
        assert read(tmp_path, parcel="drawn.gpkg").parcel.area == pytest.approx(1000.0)
    finally:
        tmp_path.chmod(0o755)
    assert path.read_bytes() == content
    assert sorted(child.name for child in tmp_path.iterdir()) == before


@pytest.mark.parametrize("seed", range(60))
def test_flipped_bytes_of_drawings_end_in_a_site_or_one_line(tmp_path: Path, seed: int) -> None:
    make_folder(tmp_path)
    rng = np.random.default_rng(seed)
    name = ("parcel.geojson", "drawn.zip", "drawn.gpkg")[seed % 3]
    path = tmp_path / name
    if name == "drawn.zip":
        zip_shapefile(tmp_path)
    if name == "drawn.gpkg":
        write_vector(path, "GPKG")
    content = bytearray(path.read_bytes())
    for place in rng.integers(0, len(content), 4):
        content[place] = int(rng.integers(0, 256))
    path.write_bytes(bytes(content))
    told = ""
    try:
        read(tmp_path, parcel=name)
    except (InputError, SettingsError) as error:
        told = str(error)
    assert "\n" not in told
