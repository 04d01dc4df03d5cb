"""From a drawn layer to the parcel and its features on the site's plane."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.errors import InputError
from sitepipe.reading.drawn import Drawn, DrawnLayer
from sitepipe.reading.features import feature_of
from sitepipe.reading.kinds import AREA, KNOWN, LINE, POINT, SHAPES, WORK_SHAPES, clean_text, plain_kind, read_kind
from sitepipe.reading.notes import Notes
from sitepipe.reading.properties import Properties
from sitepipe.reading.unread import unread_properties
from sitepipe.reading.works import Stated, StatedWork, read_work
from sitepipe.settings import Settings
from sitepipe.site import Feature, Kind, Observation, Work


@dataclass(frozen=True, slots=True)
class Drawing:
    """The parcel, features, works, what was taken for granted and what to look at; in the file's own coordinates."""

    parcel: Polygon | MultiPolygon
    features: tuple[Feature, ...]
    works: tuple[StatedWork, ...]
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...] = ()


def read_drawing(layer: DrawnLayer, settings: Settings) -> Drawing:
    """Interpret a drawn layer.

    Raises
    ------
    InputError
        If there is no parcel, a kind is unknown, a shape does not fit its kind, an outline crosses itself, parcels
        overlap, or a size has no unit where one is needed.
    """
    assumptions: list[str] = []
    kinds = _kinds(layer, assumptions)
    features, works, said = _read_things(layer, kinds, settings)
    outlines = tuple(feature for feature in features if feature.kind is Kind.PARCEL)
    return Drawing(
        _joined(outlines, layer),
        features,
        works,
        (*assumptions, *said.assumptions),
        (*said.warnings, *_unused_sights(features)),
    )


def read_works_layer(layer: DrawnLayer, settings: Settings, first: int) -> tuple[tuple[Feature, ...], Stated, Notes]:
    """Interpret a layer that holds works alone: beds, numbered from ``first`` on among what is drawn, and all others.

    Raises
    ------
    InputError
        If it holds something else, or as ``read_drawing``.
    """
    kinds = [read_kind(_kind_word(drawn, layer.place(drawn)), layer.place(drawn)) for drawn in layer.features]
    for drawn, kind in zip(layer.features, kinds, strict=True):
        if isinstance(kind, Kind) and kind is not Kind.BED:
            raise InputError(
                f"{layer.place(drawn)} is of kind {kind.value!r}, which is no work. Draw it in the drawing, "
                "beside the parcel"
            )
    beds, works, said = _read_things(layer, kinds, settings)
    return tuple(replace(bed, number=first + index) for index, bed in enumerate(beds)), works, said


def _read_things(
    layer: DrawnLayer, kinds: Sequence[Kind | Work], settings: Settings
) -> tuple[tuple[Feature, ...], Stated, Notes]:
    features: list[Feature] = []
    works: list[StatedWork] = []
    bare: set[str] = set()
    stated = []
    for drawn, kind in zip(layer.features, kinds, strict=True):
        properties = Properties(_lowered(drawn.properties), layer.place(drawn), settings.units, bare)
        if properties.values.get("kind"):
            stated.append((kind, properties.values))
        geometry = _checked_shape(drawn.geometry, kind, properties.where)
        if isinstance(kind, Work):
            works.append(read_work(properties, kind, geometry))
        else:
            features.append(feature_of(properties, drawn.number, kind, geometry, settings.drawn))
    said: tuple[str, ...] = ()
    if bare:
        plural = [f"{what.removesuffix('_per_year').replace('_', ' ')}s" for what in sorted(bare)]
        said = (f"{layer.name}: {' and '.join(plural)} without a unit are taken as metres.",)
    return tuple(features), tuple(works), Notes(said, unread_properties(layer.name, stated))


def _unused_sights(features: Sequence[Feature]) -> list[str]:
    """Say which observations tell nothing that is understood."""
    return [
        f"Observation {sight.number} ({sight.name}) says seen = {sight.attributes.get('seen', 'nothing')!r}; "
        "it is not used. Write wet, rushes or dry."
        for sight in features
        if isinstance(sight, Observation) and sight.seen is None
    ]


def _kinds(layer: DrawnLayer, assumptions: list[str]) -> list[Kind | Work]:
    words = [_kind_word(drawn, layer.place(drawn)) for drawn in layer.features]
    unsaid = [number for number, word in enumerate(words) if not word]
    areas = [number for number in unsaid if shape_of(layer.features[number].geometry) == AREA]
    has_parcel = any(plain_kind(word) == Kind.PARCEL.value for word in words if word)
    if len(areas) == 1 and not has_parcel:
        words[areas[0]] = Kind.PARCEL.value
        unsaid.remove(areas[0])
        which = "its one polygon" if len(words) == 1 else f"the one polygon without a kind (feature {areas[0] + 1})"
        assumptions.append(f"{layer.name} says no kind for {which}; it is taken as the parcel.")
    if unsaid:
        _refuse_unsaid(layer, unsaid, areas)
    if not has_parcel and Kind.PARCEL.value not in words:
        _refuse_without_parcel(layer, words)
    return [read_kind(word, layer.place(drawn)) for word, drawn in zip(words, layer.features, strict=True)]


def _kind_word(drawn: Drawn, where: str) -> str:
    """Return the word for a feature's kind: its ``kind``, else its folder's or its own name where that is a kind."""
    properties = _lowered(drawn.properties)
    said = properties.get("kind")
    if isinstance(said, (list, dict)):
        raise InputError(f"{where}: kind is {clean_text(str(said))[:60]}; write one word")
    if said not in {None, ""}:
        return str(said)
    for word in (drawn.folder, str(properties.get("name") or "")):
        if plain_kind(word) in KNOWN:
            return word
    return ""


def _refuse_unsaid(layer: DrawnLayer, unsaid: list[int], areas: list[int]) -> None:
    drawn = layer.features[unsaid[0]]
    names = [str(name) for name in drawn.properties]
    close = difflib.get_close_matches("kind", [name.lower() for name in names], n=1, cutoff=0.5)
    hint = f" (is {clean_text(close[0])!r} meant?)" if close else ""
    if len(areas) > 1 and len(unsaid) == len(layer.features):
        raise InputError(
            f"{layer.name} holds {len(areas)} polygons, and none says which is the parcel. "
            f"Give each feature a property 'kind'{hint}; the parcel's is 'parcel'"
        )
    if shape_of(drawn.geometry) == LINE and len(layer.features) == 1 and _closes(drawn.geometry):
        raise InputError(f"{layer.place(drawn)} is a line that closes on itself. Save it as a polygon")
    raise InputError(f"{layer.place(drawn)} has no 'kind'{hint}. Write one of: {', '.join(sorted(KNOWN))}")


def _refuse_without_parcel(layer: DrawnLayer, words: list[str]) -> None:
    close = difflib.get_close_matches("parcel", [plain_kind(word) for word in words], n=1, cutoff=0.6)
    hint = f" (is {close[0]!r} meant?)" if close else ""
    raise InputError(
        f"{layer.name} holds no feature of kind 'parcel' among its {len(words)}{hint}. Draw the parcel's outline"
    )


def shape_of(geometry: BaseGeometry) -> str:
    """Return whether a geometry is an area, a line, a point, or something else."""
    kinds = {
        "Polygon": AREA,
        "MultiPolygon": AREA,
        "LineString": LINE,
        "MultiLineString": LINE,
        "LinearRing": LINE,
        "Point": POINT,
        "MultiPoint": POINT,
    }
    return kinds.get(geometry.geom_type, "collection")


def _checked_shape(geometry: BaseGeometry, kind: Kind | Work, where: str) -> BaseGeometry:
    shape = shape_of(geometry)
    if shape == "collection":
        raise InputError(f"{where} ({kind.value}) is a collection of shapes. Save each shape as a feature of its own")
    shapes = WORK_SHAPES[kind] if isinstance(kind, Work) else SHAPES[kind]
    if shape not in shapes:
        wanted = " or ".join("a polygon" if one == AREA else f"a {one}" for one in shapes)
        closes = shape == LINE and AREA in shapes and _closes(geometry)
        remedy = "It closes on itself: save it as a polygon" if closes else "Draw it again"
        drawn = "a polygon" if shape == AREA else f"a {shape}"
        raise InputError(f"{where} ({kind.value}) is drawn as {drawn}; it must be {wanted}. {remedy}")
    if shape == AREA:
        _refuse_crossing(geometry, kind, where)
    if shape == LINE and geometry.length == 0.0:
        raise InputError(f"{where} ({kind.value}) is a line of no length. Draw it again")
    return geometry


def _refuse_crossing(geometry: BaseGeometry, kind: Kind | Work, where: str) -> None:
    if geometry.is_valid:
        if geometry.area == 0.0:
            raise InputError(f"{where} ({kind.value}) is a polygon without area. Draw it again")
        return
    reason = str(shapely.is_valid_reason(geometry))
    raise InputError(f"{where} ({kind.value}): its outline crosses or touches itself ({reason}). Draw it again there")


def _closes(geometry: BaseGeometry) -> bool:
    return geometry.geom_type == "LineString" and len(geometry.coords) > 3 and bool(geometry.is_closed)


def _joined(outlines: tuple[Feature, ...], layer: DrawnLayer) -> Polygon | MultiPolygon:
    for number, one in enumerate(outlines):
        for other in outlines[number + 1 :]:
            shared = one.geometry.intersection(other.geometry).area
            if shared > 1e-6 * min(one.geometry.area, other.geometry.area):
                raise InputError(
                    f"{layer.name}: the parcels {one.name!r} (feature {one.number}) and {other.name!r} (feature "
                    f"{other.number}) overlap. Draw them side by side, or delete one"
                )
    joined = shapely.union_all([outline.geometry for outline in outlines])
    if not isinstance(joined, (Polygon, MultiPolygon)):
        raise InputError(f"{layer.name}: the parcel is no polygon. Draw it again")
    return joined


def _lowered(properties: Mapping[str, object]) -> dict[str, object]:
    return {str(name).strip().lower(): value for name, value in properties.items()}
