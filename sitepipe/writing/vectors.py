"""The plan as vector layers in one GeoPackage."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import quote

import numpy as np
import numpy.typing as npt
import pyogrio.raw
import shapely
from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, GeometryError

from sitepipe.analysis import Analysis
from sitepipe.errors import WritingError
from sitepipe.writing.tables import Table, tables

_FAULTS = (DataLayerError, DataSourceError, FeatureError, GeometryError)


def write_plan(analysis: Analysis, path: Path) -> None:
    """Write every table of the plan as a layer, in the site's own coordinates, and read the counts back.

    Raises
    ------
    WritingError
        If the file does not hold what was written into it.
    """
    written = tables(analysis)
    try:
        path.write_bytes(_empty(tuple(replace(table, rows=()) for table in written), analysis.site.grid.crs))
        for table in written:
            if table.rows:
                _write(table, path, analysis.site.grid.crs)
        _check(written, path)
    except (*_FAULTS, sqlite3.Error) as error:
        raise WritingError(f"{path.name} could not be written ({error}). Is the disk full?") from error


_empties: dict[str, bytes] = {}


def _empty(written: Sequence[Table], crs: str) -> bytes:
    """Return a file that has every layer and no row, made once in a process for each system and set of layers."""
    key = repr((crs, written))
    if key not in _empties:
        with TemporaryDirectory() as folder:
            path = Path(folder) / "plan.gpkg"
            for table in written:
                _write(table, path, crs)
            _empties[key] = path.read_bytes()
    return _empties[key]


def _write(table: Table, path: Path, crs: str) -> None:
    shapes = np.array([geometry for geometry, _ in table.rows], dtype=object)
    columns = [
        _column([values[index] for _, values in table.rows], kind) for index, kind in enumerate(table.columns.values())
    ]
    pyogrio.raw.write(
        str(path),
        shapely.to_wkb(shapes),
        [values for values, _ in columns],
        list(table.columns),
        field_mask=[mask for _, mask in columns],
        layer=table.name,
        driver="GPKG",
        geometry_type=table.shape,
        crs=crs,
        append=path.exists(),
        # For tables of some hundred rows an index is most of the file, and most of the time to write it.
        layer_options={"SPATIAL_INDEX": "NO"},
    )


def _column(values: list[Any], kind: type) -> tuple[npt.NDArray[Any], npt.NDArray[np.bool_]]:
    """Return a column and which of its values are missing."""
    missing = np.array([value is None for value in values], dtype=bool)
    empty = kind()
    kinds: dict[type, npt.DTypeLike] = {int: np.int32, float: np.float64, bool: np.bool_, str: object}
    return np.array([empty if value is None else kind(value) for value in values], dtype=kinds[kind]), missing


def _check(written: Sequence[Table], path: Path) -> None:
    """Read the whole file back: a disk that fills leaves one that opens and lacks rows."""
    with closing(sqlite3.connect(f"file:{quote(str(path))}?mode=ro", uri=True)) as database:
        for table in written:
            held = len(database.execute(f'SELECT * FROM "{table.name}"').fetchall())  # noqa: S608 (our own names)
            if held != len(table.rows):
                raise WritingError(
                    f"{path.name}: {table.name} holds {held} shapes, not {len(table.rows)}. Is the disk full?"
                )
