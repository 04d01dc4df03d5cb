"""Nursery: rows of young plants in blocks, one for each year that a kind stands until it is fit to sell."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from operator import itemgetter
from typing import TypeAlias

import shapely
from shapely import LineString, Point
from shapely.affinity import rotate

from sitepipe.planting.beds import Bed
from sitepipe.planting.match import fit
from sitepipe.planting.mixture import PROPOSED_FROM
from sitepipe.planting.palette import Own, Plant
from sitepipe.planting.record import Nursery
from sitepipe.planting.setting_out import Outline, long_way
from sitepipe.settings import PlantingSettings
from sitepipe.works.land import Land


@dataclass(frozen=True, slots=True)
class Increase:
    """How a kind is increased: a row of ``propagation.csv``, which has the source of each value.

    Parameters
    ----------
    by : str
        Such as ``hardwood cutting``.
    months : (int, int)
        From and to which month it is taken or sown.
    in_row, row : float
        Between young plants in a row, and between rows. [m]
    years : (int, int)
        Growing seasons until it is fit to sell, from and to.
    take : (float, float)
        Share that grows on, from and to. [1]
    """

    by: str
    months: tuple[int, int]
    in_row: float
    row: float
    years: tuple[int, int]
    take: tuple[float, float]

    def a_row(self, across: float) -> int:
        """Count the plants of a row across a bed of some width. [m]."""
        return max(int(across / self.in_row + 1e-9) + 1, 1)


def read_increase() -> Mapping[str, Increase]:
    """Read how each kind is increased, by its Latin name."""
    text = resources.files("sitepipe.planting").joinpath("propagation.csv").read_text(encoding="utf-8")
    return {
        row["latin"]: Increase(
            by=row["method_kind"].replace("_", " "),
            months=(int(row["month_start"]), int(row["month_end"])),
            in_row=float(row["bed_in_row_m"]),
            row=float(row["bed_row_m"]),
            years=(math.ceil(float(row["years_to_saleable_low"])), math.ceil(float(row["years_to_saleable_high"]))),
            take=(float(row["take_pct_low"]) / 100.0, float(row["take_pct_high"]) / 100.0),
        )
        for row in csv.DictReader(io.StringIO(text))
    }


_USUAL = Increase("", (3, 5), 0.15, 0.45, (1, 2), (0.6, 0.85))
"""Of the grower's own kinds of which the list has nothing: common practice, no source."""
BESIDE = 0.1
"""Kept free along the edge of a nursery bed. Common practice, no source. [m]"""


@dataclass(frozen=True, slots=True)
class Stand:
    """One kind in a nursery bed: in each of its blocks as many rows as in any other, and every plant's place."""

    plant: Plant
    increase: Increase
    blocks: tuple[tuple[Point, ...], ...]

    def record(self, price: float | None) -> Nursery:
        """Return what is told of it; money only from the user's own price for one plant."""
        a_year = min(len(block) for block in self.blocks)
        low, high = (int(a_year * share + 1e-9) for share in self.increase.take)
        return Nursery(
            by=self.increase.by,
            from_month=self.increase.months[0],
            to_month=self.increase.months[1],
            blocks=len(self.blocks),
            in_row=self.increase.in_row,
            set_a_year=a_year,
            years_low=self.increase.years[0],
            years_high=self.increase.years[1],
            sold_low=low,
            sold_high=high,
            worth_low=None if price is None else low * price,
            worth_high=None if price is None else high * price,
        )


Raised: TypeAlias = "list[list[Stand]]"


def lay_rows(ground: Outline, wishes: Sequence[tuple[Plant, Increase, int]], setback: float) -> list[Stand]:
    """Lay rows across a nursery bed, kind after kind.

    Parameters
    ----------
    ground : polygon
        [m]
    wishes : sequence of (plant, increase, count)
        How many are set a year, 0 where as many as there is room for; those with a count come first, all others get a
        row in each block, as far as the bed reaches, then one more in turn.
    setback : float
        Kept free along the edge. [m]

    Returns
    -------
    list of Stand
        Kinds for which there is no room are left out.

    Examples
    --------
    >>> from shapely import box
    >>> osier, cut = Plant("Salix nova", "osier"), Increase("cutting", (11, 4), 0.25, 0.5, (1, 2), (0.8, 1.0))
    >>> (stand,) = lay_rows(box(0, 0, 5, 1), [(osier, cut, 8)], 0.0)
    >>> [len(block) for block in stand.blocks]
    [10, 10]
    """
    turn = long_way(ground)
    level = rotate(ground, -turn, origin=(0.0, 0.0)).buffer(-setback)
    if level.is_empty:
        return []
    west, south, east, north = level.bounds
    usual = level.area / (east - west)
    rows: dict[int, int] = {}
    left = east - west

    def more(wish: int, count: int) -> bool:
        nonlocal left
        _, increase, _ = wishes[wish]
        needed = count * increase.years[1] * increase.row
        if needed > left + 1e-9:
            return False
        left -= needed
        rows[wish] = rows.get(wish, 0) + count
        return True

    asked = [k for k, (_, increase, count) in enumerate(wishes) if count]
    for k in asked:
        _, increase, count = wishes[k]
        more(k, math.ceil(count / increase.a_row(usual)))
    others = [k for k in range(len(wishes)) if k not in asked and more(k, 1)]
    while others := [k for k in others if more(k, 1)]:
        pass
    found: list[Stand] = []
    x = west
    for k in sorted(rows):
        plant, increase, _ = wishes[k]
        blocks = []
        for _block in range(increase.years[1]):
            places: list[Point] = []
            for _row in range(rows[k]):
                line = level.intersection(
                    LineString([(x + increase.row / 2.0, south), (x + increase.row / 2.0, north)])
                )
                chord = max(shapely.get_parts(line), key=lambda part: part.length, default=LineString())
                along = [increase.in_row * step for step in range(increase.a_row(chord.length))]
                places += [rotate(chord.interpolate(at), turn, origin=(0.0, 0.0)) for at in along if not chord.is_empty]
                x += increase.row
            blocks.append(tuple(places))
        found.append(Stand(plant, increase, tuple(blocks)))
    return found


def raise_stock(beds: Sequence[Bed], own: Own, palette: Sequence[Plant], grown: Collection[str], land: Land) -> Raised:
    """Fill the nursery beds: with what the grower wants to raise, then with what has its mother plants in the plan.

    ``grown`` are the Latin names of what the plan sets out: their cuttings, seed and divisions cost nothing.
    """
    settings, increase = land.settings.planting, read_increase()
    asked: dict[str, int] = {}
    usual = {plant.latin: _USUAL for plant, _ in own}
    for plant, mine in own:
        asked[plant.latin] = asked.get(plant.latin, 0) + mine.count
    found: Raised = []
    for bed in beds:
        wishes = []
        for plant in palette:
            how = increase.get(plant.latin, usual.get(plant.latin))
            score = fit(plant, bed.place).score
            is_raised = any(stand.plant is plant for stands in found for stand in stands)
            proposed = "nursery stock" in plant.uses and "nursery stock" in settings.wanted and plant.is_known
            if how is None or score < PROPOSED_FROM or is_raised or not (proposed or plant.latin in asked):
                continue
            price = price_of(plant, settings)
            rank = (plant.latin not in asked, price is None, plant.latin not in grown, -round(score, 2), plant.latin)
            wishes.append((rank, (plant, how, asked.get(plant.latin, 0))))
        found.append(lay_rows(bed.ground, [wish for _, wish in sorted(wishes, key=itemgetter(0))], BESIDE))
    return found


def price_of(plant: Plant, settings: PlantingSettings) -> float | None:
    """Return what one young plant fetches, as the user says."""
    return settings.prices.get(plant.latin, settings.prices.get(plant.common))
