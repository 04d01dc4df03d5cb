"""The environment of the file libraries, in a fresh process."""

from __future__ import annotations

import os
import subprocess
import sys

from sitepipe.reading.hardening import ENVIRONMENT, FORBIDDEN_DRIVERS

LISTED = """
import sitepipe.reading
import rasterio, pyogrio
with rasterio.Env() as env:
    print(" ".join(sorted(env.drivers())))
print(" ".join(sorted(pyogrio.list_drivers())))
"""


def test_dangerous_drivers_are_gone_from_both_libraries() -> None:
    clean = {name: value for name, value in os.environ.items() if name not in ENVIRONMENT}
    done = subprocess.run([sys.executable, "-c", LISTED], capture_output=True, text=True, check=True, env=clean)
    rasters, vectors = (set(line.split(" ")) for line in done.stdout.splitlines()[:2])
    assert {"GTiff", "AAIGrid"} <= rasters
    assert {"GPKG", "GeoJSON"} <= vectors
    forbidden = set(FORBIDDEN_DRIVERS.split(","))
    assert not forbidden & rasters
    assert not forbidden & vectors


def test_a_raster_that_names_another_file_is_not_opened_even_by_the_library() -> None:
    program = (
        "import sitepipe.reading, rasterio, sys\n"
        'try:\n    rasterio.open(\'<VRTDataset rasterXSize="9" rasterYSize="9"/>\')\n'
        "except rasterio.errors.RasterioIOError:\n    print('refused')\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "refused"


def test_the_network_is_refused_before_a_connection() -> None:
    program = (
        "import sitepipe.reading, socket\n"
        "seen = socket.socket(); seen.bind(('127.0.0.1', 0)); seen.listen(); seen.settimeout(0.5)\n"
        "import rasterio\n"
        "try:\n    rasterio.open(f'/vsicurl/http://127.0.0.1:{seen.getsockname()[1]}/a.tif')\n"
        "except rasterio.errors.RasterioIOError:\n    print('refused')\n"
        "try:\n    seen.accept(); print('connected')\n"
        "except TimeoutError:\n    print('quiet')\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["refused", "quiet"]
