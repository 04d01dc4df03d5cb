"""Points to set out with two tapes from named fixed points, and heights against one bench mark."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import Point, Polygon, unary_union
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.site import Feature, FixedMark, Kind, Site
from sitepipe.units import compass_word
from sitepipe.works.built import Side, Stake

SHORTEST_TAPE = 1.0
"""Nearer than this a tape is no help. [m]"""


@dataclass(frozen=True, slots=True)
class FixedPoint:
    """A named point that stays where it is. Coordinates in m.

    Parameters
    ----------
    looseness : float
        How far it may be off, in errors of a short tape: 0 where it stands already, more for a stake.
    """

    name: str
    x: float
    y: float
    looseness: float = 0.0


@dataclass(frozen=True, slots=True)
class Peg:
    """Where a stake is wanted: its label, its place, and its finished height above the datum of the heights. [m]."""

    label: str
    place: Point
    height: float


@dataclass(frozen=True, slots=True)
class SettingOut:
    """Everything that a stake needs: fixed points, what stands in a tape's way, and the bench mark.

    Parameters
    ----------
    points : tuple of FixedPoint
    in_the_way : geometry
        Buildings and walls, a little shrunk so that their own corners can be taped from.
    bench_mark : str
        Its name.
    bench_height : float
        Height of the ground there. [m]
    tape : float
        Longest tape. [m]
    weakest_angle : float
        [deg]
    """

    points: tuple[FixedPoint, ...]
    in_the_way: BaseGeometry
    bench_mark: str
    bench_height: float
    tape: float
    weakest_angle: float


def prepare_setting_out(site: Site, tape: float, weakest_angle: float) -> SettingOut:
    """Gather fixed points and choose the bench mark: the drawn one, else the first gate post, else a house corner."""
    points = find_fixed_points(site)
    blocks = [
        polygon for feature in site.of_kind(Kind.BUILDING, Kind.WALL) for polygon in [feature.footprint.buffer(-0.05)]
    ]
    name, height = _bench_mark(site, points)
    in_the_way = unary_union(blocks)
    shapely.prepare(in_the_way)
    return SettingOut(points, in_the_way, name, height, tape, weakest_angle)


def find_fixed_points(site: Site) -> tuple[FixedPoint, ...]:
    """Gather fixed points as drawn, gate posts, then corners of buildings; one name for one place."""
    found = [
        FixedPoint(feature.name, feature.geometry.centroid.x, feature.geometry.centroid.y)
        for feature in site.of_kind(Kind.FIXED_POINT)
    ]
    for gate in site.of_kind(Kind.GATE):
        found.extend(_gate_posts(gate))
    for building in site.of_kind(Kind.BUILDING):
        found.extend(_corners(building))
    apart: list[FixedPoint] = []
    for point in found:
        if all(math.hypot(point.x - other.x, point.y - other.y) > 0.3 for other in apart):
            apart.append(point)
    return tuple(apart)


def _gate_posts(gate: Feature) -> list[FixedPoint]:
    shape = gate.geometry
    if isinstance(shape, Point):
        return [FixedPoint(gate.name, shape.x, shape.y)]
    ends = list(shape.exterior.coords)[:-1] if isinstance(shape, Polygon) else list(shape.coords)
    first, last = max(itertools.combinations(ends, 2), key=lambda pair: math.dist(pair[0][:2], pair[1][:2]))
    bearing = math.degrees(math.atan2(first[0] - last[0], first[1] - last[1]))
    return [
        FixedPoint(f"{gate.name}, {compass_word(bearing + turn)} post", end[0], end[1])
        for end, turn in ((first, 0.0), (last, 180.0))
    ]


def _corners(building: Feature) -> list[FixedPoint]:
    shape = building.geometry
    if not isinstance(shape, Polygon):
        return []
    outline = shape.simplify(0.3)
    middle = outline.envelope.centroid
    corners = list(outline.exterior.coords)[:-1]
    named: dict[str, tuple[float, float, float]] = {}
    for x, y, *_ in corners:
        direction = compass_word(math.degrees(math.atan2(x - middle.x, y - middle.y)))
        reach = math.hypot(x - middle.x, y - middle.y)
        if direction not in named or reach > named[direction][2]:
            named[direction] = (x, y, reach)
    return [FixedPoint(f"{building.name}, {direction} corner", x, y) for direction, (x, y, _) in named.items()]


def _bench_mark(site: Site, points: tuple[FixedPoint, ...]) -> tuple[str, float]:
    drawn = [point.name for point in site.drawn(FixedMark) if point.is_bench_mark]
    wanted = drawn[0] if drawn else points[0].name if points else ""
    for point in points:
        if point.name == wanted:
            height = _ground_at(site, point.x, point.y)
            if math.isfinite(height):
                return point.name, height
    middle = site.parcel.representative_point()
    return "", _ground_at(site, middle.x, middle.y)


def _ground_at(site: Site, x: float, y: float) -> float:
    row, column = site.grid.cell_at(x, y)
    return float(site.elevation[row, column]) if site.grid.holds(row, column) else math.nan


def set_out(pegs: Sequence[Peg], setting_out: SettingOut) -> dict[str, Stake]:
    """Tape every peg from two points, those nearest to a fixed point first; from then on it is a point to tape from.

    So a tape is no longer than it need be, and what a stake may be off is carried to those that are taped from it.
    """
    fixed = shapely.MultiPoint([(point.x, point.y) for point in setting_out.points])
    stakes: dict[str, Stake] = {}
    for peg in sorted(pegs, key=lambda peg: (peg.place.distance(fixed) if setting_out.points else 0.0, peg.label)):
        stake, looseness = tape_peg(peg, setting_out)
        stakes[peg.label] = replace(stake, order=len(stakes) + 1)
        if math.isfinite(looseness):
            point = FixedPoint(f"stake {peg.label}", peg.place.x, peg.place.y, looseness)
            setting_out = replace(setting_out, points=(*setting_out.points, point))
    return stakes


def tape_peg(peg: Peg, setting_out: SettingOut) -> tuple[Stake, float]:
    """Choose the two points that place a stake best, and say how loose it stands.

    Best is the least swimming of the place for a given error of the tapes, which grows as the tapes meet flatter,
    and tapes no longer than there are; a tape does not go through a building.

    Returns
    -------
    (Stake, looseness)
        Looseness in errors of a short tape, infinite where there are not two points to tape from.
    """
    place, level = peg.place, peg.height - setting_out.bench_height
    x = np.array([point.x for point in setting_out.points])
    y = np.array([point.y for point in setting_out.points])
    lengths = np.hypot(x - place.x, y - place.y)
    ends = np.stack([np.column_stack([x, y]), np.full((len(x), 2), (place.x, place.y))], axis=1)
    in_the_way = shapely.intersects(setting_out.in_the_way, shapely.linestrings(ends)) if len(x) else np.zeros(0, bool)
    free = np.flatnonzero((lengths >= SHORTEST_TAPE) & ~in_the_way)
    if free.size < 2:
        return Stake(peg.label, place, (("", math.nan), ("", math.nan)), Side.NEITHER, 0.0, level), math.inf
    loose = np.array([point.looseness for point in setting_out.points])[free]
    swimming = _swimming(x[free] - place.x, y[free] - place.y, lengths[free], loose, setting_out.tape)
    first, second = divmod(int(np.argmin(swimming)), free.size)
    one, other = (setting_out.points[free[index]] for index in (first, second))
    tapes = ((one.name, float(lengths[free[first]])), (other.name, float(lengths[free[second]])))
    stake = Stake(peg.label, place, tapes, side_of(one, other, place), tape_angle(one, other, place), level)
    return stake, float(swimming[first, second])


def side_of(first: FixedPoint, second: FixedPoint, place: Point) -> Side:
    """Return the side of the line from the first point to the second on which a place lies, seen from the first.

    Examples
    --------
    >>> side_of(FixedPoint("A", 0, 0), FixedPoint("B", 20, 0), Point(7.2, 9.6)).value
    'left'
    """
    turn = (second.x - first.x) * (place.y - first.y) - (second.y - first.y) * (place.x - first.x)
    return Side.LEFT if turn > 0.0 else Side.RIGHT


def _swimming(x: FloatArray, y: FloatArray, lengths: FloatArray, loose: FloatArray, tape: float) -> FloatArray:
    """How far the place swims with each pair of tapes for the same error of both, infinite on and below the diagonal.

    A tape errs more the longer it hangs, and with the point that it starts from; one longer than there is counts
    fourfold for each part that it lacks.
    """
    sine = np.abs(x[:, None] * y - y[:, None] * x) / (lengths[:, None] * lengths)
    error = 1.0 + (lengths / tape) ** 2 + loose**2
    lacking = np.maximum(lengths / tape - 1.0, 0.0)
    swimming = np.sqrt(error[:, None] + error) * (1.0 + 4.0 * (lacking[:, None] + lacking)) / np.maximum(sine, 1e-6)
    return np.where(np.triu(np.ones(swimming.shape, bool), 1), swimming, np.inf)


def tape_angle(first: FixedPoint, second: FixedPoint, place: Point) -> float:
    """Angle between the two tapes where they meet, folded to 0 to 90: both 30 and 150 are weak. [deg].

    Examples
    --------
    A base of 20 m, tapes of 12 and 16 m: a right angle.

    >>> round(tape_angle(FixedPoint("A", 0, 0), FixedPoint("B", 20, 0), Point(7.2, 9.6)), 1)
    90.0
    """
    ax, ay = first.x - place.x, first.y - place.y
    bx, by = second.x - place.x, second.y - place.y
    return math.degrees(math.atan2(abs(ax * by - ay * bx), abs(ax * bx + ay * by)))
