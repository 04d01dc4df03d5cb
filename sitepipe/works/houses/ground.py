"""What makes ground good for a hoop house, cell by cell, and what forbids it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.settings import Settings
from sitepipe.site import STANDING, Found, Kind, Ref, Site, Work
from sitepipe.works.hazards import SWALE, Act, kept_clear
from sitepipe.works.houses.record import Fault, FaultKind, HouseCriterion
from sitepipe.works.land import Land
from sitepipe.works.obstacles import FLOW_ROOM, deep_hollows, lanes, running
from sitepipe.works.ways.least_cost import SIXTEEN_MOVES, least_cost
from sitepipe.works.ways.walking import WalkingGround

DECAY = 80.0
"""Walk beyond the easy one over which access falls to 1/e: our own choice. [m]"""
SHOULDER_MONTHS = (3, 4, 10, 11)
"""Months in which a hoop house earns its keep: the same four on both sides of the equator."""
SHELTER = 10.0
"""A windbreak shelters this many of its heights downwind: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Ban:
    """Ground that a hoop house may not stand on, and why."""

    fault: Fault
    outline: BaseGeometry


@dataclass(frozen=True, slots=True)
class Wish:
    """One thing that a place is judged by.

    Parameters
    ----------
    weight : int
        Whole, so that places can be compared by products.
    least : float
        A place that scores less is no good. [1]
    layer : (rows, columns) float array or None
        Membership of each cell, to be averaged below the house; None where the place is judged as a whole. [1]
    measured : (rows, columns) float array or None
        What the membership comes from, for the sentence: depth [m] or hours [h/day].
    is_hoped : bool
        Whether one would choose by it before knowing the ground.
    """

    criterion: HouseCriterion
    weight: int
    least: float
    layer: FloatArray | None = None
    measured: FloatArray | None = None
    is_hoped: bool = False


def wishes_of(land: Land, access: FloatArray) -> tuple[Wish, ...]:
    """List what a place is judged by; no winter crop asks for no midwinter sun, no known wind for no shelter."""
    own, site = land.settings.hoop_house, land.site
    hours = [land.sunlight.monthly_hours[month - 1] for month in SHOULDER_MONTHS]
    shoulder = np.asarray(np.mean(hours, axis=0, dtype=np.float64))
    midwinter = np.asarray(land.sunlight.monthly_hours[midwinter_month(site.latitude) - 1], dtype=np.float64)
    asked = HouseCriterion
    found = (
        (asked.DRY, own.dry, dry_score(land), land.water_table.water_table_depth, False),
        (asked.SHOULDER_SUN, own.shoulder_sun, sun_score(shoulder, land.settings), shoulder, True),
        (
            asked.MIDWINTER_SUN,
            own.midwinter_sun if own.winter_crop else None,
            winter_sun_score(midwinter, site.latitude, land.settings),
            midwinter,
            True,
        ),
        (asked.TREES, own.trees, tree_score(site, land.settings), None, False),
        (
            asked.SHELTER,
            own.shelter if own.wind_from is not None else None,
            shelter_score(site, land.settings),
            None,
            False,
        ),
        (asked.LEVEL, own.level, None, None, False),
        (asked.ACCESS, own.access, access, None, True),
        (asked.ROOM, own.clear_room, None, None, False),
        (asked.DIRECTION, own.direction, None, None, True),
    )
    return tuple(
        Wish(criterion, asks.weight, asks.least, layer, measured, is_hoped)
        for criterion, asks, layer, measured, is_hoped in found
        if asks is not None and asks.weight > 0
    )


def dry_score(land: Land) -> FloatArray:
    """How dry the ground stays in the wet season: depth to water and wetness together. [1]."""
    depth = np.clip(np.nan_to_num(land.water_table.water_table_depth) / land.settings.hoop_house.dry_depth, 0.0, 1.0)
    dry = np.clip(1.4 * (1.0 - np.nan_to_num(land.wetness.wetness, nan=0.5)), 0.0, 1.0)
    return np.sqrt(depth * dry)


def midwinter_month(latitude: float) -> int:
    """Return the month with the shortest days: 12 north of the equator, 6 south of it."""
    return 12 if latitude >= 0.0 else 6


def day_length(latitude: float, declination: float) -> float:
    """Hours between a level sunrise and sunset. [h].

    Examples
    --------
    >>> day_length(0.0, 20.0)
    12.0
    """
    cosine = -np.tan(np.radians(latitude)) * np.tan(np.radians(declination))
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))) / 7.5)


def sun_score(hours: FloatArray, settings: Settings) -> FloatArray:
    """Shoulder-month sun against what leaves nothing to wish. [1]."""
    return np.clip(np.nan_to_num(hours) / settings.hoop_house.full_sun, 0.0, 1.0)


def winter_sun_score(hours: FloatArray, latitude: float, settings: Settings) -> FloatArray:
    """Midwinter sun against the same, or against seven tenths of the shortest day where that is less. [1]."""
    wanted = min(settings.hoop_house.full_sun, 0.7 * day_length(abs(latitude), -23.4))
    return np.clip(np.nan_to_num(hours) / max(wanted, 0.5), 0.0, 1.0)


def tree_score(site: Site, settings: Settings) -> FloatArray:
    """How far the ground lies from trees, measured in their heights. [1].

    A tree on the sunny side wants ``tree_heights`` of its height, any other one height, for limbs and roots.
    """
    score = np.ones(site.grid.shape)
    x, y = site.grid.x[None, :], site.grid.y[:, None]
    for tree in site.of_kind(Kind.TREE, Kind.HEDGE):
        around = tree.footprint
        near_x, near_y = np.clip(x, around.bounds[0], around.bounds[2]), np.clip(y, around.bounds[1], around.bounds[3])
        east, north = x - near_x, y - near_y
        distance = np.hypot(east, north)
        sunward = north if site.latitude >= 0.0 else -north
        is_shaded = sunward >= 0.5 * distance
        wanted = np.where(is_shaded, settings.hoop_house.tree_heights, 1.0) * tree.top
        score = np.minimum(score, np.clip(distance / np.maximum(wanted, 0.1), 0.0, 1.0))
    return score


def shelter_score(site: Site, settings: Settings) -> FloatArray:
    """How well the ground is sheltered from the worst wind; 1 everywhere where that is not known. [1]."""
    wind = settings.hoop_house.wind_from
    if wind is None:
        return np.ones(site.grid.shape)
    score = np.full(site.grid.shape, 0.6)
    x, y = site.grid.x[None, :], site.grid.y[:, None]
    towards = (np.sin(np.radians(wind)), np.cos(np.radians(wind)))
    for screen in site.of_kind(*STANDING):
        west, south, east, north = screen.outline.bounds
        away_x, away_y = (west + east) / 2.0 - x, (south + north) / 2.0 - y
        upwind = away_x * towards[0] + away_y * towards[1]
        aside = np.abs(away_x * towards[1] - away_y * towards[0])
        half = abs((east - west) / 2.0 * towards[1]) + abs((north - south) / 2.0 * towards[0])
        score[(upwind > 0.0) & (upwind <= SHELTER * screen.top) & (aside <= half)] = 1.0
    return score


def access_score(site: Site, walking: WalkingGround, settings: Settings) -> FloatArray:
    """How short the walk is from gate or drive, and from the tap where one is drawn. [1]."""
    score = np.ones(walking.pace.shape)
    gates = [feature.geometry.centroid for feature in site.of_kind(Kind.GATE)]
    starts = [cell for gate in gates if (cell := walking.cell_near(gate.x, gate.y)) is not None]
    starts += [int(cell) for cell in np.flatnonzero(walking.on_lane & np.isfinite(walking.pace))]
    taps = [feature.geometry.centroid for feature in site.of_kind(Kind.TAP)]
    ends = [cell for tap in taps if (cell := walking.cell_near(tap.x, tap.y)) is not None]
    groups = [group for group in (starts, ends) if group]
    for group in groups:
        cost, _, _ = least_cost(
            walking.pace, walking.height_in_cells, settings.path.steepest, SIXTEEN_MOVES, np.array(sorted(set(group)))
        )
        beyond = np.maximum(cost * walking.grid.cell - settings.hoop_house.easy_walk, 0.0)
        score *= np.where(np.isfinite(cost), np.exp(-beyond / DECAY), 0.05) ** (1.0 / len(groups))
    return on_site_cells(score, walking, site)


def on_site_cells(values: FloatArray, walking: WalkingGround, site: Site) -> FloatArray:
    """Spread values of the walking cells over the cells of the site; 0 beyond them."""
    grid = walking.grid
    columns = np.floor((site.grid.x - grid.west) / grid.cell).astype(np.int64)
    rows = np.floor((grid.north - site.grid.y) / grid.cell).astype(np.int64)
    full = np.zeros(site.grid.shape)
    is_row, is_column = (rows >= 0) & (rows < grid.rows), (columns >= 0) & (columns < grid.columns)
    full[np.ix_(is_row, is_column)] = values[np.ix_(rows[is_row], columns[is_column])]
    return full


def bans(land: Land, taken: tuple[BaseGeometry, ...]) -> tuple[Ban, ...]:
    """Gather all ground that a hoop house may not stand on, the plainest reason first."""
    site, why = land.site, FaultKind
    standing = (*site.of_kind(*_STANDING), *site.kept_clear_of(Work.HOOP_HOUSE))
    found = [Ban(Fault(why.TAKEN), outline) for outline in taken]
    found += [Ban(Fault(why.STANDS_ON, thing.ref), thing.footprint) for thing in standing]
    found += [Ban(Fault(why.UNDER, tree.ref), tree.outline) for tree in site.of_kind(Kind.TREE)]
    found += [Ban(Fault(why.LANE), lane.buffer(1.0)) for lane in lanes(site)]
    found += [
        Ban(Fault(why.KEPT_CLEAR, exclusion=ban), ban.outline)
        for ban in land.scores.exclusions
        if ban.forbids(Work.HOOP_HOUSE)
    ]
    found += [
        Ban(Fault(why.SWALE, zone.thing), zone.ground.buffer(SWALE))
        for zone in kept_clear(site, Act.TRENCHES, land.settings)
    ]
    found += [
        Ban(Fault(why.HOLLOW, Ref(Found.HOLLOW, pond.number)), pond.outline)
        for pond in deep_hollows(land)
        if pond.number > 0
    ]
    found += [Ban(Fault(why.FLOW), flow.line.buffer(FLOW_ROOM)) for flow in running(land)]
    return tuple(found)


_STANDING = (Kind.BUILDING, Kind.HEDGE, Kind.WALL, Kind.WATER, Kind.SEPTIC, Kind.BED, Kind.DITCH)
