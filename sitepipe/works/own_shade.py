"""What the plan takes from itself: hours of sun lost to hoop house and trellises, and the place that spares more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely import LineString, Polygon

from sitepipe.site import Ref, Work
from sitepipe.sunlight.shade import bed_hours_lost
from sitepipe.sunlight.stage import Scene
from sitepipe.works.built import Built, these
from sitepipe.works.houses.ground import SHOULDER_MONTHS
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.record import ShadeCost
from sitepipe.works.rows.record import SIDE_ROOM, Arch, Trellis
from sitepipe.works.rows.trellis import REACH, beds_of

CLEARLY = 0.02
"""A place must be better by so much of the score, shade counted, to be taken before another: our own choice. [1]"""
PLACES = 15
"""About how many places stand for a bed: a quarter of the time of the default, hours within a tenth."""


def shade_costs(land: Land, works: Sequence[Built], scene: Scene) -> tuple[ShadeCost, ...]:
    """Count what each work loses to each other in its own months: the house in spring and autumn, all else in season.

    House and trees of the site keep casting their shade: an hour that they take already is not lost again. Where two
    things of the plan shade a third at once the hour counts twice: a sum is what is lost at most. Mounds cast none
    that counts; what grows on them is seen to with the plants.
    """
    own, season = land.settings, land.sunlight.season_months
    rows, houses = these(Trellis, works), these(HoopHouse, works)
    castings: list[tuple[Ref, LineString | Polygon, float, float]] = [
        (row.ref, row.line, row.height, own.trellis.let_through) for row in rows
    ]
    castings += [(arch.ref, arch.outline, arch.height, own.trellis.let_through) for arch in these(Arch, works)]
    losers = [(bed.ref, bed.outline, season) for bed in beds_of(land.site, these(Mound, works))]
    losers += [(row.ref, row.line.buffer(SIDE_ROOM), season) for row in rows]
    castings += [(house.ref, house.outline, house.height, own.hoop_house.film) for house in houses]
    losers += [(house.ref, house.outline, SHOULDER_MONTHS) for house in houses]
    found = []
    for by, shape, height, passes in castings:
        for work, outline, months in losers:
            # Rows keep their clear distance from each other when they are laid.
            if work == by or work.kind is by.kind is Work.TRELLIS or shape.distance(outline) > REACH * height:
                continue
            lost = bed_hours_lost(land.site, land.settings, shape, height, [outline], passes, scene, PLACES)
            found.append(ShadeCost(work, by, months, float(np.mean([lost[month - 1][1] for month in months]))))
    return tuple(found)


def lost_by_mounds(mounds: Sequence[Mound], costs: Sequence[ShadeCost]) -> tuple[tuple[int, float], ...]:
    """Return (mound, hours lost a day in the growing season to hoop house and trellises)."""
    if not costs:
        return ()
    return tuple((m.number, sum(c.hours for c in costs if c.work == Ref(Work.MOUND, m.number))) for m in mounds)


def spare_the_beds(
    land: Land, mounds: tuple[Mound, ...], houses: tuple[HoopHouse, ...], scene: Scene
) -> tuple[HoopHouse, ...]:
    """Rank the chosen places of the hoop house again by what each leaves to mounds and beds.

    A place's score is cut by the share of the beds' sun in the growing season that it takes. Another place comes first
    only where that makes it clearly better.
    """
    told = [replace(house, beds_lose=_loss(land, house, mounds, scene)) for house in houses]
    open_hours = float(np.mean([land.sunlight.open_hours[month - 1] for month in land.sunlight.season_months]))
    left = [house.score * (1.0 - house.beds_lose / max(open_hours, 1e-9)) for house in told]
    best = int(np.argmax(left)) if left else 0
    if not left or left[best] < left[0] + CLEARLY:
        return tuple(told)
    order = (told[best], *told[:best], *told[best + 1 :])
    return tuple(
        replace(house, number=number) for number, house in enumerate(order, start=min(house.number for house in told))
    )


def _loss(land: Land, house: HoopHouse, mounds: tuple[Mound, ...], scene: Scene) -> float:
    """Hours a day that the beds lose to a house in the growing season, on the mean over their area. [h]."""
    own, beds = land.settings.hoop_house, [bed.outline for bed in beds_of(land.site, mounds)]
    whole = 0.0
    for bed in beds:
        if bed.distance(house.outline) <= REACH * own.height:
            lost = bed_hours_lost(land.site, land.settings, house.outline, own.height, [bed], own.film, scene, PLACES)
            whole += float(bed.area) * float(np.mean([lost[month - 1][1] for month in land.sunlight.season_months]))
    return whole / max(sum(float(bed.area) for bed in beds), 1e-9)
