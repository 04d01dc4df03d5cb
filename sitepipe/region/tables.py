"""The answers over all parcels: a table in three formats, and the page."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import shapely

from sitepipe.answers.region import ParcelAnswer
from sitepipe.errors import WritingError
from sitepipe.fields import columns_of, row_of
from sitepipe.region.folder import Region
from sitepipe.region.page import draw_page
from sitepipe.region.parcel import Parcel
from sitepipe.writing.spreadsheets import harmless

INDEX_FILE = "index.html"


def write_tables(region: Region, parcels: Sequence[Parcel], answers: Sequence[ParcelAnswer], out: Path) -> None:
    """Write ``parcels.csv``, ``parcels.gpkg``, ``parcels.parquet`` and ``index.html``, each whole or not at all.

    Raises
    ------
    WritingError
        If one cannot be written.
    """
    columns, rows = columns_of(ParcelAnswer, {}), [row_of(answer, {}) for answer in answers]
    try:
        _swapped_in(out / "parcels.csv", _csv(tuple(columns), rows))
        _write_frames(region, parcels, columns, rows, out)
        _swapped_in(out / INDEX_FILE, draw_page(region, parcels, answers).encode("utf-8"))
    except OSError as error:
        raise WritingError(
            f"{out} could not be written ({error.strerror or error}); the parcels are kept. Free some space, or name "
            "another folder with --out"
        ) from error


def _csv(columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([harmless(value) for value in row] for row in rows)
    return text.getvalue().encode("utf-8-sig", errors="replace")


def _write_frames(
    region: Region, parcels: Sequence[Parcel], columns: dict[str, type], rows: Sequence[Sequence[Any]], out: Path
) -> None:
    import sitepipe.reading.hardening  # noqa: F401, I001 (before any library that reads files)
    import geopandas
    import pandas

    kinds: dict[type, Any] = {float: "Float64", str: "string"}
    series: dict[str, Any] = {
        name: pandas.Series(list(column), dtype=kinds[kind])
        for (name, kind), column in zip(columns.items(), zip(*rows, strict=True), strict=True)
    }
    outlines = [shapely.force_2d(parcel.outline) for parcel in parcels]
    frame = geopandas.GeoDataFrame(series, geometry=outlines, crs=region.heights.system)
    for name, write in (("parcels.gpkg", _write_gpkg), ("parcels.parquet", _write_parquet)):
        fresh = out / f".new-{name}"
        fresh.unlink(missing_ok=True)
        write(frame, fresh)
        fresh.replace(out / name)


def _write_gpkg(frame: Any, path: Path) -> None:
    frame.to_file(path, layer="parcels", driver="GPKG", engine="pyogrio")


def _write_parquet(frame: Any, path: Path) -> None:
    frame.to_parquet(path, index=False)


def _swapped_in(path: Path, content: bytes) -> None:
    fresh = path.with_name(f".new-{path.name}")
    fresh.write_bytes(content)
    fresh.replace(path)
