"""Works that the grower drew or kept: what is said of each, and how it lies on the site's plane."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeAlias

import shapely
from shapely import LineString, MultiPolygon, Point, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from sitepipe.errors import InputError
from sitepipe.reading.features import read_status
from sitepipe.reading.kinds import plain_kind
from sitepipe.reading.notes import Notes
from sitepipe.reading.properties import Properties
from sitepipe.settings import Settings
from sitepipe.settings.works import CROPS, FILLS
from sitepipe.site import DrawnWork, Status, Work

MOST_WORKS = 100
"""More are no garden, and take a run minutes."""
BENT = 0.3
"""A row whose line leaves the straight by more is several rows. [m]"""
SLACK = 0.05
"""Lines are drawn up to the boundary, and coordinates are rounded. [m]"""
HIGHEST, WIDEST, DEEPEST, LONGEST = 5.0, 30.0, 1.2, 60.0
"""Higher, wider and longer is not built by hand; a trench below the waist falls in. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedWork:
    """What a file says of a work; ``where`` is how to name it in a message. Lengths in m, angles in degrees."""

    kind: Work
    where: str
    number: int | None
    name: str
    status: Status
    built: date | None
    geometry: BaseGeometry
    height: float | None
    width: float | None
    side_slope: float | None
    depth: float | None
    length: float | None
    bearing: float | None
    crops: str
    fill: str


Stated: TypeAlias = tuple[StatedWork, ...]


def read_work(properties: Properties, kind: Work, geometry: BaseGeometry) -> StatedWork:
    """Read what is said of a work."""
    status, built = read_status(properties, Status.WANTED)
    number = properties.number("number", 1, 99_999)
    if number is None and (replaced := properties.text("replaces")):
        word, _, digits = plain_kind(replaced).rpartition(" ")
        number = int(digits) if word == kind and digits.isdecimal() and 0 < int(digits) < 100_000 else None
    elif number is not None and number != int(number):
        raise InputError(f"{properties.where}: number is {number:g}; it must be a whole one")
    return StatedWork(
        kind=kind,
        where=properties.where,
        number=None if number is None else int(number),
        name=properties.text("name"),
        status=status,
        built=built,
        geometry=geometry,
        height=properties.size("height", HIGHEST),
        width=properties.size("width", WIDEST),
        side_slope=properties.number("side_slope", 0.2, 10.0),
        depth=properties.size("depth", DEEPEST),
        length=properties.size("length", LONGEST),
        bearing=properties.number("bearing", 0.0, 360.0),
        crops=_one_of(properties.text("crops"), CROPS, properties.where),
        fill=_one_of(properties.text("fill"), FILLS, properties.where),
    )


def _one_of(text: str, known: Sequence[str], where: str) -> str:
    said = plain_kind(text)
    if said and said not in known:
        raise InputError(f"{where} says {said!r}; write one of: {', '.join(known)}")
    return said


def moved(works: Stated, move: Callable[[BaseGeometry], BaseGeometry]) -> Stated:
    """Return works on another plane."""
    return tuple(replace(work, geometry=move(work.geometry)) for work in works)


def settle_works(
    stated: Stated,
    numbers: Mapping[str, int],
    parcel: Polygon | MultiPolygon,
    dates: Sequence[str],
    settings: Settings,
) -> tuple[tuple[DrawnWork, ...], Notes]:
    """Give numbers to works that lie on the site's plane, and draw each as its kind wants it.

    Works without a number get the next ones of their kind, in the order in which they were drawn. ``dates`` are those
    of the heights, oldest first.

    Raises
    ------
    InputError
        If there are too many, two have one number, one crosses itself or lies beyond the parcel, or what stands says
        too little of itself.
    """
    if len(stated) > MOST_WORKS:
        raise InputError(f"{stated[MOST_WORKS].where} is work {MOST_WORKS + 1}; at most {MOST_WORKS} are read")
    highest = {kind: numbers.get(kind, 0) for kind in Work}
    for index, work in enumerate(stated):
        for other in stated[:index]:
            if work.number is not None and (work.kind, work.number) == (other.kind, other.number):
                raise InputError(
                    f"{work.where} and {other.where} are both {work.kind} {work.number}. Give one another number"
                )
        highest[work.kind] = max(highest[work.kind], work.number or 0)
    found = []
    for work in stated:
        number = work.number
        if number is None:
            number = highest[work.kind] = highest[work.kind] + 1
        found.append(_settled(work, number, parcel, dates, settings))
    return tuple(found), Notes(tuple(_said_of_standing(found, dates)))


def _settled(
    work: StatedWork, number: int, parcel: Polygon | MultiPolygon, dates: Sequence[str], settings: Settings
) -> DrawnWork:
    shape = _shape_of(work, settings)
    if not parcel.buffer(SLACK).covers(shape):
        raise InputError(f"{work.where} ({work.kind}) does not lie inside the parcel. Draw it there, or delete it")
    is_standing_mound = work.kind is Work.MOUND and work.status is Status.STANDING
    if is_standing_mound and work.height is None:
        raise InputError(f"{work.where} (mound) stands and does not say how high. Write its height")
    return DrawnWork(
        kind=work.kind,
        number=number,
        name=work.name,
        status=work.status,
        built=work.built,
        shape=shape,
        height=work.height,
        width=work.width,
        side_slope=work.side_slope,
        depth=work.depth,
        crops=work.crops,
        fill=work.fill,
        in_heights=work.status is Status.STANDING and _is_older(work.built, dates),
    )


def _is_older(built: date | None, dates: Sequence[str]) -> bool:
    """Tell whether something stood before the heights were taken; of the same day, month or year it did not."""
    return built is not None and bool(dates) and built.isoformat()[: len(dates[0])] < dates[0]


def _shape_of(work: StatedWork, settings: Settings) -> BaseGeometry:
    shape = work.geometry
    parts = shapely.get_parts(shape)
    if len(parts) != 1:
        raise InputError(f"{work.where} ({work.kind}) is drawn in {len(parts)} pieces. Save each by itself")
    shape = parts[0]
    if isinstance(shape, LineString) and not shape.is_simple:
        raise InputError(f"{work.where} ({work.kind}) crosses itself. Draw it again")
    match work.kind:
        case Work.HOOP_HOUSE:
            return _walls(work, shape, settings)
        case Work.MOUND if isinstance(shape, Polygon):
            return _long_axis(shape)
        case Work.TRELLIS | Work.ARCH:
            first, last = shape.coords[0], shape.coords[-1]
            straight = LineString([first, last])
            if shapely.hausdorff_distance(shape, straight) > BENT:
                raise InputError(f"{work.where} ({work.kind}) is bent. Draw each straight piece by itself")
            return straight
        case _:
            return shape


def _walls(work: StatedWork, shape: BaseGeometry, settings: Settings) -> Polygon:
    """Return the walls of a hoop house that is drawn by them, or by its middle and the bearing of its ridge."""
    if isinstance(shape, Polygon):
        walls = shapely.oriented_envelope(shape)
    else:
        if work.bearing is None:
            raise InputError(f"{work.where} (hoop house) is a point. Write the bearing of its ridge, or draw its walls")
        length, width = settings.hoop_house.sizes[0]
        length, width = work.length or length, work.width or width
        standing = shapely.box(-width / 2.0, -length / 2.0, width / 2.0, length / 2.0)
        middle = Point(shape.coords[0])
        turned = affinity.rotate(standing, -work.bearing, origin=(0.0, 0.0))
        walls = affinity.translate(turned, middle.x, middle.y)
    return Polygon(walls)


def _long_axis(foot: Polygon) -> LineString:
    """Return the crest of a mound that is drawn by its foot: the long axis, half a width short of each end."""
    a, b, c, d = shapely.get_coordinates(shapely.oriented_envelope(foot))[:4]
    sides = sorted(((a, b, c, d), (b, c, d, a)), key=lambda s: -float(((s[1] - s[0]) ** 2).sum()))
    long, short = sides[0], float(((sides[0][2] - sides[0][1]) ** 2).sum() ** 0.5)
    line = LineString([(long[0] + long[3]) / 2.0, (long[1] + long[2]) / 2.0])
    ends = (min(short / 2.0, 0.49 * line.length), max(line.length - short / 2.0, 0.51 * line.length))
    return LineString([line.interpolate(end) for end in ends])


def _said_of_standing(works: Sequence[DrawnWork], dates: Sequence[str]) -> Iterator[str]:
    """Say of standing mounds whether the heights are taken to show them."""
    mounds = [work for work in works if work.kind is Work.MOUND and work.status is Status.STANDING]
    for is_shown, of in (
        (True, f"The heights ({dates[0] if dates else ''}) were taken after these were built, and show them"),
        (False, "The heights are taken to be older than these, which are built into them" if dates else
         "When the heights were taken is not known: these are taken to be newer, and are built into them"),
    ):  # fmt: skip
        named = [f"mound {mound.number}" for mound in mounds if mound.in_heights is is_shown]
        if named:
            yield f"{of}: {', '.join(named)}."
