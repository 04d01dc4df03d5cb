"""What the run found and proposes as tables of shapes: the layers of ``plan.gpkg`` and of the exports."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.analysis import Analysis
from sitepipe.answers.hazards import near_stake
from sitepipe.answers.plants import bed_named
from sitepipe.answers.stakes import all_stakes
from sitepipe.answers.summary import ponds_of_parcel, sayers_of
from sitepipe.drainage.record import Crossing, FlowLine, Pond
from sitepipe.fields import Sayers, columns_of, records_of, row_of, shapes_of
from sitepipe.planting.record import BedPlan
from sitepipe.scoring.record import Exclusion, Zone
from sitepipe.site import Site
from sitepipe.wetness.record import SoggyPlace

Value: TypeAlias = str | float | int | bool | None


@dataclass(frozen=True, slots=True)
class Table:
    """One layer of shapes.

    Parameters
    ----------
    name : str
    shape : str
        ``Point``, ``LineString`` or ``MultiPolygon``.
    columns : mapping of str to type
        In the order of the values of each row; units stand in the names.
    rows : tuple of (geometry, values)
        In grid coordinates. [m]
    """

    name: str
    shape: str
    columns: dict[str, type]
    rows: tuple[tuple[BaseGeometry, tuple[Value, ...]], ...]


def tables(analysis: Analysis) -> tuple[Table, ...]:
    """Return every table, the empty ones too, so that the layers of the file are always the same."""
    sayers = sayers_of(analysis)
    records: tuple[tuple[type, Iterable[object]], ...] = (
        (Site, (analysis.site,)),
        (Zone, analysis.zones.zones),
        (SoggyPlace, analysis.wetness.soggy_places),
        (Pond, ponds_of_parcel(analysis)),
        (FlowLine, analysis.drainage.flow_lines),
        (Crossing, analysis.drainage.crossings),
        *records_of(analysis.plan).items(),
        (BedPlan, analysis.planting.beds),
        (Exclusion, analysis.scores.exclusions),
    )
    told = [table for kind, found in records for table in _tables_of(kind, found, sayers)]
    return (*told, stakes(analysis), _plants(analysis), *_drawn(analysis))


def _tables_of(kind: type, records: Iterable[object], sayers: Sayers) -> Iterator[Table]:
    """Yield a table for each geometry that the records declare; a record that lacks it has no row."""
    found = tuple(records)
    for name, field in shapes_of(kind):
        shaped = ((getattr(record, field.name), row_of(record, sayers)) for record in found)
        shape = {"Point": "Point", "LineString": "LineString"}.get(field.kind.__name__, "MultiPolygon")
        yield _table(str(name), shape, columns_of(kind, sayers), shaped)


def _table(
    name: str, shape: str, columns: dict[str, type], rows: Iterable[tuple[BaseGeometry | None, Sequence[Value]]]
) -> Table:
    shaped = tuple((_as_multi(geometry), tuple(values)) for geometry, values in rows if geometry is not None)
    return Table(name, shape, columns, shaped)


def _as_multi(geometry: BaseGeometry) -> BaseGeometry:
    return MultiPolygon([geometry]) if isinstance(geometry, Polygon) else geometry


_STAKE_COLUMNS: dict[str, type] = {
    "stake": str,
    "sets_out": str,
    "first_point": str,
    "first_tape_m": float,
    "second_point": str,
    "second_tape_m": float,
    "side": str,
    "angle_deg": float,
    "height_m": float,
    "near": str,
}


def stakes(analysis: Analysis) -> Table:
    """Return the stakes with their two tapes, one column for each end of each."""
    rows = (
        (
            stake.place,
            (
                stake.label,
                what,
                *stake.from_points[0],
                *stake.from_points[1],
                stake.side.value,
                stake.angle,
                stake.height,
                near_stake(analysis, stake.label),
            ),
        )
        for what, stake in all_stakes(analysis)
    )
    return _table("stakes", "Point", _STAKE_COLUMNS, rows)


def _plants(analysis: Analysis) -> Table:
    """Return where each plant goes."""
    rows = (
        (place, (name, bed_named(bed, analysis))) for bed in analysis.planting.beds for name, place in bed.positions
    )
    return _table("plants", "Point", {"plant": str, "bed": str}, rows)


def _drawn(analysis: Analysis) -> Iterator[Table]:
    """Yield the drawn features, a table for each sort of shape."""
    columns = {"number": int, "kind": str, "name": str, "height_m": float, "width_m": float}
    for name, shape, sorts in (
        ("drawn_areas", "MultiPolygon", ("Polygon", "MultiPolygon")),
        ("drawn_lines", "LineString", ("LineString", "LinearRing")),
        ("drawn_points", "Point", ("Point",)),
    ):
        rows = (
            (piece, (feature.number, str(feature.kind), feature.name, feature.height or None, feature.width or None))
            for feature in analysis.site.features
            for piece in _pieces(feature.geometry)
            if piece.geom_type in sorts
        )
        yield _table(name, shape, columns, rows)


def _pieces(geometry: BaseGeometry) -> Sequence[BaseGeometry]:
    if isinstance(geometry, Polygon | MultiPolygon):
        return (geometry,)
    return tuple(getattr(geometry, "geoms", (geometry,)))
