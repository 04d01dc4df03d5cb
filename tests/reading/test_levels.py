"""levels.csv in a site folder: every way to write it, and what the surface makes of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from pyproj import CRS, Transformer
from shapely import LineString

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError, SettingsError
from sitepipe.grid import Grid
from sitepipe.reading.bottoms import dug
from sitepipe.reading.coordinates import LOCAL_PLANE
from sitepipe.site import Site
from sitepipe.starting.level_book import HEADS, LENGTHS
from tests.reading.folders import (
    NORTH,
    UTM,
    WEST,
    line,
    make_folder,
    point,
    polygon,
    read,
    slope,
    write_drawing,
    write_heights,
)

POSTS = (
    point(0.0, 0.0, kind="fixed point", name="Gate post"),
    point(24.0, 0.0, kind="fixed point", name="House corner"),
)
LOCAL_PARCEL = polygon([(2, 2), (22, 2), (22, 18), (2, 18), (2, 2)], kind="parcel")
SPOTS = [(float(x), float(y)) for x in range(0, 25, 4) for y in range(0, 21, 4)]


def ground(x: float, y: float) -> float:
    return 100.0 + 0.02 * x - 0.01 * y


def local_folder(folder: Path, levels: str, *features: object) -> Path:
    write_drawing(folder / "parcel.geojson", LOCAL_PARCEL, *POSTS, *features, crs=None)  # type: ignore[arg-type]
    (folder / "levels.csv").write_text(levels, encoding="utf-8")
    return folder


def read_local(folder: Path, **values: object) -> Site:
    return read(folder, elevation=None, **({"latitude": 45.0, "longitude": -73.0} | values))


def finished(height: Callable[[float, float], float] = ground) -> str:
    rows = [f"P{number},{x},{y},{height(x, y):.4f}" for number, (x, y) in enumerate(SPOTS)]
    return "\n".join(["point,x,y,height", *rows])


def is_plane(site: Site, tolerance: float = 1e-3) -> bool:
    x, y = np.meshgrid(site.grid.x, site.grid.y)
    known = np.isfinite(site.elevation)
    return bool(known.sum() > 100 and np.abs(site.elevation - ground(x, y))[known].max() < tolerance)  # type: ignore[arg-type]


def test_finished_heights_alone_make_a_site_on_a_plane_of_its_own(tmp_path: Path) -> None:
    site = read_local(local_folder(tmp_path, finished()))
    assert is_plane(site)
    assert site.open_edge
    assert any("speak for 480\u00a0m²" in said for said in site.assumptions)
    assert site.ground.vertical_error < 0.005


def test_nothing_is_known_beyond_the_surveyed_area(tmp_path: Path) -> None:
    site = read_local(local_folder(tmp_path, finished()))
    x, y = np.meshgrid(site.grid.x, site.grid.y)
    outside = (x < 0.0) | (x > 24.0) | (y < 0.0) | (y > 20.0)
    assert outside.any()
    assert np.isnan(site.elevation[outside]).all()
    assert np.isnan(site.height_error[outside]).all()
    assert np.isfinite(site.elevation[~outside]).all()


def test_an_unsurveyed_corner_of_an_l_shape_stays_blank(tmp_path: Path) -> None:
    spots = [(x, y) for x, y in [(a * 2.0, b * 2.0) for a in range(13) for b in range(11)] if x <= 8.0 or y <= 6.0]
    rows = "\n".join(f"P{number},{x},{y},{ground(x, y):.4f}" for number, (x, y) in enumerate(spots))
    site = read_local(local_folder(tmp_path, f"point,x,y,height\n{rows}"))
    row, column = site.grid.cell_at(20.0, 16.0)
    assert np.isnan(site.elevation[row, column])
    assert any("of the parcel" in warning and "stays blank" in warning for warning in site.warnings)


def test_the_error_grows_away_from_the_levels(tmp_path: Path) -> None:
    def rough(x: float, y: float) -> float:
        return ground(x, y) + 0.3 * float(np.sin(x / 4.0) * np.cos(y / 4.0))

    site = read_local(local_folder(tmp_path, finished(rough)))
    at_level = site.height_error[site.grid.cell_at(12.1, 8.1)]
    between = site.height_error[site.grid.cell_at(14.0, 10.0)]
    assert between > 1.2 * at_level


BOOK = """point,BS,IS,FS,height,x,y
BM,1.500,,,100.000,0,0
A1,,1.480,,,4,4
A2,,1.400,,,8,4
A3,,1.360,,,12,12
TP1,1.600,,1.340,,16,4
A4,,1.560,,,20,4
A5,,1.600,,,20,12
A6,,1.680,,,12,16
A7,,1.700,,,4,12
BM,,,{closing},,,
"""


def test_a_level_book_is_reduced_adjusted_and_reported(tmp_path: Path) -> None:
    site = read_local(local_folder(tmp_path, BOOK.format(closing="1.758")))
    told = next(said for said in site.assumptions if said.startswith("Level book"))
    assert "back sights 3.100 - fore sights 3.098 = +0.002" in told
    assert "misclosure +2.0 mm, allowed 5.0 mm" in told


def test_a_loop_that_does_not_close_is_spread_and_said_with_the_size_at_which_to_measure_again(tmp_path: Path) -> None:
    site = read_local(local_folder(tmp_path, BOOK.format(closing="1.700")))
    (said,) = [warning for warning in site.warnings if "level loop" in warning]
    for words in ("misses by +60.0 mm", "back sights 3.100 - fore sights 3.040 = +0.060", "From 5.0 mm", "again"):
        assert words in said
    closed = read_local(local_folder(tmp_path, BOOK.format(closing="1.760")))
    assert site.ground.vertical_error > 1.5 * closed.ground.vertical_error


def test_a_stricter_allowance_can_be_asked_for(tmp_path: Path) -> None:
    folder = local_folder(tmp_path, BOOK.format(closing="1.758"))
    site = read_local(folder, survey={"misclosure_per_root_km": "6 mm", "least_misclosure": "0 mm"})
    assert any("From 1.7 mm" in warning for warning in site.warnings)


def test_the_printed_heading_is_read_as_printed_in_feet(tmp_path: Path) -> None:
    """The sheet's own heading, the bench mark without a height, tapes for places: one way to fill it in."""
    foot = 0.3048
    rows = [",".join(f"{head} ft" if head in LENGTHS else head for head in HEADS)]
    staff = {"BM": "4.00,,"} | {
        f"P{n}": f",{4.0 - ground(x, y) / foot + 100.0 / foot:.4f}," for n, (x, y) in enumerate(SPOTS)
    }
    places = {f"P{n}": spot for n, spot in enumerate(SPOTS)}
    for name, reading in [*staff.items(), ("BM", ",,4.00")]:
        x, y = places.get(name, (0.0, 0.0))
        tapes = np.hypot(x, y) / foot, np.hypot(x - 24.0, y) / foot
        where = f"Gate post,{tapes[0]:.4f},House corner,{tapes[1]:.4f},left" if y >= 8.0 else ",,,,"
        rows.append(f"{name},,{reading},{where}")
    site = read_local(local_folder(tmp_path, "\n".join(rows)), units="imperial")
    assert not [warning for warning in site.warnings if "level book" in warning]
    # The bench mark counts as 100 ft, and the staff was read 4 ft above it where the ground is 100 m.
    far, up = np.meshgrid(site.grid.x, site.grid.y)
    off = site.elevation - (0.02 * far - 0.01 * up + 100.0 * foot)
    assert np.nanmax(np.abs(off)) < 2e-3


def test_one_bad_spot_does_not_stop_all(tmp_path: Path) -> None:
    bad = {
        "Q1,,,99,Gate post,3,House corner,3,left": "line 44: tapes of 3.00 and 3.00 m",
        "Q2,,,99,Gate pst,13,House corner,13,left": "line 45: from 1 is 'Gate pst', which is not drawn",
        "Q3,,,99,Gate post,12.2,House corner,12.2,left": "line 46: the two tapes meet at",
        "Q4,9000,4,99,,,,,": "line 47 lies 9.0 km from the parcel",
        "P9,20,20,99,,,,,": "line 48: 'P9' lies",
    }
    heading = "point,x,y,height,from 1,tape 1,from 2,tape 2,side"
    rows = [f"{row},,,,," for row in finished().splitlines()[1:]]
    site = read_local(local_folder(tmp_path, "\n".join([heading, *rows, *bad])))
    assert is_plane(site)
    for words in bad.values():
        (said,) = [warning for warning in site.warnings if words in warning]
        assert said.endswith("It is left out of the surface.")


def test_a_spot_read_twice_is_averaged_or_left_out_and_said(tmp_path: Path) -> None:
    def again(reading: float) -> Site:
        folder = tmp_path / f"{reading}"
        folder.mkdir()
        return read_local(local_folder(folder, BOOK.format(closing="1.758").replace("A7", f"A1,,{reading},,,,\nA7")))

    # By the second set-up A1, at 100.0200, is read at 100.160 + 1.600 - 1.740 = 100.020.
    assert not [warning for warning in again(1.740).warnings if "A1" in warning]
    (said,) = [warning for warning in again(1.440).warnings if "A1" in warning]
    assert "'A1' (line 3) and 'A1' (line 10) lie at the same place (x 4.00, y 4.00) and differ by 30\u00a0cm" in said
    assert said.endswith("Both are left out of the surface: read it again, or delete the wrong one.")


def test_an_open_run_is_warned_of(tmp_path: Path) -> None:
    text = "\n".join(line for line in BOOK.splitlines() if "{closing}" not in line)
    site = read_local(local_folder(tmp_path, text))
    assert any("nothing shows a misread staff" in warning for warning in site.warnings)


def test_points_are_placed_by_two_tapes_from_drawn_points(tmp_path: Path) -> None:
    rows = ["point,from 1,tape 1,from 2,tape 2,side,height"]
    for number, (x, y) in enumerate(spot for spot in SPOTS if spot[1] >= 8.0):
        first, second = np.hypot(x, y), np.hypot(x - 24.0, y)
        rows.append(f"P{number},Gate post,{first:.4f},House corner,{second:.4f},left,{ground(x, y):.4f}")
    site = read_local(local_folder(tmp_path, "\n".join(rows)))
    assert is_plane(site, 2e-3)


def test_points_are_placed_along_a_base_line(tmp_path: Path) -> None:
    rows = ["point,line from,line to,along,offset,height"]
    rows += [f"P{number},gate post,house corner,{x},{-y},{ground(x, y):.4f}" for number, (x, y) in enumerate(SPOTS)]
    assert is_plane(read_local(local_folder(tmp_path, "\n".join(rows))))


def test_a_walk_by_compass_places_its_points_and_says_how_it_closes(tmp_path: Path) -> None:
    legs = [("A", 45, 100.00), ("B", 135, 80.02), ("C", 225, 100.05), ("Gate post", 315, 79.97)]
    rows = ["point,x,y,height,walk from,bearing,walk length"]
    rows += [f"P{number},{x},{y},{ground(x, y):.4f},,," for number, (x, y) in enumerate(SPOTS)]
    before = "Gate post"
    for name, bearing, length in legs:
        rows.append(f"{name},,,,{before},{bearing},{length}")
        before = name
    site = read_local(local_folder(tmp_path, "\n".join(rows)))
    assert any("closes on Gate post misses it by 0.071 m in 360.0 m (1 in 5,092)" in said for said in site.assumptions)


def test_feet_inches_and_fractions_are_read(tmp_path: Path) -> None:
    def staff(metres: float) -> str:
        sixteenths = round(metres / 0.0254 * 16.0)
        feet, rest = divmod(sixteenths, 192)
        inches, part = divmod(rest, 16)
        return f"{feet} ft {inches} {part}/16 in" if part else f"{feet} ft {inches} in"

    rows = [f"P{number},{x},{y},{staff(ground(x, y))}" for number, (x, y) in enumerate(SPOTS)]
    site = read_local(local_folder(tmp_path, "\n".join(["point,x [m],y [m],height", *rows])), units="imperial")
    assert is_plane(site, 2e-3)


def test_bare_numbers_on_a_site_in_feet_are_asked_about(tmp_path: Path) -> None:
    folder = local_folder(tmp_path, finished())
    with pytest.raises(SettingsError, match=r"without a unit, and the site is in feet.*unit = 'ft' or 'm'"):
        read_local(folder, units="imperial")
    # Feet upwards and nothing said of along: nobody would mean metres.
    (folder / "levels.csv").write_text(finished().replace("height", "height [ft]"), encoding="utf-8")
    with pytest.raises(SettingsError, match=r"line 2: x is 0\.0 without a unit"):
        read_local(folder, units="imperial")


def test_a_heading_may_state_the_unit(tmp_path: Path) -> None:
    rows = [f"P{number},{x},{y},{ground(x, y) / 0.3048:.5f}" for number, (x, y) in enumerate(SPOTS)]
    site = read_local(local_folder(tmp_path, "\n".join(["point,x [m],y [m],height [ft]", *rows])), units="imperial")
    assert is_plane(site)


@pytest.mark.case(72)
def test_semicolons_decimal_commas_a_byte_order_mark_and_blank_rows_are_read(tmp_path: Path) -> None:
    rows = [f"P{number};{x};{y};{ground(x, y):.4f}".replace(".", ",") for number, (x, y) in enumerate(SPOTS)]
    folder = local_folder(tmp_path, "")
    text = "\ufeffPoint;X;Y;Height\r\n" + "\r\n\r\n;;;\r\n".join(rows)
    (folder / "levels.csv").write_bytes(text.encode("utf-8"))
    assert is_plane(read_local(folder))


TAPES = "point,from 1,tape 1,from 2,tape 2,side,height\n"
FIVE = "\n".join(finished().splitlines()[:6])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (FIVE, r"places 5 levels; .*at least 6"),
        ("point,x,y,height\n" + "\n".join(f"P{n},{n},{2 * n},{n}" for n in range(8)), "lie on one line"),
        (finished().replace("height", "heigth"), r"column 'heigth' is unknown \(did you mean 'height'\?\)"),
        ("point,height\nA,1", r"places no levels"),
        ("point,x,y\nA,1,1", "neither a column 'height'"),
        ("x,y,height\n1,1,1", "no column 'point'"),
        ("point,x,y,height\nA,1,1,=cmd()", r"line 2: height: '=cmd\(\)' is not a length"),
        ("point,x,y,height\nA,1,1,1,9", "line 2 has 5 cells and the heading has 4"),
        ("point,x,y,height\n,1,1,1", "line 2 names no point"),
        ("point,x,y,height\nA,1,,1", "line 2 has no y"),
        ("point,x,y,height\n", "no rows below its heading"),
        ("point,x,y,height,height\nA,1,1,1,1", "stands there twice"),
        ("point,x,y,height [furlong]\nA,1,1,1", "no unit of length"),
        (TAPES + "A,Gate pst,9,House corner,9,left,1", r"did you mean 'gate post'"),
        (TAPES + "A,Gate post,13,House corner,13,up,1", "write left or right"),
        (TAPES + "A,Gate post,3,House corner,3,left,1", r"miss each other by 18\.00 m"),
        (TAPES + "A,Gate post,12.2,House corner,12.2,left,1", r"meet at 2\d degrees"),
        ("point,longitude,latitude,height\nA,-73,45,1", "a plane of its own"),
    ],
)  # fmt: skip
@pytest.mark.case(72)
def test_levels_that_cannot_be_ground_are_refused(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_local(local_folder(tmp_path, text))


def test_two_levels_of_one_place_that_agree_are_averaged(tmp_path: Path) -> None:
    site = read_local(local_folder(tmp_path, finished() + f"\nQ,4,4,{ground(4.0, 4.0) + 0.002:.4f}"))
    assert any("42 levels" in said for said in site.assumptions)


def test_a_drawn_kerb_and_ditch_break_the_surface(tmp_path: Path) -> None:
    def kerbed(x: float, y: float) -> float:
        return ground(x, y) + (0.15 if x > 10.0 else 0.0)

    kerb = line((10.0, -5.0), (10.0, 25.0), kind="kerb")
    plain, broken = tmp_path / "plain", tmp_path / "broken"
    plain.mkdir()
    broken.mkdir()
    smeared = read_local(local_folder(plain, finished(kerbed)))
    upright = read_local(local_folder(broken, finished(kerbed), kerb))
    x, y = np.meshgrid(upright.grid.x, upright.grid.y)
    truth = ground(x, y) + np.where(x > 10.0, 0.15, 0.0)  # type: ignore[arg-type]
    known = np.isfinite(upright.elevation)
    assert np.abs(upright.elevation - truth)[known].max() < 2e-3
    assert np.abs(smeared.elevation - truth)[known].max() > 0.03
    assert any("break along 1 drawn" in said for said in upright.assumptions)


def lidar_folder(folder: Path, offset: float, survey: str) -> Path:
    """Make a folder whose heights are off by an offset, with a survey inside."""
    heights = slope(100, 120) + offset
    heights[50, 60] += 8.0  # a bird within the survey: it must not move the shift
    write_heights(folder / "elevation.tif", heights)
    corners = [(WEST + 40, NORTH - 70), (WEST + 80, NORTH - 70), (WEST + 80, NORTH - 35), (WEST + 40, NORTH - 35)]
    write_drawing(folder / "parcel.geojson", polygon([*corners, corners[0]], kind="parcel"))
    (folder / "levels.csv").write_text(survey, encoding="utf-8")
    return folder


def inner_survey() -> str:
    rows = ["point,x,y,height"]
    for number, (x, y) in enumerate((a, b) for a in range(45, 76, 5) for b in range(40, 66, 5)):
        rows.append(f"P{number},{WEST + x},{NORTH - y},{100.0 + 0.01 * (x - 0.5) + 0.02 * (99.5 - y):.4f}")
    return "\n".join(rows)


def test_heights_that_lie_at_the_level_of_the_survey_are_not_raised_by_nothing(tmp_path: Path) -> None:
    said = read(lidar_folder(tmp_path, 0.002, inner_survey()), ground={"cell": "1 m"}).assumptions
    assert any("stay at their level" in sentence for sentence in said)
    assert not any("to the levels" in sentence for sentence in said)


def test_lidar_is_shifted_to_the_survey_and_joined_without_a_step(tmp_path: Path) -> None:
    site = read(lidar_folder(tmp_path, 7.5, inner_survey()), ground={"cell": "1 m"})
    assert any("are lowered by 7.50\u00a0m to the levels" in said for said in site.assumptions)
    x, y = np.meshgrid(site.grid.x, site.grid.y)
    truth = 100.0 + 0.01 * (x - 0.5 - WEST) + 0.02 * (y + 99.5 - NORTH)
    off = np.abs(site.elevation - truth)
    assert off.max() < 2e-3
    inside = site.height_error[site.grid.cell_at(WEST + 60.0, NORTH - 52.0)]
    outside = site.height_error[site.grid.cell_at(WEST + 25.0, NORTH - 52.0)]
    assert inside < 0.01
    assert outside == pytest.approx(0.1)


def test_the_survey_wins_where_it_is_and_fades_out_over_the_collar(tmp_path: Path) -> None:
    raised = inner_survey().replace("\n", "\n")
    site = read(lidar_folder(tmp_path, 0.0, raised), ground={"cell": "1 m"}, survey={"collar": "8 m"})
    row, column = site.grid.cell_at(WEST + 60.5, NORTH - 50.5)
    # The bird stood here in the lidar.
    assert site.elevation[row, column] == pytest.approx(100.0 + 0.01 * 60.0 + 0.02 * 49.0, abs=2e-3)


def slipped(*slips: tuple[int, float]) -> str:
    """Return levels good to a centimetre, of which some are off by more."""
    rng = np.random.default_rng(5)
    heights = [ground(x, y) + rng.normal(0.0, 0.01) for x, y in SPOTS]
    for number, slip in slips:
        heights[number] += slip
    rows = [f"P{n},{x},{y},{height:.4f}" for n, ((x, y), height) in enumerate(zip(SPOTS, heights, strict=True))]
    return "\n".join(["point,x,y,height", *rows])


@pytest.mark.parametrize(("number", "slip"), [(15, 0.5), (15, -0.5), (0, 0.5)])
def test_a_staff_misread_by_half_a_metre_is_left_out_and_said_and_no_other(
    tmp_path: Path, number: int, slip: float
) -> None:
    site = read_local(local_folder(tmp_path, slipped((number, slip))))
    (said,) = [warning for warning in site.warnings if "through the other levels" in warning]
    assert f"'P{number}' lies" in said
    assert ("above" if slip > 0.0 else "below") in said
    assert "It is left out: read it again" in said
    assert is_plane(site, 0.03)


def test_a_bump_of_several_levels_is_kept_and_said(tmp_path: Path) -> None:
    bump = [(7, 0.6), (8, 0.5), (13, 0.5), (14, 0.5)]
    site = read_local(local_folder(tmp_path, slipped(*bump)))
    assert all("so it is kept" in said for said in site.warnings if "through the other levels" in said)
    x, y = SPOTS[8]
    assert site.elevation[site.grid.cell_at(x + 0.01, y + 0.01)] > ground(x, y) + 0.3


def test_a_bump_that_the_lidar_shows_as_well_is_no_slip(tmp_path: Path) -> None:
    folder = lidar_folder(tmp_path, 7.5, inner_survey())
    name, x, y, height = inner_survey().splitlines()[15].split(",")
    raised = f"{name},{x},{y},{float(height) + 0.5:.4f}"
    (folder / "levels.csv").write_text(inner_survey().replace(f"{name},{x},{y},{height}", raised), encoding="utf-8")
    heights = slope(100, 120) + 7.5
    row, column = int(NORTH - float(y)), int(float(x) - WEST)
    heights[row - 2 : row + 2, column - 2 : column + 2] += 0.45
    write_heights(folder / "elevation.tif", heights)
    site = read(folder, ground={"cell": "1 m"})
    (said,) = [warning for warning in site.warnings if "through the other levels" in warning]
    assert f"{name!r} lies 50\u00a0cm above" in said
    assert "so it is kept" in said


def test_rough_ground_is_not_called_misread(tmp_path: Path) -> None:
    rng = np.random.default_rng(6)
    rows = [f"P{n},{x},{y},{ground(x, y) + rng.normal(0.0, 0.06):.4f}" for n, (x, y) in enumerate(SPOTS)]
    site = read_local(local_folder(tmp_path, "\n".join(["point,x,y,height", *rows])))
    assert not [warning for warning in site.warnings if "through the other levels" in warning]


@pytest.mark.parametrize(("tilt", "is_said"), [(0.002, True), (-0.003, True), (0.0, False), (0.0005, False)])
def test_a_survey_that_is_tilted_against_the_heights_is_said(tmp_path: Path, tilt: float, is_said: bool) -> None:
    folder = lidar_folder(tmp_path, 7.5, inner_survey())
    rng = np.random.default_rng(7)
    x = np.arange(120) + 0.5
    heights = slope(100, 120) + tilt * x + rng.normal(0.0, 0.03, (100, 120))
    write_heights(folder / "elevation.tif", heights)
    said = [warning for warning in read(folder, ground={"cell": "1 m"}).warnings if "tilted" in warning]
    assert len(said) == is_said
    if said:
        # Tilted to the east, along which the levels reach 30 m; corner to corner it would be 39 m.
        across = float(said[0].split("by ")[1].split("\u00a0cm from end to end")[0])
        assert across == pytest.approx(abs(tilt) * 3000.0, abs=1.0)


def with_ditch(x: float, y: float) -> float:
    """Return a lawn with a ditch .5 m deep, .4 m wide at its bottom and 1.9 m at the top, that falls to the east."""
    across = abs(y - 10.3 - 0.1 * x) / np.hypot(1.0, 0.1)
    cut = max(0.5 - max(across - 0.2, 0.0) / 1.5, 0.0)
    return float(100.0 + 0.005 * x - cut - 0.007 * x * (across < 0.2))


@pytest.mark.parametrize("is_drawn", [True, False])
@pytest.mark.parametrize("has_banks", [True, False])
def test_a_levelled_ditch_is_a_line_of_lowest_ground(tmp_path: Path, is_drawn: bool, has_banks: bool) -> None:
    middle = [(float(x), 10.3 + 0.1 * x) for x in range(0, 25, 3)]
    lawn = [(x, y) for x, y in SPOTS if abs(y - 10.3 - 0.1 * x) > 1.2]
    banks = [(x, y + side * 1.1) for x, y in middle for side in (-1.0, 1.0)] if has_banks else []
    spots = [*lawn, *middle, *banks]
    rows = [f"P{n},{x},{y},{with_ditch(x, y):.4f},0.002" for n, (x, y) in enumerate(spots)]
    ditch = [line((0.0, 10.4), (24.0, 12.6), kind="ditch")] if is_drawn else []
    site = read_local(
        local_folder(tmp_path, "\n".join(["point,x,y,height,error", *rows]), *ditch), ground={"cell": "0.5 m"}
    )
    along = np.arange(1.0, 23.0, 0.25)
    bed = np.array([site.elevation[site.grid.cell_at(x, 10.3 + 0.1 * x)] for x in along])
    assert np.abs(bed - [with_ditch(x, 10.3 + 0.1 * x) for x in along]).max() < 0.01
    lawn_there = site.elevation[site.grid.cell_at(12.1, 7.1)]
    assert lawn_there == pytest.approx(with_ditch(12.1, 7.1), abs=0.02)
    assert any("fall evenly, as its bottom does" in said for said in site.assumptions)


def trapezoid(x: FloatArray | float, y: FloatArray | float) -> FloatArray:
    """Return a slope with a ditch .6 m deep, 1 m wide at its bottom and 2.8 m at the top, y counted southwards."""
    across = np.abs(y - 52.3 - 0.1 * (x - 60.0)) / np.hypot(1.0, 0.1)
    return np.asarray(100.0 + 0.01 * x - 0.005 * y - np.maximum(0.6 - np.maximum(across - 0.5, 0.0) / 1.5, 0.0))


def test_a_levelled_ditch_keeps_the_sides_that_the_lidar_shows(tmp_path: Path) -> None:
    """A built trapezoid: the lidar sees its sides, and .2 m of water on its bottom. The levels are 7.5 m lower."""
    y, x = np.mgrid[0.25:100.0:0.5, 0.25:120.0:0.5]
    water = 100.0 + 0.01 * x - 0.005 * y - 0.4
    seen = np.maximum(trapezoid(x, y), water) + 7.5 + np.random.default_rng(9).normal(0.0, 0.03, x.shape)
    folder = lidar_folder(tmp_path, 0.0, "")
    write_heights(folder / "elevation.tif", seen, transform=(0.5, 0.0, WEST, 0.0, -0.5, NORTH))
    bed = [(a, 52.3 + 0.1 * (a - 60.0)) for a in np.arange(40.0, 81.0, 3.0)]
    lawn = [(a, b) for a in np.arange(40.0, 81.0, 5.0) for b in np.arange(35.0, 71.0, 5.0)]
    spots = np.array([*bed, *((a, b) for a, b in lawn if trapezoid(a, b) > 100.0 + 0.01 * a - 0.005 * b - 1e-9)])
    rows = [
        f"P{n},{WEST + a},{NORTH - b},{height:.4f}"
        for n, (a, b, height) in enumerate(np.c_[spots, trapezoid(*spots.T)])
    ]
    (folder / "levels.csv").write_text("\n".join(["point,x,y,height", *rows]), encoding="utf-8")
    site = read(folder, ground={"cell": "0.5 m"})
    x, y = np.meshgrid(site.grid.x - WEST, NORTH - site.grid.y)
    off = site.elevation - trapezoid(x, y)
    across = np.abs(y - 52.3 - 0.1 * (x - 60.0)) / np.hypot(1.0, 0.1)
    inner = (x > 42.0) & (x < 78.0) & (y > 37.0) & (y < 68.0)
    assert np.abs(off[inner & (across < 0.2)]).max() < 0.02
    # Without the lidar's sides the bed's edge was .48 m and the side .18 m too high in the mean.
    for low, high in ((0.3, 0.8), (0.8, 1.5), (1.5, 5.0)):
        assert abs(off[inner & (across >= low) & (across < high)].mean()) < 0.1
    assert any("Its sides are those that elevation.tif shows" in said for said in site.assumptions)


@pytest.mark.parametrize("flat", [0.0, 0.5])
def test_cells_beside_the_bottom_have_the_section_at_their_distance(flat: float) -> None:
    """By hand: sides of 1 in 2 from a V or from a bottom of 1 m; cells of half a metre, the line between two rows."""
    grid = Grid(0.0, 10.0, 0.5, 20, 40, "here")
    section = 100.0 - np.maximum(0.75 - 0.5 * np.maximum(np.abs(grid.y - 5.0) - flat, 0.0), 0.0)
    others = np.repeat(section[:, None], 40, axis=1)
    bottom = LineString([(0.0, 5.0, 99.25), (20.0, 5.0, 99.25)])
    found = dug(np.full(grid.shape, 100.0), bottom, others, 0.0, grid, 5.0)
    off = (found - others)[:, 2:-2]
    # Before, both middle rows were as low as the bottom: 12.5 cm too low in a V.
    assert np.abs(off[9:11]).max() < 0.03


def test_no_ditch_is_found_on_a_slope_a_hill_or_rough_ground(tmp_path: Path) -> None:
    rng = np.random.default_rng(8)
    shapes: list[Callable[[float, float], float]] = [
        lambda x, y: 100.0 + 0.15 * x - 0.1 * y,
        lambda x, y: 101.0 - 0.004 * ((x - 12.0) ** 2 + (y - 10.0) ** 2),
        lambda x, y: 100.0 + 0.0 * (x + y) + float(rng.normal(0.0, 0.05)),
    ]
    for number, shape in enumerate(shapes):
        folder = tmp_path / str(number)
        folder.mkdir()
        site = read_local(local_folder(folder, finished(shape)))
        assert not [said for said in site.assumptions if "as its bottom does" in said]


def test_a_survey_makes_the_cells_finer_and_says_what_that_means(tmp_path: Path) -> None:
    rows = ["point,x,y,height"]
    for number, (x, y) in enumerate((a, b) for a in range(45, 76, 2) for b in range(40, 66, 2)):
        rows.append(f"P{number},{WEST + x},{NORTH - y},{100.0 + 0.01 * x + 0.02 * (100 - y):.4f}")
    site = read(lidar_folder(tmp_path, 0.0, "\n".join(rows)))
    assert site.grid.cell == 0.5
    assert any("not known more finely" in said for said in site.assumptions)


def test_a_survey_that_lies_elsewhere_is_refused(tmp_path: Path) -> None:
    make_folder(tmp_path)
    (tmp_path / "levels.csv").write_text(finished(), encoding="utf-8")
    with pytest.raises(InputError, match=r"lies .* km from the parcel"):
        read(tmp_path)


def test_a_plane_of_its_own_may_be_drawn_and_levelled_in_feet(tmp_path: Path) -> None:
    """The same yard, every number divided by 0.3048."""
    foot = 0.3048
    corners = [(x / foot, y / foot) for x, y in [(2, 2), (22, 2), (22, 18), (2, 18), (2, 2)]]
    write_drawing(tmp_path / "parcel.geojson", polygon(corners, kind="parcel"), crs=None)
    rows = [f"P{n},{x / foot:.5f},{y / foot:.5f},{ground(x, y) / foot:.5f}" for n, (x, y) in enumerate(SPOTS)]
    (tmp_path / "levels.csv").write_text("\n".join(["point,x,y,height", *rows]), encoding="utf-8")
    site = read_local(tmp_path, units="imperial", survey={"unit": "ft"})
    assert is_plane(site)
    assert site.parcel.area == pytest.approx(320.0)
    assert any("drawn in feet on a plane of its own" in said for said in site.assumptions)


def test_what_the_page_drew_in_metres_stays_so_beside_levels_in_feet(tmp_path: Path) -> None:
    foot = 0.3048
    write_drawing(tmp_path / "parcel.geojson", LOCAL_PARCEL, *POSTS, crs=LOCAL_PLANE)
    rows = [f"P{n},{x / foot:.5f},{y / foot:.5f},{ground(x, y) / foot:.5f}" for n, (x, y) in enumerate(SPOTS)]
    (tmp_path / "levels.csv").write_text("\n".join(["point,x,y,height", *rows]), encoding="utf-8")
    site = read_local(tmp_path, units="imperial", survey={"unit": "ft"})
    assert is_plane(site)
    assert site.parcel.area == pytest.approx(320.0)
    with pytest.raises(SettingsError, match="tied to no place on earth"):
        read(tmp_path, elevation=None, units="imperial", survey={"unit": "ft"})
    make_folder(tmp_path)
    write_drawing(tmp_path / "parcel.geojson", LOCAL_PARCEL, crs=LOCAL_PLANE)
    with pytest.raises(InputError, match=r"parcel\.geojson is drawn on a plane of its own, and elevation\.tif lies on"):
        read(tmp_path)


def test_a_yard_drawn_in_degrees_needs_no_more_than_its_levels(tmp_path: Path) -> None:
    to_earth = Transformer.from_crs(UTM, 4326, always_xy=True)

    def earth(x: float, y: float) -> tuple[float, float]:
        return tuple(to_earth.transform(WEST + x, NORTH + y))

    outline = polygon([earth(x, y) for x, y in [(2, 2), (22, 2), (22, 18), (2, 18), (2, 2)]], kind="parcel")
    posts = [
        point(*earth(0, 0), kind="fixed point", name="Gate post"),
        point(*earth(24, 0), kind="fixed point", name="House corner"),
    ]
    write_drawing(tmp_path / "parcel.geojson", outline, *posts, crs=None)
    rows = ["point,from 1,tape 1,from 2,tape 2,side,height"]
    for number, (x, y) in enumerate(spot for spot in SPOTS if spot[1] >= 8.0):
        first, second = np.hypot(x, y), np.hypot(x - 24.0, y)
        rows.append(f"P{number},Gate post,{first:.4f},House corner,{second:.4f},left,{ground(x, y):.4f}")
    (tmp_path / "levels.csv").write_text("\n".join(rows), encoding="utf-8")
    site = read(tmp_path, elevation=None)
    assert CRS.from_wkt(site.grid.crs).to_epsg() == 32618
    row, column = site.grid.cell_at(WEST + 12.0, NORTH + 12.0)
    assert site.elevation[row, column] == pytest.approx(ground(12.0, 12.0), abs=0.02)


def test_a_level_far_from_all_others_is_named(tmp_path: Path) -> None:
    # Found by the fuzzer: a level that no triangle keeps lay beyond the plate.
    spots = [(WEST + x, NORTH - y) for x in range(12, 40, 3) for y in range(12, 30, 3)] + [(WEST + 75.0, NORTH - 55.0)]
    make_folder(tmp_path)
    rows = "\n".join(f"P{number},{x},{y},100.0 m" for number, (x, y) in enumerate(spots))
    (tmp_path / "levels.csv").write_text(f"point,x,y,height\n{rows}\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"'P60' stands alone, 4.* m from the ground between"):
        read(tmp_path)
