"""What a run rests on: inputs with hashes, settings in force, versions, every assumption."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Mapping
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from sitepipe import __version__
from sitepipe.analysis import Analysis
from sitepipe.answers import water
from sitepipe.answers.report import taken_for_granted
from sitepipe.site import Ground
from sitepipe.writing.folder import MADE_BY, RUN_FILE, files_in

_LIBRARIES = (
    "numpy",
    "numba",
    "scipy",
    "shapely",
    "pyproj",
    "rasterio",
    "pyogrio",
    "laspy",
    "folium",
    "contourpy",
    "reportlab",
)


Stamp = tuple[str, int, int]
"""Place, size in bytes and time of change in nanoseconds."""
DIGESTS: dict[Stamp, str] = {}
"""Of the files that this process has read; many parcels share their heights."""


def provenance(analysis: Analysis, inputs: Mapping[str, Path], written: Path) -> dict[str, Any]:
    """Return what ``run.json`` holds: nothing of the machine, of the time but the day, or of where the folder lies.

    Parameters
    ----------
    analysis : Analysis
    inputs : mapping
        Every file that was read, by the setting that names it.
    written : Path
        The folder of results, all of them written but this one.
    """
    site, settings = analysis.site, analysis.settings
    return {
        "made_by": MADE_BY,
        "version": __version__,
        "made_on": analysis.made_on.isoformat() if analysis.made_on else None,
        "files": sorted([*files_in(written), RUN_FILE]),
        "inputs": {key: _fingerprint(path) for key, path in inputs.items() if _was_read(key, path, site.ground)},
        "settings": settings.model_dump(mode="json"),
        "grid": {
            "cell_m": site.grid.cell,
            "rows": site.grid.rows,
            "columns": site.grid.columns,
            "west_m": site.grid.west,
            "north_m": site.grid.north,
            "crs": site.grid.crs,
        },
        "heights": {
            "source": site.ground.source,
            "source_cell_m": site.ground.source_cell,
            "error_m": site.ground.vertical_error,
            "error_correlation_m": site.ground.error_correlation,
            "error_source": site.ground.error_source,
        },
        "versions": versions(),
        "assumptions": list(taken_for_granted(analysis)),
        "warnings": list(water.warnings(site)),
    }


def _was_read(key: str, path: Path, ground: Ground) -> bool:
    """Tell whether a file was read: of tiles of heights only those that the window meets are."""
    return not key.startswith("elevation.") or path.name in ground.tiles


def _fingerprint(path: Path) -> dict[str, str | int]:
    return {"file": path.name, "bytes": path.stat().st_size, "sha256": digest_of(path)}


def stamp_of(path: Path) -> Stamp:
    """Return what changes when a file does."""
    found = path.stat()
    return str(path.resolve()), found.st_size, found.st_mtime_ns


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file; one that stays as it is is read once in a process."""
    stamp = stamp_of(path)
    if stamp not in DIGESTS:
        with path.open("rb") as file:
            DIGESTS[stamp] = hashlib.file_digest(file, "sha256").hexdigest()
    return DIGESTS[stamp]


@cache
def versions() -> dict[str, str]:
    """Return the versions of all that the numbers rest on."""
    import pyogrio
    import rasterio

    found = {"python": platform.python_version()}
    for library in _LIBRARIES:
        try:
            found[library] = version(library)
        except PackageNotFoundError:
            found[library] = "not installed"
    found["gdal (rasterio)"] = str(rasterio.__gdal_version__)
    found["gdal (pyogrio)"] = str(pyogrio.__gdal_version_string__)
    return found
