"""What there is and what the plan makes of it, in sentences: short, ways round, what waits, what is left over."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sitepipe.analysis import Analysis
from sitepipe.answers.jobs import say_months
from sitepipe.answers.names import called, capital, count, joined, tame
from sitepipe.saying import say_area, say_volume, say_work
from sitepipe.settings import Settings
from sitepipe.site import Ref, Site, Stuff, Work
from sitepipe.works.jobs.materials import CHIPS, LOGS, SOIL
from sitepipe.works.jobs.means import BULK, means_of
from sitepipe.works.jobs.record import Article, Ease, Quantity, Shortage, WayRound, YearOfWork
from sitepipe.works.mounds.crops import CROP_GROUPS

WORTH_BUYING = 0.05
"""Less is covered by the last barrow. [m3]"""
RENEWED = 0.25
"""Share of a path's chips that rots away in a year, 2 to 4 years for medium chips: value from memory. [1]"""
_EASES = {
    Ease.LOWER: "lower, for shallower roots",
    Ease.SHORTER: "shorter",
    Ease.THINNER: "with a thinner cover",
    Ease.SODS: "covered in part with the sods from under them, turned over",
}
_WHAT_FOR = {
    Stuff.POSTS: "for rows, arches and the hoop house: no treated wood under food",
    Stuff.PANELS: "of stiff wire, for arches: they spring, so never stand in their line",
    Stuff.CARDBOARD: "below the paths: plain and brown, tape off, wet",
    Stuff.FILM: "for the hoop house",
}
WORTH_HOURS = 0.5
"""Work that makes less of a difference is not told. [h]"""


def taken_for_granted(site: Site, settings: Settings) -> Iterator[str]:
    """Say what nobody said of material, hours and money, and what was taken instead."""
    stock, materials = site.stock, settings.materials
    if stock is None:
        loads = count(round(materials.loads_per_year), "load")
        soil = say_volume(materials.soil_per_year, settings.units)
        yield (
            f"No stock.csv says what there is. {capital(loads)} of chips, leaves, logs and brush a year are taken to "
            f"come for nothing; no soil, compost or firm fill is: at most {soil} of soil a year is taken to be found."
        )
    else:
        named = {BULK[supply.what].material for supply in stock if supply.what in BULK}
        missing = [name for name in (CHIPS, LOGS, SOIL) if name not in named]
        if missing:
            yield f"stock.csv names no {' and no '.join(missing)}: none is counted on."
        rough = [what for what, bulk in BULK.items() if bulk.low < bulk.high and what in {one.what for one in stock}]
        if rough:
            ranges = joined([_range(what) for what in rough])
            yield f"What is left once it is trodden, rotted or turned is a middle of {ranges}."
    if settings.jobs.hours is None:
        yield "Hours are not said (jobs.hours): as many as the plan asks for are taken to come."
    if stock and any(supply.price for supply in stock) and materials.money_per_year is None:
        yield "Money is not said (materials.money_per_year): nothing is bought."


def _range(what: Stuff) -> str:
    """Say how much of what one has ends up in the works; of ground that is cut or turned, how deep it makes."""
    bulk = BULK[what]
    if what in (Stuff.STANDING_BRUSH, Stuff.LAWN):
        return f"{1000.0 * bulk.low:.0f} to {1000.0 * bulk.high:.0f} litres a square metre of {what}"
    return f"{10.0 * bulk.low:.0f} to {10.0 * bulk.high:.0f} tenths of {what}"


def say_money(amount: float, settings: Settings) -> str:
    """Say a sum of money, to two figures from a hundred on.

    Examples
    --------
    >>> say_money(333.4, Settings())
    '$330'
    """
    step = 10 if amount >= 100.0 else 1
    return f"{settings.materials.currency}{step * round(amount / step):,}"


def in_short(material: str) -> str:
    """Name a material by its first word, where there is little room.

    Examples
    --------
    >>> in_short("chips and leaves"), in_short("firm fill")
    ('chips', 'firm fill')
    """
    return tame(material).partition(" and ")[0]


def say_to_find(quantity: Quantity, settings: Settings, of: str = "") -> str:
    """Say how much of a material has to be found or bought, and what it costs; nothing where there is enough."""
    if quantity.to_buy <= WORTH_BUYING:
        return ""
    price = "" if quantity.cost is None else f" ({say_money(quantity.cost, settings)})"
    return f"{say_volume(quantity.to_buy, settings.units)}{of}{price}"


def short(analysis: Analysis) -> Iterator[str]:
    """Say what there is too little of and from when on, the cheapest way round and its price."""
    plan, settings = analysis.plan, analysis.settings
    if plan.shortages:
        missing = joined([_shortage(one, settings) for one in plan.shortages])
        yield f"{missing}."
    yield from _ways_round(plan.ways_round, settings)
    if plan.chip_bed is not None:
        bed = plan.chip_bed
        yield (
            f"So make a bed of {say_volume(bed.chips, settings.units)} of chips on wet cardboard, on firm ground: "
            f"{say_area(bed.area, settings.units)} of {called(bed.zone)}, for {CROP_GROUPS[bed.CROPS].examples}."
        )


def waits(analysis: Analysis) -> Iterator[str]:
    """Say which works are not built for want of what is short."""
    if waiting := analysis.plan.waiting:
        yield f"{capital(works_named(waiting))} {'waits' if len(waiting) == 1 else 'wait'} until there is more."


def to_buy(analysis: Analysis) -> Iterator[str]:
    """Say what has to be found or bought for what is built."""
    found = [
        said
        for quantity in analysis.plan.quantities
        if (said := say_to_find(quantity, analysis.settings, f" of {in_short(quantity.material)}"))
    ]
    if found:
        yield f"{joined(found)}."


def _shortage(shortage: Shortage, settings: Settings) -> str:
    if not shortage.material:
        return f"{say_work(shortage.hours)} of work from year {shortage.year}"
    price = "price not known" if shortage.cost is None else f"{say_money(shortage.cost, settings)} to buy"
    name = "chips or logs" if shortage.material == LOGS else in_short(shortage.material)
    return f"{say_volume(shortage.volume, settings.units)} of {name} from year {shortage.year} ({price})"


def _ways_round(ways: tuple[WayRound, ...], settings: Settings) -> Iterator[str]:
    """Say one sentence for each way that mounds are built otherwise, with what it saves and what it costs."""
    for eases in dict.fromkeys(way.eases for way in ways):
        alike = [way for way in ways if way.eases == eases]
        names = works_named(tuple(Ref(Work.MOUND, way.mound) for way in alike))
        saved, hours = sum(way.saves for way in alike), sum(way.hours for way in alike)
        cost = f", {say_work(abs(hours))} {'more' if hours > 0.0 else 'less'} work" if abs(hours) >= WORTH_HOURS else ""
        how = joined([_EASES[ease] for ease in eases])
        yield f"So build {names} {how}: {say_volume(saved, settings.units)} less soil{cost}."


def works_named(refs: tuple[Ref, ...]) -> str:
    """Name works, those of one kind together.

    Examples
    --------
    >>> works_named((Ref(Work.MOUND, 2), Ref(Work.MOUND, 5), Ref(Work.PATH, 1), Ref(Work.HOOP_HOUSE, 1)))
    'mounds 2 and 5, path 1 and the hoop house'
    """
    named = []
    for kind in dict.fromkeys(ref.kind for ref in refs):
        alike = [ref for ref in refs if ref.kind is kind]
        if kind is Work.HOOP_HOUSE:
            named.append("the hoop house")
        elif len(alike) == 1:
            named.append(called(alike[0]))
        else:
            plural = f"{kind}es" if kind in (Work.TRELLIS, Work.ARCH) else f"{kind}s"
            named.append(f"{plural} {joined([str(ref.number) for ref in alike])}")
    return ", ".join(named[:-1]) + " and " + named[-1] if len(named) > 1 else named[0]


def without_paths(refs: tuple[Ref, ...]) -> tuple[Ref, ...]:
    """Leave out the paths where other works are built: they lead there."""
    return tuple(ref for ref in refs if ref.kind is not Work.PATH) or refs


def say_year(year: YearOfWork, analysis: Analysis) -> str:
    """Say what is built in a year, how long it takes and in which months, and what is bought for it."""
    settings = analysis.settings
    lifted = works_named(tuple(Ref(Work.MOUND, number) for number in year.tops_up)) if year.tops_up else ""
    built = works_named(without_paths(year.works)) if year.works else f"top up {lifted}"
    months = f", {say_months(year.months)}" if year.months else ""
    cost = f", {say_money(year.cost, settings)} to spend" if year.cost > 0.0 else ""
    work = f": {say_work(year.hours)} of work{months}" if year.hours > 0.0 else ""
    over = year.hours - sum((settings.jobs.hours or {"may": math.inf}).values())
    if over > 0.5:
        work += f" ({say_work(over)} more than come: some planting waits)"
    return f"Year {year.year}: {built}{work}{cost}."


def years(analysis: Analysis) -> Iterator[str]:
    """Say each year in which something is done, and when the ground carries what is brought."""
    done = [year for year in analysis.plan.years if year.works or year.tops_up]
    yield from (say_year(year, analysis) for year in done)
    wet = set(analysis.settings.water_table.wet_at(analysis.site.latitude))
    early = sorted({month for year in done for month in year.months if month in wet})
    if early:
        yield (
            f"{say_months(tuple(early))}: the ground is wet. Carry on chips and boards only; dig and tip soil where a "
            "heel sinks less than half an inch (1 cm) and a pressed ball of it breaks."
        )


def articles(analysis: Analysis) -> Iterator[str]:
    """Say what is counted or cut to size, and how much of it is still to be found."""
    for article in analysis.plan.articles:
        price = "" if not article.cost else f", {say_money(article.cost, analysis.settings)}"
        left = (
            "all at hand" if article.to_find <= 0.0 else f"{_sized(article, article.to_find, analysis)} to find{price}"
        )
        whole = _sized(article, article.pieces + article.area, analysis)
        yield f"{capital(str(article.what))}: {whole}, {_WHAT_FOR[article.what]}; {left}."


def _sized(article: Article, amount: float, analysis: Analysis) -> str:
    return say_area(amount, analysis.settings.units) if article.area else f"{amount:,.0f}"


def left_over(analysis: Analysis) -> Iterator[str]:
    """Say what wood is left once all is built, and what to do with it; nothing where nobody said what there is."""
    site, plan, settings = analysis.site, analysis.plan, analysis.settings
    if site.stock is None or not plan.years:
        return
    means = means_of(site.stock, settings, len(plan.years))
    used = sum(quantity.volume for quantity in plan.quantities if quantity.material in (CHIPS, LOGS))
    left = means.at_hand(len(plan.years) - 1, CHIPS, LOGS) - used
    renewed = RENEWED * sum(path.chips for path in plan.paths if path.ref not in plan.waiting)
    if left > settings.jobs.barrow:
        paths = f"{say_volume(renewed, settings.units)} a year keeps the paths as thick as they are, " * (renewed > 0.0)
        yield (
            f"{say_volume(left, settings.units)} of wood and chips are left over by year {len(plan.years)}: {paths}the "
            "rest mulches new plants a hand deep, off their stems, or lies on wet cardboard where a bed shall be next."
        )
