"""A whole-county file: read by window, in memory that is measured."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np

from tests.reading.folders import NORTH, UTM, WEST, polygon, ring, slope, write_drawing

SIDE = 30_000
MOST_MEBIBYTES = 260
"""Python with numpy, shapely, pyproj and rasterio takes some 110; GDAL's cache at most 128."""

PROGRAM = """
import sys
from pathlib import Path
from sitepipe.reading.site import read_site
from sitepipe.reading.source import open_folder
from sitepipe.settings import Settings
settings = Settings(elevation=Path("elevation.tif"), parcel=Path("parcel.geojson"))
site = read_site(open_folder(Path(sys.argv[1]), settings))
print(site.grid.rows, site.grid.columns, round(float(site.elevation[50, 50]), 6))
# The kernel's own high-water mark; getrusage would carry over what the test program used before it started this one.
status = Path("/proc/self/status").read_text()
print(int(status.split("VmHWM:")[1].split()[0]) // 1024)
"""


def test_900_million_cells_are_read_by_window_in_bounded_memory(tmp_path: Path) -> None:
    import rasterio
    from rasterio.windows import Window

    with rasterio.open(
        tmp_path / "elevation.tif", "w", driver="GTiff", width=SIDE, height=SIDE, count=1, dtype="float32", crs=UTM,
        transform=rasterio.Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH), tiled=True, blockxsize=256, blockysize=256,
        sparse_ok=True, bigtiff=True, compress="deflate",
    ) as county:  # fmt: skip
        county.write(slope(1000, 1000).astype(np.float32), 1, window=Window(20_000, 15_000, 1000, 1000))
    x, y = WEST + 20_500.0, NORTH - 15_500.0
    write_drawing(tmp_path / "parcel.geojson", polygon(ring(x - 40, y - 30, x + 40, y + 30), kind="parcel"))
    done = subprocess.run([sys.executable, "-c", PROGRAM, str(tmp_path)], capture_output=True, text=True, check=True)
    cells, memory = done.stdout.splitlines()
    rows, columns, height = cells.split()
    assert (int(rows), int(columns)) == (120, 140)
    row, column = 15_500 - 60 + 50 - 15_000, 20_500 - 70 + 50 - 20_000
    assert abs(float(height) - (100.0 + 0.01 * column + 0.02 * (999 - row))) < 1e-4
    assert int(memory) < MOST_MEBIBYTES, f"{memory} MiB"
