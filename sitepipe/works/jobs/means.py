"""What there is to build with, year by year: what is at hand, what may be bought, hours and money."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from sitepipe.settings import JobsSettings, MaterialsSettings, Settings
from sitepipe.settings.works import MONTHS
from sitepipe.site import Stuff, Supply
from sitepipe.works.jobs.hours import BEFORE_BUILDING, CUTTING, TURNING
from sitepipe.works.jobs.materials import CHIPS, FILL, LOGS, SOIL


@dataclass(frozen=True, slots=True)
class Bulk:
    """What a cubic metre (or square metre, of what is cut or turned) gives of a material of the works. [m3]."""

    material: str
    low: float
    middle: float
    high: float
    source: str


BULK = {
    Stuff.CHIPS: Bulk(CHIPS, 1.0, 1.0, 1.0, "as delivered"),
    Stuff.LEAVES: Bulk(LOGS, 0.20, 0.33, 0.45, "60 to 120 kg/m3 loose, 250 to 350 wet and trodden: value from memory"),
    Stuff.LOGS: Bulk(LOGS, 0.9, 1.0, 1.0, "stacked, gaps filled with chips: common practice, no source"),
    Stuff.BRUSH: Bulk(LOGS, 0.33, 0.42, 0.50, "loose; chopped and trodden to 1/3 to 1/2: common practice, no source"),
    Stuff.STANDING_BRUSH: Bulk(
        LOGS, 0.017, 0.03, 0.05, "2 m (6 ft) tall, .05 to .10 m3/m2 loose: common practice, no source, weigh a trial"
    ),
    Stuff.HAY: Bulk(LOGS, 0.4, 0.5, 0.6, "sinks by half in a year: common practice, no source"),
    Stuff.SOIL: Bulk(SOIL, 1.0, 1.0, 1.0, "as delivered"),
    Stuff.COMPOST: Bulk(SOIL, 1.0, 1.0, 1.0, "as delivered"),
    Stuff.MANURE: Bulk(SOIL, 0.4, 0.5, 0.6, "rots to about half: common practice, no source"),
    Stuff.LAWN: Bulk(SOIL, 0.05, 0.065, 0.08, "hand-cut 5 to 8 cm: computed from 60 to 110 kg/m2 at 1.2 to 1.4 t/m3"),
    Stuff.GRAVEL: Bulk(FILL, 1.0, 1.0, 1.0, "as delivered"),
}
"""How much of what one has ends up in the works; the plan counts on the middle."""


WORKED = {Stuff.STANDING_BRUSH: 1.0 / CUTTING, Stuff.LAWN: 1.0 / TURNING}
"""Hours to cut or turn a square metre. [h/m2]"""


@dataclass(frozen=True, slots=True)
class Offer:
    """So much of a material of the works at a price.

    Parameters
    ----------
    material : str
    come : tuple of float
        By the end of each year, in all. [m3]
    price : float or None
        Of a cubic metre, 0 for what is one's own, None where it is to be asked.
    hours : float
        To cut or turn a cubic metre of it. [h]
    """

    material: str
    come: tuple[float, ...]
    price: float | None
    hours: float = 0.0

    @property
    def is_at_hand(self) -> bool:
        """Whether it only has to be fetched: neither bought nor cut."""
        return self.price == 0.0 and self.hours == 0.0


@dataclass(frozen=True, slots=True)
class Means:
    """What there is. ``hours`` are of each year, infinite where not said; ``money`` is in all by each year's end."""

    years: int
    offers: tuple[Offer, ...]
    hours: tuple[float, ...]
    money: tuple[float, ...]

    def at_hand(self, year: int, *materials: str) -> float:
        """Volume of some materials that has come for nothing by the end of a year, counted from 0. [m3]."""
        return sum(offer.come[year] for offer in self.offers if offer.material in materials and offer.is_at_hand)

    def for_nothing(self, *materials: str) -> float:
        """Volume of some materials that comes for no money over all years, what is cut and turned included. [m3]."""
        return sum(offer.come[-1] for offer in self.offers if offer.material in materials and offer.price == 0.0)

    def in_reach(self, *materials: str, year: int = -1) -> float:
        """Return the same by the end of a year, with what may be found, and what the money buys. [m3]."""
        found, left = 0.0, self.money[year]
        for offer in sorted(self.offers, key=lambda offer: offer.price or 0.0):
            if offer.material in materials:
                some = min(offer.come[year], left / offer.price) if offer.price else offer.come[year]
                left -= some * (offer.price or 0.0)
                found += some
        return found

    def price_of(self, *materials: str) -> float | None:
        """Least price of a cubic metre of some materials, None where none is known."""
        return min((offer.price for offer in self.offers if offer.material in materials and offer.price), default=None)


def means_of(stock: tuple[Supply, ...] | None, settings: Settings, years: int) -> Means:
    """Bring what there is into the materials of the works, for so many years.

    A table of what there is tells all that there is of wood and soil; firm fill that it does not name is to be found.
    """
    jobs, materials = settings.jobs, settings.materials
    offers = list(_not_said(materials, years)) if stock is None else [_offer(one, jobs, years) for one in _bulk(stock)]
    if not any(offer.material == FILL for offer in offers):
        offers.append(Offer(FILL, (math.inf,) * years, None))
    spent = materials.money_per_year or 0.0
    hours = math.inf if jobs.hours is None else sum(jobs.hours.values())
    first = max(hours - BEFORE_BUILDING, 0.0)
    return Means(
        years, tuple(offers), (first, *(hours,) * (years - 1)), tuple(spent * (year + 1) for year in range(years))
    )


def _not_said(materials: MaterialsSettings, years: int) -> Iterator[Offer]:
    wood, soil = materials.loads_per_year * materials.load, materials.soil_per_year
    yield Offer(CHIPS, tuple(wood * (year + 1) for year in range(years)), 0.0)
    # Looked at beyond the years of building, the last of them finds what is still missing: nobody said there is none.
    bound = materials.years - 1 if years > materials.years else years
    found = (soil * (year + 1) if year < bound else math.inf for year in range(years))
    yield Offer(SOIL, tuple(found), None)


def _bulk(stock: tuple[Supply, ...]) -> list[Supply]:
    return [supply for supply in stock if supply.what in BULK]


def _offer(supply: Supply, jobs: JobsSettings, years: int) -> Offer:
    bulk = BULK[supply.what]
    # What comes after the last month with hours is built with in the next year.
    start = supply.year + (supply.month > max(working_months(jobs), default=12))
    times = (max(year - start + 1, 0) if supply.is_yearly else int(year >= start) for year in range(1, years + 1))
    price = supply.price and supply.price / bulk.middle
    come = tuple(bulk.middle * supply.amount * count for count in times)
    return Offer(bulk.material, come, price, WORKED.get(supply.what, 0.0) / bulk.middle)


def working_months(jobs: JobsSettings) -> tuple[int, ...]:
    """Return the months (1 to 12) that have hours; none where nothing is said."""
    return tuple(month for month, name in enumerate(MONTHS, 1) if (jobs.hours or {}).get(name, 0.0) > 0.0)


def months_for(hours: float, jobs: JobsSettings) -> tuple[int, ...]:
    """Return the months that so much work of a year takes, from the first with hours on.

    Examples
    --------
    >>> months_for(30.0, JobsSettings(hours={"may": 20.0, "june": 20.0, "july": 20.0}))
    (5, 6)
    """
    taken: list[int] = []
    for month in working_months(jobs):
        if hours <= 0.0:
            break
        taken.append(month)
        hours -= (jobs.hours or {})[MONTHS[month - 1]]
    return tuple(taken)
