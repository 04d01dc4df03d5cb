"""Every file that a run leaves."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from sitepipe.analysis import Analysis
from sitepipe.answers.summary import summarise
from sitepipe.errors import WritingError
from sitepipe.mapping.page import draw_map
from sitepipe.settings import Output
from sitepipe.writing.folder import RUN_FILE
from sitepipe.writing.provenance import provenance
from sitepipe.writing.rasters import write_layers
from sitepipe.writing.sheets.plan import draw_plan
from sitepipe.writing.spreadsheets import quantities_csv, stakes_csv
from sitepipe.writing.vectors import write_plan

MAP_FILE = "map.html"
SUMMARY_FILE = "summary.json"
PLAN_FILE = "plan.gpkg"
SHEETS_FILE = "plan.pdf"


def write_results(
    analysis: Analysis, inputs: Mapping[str, Path], written: Path, tell: Callable[[str], None]
) -> WritingError | None:
    """Write every result into an empty folder and read each back.

    Parameters
    ----------
    analysis : Analysis
    inputs : mapping
        Every file that was read, by the setting that names it.
    written : Path
        The empty folder that :func:`sitepipe.writing.folder.claimed` gave.
    tell : callable
        Called with the name of what is being written.

    Returns
    -------
    WritingError or None
        Why there is no page, where the ground is too large for one: that costs none of the other results.

    Raises
    ------
    WritingError
        If a file does not read back as it was written.
    """
    wanted = analysis.settings.write
    missing = None
    # Layers are packed by a library that needs no interpreter for it.
    with ThreadPoolExecutor(1) as aside:
        layers = aside.submit(write_layers, analysis, written / "layers") if Output.LAYERS in wanted else None
        if Output.PAGE in wanted:
            tell("Drawing the map")
            missing = _write_page(analysis, written / MAP_FILE)
        tell("Writing the results")
        if layers is not None:
            layers.result()
    if Output.PLAN in wanted:
        write_plan(analysis, written / PLAN_FILE)
    if Output.SHEETS in wanted:
        write_bytes(written / SHEETS_FILE, draw_plan(analysis))
    if Output.TABLES in wanted:
        (written / "tables").mkdir()
        write_bytes(written / "tables" / "stakes.csv", stakes_csv(analysis))
        write_bytes(written / "tables" / "quantities.csv", quantities_csv(analysis))
    if analysis.settings.exports.location:
        _write_located(analysis, written)
    write_bytes(written / SUMMARY_FILE, as_json(summarise(analysis)))
    write_bytes(written / RUN_FILE, as_json(provenance(analysis, inputs, written)))
    return missing


def _write_page(analysis: Analysis, path: Path) -> WritingError | None:
    try:
        page = draw_map(analysis)
    except WritingError as refused:
        return refused
    write_bytes(path, page.encode("utf-8"))
    return None


def _write_located(analysis: Analysis, written: Path) -> None:
    """Write what tells where the ground lies; the grower asked for it."""
    from sitepipe.writing import located

    move = located.to_earth(analysis)
    (written / "located").mkdir()
    write_bytes(written / "located" / "plan.geojson", located.plan_geojson(analysis, move))
    write_bytes(written / "located" / "plan.kml", located.plan_kml(analysis, move))
    write_bytes(written / "located" / "stakes.gpx", located.stakes_gpx(analysis, move))


def as_json(content: dict[str, Any]) -> bytes:
    """Return readable JSON in UTF-8; text that no encoding can hold is replaced, unknown numbers become null."""
    text = json.dumps(_without_gaps(content), indent=2, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode("utf-8", errors="replace")


def _without_gaps(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_gaps(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_without_gaps(inner) for inner in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file and read it back."""
    path.write_bytes(content)
    if path.read_bytes() != content:
        raise WritingError(f"{path.name} does not read back as it was written. Is the disk full?")
