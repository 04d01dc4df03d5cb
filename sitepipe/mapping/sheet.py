"""Everything that the page draws and says, as one mapping of plain numbers and sentences."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

from sitepipe.analysis import Analysis
from sitepipe.answers.advice import ground_as_understood
from sitepipe.answers.cautions import cautions_of
from sitepipe.answers.names import say_day
from sitepipe.answers.stock import taken_for_granted
from sitepipe.answers.trial import NO_ROOM
from sitepipe.answers.water import warnings
from sitepipe.answers.where import standpoint_of
from sitepipe.mapping.build import build_view
from sitepipe.mapping.frame import frame_of
from sitepipe.mapping.horizons import packed_horizons
from sitepipe.mapping.levels import banks, level_lines
from sitepipe.mapping.marks import GRAINS, INSET_SHORES, MARKS, SPECK, TILES, Drawn, plain, sample_of, thinned
from sitepipe.mapping.north import convergence, north_said
from sitepipe.mapping.palette import RELIEF_LIT, RELIEF_SHADED
from sitepipe.mapping.picture import data_uri, grey_png
from sitepipe.mapping.relief import draw_ground, relief_picture
from sitepipe.mapping.standing import standing_things
from sitepipe.mapping.sun import sun_view
from sitepipe.mapping.things import feature_cards
from sitepipe.mapping.today import today_view
from sitepipe.mapping.trying import trying
from sitepipe.mapping.values import height_grid, value_grids
from sitepipe.mapping.view import Card, Desk, Place, View, rings_of
from sitepipe.mapping.water import water_view
from sitepipe.saying import say_area, say_length
from sitepipe.units import Units

MOST_BYTES = 2_000_000
"""A page must pass by message on a weak network: 2 MB and no more."""
TRIED_GRAIN = 0.2
"""Rather than draw edges less finely than this, the page goes without the heights that changes are tried on. [m]"""
_WHOLE = ("picture", "packed", "area", "line", "at", "axis")
_PLACED = {"area", "line", "at"}
LONGEST = 300
"""A name longer than this is cut, so that no feature can fill a phone's page. [characters]"""


def sheet_of(analysis: Analysis, most: int = MOST_BYTES) -> dict[str, Any]:
    """Return the page's data: the ground, what stands on it, four views, and the packed layers.

    Parameters
    ----------
    most : int
        Bytes that it may take: it is drawn as finely as that allows, and says so if not as finely as it could be.
    """
    whole = _whole(analysis)
    tried = [(whole["trying"], grain) for grain in GRAINS if grain <= TRIED_GRAIN]
    for trial, grain in [*tried, *((None, grain) for grain in GRAINS)]:
        sheet: dict[str, Any] = _cut(whole | {"trying": trial}, grain)
        if grain > GRAINS[0]:
            sheet["notes"].insert(0, _grain_said(grain, analysis.settings.units))
        if trial is None and whole["trying"] is not None:
            sheet["notes"].insert(0, NO_ROOM)
        if len(as_json(sheet).encode()) <= most:
            break
    return sheet


def _grain_said(grain: float, units: Units) -> str:
    said, speck = say_length(grain, units), say_length(SPECK * grain, units)
    return (
        f"This ground is large, so the page draws edges to the nearest {said} and leaves out pieces of ground "
        f"less than {speck} wide; plan.gpkg has them all."
    )


def _whole(analysis: Analysis) -> dict[str, Any]:
    frame = frame_of(analysis.site)
    ground = draw_ground(analysis.site)
    desk = Desk(analysis, frame, ground)
    views = [water_view(desk), sun_view(desk), build_view(desk), today_view(desk)]
    cards = feature_cards(desk)
    for view in views:
        cards.update(view.cards)
    start = standpoint_of(analysis.site)
    rows, columns = ground.heights.shape
    west, north = ground.west - frame.west, ground.north - frame.south
    levels, levels_said = level_lines(analysis.site, ground, frame, desk.units)
    return {
        "name": analysis.site.name,
        "made": say_day(analysis.made_on),
        "area": say_area(analysis.site.parcel.area, desk.units),
        "units": desk.units.value,
        "frame": [round(frame.width, 2), round(frame.height, 2)],
        "north": {"turn": round(-convergence(analysis.site), 1) or 0.0, "said": north_said(analysis.site)},
        "start": {"name": start.name, "at": frame.place(start.place)},
        "ground": {
            "picture": data_uri(grey_png(*relief_picture(ground))),
            "box": [
                round(west, 2),
                round(north - rows * ground.cell, 2),
                round(west + columns * ground.cell, 2),
                round(north, 2),
            ],
            "lit": [_channels(RELIEF_LIT.light), _channels(RELIEF_LIT.dark)],
            "said": _ground_said(analysis),
            "shaded": [_channels(RELIEF_SHADED.light), _channels(RELIEF_SHADED.dark)],
        },
        "levels": levels_said,
        "banks": banks(analysis.site, ground, frame),
        "standing": [*levels, *standing_things(analysis.site, frame)],
        "marks": {name: plain(mark) for name, mark in MARKS.items()},
        "tiles": {name: plain(tile) for name, tile in TILES.items()},
        "shores": INSET_SHORES,
        "views": [_view(view, frame) for view in views],
        "things": {name: _card(card) for name, card in cards.items()},
        "heights": height_grid(analysis, frame),
        "values": value_grids(analysis, frame),
        "horizons": packed_horizons(analysis, frame),
        "cautions": [[caution.title, caution.text] for caution in cautions_of(analysis)],
        "notes": [
            *warnings(analysis.site),
            *taken_for_granted(analysis.site, analysis.settings),
            *analysis.site.assumptions,
        ],
        "share": _shared_location(analysis),
        "trying": trying(analysis, frame),
    }


def as_json(sheet: dict[str, Any]) -> str:
    """Write the data so that no text in it can end the block it stands in."""
    text = json.dumps(sheet, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for sign, escape in (
        ("<", "\\u003c"),
        (">", "\\u003e"),
        ("&", "\\u0026"),
        ("\u2028", "\\u2028"),
        ("\u2029", "\\u2029"),
    ):
        text = text.replace(sign, escape)
    return text


def _ground_said(analysis: Analysis) -> list[str]:
    """Say what the heights are, as ``check`` does: source, error, extent, cell, unit, dates."""
    ground, units = analysis.site.ground, analysis.settings.units
    source = f"{ground.source}, good to {say_length(ground.vertical_error, units)} ({ground.error_source})."
    return [source, *ground_as_understood(analysis.site, units, is_shared=True)]


def _shared_location(analysis: Analysis) -> dict[str, Any] | None:
    """Tie the page to the earth, only if the grower asked for it: then a phone can show where it is."""
    if not analysis.settings.page.share_location:
        return None
    from sitepipe.mapping.location import tie_to_earth

    return tie_to_earth(analysis.site)


def _view(view: View, frame: Any) -> dict[str, Any]:
    return {
        "word": view.word,
        "question": view.question,
        "answer": view.answer,
        "caption": view.caption,
        "legend": [{"marks": [plain(one) for one in sample_of(mark)], "text": text} for mark, text in view.legend],
        "marks": view.marks,
        "places": [_place(place, ring, frame) for place, ring in zip(view.places, rings_of(view.places), strict=True)],
        "caution": view.caution,
        "quiet": view.quiet_ground,
        "day": view.day,
    }


def _place(place: Place, ring: int, frame: Any) -> dict[str, Any]:
    return {
        "ring": str(ring),
        "thing": place.thing,
        "at": frame.place(place.anchor) if place.anchor is not None else None,
        "reach": round(place.reach, 2),
        "group": place.group,
        "bold": place.bold,
        "rest": place.rest,
        "job": place.job,
        "weight": place.weight,
    }


def _card(card: Card) -> dict[str, Any]:
    whole = dataclasses.asdict(card)
    whole["parts"] = [{key: value for key, value in part.items() if value} for part in whole["parts"]]
    return {key: value for key, value in whole.items() if value}


def _channels(colour: str) -> list[int]:
    return [int(colour[k : k + 2], 16) for k in (0, 2, 4)]


def _cut(value: Any, grain: float) -> Any:
    """Cut what no page has room for: long texts, and geometry finer than a grain; pictures are left whole."""
    if isinstance(value, Drawn):
        return _cut(plain(thinned(value, grain)), grain)
    if isinstance(value, dict):
        return {key: item if key in _WHOLE else _cut(item, grain) for key, item in value.items()}
    if isinstance(value, list | tuple):
        cut = (_cut(item, grain) for item in value)
        return [item for item in cut if not (isinstance(item, dict) and "mark" in item and not item.keys() & _PLACED)]
    if isinstance(value, str):
        return _plain(value)
    return value


def _plain(text: str) -> str:
    """Take out control signs and the marks that turn the direction of a line; cut what is too long."""
    kept = "".join(sign for sign in text if sign.isprintable() or sign in "\u00a0 ")
    return kept if len(kept) <= 3 * LONGEST else kept[: 3 * LONGEST] + "…"
