"""The environment in which the file libraries must be imported: no network, no sidecars, no files that name files.

Import this module before rasterio, pyogrio or geopandas anywhere in the program; it imports nothing heavy itself.
"""

from __future__ import annotations

import os
from importlib.util import find_spec
from pathlib import Path

FORBIDDEN_DRIVERS = (
    "VRT,OGR_VRT,GTI,DERIVED,HTTP,WMS,WCS,WMTS,STACIT,STACTA,PLMOSAIC,EEDA,EEDAI,DAAS,OGCAPI,WFS,OAPIF,CSW,"
    "Elasticsearch,NGW,AmigoCloud,Carto,PLSCENES,ADBC,GDALG,PDF,Rasterlite,KMLSUPEROVERLAY"
)
"""Drivers that open other files, the network, or run code from inside a data file."""

ENVIRONMENT = {
    "GDAL_SKIP": FORBIDDEN_DRIVERS,
    # A stray .aux.xml beside a raster silently changes its cell size and its unknown value.
    "GDAL_PAM_ENABLED": "NO",
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_VRT_ENABLE_PYTHON": "NO",
    # Refuses every /vsicurl/ name before a connection is made.
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "none",
    "GDAL_CACHEMAX": "128",
    "GDAL_NUM_THREADS": "1",
    "PROJ_NETWORK": "OFF",
    # One of the two libraries lacks a driver that the other must skip, and would say so to the user.
    "CPL_LOG": os.devnull,
    # GeoPackage stamps the time of writing into its bytes unless it is told one.
    "OGR_CURRENT_DATE": "2000-01-01T00:00:00.000Z",
    # It would wait for the disk after each table. The whole folder is flushed once, before it takes its place.
    "OGR_SQLITE_SYNCHRONOUS": "OFF",
}

os.environ.update(ENVIRONMENT)


def _brings_its_tables(library: str, folder: str) -> bool:
    found = find_spec(library)
    return found is not None and found.origin is not None and (Path(found.origin).parent / folder).is_dir()


# Another program's tables of coordinate systems, named by a variable it left behind, make files lose theirs without a
# word. Where every library brings its own, as the wheels do, nobody needs the variable.
if all(
    _brings_its_tables(*where)
    for where in (("rasterio", "proj_data"), ("pyogrio", "proj_data"), ("pyproj", "proj_dir"))
):
    for variable in ("PROJ_DATA", "PROJ_LIB", "GDAL_DATA"):
        os.environ.pop(variable, None)
