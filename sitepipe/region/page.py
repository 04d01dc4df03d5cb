"""The page over all parcels: a map and a list that sort by what is asked; one file that asks nothing of the network."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from importlib import resources
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.answers.names import count, tame
from sitepipe.answers.region import ParcelAnswer, Question, State, best, questions, say_figure
from sitepipe.mapping.frame import lines_of
from sitepipe.mapping.page import refuse_addresses, with_policy
from sitepipe.mapping.palette import style_sheet
from sitepipe.mapping.sheet import as_json
from sitepipe.reading.coordinates import metres_per_unit
from sitepipe.region.folder import Region
from sitepipe.region.parcel import METRES_PER_DEGREE, Parcel
from sitepipe.site import Kind

GRAINS = 4_000.0
"""The map's longer side over the finest thing that it shows."""
MOST_OF_THE_LAND = 20_000
"""Vertices of roads and water beside the parcels; beyond, the land is left out."""


def draw_page(region: Region, parcels: Sequence[Parcel], answers: Sequence[ParcelAnswer]) -> str:
    """Draw the region as one page; the same answers give the same bytes."""
    place = _Plane(region, parcels)
    units, asked = region.settings.units, questions(region.settings.units)
    data = {
        "name": tame(region.own.name),
        "size": place.size,
        "questions": [_question(question, answers, region) for question in asked],
        "parcels": [
            _parcel(parcel, answer, place, region, asked) for parcel, answer in zip(parcels, answers, strict=True)
        ],
        "land": _land(region, place),
        "feet": units == "imperial",
    }
    page = _asset("region.html")
    for name, text in {
        "@title@": html.escape(f"{tame(region.own.name)}: {count(len(parcels), 'parcel')}"),
        "@name@": html.escape(tame(region.own.name)),
        "@many@": count(len(parcels), "parcel"),
        "@colours@": style_sheet(),
        "@style@": _asset("region.css"),
        "@script@": _asset("region.js"),
    }.items():
        page = page.replace(name, text, 1)
    page = with_policy(page)
    refuse_addresses(page, "index.html")
    return page.replace("@data@", as_json(data), 1)


def _asset(name: str) -> str:
    return (resources.files("sitepipe.region") / "assets" / name).read_text(encoding="utf-8")


class _Plane:
    """Metres from the region's south-west corner: no coordinates leave with the page."""

    def __init__(self, region: Region, parcels: Sequence[Parcel]) -> None:
        shapes = [shape for parcel in parcels for shape in parcel.shapes if not shape.is_empty]
        west, south, east, north = shapely.total_bounds(shapes).tolist()
        system = region.system
        if system is not None and system.is_geographic:
            up = METRES_PER_DEGREE
            self._scale = up * math.cos(math.radians((south + north) / 2.0)), up
        else:
            self._scale = (metres_per_unit(system) if system is not None else 1.0,) * 2
        self._corner = west, south
        self.size = [round((east - west) * self._scale[0], 1), round((north - south) * self._scale[1], 1)]
        self.grain = max(max(self.size) / GRAINS, 0.1)

    def lines(self, shape: BaseGeometry) -> list[list[float]]:
        """Return the lines of a shape, an area's as its rings, as flat x and y."""
        moved = shapely.transform(shape, lambda points: (points - self._corner) * self._scale)
        return [
            np.round(shapely.get_coordinates(line), 1).ravel().tolist()
            for line in lines_of(moved.simplify(self.grain))
            if line.length > 2.0 * self.grain
        ]


def _question(question: Question, answers: Sequence[ParcelAnswer], region: Region) -> dict[str, Any]:
    return {
        "asked": question.asked,
        "answer": best(answers, question, region.settings.units),
        "legend": question.legend,
        "classes": question.classes,
    }


def _parcel(
    parcel: Parcel, answer: ParcelAnswer, place: _Plane, region: Region, asked: Sequence[Question]
) -> dict[str, Any]:
    told: dict[str, Any] = {
        "name": tame(parcel.key),
        "lines": [line for shape in parcel.shapes if not shape.is_empty for line in place.lines(shape)],
    }
    if answer.state is State.FAILED:
        return told | {"why": tame(answer.reason)}
    figures = [getattr(answer, question.name) for question in asked]
    return told | {
        # Less is better where the question says so: the page sorts all of them from high to low.
        "order": [
            None if figure is None else figure * (1 if q.is_more_better else -1)
            for figure, q in zip(figures, asked, strict=True)
        ],
        "class": [_class(figure, question) for figure, question in zip(figures, asked, strict=True)],
        "figures": [
            [say_figure(question.name, figure, region.settings.units), question.words]
            for figure, question in zip(figures, asked, strict=True)
        ],
        "caution": answer.stop,
        "page": answer.page,
    }


def _class(figure: float | None, question: Question) -> int | None:
    if figure is None:
        return None
    sign = 1.0 if question.is_more_better else -1.0
    return sum(sign * figure < sign * limit for limit in question.breaks)


def _land(region: Region, place: _Plane) -> list[list[Any]]:
    """Return roads and water of the region as lines, to find one's way by."""
    land = [
        ["water" if kind in (Kind.WATER, Kind.DITCH) else "road", line]
        for kind, layer in region.things
        if kind in (Kind.WATER, Kind.DITCH, Kind.ROAD)
        for drawn in layer.features
        for line in place.lines(drawn.geometry)
    ]
    return land if sum(len(line) for _, line in land) <= 2 * MOST_OF_THE_LAND else []
