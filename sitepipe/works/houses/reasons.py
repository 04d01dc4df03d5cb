"""Why a place for a hoop house is good, or why a good place fails."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Point
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.grid import Grid
from sitepipe.settings import Settings
from sitepipe.site import Kind, Site
from sitepipe.units import compass_word, say_depth, say_distance, say_fall, say_hours, say_length
from sitepipe.works.houses.footprints import level_score
from sitepipe.works.houses.ground import Ban, HoopGround, named, sun_score, winter_sun_score
from sitepipe.works.houses.ridge import direction_score, ridge_advice
from sitepipe.works.houses.search import STEPS_ACROSS, Place, lattice_box
from sitepipe.works.obstacles import SOLID, lanes

WEIGHTS = (3, 2, 1, 1, 1, 2, 2, 1, 1)
"""Of dry, shoulder sun, midwinter sun, trees, shelter, level, access, room, direction: our own choice."""
PAD_ABOVE_WATER = 0.45
"""Floor above the wet-season water: drains lie 18 to 24 in below (UVM). [m]"""


@dataclass(frozen=True, slots=True)
class Judged:
    """A place: (criterion, score, sentence), the weighted mean, where its door is, how high its floor is raised."""

    score: float
    reasons: tuple[tuple[str, float, str], ...]
    door: Point
    raised: float


def weights(settings: Settings) -> tuple[int, ...]:
    """Return the whole-number weights; no winter crop asks for no midwinter sun, no known wind for no shelter."""
    found = list(WEIGHTS)
    if not settings.hoop_house.winter_crop:
        found[2] = 0
    if settings.hoop_house.wind_from is None:
        found[4] = 0
    return tuple(found)


def judge(place: Place, site: Site, layers: HoopGround, settings: Settings) -> Judged:
    """Score one place by every criterion, and say each in a sentence."""
    own = settings.hoop_house
    units = settings.units
    x, y = lattice_points(place, site.grid)
    sample = _sampler(site.grid, x, y)
    depth = float(np.nanmean(sample(layers.water_depth)))
    shoulder, winter = sample(layers.shoulder_hours), sample(layers.midwinter_hours)
    grade = plane_grade(x, y, sample(site.elevation))
    clear, nearest = _clear_room(place, site)
    door, far = _door(place, site)
    _, advice = ridge_advice(site.latitude, settings)
    raised = max(PAD_ABOVE_WATER - depth, 0.0)
    pad = f"; raise the floor by {say_length(raised, units)} and ring it with a swale" if raised > 0.02 else ""
    way = f"{_capital(say_distance(far, units))} from {_access_name(site, door)}."
    trees = float(sample(layers.trees).mean())
    reasons = (
        (
            "dry ground in the wet season",
            float(sample(layers.dry).mean()),
            f"In the wet season water stands {say_depth(depth, units)} down{pad}.",
        ),
        (
            "sun in spring and autumn",
            float(sun_score(shoulder, settings).mean()),
            f"{_capital(say_hours(float(np.nanmean(shoulder))))} of sun a day in March, April, October and November.",
        ),
        (
            "sun at midwinter",
            float(winter_sun_score(winter, site.latitude, settings).mean()),
            f"{_capital(say_hours(float(np.nanmean(winter))))} of sun a day at midwinter.",
        ),
        (
            "distance from trees",
            trees,
            "Far enough from every tree for its height."
            if trees > 0.95
            else "Trees stand nearer than their heights ask.",
        ),
        ("shelter from wind", float(sample(layers.shelter).mean()), _say_shelter(settings)),
        ("level ground", level_score(grade, own.steepest), f"The ground falls {_say_fall(grade)}."),
        (
            "access",
            float(sample_at(layers.access, site.grid, place.x, place.y)),
            way,
        ),
        ("room for snow and doors", _room_score(clear, settings), _say_room(clear, nearest, settings)),
        (
            "direction",
            direction_score(place.bearing, site, settings),
            f"The ridge runs {say_ridge(place.bearing)}. {advice}",
        ),
    )
    used = [(reason, weight) for reason, weight in zip(reasons, weights(settings), strict=True) if weight > 0]
    total = sum(weight for _, weight in used)
    score = math.prod(max(reason[1], 0.0) ** (weight / total) for reason, weight in used)
    kept = (
        (
            "setbacks",
            1.0,
            f"At least {say_length(own.boundary, units)} from the boundary, off all ground to keep clear.",
        ),
    )
    return Judged(score, tuple(reason for reason, _ in used) + kept, door, raised)


def say_why(rank: int, judged: Judged, best: Judged) -> str:
    """Say in a sentence what speaks for a place, what most against it, and what sets it behind the first."""
    by_name = {name: sentence for name, _, sentence in judged.reasons}
    told = " ".join(by_name[name] for name in ("dry ground in the wet season", "sun in spring and autumn", "access"))
    if rank == 1:
        worst = min(judged.reasons, key=lambda reason: reason[1])
        weak = "Nothing speaks against it." if worst[1] > 0.9 else f"Weakest in {worst[0]}."
        return f"Best balance of all places and directions tried. {told} {weak}"
    lost = [(first[1] - own[1], own[0]) for own, first in zip(judged.reasons, best.reasons, strict=True)]
    behind = max(lost, key=lambda pair: pair[0])
    return f"Behind place 1 mainly in {behind[1]}. {told}"


def say_refusal(
    place: Place,
    site: Site,
    layers: HoopGround,
    banned: tuple[Ban, ...],
    kept: BaseGeometry,
    settings: Settings,
) -> str:
    """Say why a place that sun, access and direction would choose fails; empty where it does not fail."""
    units = settings.units
    outline = place.outline
    sample = _sampler(site.grid, *lattice_points(place, site.grid))
    hours = float(np.nanmean(sample(layers.shoulder_hours)))
    start = f"The ground {_from_a_mark(place, site, settings)} has {say_hours(hours)} of sun in spring and autumn, but "
    met = [(float(ban.outline.intersection(outline).area), index) for index, ban in enumerate(banned)]
    in_order = sorted(met, key=lambda pair: (-pair[0], pair[1]))
    reasons = [banned[index].reason for area, index in in_order if area > 0.0]
    if not kept.covers(outline):
        reasons.append(f"it comes within {say_length(settings.hoop_house.boundary, units)} of the boundary")
    clear, nearest = _clear_room(place, site)
    if clear < settings.hoop_house.room:
        reasons.append(f"{nearest} stands {say_length(clear, units)} away, too near for snow and doors")
    depth = float(np.nanmean(sample(layers.water_depth)))
    if float(sample(layers.dry).mean()) < 0.5:
        reasons.append(f"water stands {say_depth(depth, units)} down in the wet season")
    grade = plane_grade(*lattice_points(place, site.grid), sample(site.elevation))
    if grade > settings.hoop_house.steepest:
        reasons.append(f"it falls {_say_fall(grade)}")
    named_once = list(dict.fromkeys(reasons))[:2]
    return f"{start}{' and '.join(named_once)}." if named_once else ""


def lattice_points(place: Place, grid: Grid) -> tuple[FloatArray, FloatArray]:
    """Return the points that the search samples inside a rectangle. [m]."""
    step = min(grid.cell, place.width / STEPS_ACROSS)
    along, across = (int(count) for count in lattice_box((place.length, place.width), step))
    forward = ((np.arange(along) - (along - 1) / 2.0) * step)[:, None]
    sideways = ((np.arange(across) - (across - 1) / 2.0) * step)[None, :]
    sine, cosine = np.sin(np.radians(place.bearing)), np.cos(np.radians(place.bearing))
    return place.x + forward * sine + sideways * cosine, place.y + forward * cosine - sideways * sine


def plane_grade(x: FloatArray, y: FloatArray, height: FloatArray) -> float:
    """Rise per run of the plane that fits heights best; unknown ones are left out. [1]."""
    known = np.isfinite(height)
    if known.sum() < 3:
        return 0.0
    east, north, up = x[known], y[known], height[known]
    terms = np.column_stack([east - east.mean(), north - north.mean(), np.ones(east.size)])
    solution = np.linalg.lstsq(terms, up - up.mean(), rcond=None)[0]
    return float(np.hypot(solution[0], solution[1]))


def say_ridge(bearing: float) -> str:
    """Say a ridge's bearing as a pair of directions.

    Examples
    --------
    >>> say_ridge(90.0), say_ridge(170.0)
    ('east-west', 'north-south')
    """
    names = ("north-south", "north-east to south-west", "east-west", "south-east to north-west")
    return names[round((bearing % 180.0) / 45.0) % 4]


def sample_at(values: FloatArray, grid: Grid, x: float, y: float) -> float:
    """Value of the cell that holds a place; 0 beyond the grid."""
    row, column = grid.cell_at(x, y)
    return float(values[row, column]) if grid.holds(row, column) else 0.0


def _sampler(grid: Grid, x: FloatArray, y: FloatArray):  # type: ignore[no-untyped-def]
    rows = np.clip(np.floor((grid.north - y) / grid.cell).astype(np.int64), 0, grid.rows - 1)
    columns = np.clip(np.floor((x - grid.west) / grid.cell).astype(np.int64), 0, grid.columns - 1)

    def sample(values: FloatArray) -> FloatArray:
        return np.asarray(values[rows, columns])

    return sample


def _clear_room(place: Place, site: Site) -> tuple[float, str]:
    """Distance to the nearest solid thing, and its name. [m]."""
    outline = place.outline
    nearest = min(
        ((feature.footprint.distance(outline), named(feature)) for feature in site.of_kind(*SOLID)),
        default=(math.inf, "nothing"),
    )
    return float(nearest[0]), nearest[1]


def _room_score(clear: float, settings: Settings) -> float:
    least, better = settings.hoop_house.room, max(settings.hoop_house.better_room, settings.hoop_house.room)
    if clear < least:
        return 0.0
    return 1.0 if clear >= better else 0.75 if clear >= (least + better) / 2.0 else 0.5


def _say_room(clear: float, nearest: str, settings: Settings) -> str:
    if clear >= settings.hoop_house.better_room:
        return f"Nothing stands within {say_length(settings.hoop_house.better_room, settings.units)}."
    return f"{_capital(nearest)} stands {say_length(clear, settings.units)} away."


def _say_shelter(settings: Settings) -> str:
    wind = settings.hoop_house.wind_from
    return f"The worst wind comes from the {compass_word(wind)}." if wind is not None else "The wind here is not known."


def _say_fall(grade: float) -> str:
    said = say_fall(grade)
    return "next to nothing" if said == "level" else said


def _door(place: Place, site: Site) -> tuple[Point, float]:
    """Middle of the end that lies nearer to gate or drive, and how far that is. [m]."""
    sine, cosine = math.sin(math.radians(place.bearing)), math.cos(math.radians(place.bearing))
    ends = [
        Point(place.x + side * place.length / 2.0 * sine, place.y + side * place.length / 2.0 * cosine)
        for side in (1.0, -1.0)
    ]
    reach = _reach(site)
    if reach is None:
        return ends[0], math.nan
    far = [end.distance(reach) for end in ends]
    return ends[int(far[1] < far[0])], min(far)


def _reach(site: Site) -> BaseGeometry | None:
    """Where one comes in: gates, and roads and drives inside the parcel."""
    shapes = [feature.geometry for feature in site.of_kind(Kind.GATE)]
    shapes += [part for lane in lanes(site) if not (part := lane.intersection(site.parcel)).is_empty]
    return shapely.union_all(shapes) if shapes else None


def _access_name(site: Site, door: Point) -> str:
    """Name the gate or drive that lies nearest to a door."""
    ways = [(gate.geometry.distance(door), named(gate)) for gate in site.of_kind(Kind.GATE)]
    for road in site.of_kind(Kind.ROAD):
        inner = road.footprint.intersection(site.parcel)
        if not inner.is_empty:
            ways.append((inner.distance(door), named(road)))
    return min(ways)[1] if ways else "the way in, which is not drawn"


def _from_a_mark(place: Place, site: Site, settings: Settings) -> str:
    """Say where a place is from a feature that a helper can stand at."""
    marks = site.of_kind(Kind.GATE, Kind.BUILDING, Kind.TAP, Kind.TREE, Kind.FIXED_POINT)
    if not marks:
        return "in the parcel"
    here = Point(place.x, place.y)
    mark = min(marks, key=lambda feature: (feature.geometry.distance(here), feature.number))
    from_here = mark.geometry.centroid
    bearing = math.degrees(math.atan2(place.x - from_here.x, place.y - from_here.y))
    far = say_distance(mark.geometry.distance(here), settings.units)
    return f"{far} {compass_word(bearing)} of {named(mark)}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
