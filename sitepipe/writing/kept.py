"""Works that the grower keeps, as features of ``works.geojson``."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS, Transformer
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from sitepipe.analysis import Analysis
from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError, SettingsError
from sitepipe.reading.kinds import read_kind
from sitepipe.site import DrawnWork, Status, Work
from sitepipe.works.built import Built
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.mounds.record import Mound
from sitepipe.works.record import Plan
from sitepipe.works.rows.record import Trellis
from sitepipe.works.ways.record import Path as ChipPath
from sitepipe.works.ways.record import TippingPlace

DECIMALS, DEGREE_DECIMALS = 3, 8
"""Of coordinates: millimetres in metres and in degrees."""
EVERYTHING = "all"


def read_kept(path: Path) -> dict[str, Any]:
    """Read what works.geojson holds already; without one, a collection on the parcel's own plane."""
    if not path.exists():
        return {"type": "FeatureCollection", "plane": "parcel", "numbers": {}, "features": []}
    try:
        document = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        raise InputError(f"{path.name} cannot be added to: it is no GeoJSON that can be read ({error})") from error
    if not isinstance(document, dict) or not isinstance(document.get("features"), list):
        raise InputError(f"{path.name} cannot be added to: it is no GeoJSON feature collection. Save it as one")
    return document


def chosen_of(plan: Plan, names: Sequence[str]) -> tuple[Built, ...]:
    """Return the proposed works that are named: by kind and number, by kind where there is one, or all.

    Raises
    ------
    SettingsError
        If a name fits no proposed work, or several.
    """
    proposed = [work for work in plan.works if work.status is Status.PROPOSED]
    text = " ".join(" ".join(names).lower().replace("_", " ").split())
    if text == EVERYTHING:
        if not proposed:
            raise SettingsError("nothing is proposed that could be kept")
        return tuple(proposed)
    kinds = "|".join(kind.value for kind in Work)
    found: list[Built] = []
    for named in re.finditer(rf"(?P<kind>{kinds})s?(?: (?P<number>\d+))?|\S+", text):
        piece, number = named[0], named["number"]
        alike = [work for work in proposed if work.kind == named["kind"]]
        fits = [work for work in alike if number is None or work.number == int(number)]
        if len(fits) != 1:
            known = ", ".join(f"{work.kind} {work.number}" for work in alike or proposed) or "nothing"
            what = "names no proposed work" if not fits else "names several"
            raise SettingsError(f"{piece!r} {what}; proposed are: {known}")
        found += [fits[0]] if fits[0] not in found else []
    return tuple(found)


def kept_works(analysis: Analysis, chosen: Iterable[Built], document: dict[str, Any]) -> str:
    """Return works.geojson with some works added as wanted, and the highest numbers that were handed out."""
    move, decimals = _mover(analysis, document)
    features = [
        {
            "type": "Feature",
            "properties": {"kind": work.kind.value, "number": work.number, "status": "wanted", **_sizes(work)},
            "geometry": json.loads(shapely.to_geojson(shapely.set_precision(move(_shape(work)), 10.0**-decimals))),
        }
        for work in chosen
    ]
    numbers = dict(document.get("numbers") or {})
    # Of hoop houses and tipping places at most one is proposed: it is called by its kind alone.
    handed_out = [work.ref for work in analysis.site.works]
    handed_out += [work.ref for work in analysis.plan.works if work.kind not in (Work.HOOP_HOUSE, Work.TIPPING_PLACE)]
    for ref in handed_out:
        numbers[ref.kind.value] = max(int(numbers.get(ref.kind.value, 0)), ref.number)
    held = list(_numbered(document["features"], analysis.site.works))
    kept = document | {"numbers": dict(sorted(numbers.items())), "features": [*held, *features]}
    return json.dumps(kept, indent=1, ensure_ascii=False) + "\n"


def _numbered(features: Sequence[dict[str, Any]], works: Sequence[DrawnWork]) -> Iterator[dict[str, Any]]:
    """Yield the features of the file, each work with the number that it was read with: from now on it keeps it."""
    kinds = [read_kind(str(feature["properties"]["kind"]), "works.geojson") for feature in features]
    own = iter(works[len(works) - sum(isinstance(kind, Work) for kind in kinds) :])
    for feature, kind in zip(features, kinds, strict=True):
        number = {"number": next(own).number} if isinstance(kind, Work) else {}
        yield feature | {"properties": feature["properties"] | number}


def _shape(work: Built) -> BaseGeometry:
    match work:
        case Mound():
            return work.crest
        case HoopHouse():
            return work.outline
        case TippingPlace():
            return work.place
        case ChipPath() | Trellis():
            return work.line
    raise TypeError(f"{work.kind} is never proposed")


def _sizes(work: Built) -> dict[str, str | float]:
    match work:
        case Mound():
            return {"crops": work.crops, "fill": work.fill, "width_m": work.top_width}
        case ChipPath():
            return {"width_m": work.width}
        case Trellis() | HoopHouse():
            return {"height_m": work.height}
    return {}


def _mover(analysis: Analysis, document: dict[str, Any]) -> tuple[Callable[[BaseGeometry], BaseGeometry], int]:
    """Return what brings a shape into the coordinates of the file, and their decimals."""
    site = analysis.site
    if document.get("plane") == "parcel":
        west, south, _, _ = site.parcel.bounds
        return lambda shape: affinity.translate(shape, -west, -south), DECIMALS
    stated = document.get("crs")
    own = CRS.from_user_input(site.grid.crs)
    if stated is None and not (own.is_projected or own.is_geographic):
        return lambda shape: shape, DECIMALS
    try:
        goal = CRS.from_user_input(stated["properties"]["name"] if stated else "OGC:CRS84")
        change = Transformer.from_crs(own, goal, always_xy=True)
    except Exception as error:
        raise InputError(f"works.geojson states a coordinate system that cannot be written to ({error})") from error

    def moved(places: FloatArray) -> FloatArray:
        return np.column_stack(change.transform(places[:, 0], places[:, 1]))

    return lambda shape: shapely.transform(shape, moved), DEGREE_DECIMALS if goal.is_geographic else DECIMALS
