"""Match: how well a plant fits a place, why, and what nobody knows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from sitepipe.planting.palette import Host, Plant
from sitepipe.planting.record import Reason, Unknown


class Purpose(StrEnum):
    """What a bed is for: what was planned or drawn for it grows on it, and what bears its company."""

    WET = "wet planting"
    VEGETABLES = "vegetables"
    STRAWBERRIES = "strawberries"
    BLUEBERRIES = "blueberries"
    SHRUBS = "shrubs"
    TREES = "trees"
    VINES = "vines"
    NURSERY = "nursery stock"


OVER_WINTER = 200.0
"""Vegetables that take longer stand over the winter, as garlic does. [days]"""

_LEADERS = {
    Purpose.WET: ("canopy", "shrub", "herb", "ground cover"),
    Purpose.VEGETABLES: ("vegetable",),
    Purpose.STRAWBERRIES: ("Fragaria",),
    Purpose.BLUEBERRIES: ("Vaccinium",),
    Purpose.SHRUBS: ("shrub",),
    Purpose.TREES: ("canopy", "shrub"),
    Purpose.VINES: ("climber",),
    Purpose.NURSERY: (),
}


def leads(plant: Plant, purpose: Purpose) -> bool:
    """Whether a bed is for such plants, by layer, form or genus."""
    return bool({plant.layer, plant.form, plant.latin.split()[0]} & {*_LEADERS[purpose]})


@dataclass(frozen=True, slots=True)
class Place:
    """What a plant meets at a place.

    Parameters
    ----------
    drained : float
        Soil above the wet-season water, counted from where the plant stands. [m]
    drained_error : float
        Standard deviation of it. [m]
    standing : float
        Chance that water stands there after the larger storm, 0 to 1.
    sun : float
        Hours of direct sun on a mean day of the season. [h/day]
    width, area : float
        Room to grow in. [m], [m2]
    coldest : float or None
        Coldest night of the site, None where not given. [degC]
    is_mound : bool
    purpose : Purpose
    season : float
        Days from the last frost to the first, in which tender vegetables grow.
    near : set of Host
        What stands near enough to harm the plants that suffer from it.
    """

    drained: float
    drained_error: float
    standing: float
    sun: float
    width: float
    area: float
    coldest: float | None
    is_mound: bool
    purpose: Purpose = Purpose.WET
    season: float = 365.0
    near: frozenset[Host] = frozenset()


@dataclass(frozen=True, slots=True)
class Fit:
    """How a plant fits: 0 not at all to 1 well, with what speaks for it, what troubles it, and what strikes it out."""

    score: float
    why: tuple[Reason, ...]
    doubts: tuple[Reason, ...]
    unknown: tuple[Unknown, ...]
    against: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class _Part:
    score: float
    why: Reason | None = None
    doubt: Reason | None = None
    unknown: Unknown | None = None


def wet_class(drained: float, standing: float) -> str:
    """Name the design class of a place from depth to water and chance of standing water, never from an index alone.

    Parameters
    ----------
    drained : float
        Depth to water in the wet season. [m]
    standing : float
        Chance that water stands, 0 to 1.

    Returns
    -------
    str
        ``W4`` where water stands in half of the cases, else ``W3`` under 30 cm, ``W2`` under 45 cm, ``W1`` above
        (own classes; the 45 cm is the design depth of shallow crops in the BC drainage handbook).

    Examples
    --------
    >>> wet_class(0.35, 0.0)
    'W2'
    """
    if standing >= 0.5:
        return "W4"
    if drained < 0.30:
        return "W3"
    return "W2" if drained < 0.45 else "W1"


def fit(plant: Plant, place: Place) -> Fit:
    """Judge one plant at one place.

    Parameters
    ----------
    plant : Plant
    place : Place

    Returns
    -------
    Fit
        Score 0 where one need is not met; otherwise the product of the parts. A wetland indicator never enters:
        the crop's own tolerance does.
    """
    if plant.status in ("never", "hazard", "keep away"):
        return Fit(0.0, (), (), (), (Reason.NEVER_PROPOSED,))
    parts = (
        _water(plant, place),
        _drained(plant, place),
        _light(plant, place),
        _cold(plant, place),
        _room(plant, place),
        _soil(plant),
        _hosts(plant, place),
        _company(plant, place),
        _season(plant, place),
    )
    score = 1.0
    for part in parts:
        score *= part.score
    return Fit(
        score,
        tuple(part.why for part in parts if part.why),
        tuple(part.doubt for part in parts if part.doubt and part.score > 0.0),
        tuple(part.unknown for part in parts if part.unknown),
        tuple(part.doubt for part in parts if part.doubt and part.score == 0.0),
    )


def _water(plant: Plant, place: Place) -> _Part:
    if not plant.wet_classes:
        return _Part(0.7, unknown=Unknown.WETNESS)
    here = wet_class(place.drained, place.standing)
    if here in plant.wet_classes:
        return _Part(1.0, why=_WATER[here])
    least, most = min(plant.wet_classes), max(plant.wet_classes)
    if here > most:
        return _Part(0.0, doubt=Reason.TOO_WET)
    is_watered = place.purpose is Purpose.NURSERY
    if is_watered or (int(least[1]) - int(here[1]) == 1 and here != "W1"):
        return _Part(0.5, why=_WATER[here], doubt=Reason.DRIER_THAN_IT_LIKES)
    return _Part(0.0, doubt=Reason.TOO_DRY)


_WATER = {
    "W4": Reason.BEARS_STANDING_WATER,
    "W3": Reason.BEARS_SATURATED_GROUND,
    "W2": Reason.DRAINED_A_LITTLE,
    "W1": Reason.WELL_ABOVE_WATER,
}


def _drained(plant: Plant, place: Place) -> _Part:
    if plant.aerated is None:
        return _Part(0.9, unknown=Unknown.DRAINED_SOIL)
    if plant.aerated == 0.0:
        return _Part(1.0)
    if place.standing > 0.2:
        return _Part(0.0, doubt=Reason.ROOTS_ROT)
    spare = place.drained - plant.aerated
    if spare >= place.drained_error:
        return _Part(1.0)
    if spare >= 0.0:
        return _Part(0.6, doubt=Reason.ROOTS_JUST_CLEAR)
    return _Part(0.0, doubt=Reason.ROOTS_IN_WATER)


def _light(plant: Plant, place: Place) -> _Part:
    if plant.most_sun is not None and place.sun > plant.most_sun:
        return _Part(0.0, doubt=Reason.WANTS_SHADE)
    if plant.least_sun is None and plant.crop_sun is None:
        return _Part(0.85, unknown=Unknown.SUN)
    least = plant.least_sun if plant.least_sun is not None else plant.crop_sun
    if least is not None and place.sun < least:
        return _Part(0.0 if place.sun < least - 0.5 else 0.4, doubt=Reason.TOO_LITTLE_SUN)
    if plant.crop_sun is not None and place.sun < plant.crop_sun:
        return _Part(0.5, doubt=Reason.CROPS_THINLY)
    return _Part(1.0, why=Reason.SUN_ENOUGH)


def _cold(plant: Plant, place: Place) -> _Part:
    if plant.is_annual:
        return _Part(1.0)
    if place.coldest is None:
        return _Part(1.0, unknown=Unknown.COLDEST_NIGHT)
    if plant.coldest is None:
        return _Part(0.9, unknown=Unknown.HARDINESS)
    if plant.coldest <= place.coldest - 3.0:
        return _Part(1.0)
    if plant.coldest <= place.coldest:
        return _Part(0.7, doubt=Reason.HARD_WINTER)
    return _Part(0.0, doubt=Reason.TOO_COLD)


def _room(plant: Plant, place: Place) -> _Part:
    if place.purpose is Purpose.NURSERY:
        return _Part(1.0)  # lifted before it is grown
    if plant.spread is None:
        return _Part(0.9, unknown=Unknown.SPREAD)
    if place.is_mound and plant.spread > 1.8 * place.width:
        return _Part(0.0, doubt=Reason.TOO_LARGE_FOR_MOUND)
    if plant.spread * plant.spread > place.area:
        return _Part(0.0, doubt=Reason.TOO_LARGE)
    if plant.height is not None and plant.height > 7.0:
        return _Part(0.5, doubt=Reason.TALL_TREE)
    return _Part(1.0)


def _soil(plant: Plant) -> _Part:
    """Acidity is never mapped: a plant that asks for it gets the question, not an answer."""
    return _Part(1.0, unknown=Unknown.ACIDITY if plant.acidity else None)


def _hosts(plant: Plant, place: Place) -> _Part:
    """Judge what stands near: one rust kills white pines and the law keeps them apart, one spoils fruit."""
    near = place.near & plant.suffers_from
    if Host.NUT_TREE in near:
        return _Part(0.0, doubt=Reason.POISONED_BY_WALNUT)
    if Host.WHITE_PINE in near:
        return _Part(0.0, doubt=Reason.RUST_OF_PINE)
    return _Part(0.5, doubt=Reason.RUST_OF_JUNIPER) if near else _Part(1.0)


def _company(plant: Plant, place: Place) -> _Part:
    """Judge what the bed is for, and what would overrun whom."""
    if place.purpose is Purpose.NURSERY:
        return _Part(0.0, doubt=Reason.ANOTHER_PURPOSE) if plant.is_annual else _Part(1.0)
    if (plant.layer == "climber") is not (place.purpose is Purpose.VINES):
        return _Part(0.0, doubt=Reason.NO_SUPPORT if plant.layer == "climber" else Reason.ANOTHER_PURPOSE)
    if place.purpose is Purpose.VINES:
        return _Part(1.0)
    if plant.is_annual and place.purpose is not Purpose.VEGETABLES:
        return _Part(0.0, doubt=Reason.ANOTHER_PURPOSE)
    if place.purpose is Purpose.WET or (leads(plant, place.purpose) and not (plant.runs and plant.layer == "herb")):
        return _Part(1.0)
    if plant.layer in ("canopy", "shrub"):
        return _Part(0.0, doubt=Reason.ANOTHER_PURPOSE)
    return _Part(0.0, doubt=Reason.RUNS) if plant.runs else _Part(1.0)


def _season(plant: Plant, place: Place) -> _Part:
    """Judge whether a vegetable ripens: kinds that bear frost have four weeks more at each end (common practice)."""
    if not plant.is_annual or plant.days is None:
        return _Part(1.0)
    window = place.season + (0.0 if plant.warm_season else 2.0 * 28.0)
    if plant.days <= window or plant.days > OVER_WINTER:
        return _Part(1.0)
    return _Part(0.0, doubt=Reason.SEASON_TOO_SHORT)
