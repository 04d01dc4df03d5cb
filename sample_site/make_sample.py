"""Make the sample site: Sallow Corner, an invented half hectare with a wet hollow behind a road bank.

Nobody lives there. Run ``python sample_site/make_sample.py`` to write ``elevation.tif`` and ``drawn.geojson`` again;
the same bytes come out each time.
"""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from pyproj import Transformer
from rasterio.transform import Affine
from scipy.ndimage import gaussian_filter

HERE = Path(__file__).parent
CRS = "EPSG:32618"
ORIGIN = (512_300.0, 4_737_200.0)
"""The parcel's south-west corner. [m]"""
CELL = 0.5
WEST, SOUTH, EAST, NORTH = -16.0, -24.0, 100.0, 136.0
"""Extent of the heights, from the parcel's south-west corner. [m]"""

Heights = npt.NDArray[np.float64]
Place = tuple[float, float]

SWALE_FROM_WEST = [(-20.0, 48.5), (0.0, 43.5), (20.0, 36.0), (33.0, 25.5), (43.0, 19.0), (54.0, 6.0), (54.7, -2.0)]
SWALE_FROM_NORTH = [(47.0, 60.0), (45.5, 46.0), (44.0, 34.0), (35.0, 26.5)]
SWALE_IN_THE_EAST = [(57.0, 60.0), (59.0, 44.0), (61.8, 32.3), (65.0, 22.0), (66.5, 9.0), (72.0, 3.0), (102.0, -2.0)]
DITCH_BELOW_THE_ROAD = [(54.7, -12.0), (56.0, -18.0), (58.0, -26.0)]
TOE_OF_THE_BANK = [(16.0, 4.5), (30.0, 1.0), (44.0, -0.2), (53.0, 0.5)]


def far_from(line: list[Place], x: Heights, y: Heights) -> Heights:
    """Distance of each place from a line of straight pieces. [m]."""
    nearest = np.full(x.shape, np.inf)
    for (x0, y0), (x1, y1) in itertools.pairwise(line):
        along = ((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / ((x1 - x0) ** 2 + (y1 - y0) ** 2)
        along = np.clip(along, 0.0, 1.0)
        nearest = np.minimum(nearest, np.hypot(x - x0 - along * (x1 - x0), y - y0 - along * (y1 - y0)))
    return nearest


def hollow(x: Heights, y: Heights, middle: Place, radii: Place, turn: float, depth: float) -> Heights:
    """Depth of a round-bottomed hollow. [m]."""
    angle = np.radians(turn)
    along = (x - middle[0]) * np.cos(angle) + (y - middle[1]) * np.sin(angle)
    across = (y - middle[1]) * np.cos(angle) - (x - middle[0]) * np.sin(angle)
    return np.asarray(depth * np.exp(-((along / radii[0]) ** 2) - (across / radii[1]) ** 2))


def step(values: Heights) -> Heights:
    """Rise smoothly from 0 to 1."""
    inside = np.clip(values, 0.0, 1.0)
    return np.asarray(inside * inside * (3.0 - 2.0 * inside))


def heights() -> Heights:
    """Ground heights of the whole window, rows north to south. [m]."""
    columns, rows = int((EAST - WEST) / CELL), int((NORTH - SOUTH) / CELL)
    x, y = np.meshgrid(WEST + (np.arange(columns) + 0.5) * CELL, NORTH - (np.arange(rows) + 0.5) * CELL)
    ground = 30.0 + 0.0135 * y - 0.0042 * x + 0.05 * np.sin(x / 17.0) + 0.04 * np.sin(y / 13.0 + x / 31.0)
    ground += 0.035 * np.maximum(y - 62.0, 0.0) - 0.075 * np.maximum(y - 122.0, 0.0)
    ground += 0.30 * np.exp(-(((x - 14.0) / 13.0) ** 2) - ((y - 57.0) / 11.0) ** 2)
    ground -= 0.26 * np.exp(-((far_from(SWALE_FROM_WEST, x, y) / 3.6) ** 2))
    ground -= 0.12 * np.exp(-((far_from(SWALE_FROM_NORTH, x, y) / 3.0) ** 2))
    ground -= 0.20 * np.exp(-((far_from(SWALE_IN_THE_EAST, x, y) / 2.6) ** 2))
    ground -= 0.10 * np.exp(-((far_from(TOE_OF_THE_BANK, x, y) / 2.0) ** 2))
    ground -= hollow(x, y, (53.5, 7.0), (6.2, 5.0), 130.0, 0.45)
    ground -= hollow(x, y, (33.0, 26.0), (4.6, 2.6), 160.0, 0.15)
    ground -= hollow(x, y, (61.8, 32.3), (2.2, 2.8), 0.0, 0.13)
    noise = np.random.default_rng(1907)
    ground += 0.022 * scaled(gaussian_filter(noise.standard_normal(ground.shape), 5.0))
    ground += 0.004 * scaled(gaussian_filter(noise.standard_normal(ground.shape), 1.2))
    road = 30.02 + 0.50 * step((x - 16.0) / 24.0) - 0.004 * np.maximum(x - 60.0, 0.0)
    bank = road - np.maximum(np.abs(y + 7.6) - 3.0, 0.0) / 2.2
    ground = np.maximum(ground, bank)
    ground -= 0.34 * np.exp(-((far_from(DITCH_BELOW_THE_ROAD, x, y) / 1.1) ** 2))
    return np.asarray(np.round(ground, 3))


def scaled(values: Heights) -> Heights:
    """Bring values to a standard deviation of 1."""
    return np.asarray(values / values.std())


def box(west: float, south: float, east: float, north: float, turn: float = 0.0) -> list[Place]:
    """Corners of a turned rectangle, closed."""
    middle = ((west + east) / 2.0, (south + north) / 2.0)
    angle = np.radians(turn)
    corners = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    return [
        (
            middle[0] + (px - middle[0]) * np.cos(angle) - (py - middle[1]) * np.sin(angle),
            middle[1] + (px - middle[0]) * np.sin(angle) + (py - middle[1]) * np.cos(angle),
        )
        for px, py in corners
    ]


POLYGONS: list[tuple[list[Place], dict[str, object]]] = [
    ([(0, 0), (70, 0.7), (69.4, 66), (1, 70), (0, 0)], {"kind": "parcel", "name": "Sallow Corner"}),
    (
        [(8.6, 52.6), (15.6, 51.8), (15.0, 47.4), (20.9, 46.8), (22.3, 59.7), (9.4, 61.1), (8.6, 52.6)],
        {"kind": "building", "name": "House", "height": "22 ft"},
    ),
    (box(28.6, 60.0, 33.4, 63.4, 8.0), {"kind": "building", "name": "Shed", "height": "9 ft"}),
    (box(27.0, 38.4, 37.4, 46.8, -5.0), {"kind": "septic", "name": "Septic"}),
    ([(-16, -4.6), (100, -4.6), (100, -10.6), (-16, -10.6), (-16, -4.6)], {"kind": "road", "name": "Road"}),
    (box(25.6, 50.6, 37.0, 57.4, 6.0), {"kind": "keep clear", "name": "Drying green"}),
]
LINES: list[tuple[list[Place], dict[str, object]]] = [
    (
        [(1.6, 4.5), (1.9, 40.6)],
        {"kind": "hedge", "name": "Hedge", "height": "6 ft", "width": "5 ft", "evergreen": True},
    ),
    (
        [(2.0, 46.4), (2.2, 65.0)],
        {"kind": "hedge", "name": "Upper hedge", "height": "6 ft", "width": "5 ft", "evergreen": True},
    ),
    ([(54.7, -0.6), (54.9, -13.2)], {"kind": "culvert", "name": "Culvert", "width": "12 in"}),
    ([(9.2, 0.1), (12.8, 0.1)], {"kind": "gate", "name": "Gate"}),
    ([(11.0, -4.6), (11.0, 20.0), (11.8, 38.0), (13.2, 47.0)], {"kind": "road", "name": "Drive", "width": "9 ft"}),
    (
        [(23.2, 50.0), (23.0, 40.0), (21.4, 33.0), (15.8, 23.5)],
        {"kind": "buried line", "name": "Old water pipe", "note": "drawn from memory"},
    ),
]
POINTS: list[tuple[Place, dict[str, object]]] = [
    ((23.2, 50.0), {"kind": "tap", "name": "Tap"}),
    ((64.5, 61.0), {"kind": "well", "name": "Well"}),
    ((45.2, 63.0), {"kind": "tree", "name": "Plum", "height": "18 ft", "width": "28 ft"}),
    ((58.4, 53.6), {"kind": "tree", "name": "Maple", "height": "42 ft", "width": "41 ft", "trunk_height": "8 ft"}),
    ((65.2, 40.2), {"kind": "tree", "name": "Alders", "height": "24 ft", "width": "23 ft"}),
    ((66.4, 33.2), {"kind": "tree", "name": "Alder 2", "height": "22 ft", "width": "18 ft"}),
    ((66.8, 25.0), {"kind": "tree", "name": "Alder 3", "height": "20 ft", "width": "18 ft"}),
    ((66.6, 14.6), {"kind": "tree", "name": "Alder 4", "height": "22 ft", "width": "20 ft"}),
    ((6.2, 22.0), {"kind": "tree", "name": "Apples", "height": "14 ft", "width": "18 ft"}),
    ((5.8, 14.2), {"kind": "tree", "name": "Apple 2", "height": "13 ft", "width": "16 ft"}),
    ((37.8, -2.6), {"kind": "tree", "name": "Roadside thorn", "height": "15 ft", "width": "17 ft"}),
    ((9.2, 0.1), {"kind": "fixed point", "name": "West gate post", "bench_mark": True}),
    ((12.8, 0.1), {"kind": "fixed point", "name": "East gate post"}),
    ((15.0, 47.4), {"kind": "fixed point", "name": "House, south-west corner"}),
    ((69.4, 66.0), {"kind": "fixed point", "name": "North-east corner pin"}),
    (
        (53.5, 7.0),
        {"kind": "observation", "name": "Pool by the culvert", "seen": "wet", "hours": 72, "date": "2025-04-02"},
    ),
    ((32.4, 25.8), {"kind": "observation", "name": "Squelch", "seen": "wet", "hours": 48, "date": "2025-04-02"}),
    ((50.5, 11.5), {"kind": "observation", "name": "Soft rushes", "seen": "rushes", "date": "2025-06-14"}),
    ((40.0, 10.0), {"kind": "observation", "name": "Firm", "seen": "dry", "hours": 24, "date": "2025-04-02"}),
    (
        (26.0, 33.5),
        {"kind": "observation", "name": "Firm by the septic", "seen": "dry", "hours": 24, "date": "2025-04-02"},
    ),
    ((30.0, 12.0), {"kind": "observation", "name": "Hole A", "seen": "hole"}),
    ((40.5, 25.0), {"kind": "observation", "name": "Hole B", "seen": "hole"}),
    ((25.0, 58.5), {"kind": "observation", "name": "Hole C", "seen": "hole"}),
    ((46.0, 30.0), {"kind": "observation", "name": "Hole D", "seen": "hole"}),
]


def write_elevation(path: Path) -> None:
    """Write the heights as a compressed raster in metres."""
    ground = heights().astype(np.float32)
    transform = Affine(CELL, 0.0, ORIGIN[0] + WEST, 0.0, -CELL, ORIGIN[1] + NORTH)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=ground.shape[1],
        height=ground.shape[0],
        count=1,
        dtype="float32",
        crs=CRS,
        transform=transform,
        compress="deflate",
        predictor=3,
        tiled=True,
        blockxsize=256,
        blockysize=256,
        nodata=float("nan"),
    ) as raster:
        raster.write(ground, 1)
        raster.units = ("metre",)


def write_drawn(path: Path) -> None:
    """Write the hand-drawn layer as GeoJSON, longitude and latitude."""
    degrees = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)

    def turned(place: Place) -> list[float]:
        longitude, latitude = degrees.transform(ORIGIN[0] + place[0], ORIGIN[1] + place[1])
        return [round(longitude, 8), round(latitude, 8)]

    features = [
        *(("Polygon", [[turned(corner) for corner in ring]], properties) for ring, properties in POLYGONS),
        *(("LineString", [turned(corner) for corner in line], properties) for line, properties in LINES),
        *(("Point", turned(place), properties) for place, properties in POINTS),
    ]
    lines = [
        json.dumps({"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": places}})
        for kind, places, properties in features
    ]
    text = '{"type": "FeatureCollection", "features": [\n' + ",\n".join(lines) + "\n]}\n"
    path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    write_elevation(HERE / "elevation.tif")
    write_drawn(HERE / "drawn.geojson")
