"""What the run found and proposes as tables of shapes: the layers of ``plan.gpkg`` and of the exports."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from shapely import MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.analysis import Analysis
from sitepipe.works.record import Stake

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
    return tuple(table(analysis) for table in _TABLES)


def _table(
    name: str, shape: str, columns: dict[str, type], rows: Iterable[tuple[BaseGeometry, Sequence[Value]]]
) -> Table:
    shaped = tuple(
        (_as_multi(geometry) if shape == "MultiPolygon" else geometry, tuple(values)) for geometry, values in rows
    )
    return Table(name, shape, columns, shaped)


def _as_multi(geometry: BaseGeometry) -> BaseGeometry:
    return MultiPolygon([geometry]) if isinstance(geometry, Polygon) else geometry


def zones(analysis: Analysis) -> Table:
    """Return the zones."""
    columns = {"number": int, "use": str, "area_m2": float, "score": float, "limit": str, "sun_h_per_day": float}
    return _table(
        "zones",
        "MultiPolygon",
        columns,
        ((z.outline, (z.number, str(z.use), z.area, z.score, z.limit, z.sun_hours)) for z in analysis.zones.zones),
    )


def ponds(analysis: Analysis) -> Table:
    """Return the hollows that touch the parcel, by rank."""
    columns = {"rank": int, "area_m2": float, "depth_m": float, "volume_m3": float, "spill_height_m": float}
    inside = sorted((p for p in analysis.drainage.ponds if p.number > 0), key=lambda p: p.number)
    return _table(
        "ponds",
        "MultiPolygon",
        columns,
        ((p.outline, (p.number, p.area, p.depth, p.volume, p.spill_height)) for p in inside),
    )


def soggy_places(analysis: Analysis) -> Table:
    """Return the wettest places."""
    columns = {"rank": int, "area_m2": float, "depth_m": float, "probability": float, "seen": bool}
    return _table(
        "soggy_places",
        "MultiPolygon",
        columns,
        ((s.outline, (s.rank, s.area, s.depth, s.probability, s.is_seen)) for s in analysis.wetness.soggy_places),
    )


def flow_lines(analysis: Analysis) -> Table:
    """Return the paths that water takes, drawn downstream."""
    return _table(
        "flow_lines",
        "LineString",
        {"upslope_area_m2": float, "guessed": bool},
        ((f.line, (max(f.upslope_area, default=None), f.is_guessed)) for f in analysis.drainage.flow_lines),
    )


def crossings(analysis: Analysis) -> Table:
    """Return the places where water crosses the boundary."""
    columns = {"direction": str, "upslope_area_m2": float, "more_from_outside": bool}
    return _table(
        "crossings",
        "Point",
        columns,
        (
            (c.place, ("in" if c.is_inflow else "out", c.upslope_area, c.from_outside_heights))
            for c in analysis.drainage.crossings
        ),
    )


def mounds(analysis: Analysis) -> Table:
    """Return the mounds by their outlines."""
    columns = {
        "number": int,
        "crops": str,
        "fill": str,
        "build_height_m": float,
        "settles_to_m": float,
        "base_width_m": float,
        "volume_m3": float,
        "why": str,
    }
    return _table(
        "mounds",
        "MultiPolygon",
        columns,
        (
            (m.outline, (m.number, m.crops, m.fill, m.height.built, m.height.finished, m.base_width, m.volume, m.why))
            for m in analysis.plan.mounds
        ),
    )


def crests(analysis: Analysis) -> Table:
    """Return the crest lines of the mounds."""
    return _table("crests", "LineString", {"mound": int}, ((m.crest, (m.number,)) for m in analysis.plan.mounds))


def hoop_houses(analysis: Analysis) -> Table:
    """Return the places for a hoop house, the best first."""
    columns = {"rank": int, "length_m": float, "width_m": float, "ridge_bearing_deg": float, "score": float, "why": str}
    return _table(
        "hoop_houses",
        "MultiPolygon",
        columns,
        ((h.outline, (h.rank, h.length, h.width, h.bearing, h.score, h.why)) for h in analysis.plan.hoop_houses),
    )


def trellises(analysis: Analysis) -> Table:
    """Return the rows for vines."""
    columns = {"number": int, "height_m": float, "posts": int, "post_depth_m": float, "why": str}
    return _table(
        "trellises",
        "LineString",
        columns,
        ((t.line, (t.number, t.height, t.posts, t.post_depth, t.why)) for t in analysis.plan.trellises),
    )


def paths(analysis: Analysis) -> Table:
    """Return the chip paths by their outlines."""
    columns = {
        "number": int,
        "from": str,
        "to": str,
        "length_m": float,
        "width_m": float,
        "chips_m3": float,
        "cut_m3": float,
        "cost_as_level_dry_path_m": float,
        "shortest_way_as_level_dry_path_m": float,
        "crossings": int,
        "why": str,
    }
    return _table(
        "paths",
        "MultiPolygon",
        columns,
        (
            (
                p.outline,
                (
                    p.number,
                    *p.joins,
                    p.line.length,
                    p.width,
                    p.chips,
                    p.cut,
                    p.cost,
                    p.shortest_cost,
                    len(p.crossings),
                    p.why,
                ),
            )
            for p in analysis.plan.paths
        ),
    )


def tipping_places(analysis: Analysis) -> Table:
    """Return where a truck may tip, the best first."""
    return _table(
        "tipping_places",
        "MultiPolygon",
        {"rank": int, "access": str, "why": str},
        ((t.outline, (t.rank, t.access, t.why)) for t in analysis.plan.tipping_places),
    )


def all_stakes(analysis: Analysis) -> list[tuple[str, Stake]]:
    """Return every stake with the thing that it sets out."""
    plan = analysis.plan
    return [
        *((f"mound {mound.number}", stake) for mound in plan.mounds for stake in mound.stakes),
        *((f"hoop house {house.rank}", stake) for house in plan.hoop_houses for stake in house.stakes),
        *((f"trellis {trellis.number}", stake) for trellis in plan.trellises for stake in trellis.stakes),
    ]


def stakes(analysis: Analysis) -> Table:
    """Return the stakes with their two tapes."""
    columns = {
        "label": str,
        "sets_out": str,
        "first_point": str,
        "first_tape_m": float,
        "second_point": str,
        "second_tape_m": float,
        "angle_deg": float,
        "height_m": float,
    }
    return _table(
        "stakes",
        "Point",
        columns,
        (
            (s.place, (s.label, what, *s.from_points[0], *s.from_points[1], s.angle, s.height))
            for what, s in all_stakes(analysis)
        ),
    )


def plants(analysis: Analysis) -> Table:
    """Return where each plant goes."""
    return _table(
        "plants",
        "Point",
        {"plant": str, "bed": str},
        ((place, (name, bed.where)) for bed in analysis.planting.beds for name, place in bed.positions),
    )


def exclusions(analysis: Analysis) -> Table:
    """Return the ground that nothing is built on, with reason and source."""
    return _table(
        "exclusions",
        "MultiPolygon",
        {"reason": str, "source": str, "distance_m": float, "uses": str},
        (
            (e.outline, (e.reason, e.source, e.distance, ", ".join(str(use) for use in e.uses)))
            for e in analysis.scores.exclusions
        ),
    )


def parcel(analysis: Analysis) -> Table:
    """Return the parcel."""
    site = analysis.site
    return _table(
        "parcel", "MultiPolygon", {"name": str, "area_m2": float}, ((site.parcel, (site.name, site.parcel.area)),)
    )


def features(shape: str, name: str, kinds: tuple[type[Any], ...]) -> Callable[[Analysis], Table]:
    """Return a table of the drawn features of one shape."""

    def drawn(analysis: Analysis) -> Table:
        rows = (
            (piece, (feature.number, str(feature.kind), feature.name, feature.height, feature.width))
            for feature in analysis.site.features
            for piece in _pieces(feature.geometry)
            if isinstance(piece, kinds)
        )
        columns = {"number": int, "kind": str, "name": str, "height_m": float, "width_m": float}
        return _table(name, shape, columns, rows)

    return drawn


def _pieces(geometry: BaseGeometry) -> Sequence[BaseGeometry]:
    if isinstance(geometry, Polygon | MultiPolygon):
        return (geometry,)
    return tuple(getattr(geometry, "geoms", (geometry,)))


def _lines() -> tuple[type[Any], ...]:
    from shapely import LinearRing, LineString

    return LineString, LinearRing, MultiLineString


def _points() -> tuple[type[Any], ...]:
    from shapely import Point

    return (Point,)


_TABLES: tuple[Callable[[Analysis], Table], ...] = (
    parcel,
    zones,
    soggy_places,
    ponds,
    flow_lines,
    crossings,
    mounds,
    crests,
    hoop_houses,
    trellises,
    paths,
    tipping_places,
    stakes,
    plants,
    exclusions,
    features("MultiPolygon", "drawn_areas", (Polygon, MultiPolygon)),
    features("LineString", "drawn_lines", _lines()),
    features("Point", "drawn_points", _points()),
)
