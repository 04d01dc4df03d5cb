"""What the plan takes from itself: hours of sun lost to hoop house and trellises, and places that spare more of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from shapely import LineString, Polygon

from sitepipe.sunlight.shade import bed_hours_lost
from sitepipe.sunlight.stage import Scene
from sitepipe.units import NO_BREAK, say_hours
from sitepipe.works.houses.ground import SHOULDER_MONTHS
from sitepipe.works.land import Land
from sitepipe.works.record import HoopHouse, Mound, ShadeCost, Trellis
from sitepipe.works.rows.ground import SIDE_ROOM, bed_outlines
from sitepipe.works.rows.shade import REACH

WORTH_SAYING = 0.25
"""Hours a day from which on a shadow is looked at again. [h]"""
LEAST_SAID = 0.05
"""Shorter times are summed up as next to nothing. [h]"""
CLEARLY = 0.02
"""A place must be better by so much of the score, shade counted, to be taken before another: our own choice. [1]"""
PLACES = 15
"""About how many places stand for a bed: a quarter of the time of the default, hours within a tenth."""
MOST_SAID = 4
"""Shadows that are told one by one."""


def shade_costs(
    land: Land, mounds: Sequence[Mound], house: HoopHouse | None, rows: Sequence[Trellis], scene: Scene
) -> tuple[ShadeCost, ...]:
    """Count what each work loses to each other in its own months: the house in spring and autumn, all else in season.

    House and trees of the site keep casting their shade: an hour that they take already is not lost again. Where two
    things of the plan shade a third at once the hour counts twice: a sum is what is lost at most. Mounds cast none
    that counts; what grows on them is seen to with the plants.
    """
    castings: list[tuple[str, LineString | Polygon, float, float]] = [
        (f"trellis {row.number}", row.line, row.height, land.settings.trellis.let_through) for row in rows
    ]
    season = land.sunlight.season_months
    losers: list[tuple[str, Polygon, tuple[int, ...]]] = [(f"mound {m.number}", m.outline, season) for m in mounds]
    losers += [(f"bed {number}", outline, season) for number, outline in enumerate(bed_outlines(land.site), start=1)]
    losers += [(f"trellis {row.number}", row.line.buffer(SIDE_ROOM), season) for row in rows]
    if house is not None:
        castings.append(
            ("the hoop house", house.outline, land.settings.hoop_house.height, land.settings.hoop_house.film)
        )
        losers.append(("the hoop house", house.outline, SHOULDER_MONTHS))
    found = []
    for by, shape, height, passes in castings:
        for work, outline, months in losers:
            # Rows keep their clear distance from each other when they are laid.
            if work == by or (work.startswith("trellis") and by.startswith("trellis")):
                continue
            if shape.distance(outline) > REACH * height:
                continue
            lost = bed_hours_lost(land.site, land.settings, shape, height, [outline], passes, scene, PLACES)
            found.append(ShadeCost(work, by, months, float(np.mean([lost[month - 1][1] for month in months]))))
    return tuple(found)


def lost_by_mounds(mounds: Sequence[Mound], costs: Sequence[ShadeCost]) -> tuple[tuple[int, float], ...]:
    """Return (mound, hours lost a day in the growing season to hoop house and trellises)."""
    if not costs:
        return ()
    return tuple((m.number, sum(c.hours for c in costs if c.work == f"mound {m.number}")) for m in mounds)


def say_costs(costs: Sequence[ShadeCost]) -> str:
    """Say in a sentence which work loses how much to which, the most first; empty where none can shade another."""
    told = sorted((c for c in costs if c.hours >= LEAST_SAID), key=lambda c: (-c.hours, c.work, c.by))[:MOST_SAID]
    if not told:
        return (
            "The plan takes next to no sun from itself: no mound, bed, row or house loses 3 minutes a day to another."
        )
    parts = [f"{cost.work} loses {say_sun(cost.hours)}{_when(cost)} to {cost.by}" for cost in told]
    return f"What the plan shades itself, on a mean day: {'; '.join(parts)}; nothing else loses more."


def spare_the_beds(
    land: Land, mounds: Sequence[Mound], houses: tuple[HoopHouse, ...], scene: Scene
) -> tuple[HoopHouse, ...]:
    """Rank the chosen places of the hoop house again by what each leaves to mounds and beds.

    A place's score is cut by the share of the beds' sun in the growing season that it takes. Another place comes first
    only where that makes it clearly better.
    """
    beds = [*(mound.outline for mound in mounds), *bed_outlines(land.site)]
    if len(houses) < 2 or not beds:
        return houses
    losses = [_loss(land, house, beds, scene) for house in houses]
    open_hours = float(np.mean([land.sunlight.open_hours[month - 1] for month in land.sunlight.season_months]))
    left = [house.score * (1.0 - lost / max(open_hours, 1e-9)) for house, lost in zip(houses, losses, strict=True)]
    best = int(np.argmax(left))
    if left[best] < left[0] + CLEARLY:
        return houses
    order = [best, *(index for index in range(len(houses)) if index != best)]
    spared = f"Comes before a place that is better by itself but takes {say_sun(losses[0])} a day from the beds."
    passed = f"Scores best by itself, but takes {say_sun(losses[0])} a day from the beds in the growing season."
    said = {best: spared, 0: passed}
    return tuple(
        replace(houses[index], rank=rank, why=_told_anew(houses[index].why, said.get(index, "")))
        for rank, index in enumerate(order, start=1)
    )


def settle_rows(
    lay: Callable[..., tuple[Trellis, ...]],
    costs_of: Callable[[tuple[Trellis, ...]], tuple[ShadeCost, ...]],
    house: HoopHouse | None,
) -> tuple[tuple[Trellis, ...], tuple[ShadeCost, ...]]:
    """Lay the rows, and once more clear of the hoop house where the two shade each other.

    Parameters
    ----------
    lay : callable
        Lays the rows off the outlines that it is given.
    costs_of : callable
        Counts what the plan then takes from itself.
    house : HoopHouse or None

    Returns
    -------
    rows, costs
        The second try only where it lays as many rows and halves what they and the house take from each other.
    """
    rows = lay()
    costs = costs_of(rows)
    if house is None or between(costs) < WORTH_SAYING:
        return rows, costs
    moved = lay(house.outline.buffer(max(row.clear_distance for row in rows)))
    again = costs_of(moved)
    if len(moved) == len(rows) and between(again) < 0.5 * between(costs):
        return moved, again
    return rows, costs


def between(costs: Sequence[ShadeCost]) -> float:
    """Hours a day that hoop house and rows take from each other, each in its own months. [h]."""
    return sum(c.hours for c in costs if "the hoop house" in (c.work, c.by) and "trellis" in f"{c.work} {c.by}")


def say_sun(hours: float) -> str:
    """Say hours of sun, short ones in minutes.

    Examples
    --------
    >>> say_sun(0.4).replace(NO_BREAK, " ")
    '24 minutes of sun'
    """
    minutes = round(60.0 * hours)
    return f"{minutes}{NO_BREAK}minutes of sun" if minutes < 45 else f"{say_hours(hours)} of sun"


def _loss(land: Land, house: HoopHouse, beds: Sequence[Polygon], scene: Scene) -> float:
    """Hours a day that the beds lose to a house in the growing season, on the mean over their area. [h]."""
    own = land.settings.hoop_house
    whole = 0.0
    for bed in beds:
        if bed.distance(house.outline) <= REACH * own.height:
            lost = bed_hours_lost(land.site, land.settings, house.outline, own.height, [bed], own.film, scene, PLACES)
            whole += float(bed.area) * float(np.mean([lost[month - 1][1] for month in land.sunlight.season_months]))
    return whole / sum(float(bed.area) for bed in beds)


def _told_anew(why: str, first: str) -> str:
    """Put another first sentence in the place of the one that says the rank."""
    return f"{first} {why.partition('. ')[2]}" if first else why


def _when(cost: ShadeCost) -> str:
    return " in spring and autumn" if cost.months == SHOULDER_MONTHS else " in the growing season"
