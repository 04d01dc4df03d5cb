"""What to plant where, in sentences."""

from __future__ import annotations

import re
from calendar import month_name
from collections.abc import Iterator
from itertools import combinations

from sitepipe.analysis import Analysis
from sitepipe.answers.names import called, capital, count, joined, plants_of, spoken, tame
from sitepipe.planting.record import BedPlan, Nursery, PlantChoice, Planting, Plot, PlotYear, Reason, Unknown
from sitepipe.saying import say_area, say_distance, say_hours, say_length
from sitepipe.settings import PlantingSettings
from sitepipe.site import Found, Kind, Work
from sitepipe.units import FOOT, Units

FITS = 0.8
"""From this fit on a plant fits; below, only just. [1]"""
INDEX_OF_WETLAND = 3.0
"""At or below it the vegetation points to wetland: US Army Corps of Engineers (1987), value from memory. [1]"""

REACHED = 4.0 * FOOT
"""Width up to which a bed's middle is reached from its two sides: extensions, in the trade notes. [m]"""
CROWN = 0.04
"""Of a shrub, above the soil of a mound, which sinks: common practice, no source. [m]"""
LEAST_ROTATION = 3
"""Years until a family comes back: common practice, no source."""

NO_TOLERANCE = "An indicator is not a crop tolerance."

_REASONS = {
    Reason.BEARS_STANDING_WATER: "stands in water after rain and bears it",
    Reason.BEARS_SATURATED_GROUND: "the ground is saturated in spring and it bears that",
    Reason.DRAINED_A_LITTLE: "it has a foot or so of drained soil, enough for it",
    Reason.WELL_ABOVE_WATER: "it stands well above the water",
    Reason.SUN_ENOUGH: "it has sun enough",
    Reason.DRIER_THAN_IT_LIKES: "drier than it likes: water it in dry spells",
    Reason.ROOTS_JUST_CLEAR: "its roots only just clear the water: set the crown high",
    Reason.TOO_LITTLE_SUN: "there is too little sun for it",
    Reason.CROPS_THINLY: "it grows there but crops thinly for want of sun",
    Reason.HARD_WINTER: "a hard winter may cut it back",
    Reason.RUST_OF_JUNIPER: "a rust will come to it from the juniper or red cedar near it: choose a kind that bears it",
    Reason.TALL_TREE: "a tall tree: it will shade what stands to the north of it",
}
"""What may be said of a plant that is proposed; reasons that strike one out are never said."""


_NO_PLACE = {
    Reason.NO_ROOM: "every bed that suits it is full",
    Reason.ROOTS_IN_WATER: "its roots would stand in water",
    Reason.ROOTS_ROT: "water stands there after rain and its roots rot",
    Reason.TOO_WET: "it is too wet for it everywhere",
    Reason.TOO_DRY: "it is too dry for it everywhere",
    Reason.WANTS_SHADE: "there is too much sun for it everywhere",
    Reason.TOO_LITTLE_SUN: "there is too little sun for it",
    Reason.TOO_COLD: "the winters are too cold for it",
    Reason.TOO_LARGE: "it grows too large for any bed",
    Reason.TOO_LARGE_FOR_MOUND: "it grows too large for any mound",
    Reason.NO_SUPPORT: "there is nothing for it to climb on; draw or ask for a trellis",
    Reason.ANOTHER_PURPOSE: "no bed is made for such plants",
    Reason.RUNS: "it would overrun what it stands beside; give it a bed of its own",
    Reason.POISONED_BY_WALNUT: "the nut tree near it would poison it",
    Reason.RUST_OF_PINE: "a rust that kills white pines lives on it too, and one stands near; ask what the law wants",
    Reason.SEASON_TOO_SHORT: "the season is too short for it",
    Reason.NEVER_PROPOSED: "it is invasive or dangerous: do not plant it",
}
"""Why a plant of the grower's finds no place."""


NURSERY_TURNS = (
    "Each autumn lift the block that is ready, feed the ground, and set another kind there than the one lifted."
)
"""How nursery ground is turned over: common practice, no source."""
_FAMILIES = {
    "Amaranthaceae": "beets",
    "Amaryllidaceae": "onions",
    "Apiaceae": "carrots",
    "Asteraceae": "lettuces",
    "Brassicaceae": "cabbages",
    "Cucurbitaceae": "squashes",
    "Fabaceae": "beans",
    "Solanaceae": "tomatoes",
}
"""Families as gardeners call them."""


def plants(analysis: Analysis) -> tuple[str, ...]:
    """Say where the grower's own plants go, which of them find no place, and what else would do well in each bed."""
    planting, units = analysis.planting, analysis.settings.units
    said = [*own_plants(analysis)]
    said += [
        capital(f"{bed_named(bed, analysis)}: {_bed(bed, planting, units)}") for bed in planting.beds if bed.positions
    ]
    said += rotation(analysis)
    return tuple(said) or ("Nothing is proposed for planting.",)


def bed_named(bed: BedPlan, analysis: Analysis) -> str:
    """Return what a bed is called: a drawn one by its own name."""
    return spoken(bed.of, analysis.site)


def own_plants(analysis: Analysis) -> Iterator[str]:
    """Say where each kind that the grower has goes, or why it finds no place and what would make one."""
    planting, units = analysis.planting, analysis.settings.units
    placed: dict[str, list[str]] = {}
    for bed in planting.beds:
        for choice in bed.choices:
            if choice.own:
                placed.setdefault(choice.common, []).append(f"{choice.own} in {bed_named(bed, analysis)}")
    for common, where in placed.items():
        yield f"Your {tame(common)}: {joined(where)}."
    for left in planting.unplaced:
        why = _NO_PLACE.get(left.reason, str(left.reason))
        near = f" (nearest to it: {called(left.nearest)})" if left.nearest is not None else ""
        remedy = ""
        if left.reason in (Reason.ROOTS_IN_WATER, Reason.ROOTS_ROT, Reason.TOO_WET) and left.aerated:
            remedy = f" A mound with {say_length(left.aerated, units)} of ground above the wet-season water would do."
        elif left.reason in (Reason.TOO_LITTLE_SUN, Reason.CROPS_THINLY) and left.sun:
            remedy = f" It asks for {say_hours(left.sun)} of sun a day."
        elif left.reason is Reason.NO_ROOM:
            remedy = " Give some away, or make one more bed."
        yield f"No place for {plants_of(left.count, left.common)}: {why}{near}.{remedy}"


def rotation(analysis: Analysis) -> Iterator[str]:
    """Say how families of vegetables move from plot to plot, year by year."""
    planting = analysis.planting
    if not planting.plots:
        return
    sooner = {family: years for family, years in _returns(planting).items() if years < planting.rotation_years}
    but = joined([f"{_FAMILIES.get(family, family)} ({years})" for family, years in sorted(sooner.items())])
    worse = "" if planting.rotation_years >= LEAST_ROTATION else " Three or four are better: rest a plot each year."
    yield (
        "Vegetables move on each year, so that no family comes back to its ground within "
        f"{count(planting.rotation_years, 'year')}{f', but for {but}, which fill more plots than one' if but else ''}."
        f"{worse}"
    )
    for plot in planting.plots:
        years = [families_of(year) for year in plot.years]
        yield f"{capital(plot_named(plot, analysis))}: {years[0]}; then {'; then '.join(years[1:])}."


def _returns(planting: Planting) -> dict[str, int]:
    """Return after how many years each family comes back to a plot, if it does."""
    found: dict[str, int] = {}
    for plot in planting.plots:
        for (year, one), (later, other) in combinations(enumerate(plot.years), 2):
            for family in {*one.families} & {*other.families}:
                found[family] = min(later - year, found.get(family, later - year))
    return found


def families_of(year: PlotYear) -> str:
    """Name the families of a plot's year as gardeners do, and what of them to leave out there."""
    left = f" (without {joined([tame(common) for common in year.left_out])})" if year.left_out else ""
    return joined([_FAMILIES.get(family, family) for family in year.families] or ["rest it, or sow clover"]) + left


def plot_named(plot: Plot, analysis: Analysis) -> str:
    """Return what a plot is called: its bed, and which part of it."""
    bed = spoken(plot.of, analysis.site)
    return bed if plot.parts == 1 else f"{bed}, part {plot.part} of {plot.parts}"


def _bed(bed: BedPlan, planting: Planting, units: Units) -> str:
    counted = [plants_of(choice.count, choice.common) for choice in bed.choices if choice.count > 0]
    return " ".join(
        text for text in (f"{joined(counted)}.", room_left(bed, units), note_of(bed, planting, units)) if text
    )


def room_left(bed: BedPlan, units: Units) -> str:
    """Say what the rest of a zone would hold, where its plants fill only a bed beside the path."""
    if not bed.room_for or bed.ground is None:
        return ""
    return (
        f"They fill a bed of about {say_area(bed.ground.area, units)}; the rest of this ground, about "
        f"{say_area(bed.left, units)}, has room for about {bed.room_for:,} more."
    )


def note_of(bed: BedPlan, planting: Planting, units: Units) -> str:
    """Say what goes in when, how nursery stock is dug, and what covers the rest."""
    if not bed.chosen:
        return "Nothing on the list fits here: leave it as it is, or ask locally."
    said = [order_of_planting(bed, planting)]
    if bed.year is not None and any(choice.waits for choice in bed.chosen):
        said.append(f"Top up the crest first; set each crown {say_length(CROWN, units)} above the soil.")
    stock = [_nursery(choice.common, choice.nursery) for choice in bed.chosen if choice.nursery is not None]
    said += [*stock, NURSERY_TURNS] if stock else []
    if bed.of.kind in (Kind.BED, Found.ZONE) and bed.width > REACHED:
        wide, reached = (say_length(length, units) for length in (bed.width, REACHED))
        said.append(
            f"It is {wide} wide: lay stepping boards every {reached}, so that its middle is reached from dry feet."
        )
    if bed.of.kind is Work.MOUND and any(choice.form in ("shrub", "tree") for choice in bed.chosen):
        said.append("White clover or chips cover the rest of the crest; chips stay on the surface.")
    return " ".join(text for text in said if text)


def order_of_planting(bed: BedPlan, planting: Planting) -> str:
    """Say in which month of which year each kind goes in."""
    said = []
    for month in planting.months:
        kinds = list(dict.fromkeys(tame(each.common) for each in month.sets if each.of == bed.of))
        if kinds:
            said.append(f"{month_name[month.month]} of year {month.year}: {joined(kinds)}.")
    return " ".join(said)


def _nursery(common: str, stock: Nursery) -> str:
    low, high = stock.worth_low, stock.worth_high
    worth = "" if low is None or high is None else f", worth {low:.0f} to {high:.0f} at your price"
    blocks = f" into one of {stock.blocks} blocks" if stock.blocks > 1 else ""
    by = f" by {stock.by}" if stock.by else ""
    return (
        f"{capital(tame(common))}{by}: {stock.set_a_year} set a year{blocks}, {month_name[stock.from_month]} to "
        f"{month_name[stock.to_month]}; {stock.sold_low} to {stock.sold_high} of them fit to sell after "
        f"{_seasons(stock)}{worth}."
    )


def _seasons(stock: Nursery) -> str:
    low, high = stock.years_low, stock.years_high
    return count(high, "season") if low == high else f"{low} to {high} seasons"


def verdict_of(choice: PlantChoice) -> str:
    """Say in a word or two how well a plant fits."""
    return "fits" if choice.fit >= FITS else "fits only just"


def why_of(choice: PlantChoice) -> str:
    """Say why a plant fits, and what speaks against it."""
    return f"{capital('; '.join(_REASONS[reason] for reason in choice.reasons))}." if choice.reasons else ""


def unknown_of(choice: PlantChoice) -> str:
    """Say what nobody knows of a plant here."""
    more = {
        Unknown.COLDEST_NIGHT: " (planting.coldest_night)",
        Unknown.ACIDITY: f": it wants pH {choice.acidity}",
    }
    return ", ".join(f"{unknown}{more.get(unknown, '')}" for unknown in choice.unknowns)


def caution_of(choice: PlantChoice, units: Units) -> str:
    """Say what is dangerous or troublesome in a plant; a palette writes its lengths as ``{15.2 m}``."""
    ask = "ask the local list before planting, it is unwanted in places" if choice.asks_locally else ""
    caution = re.sub(r"\{([\d.]+) m\}", lambda length: say_distance(float(length[1]), units), choice.caution)
    return "; ".join(text for text in (ask, caution) if text)


def cautions_of_plants(planting: Planting, units: Units) -> str:
    """Say the cautions of single plants, each once, in one sentence."""
    named = {choice.latin: choice for bed in planting.beds for choice in bed.chosen or bed.choices}
    said = {choice.common: caution_of(choice, units) for _, choice in sorted(named.items())}
    told = "; ".join(f"{common}: {caution}" for common, caution in said.items() if caution)
    return f"{capital(told)}." if told else ""


def prevalence_of(planting: Planting) -> str:
    """Say what the plants that grow there tell of the ground, by the published reading of their index."""
    found = planting.prevalence
    if found is None:
        return ""
    said = f"The plants that grow there give a prevalence index of {found.index:.2f}: "
    if found.index <= INDEX_OF_WETLAND:
        said += (
            "at 3.0 or less they point to wetland vegetation. "
            "Ask the local authority before you fill, ditch or clear there."
        )
    else:
        said += "above 3.0 they do not point to wetland."
    return said + (f" {', '.join(found.unrated)} unrated, counted as UPL." if found.unrated else "")


def notes_of(planting: Planting, settings: PlantingSettings) -> tuple[str, ...]:
    """Say what holds for the whole list."""
    notes = [
        f"Which plants mark a wetland is listed for {'; '.join(planting.indicator_regions)}. {NO_TOLERANCE}",
        "Sizes and spacings are from memory; the nursery's own label is better.",
    ]
    if settings.coldest_night is None:
        notes.append("The coldest night is not given (planting.coldest_night), so no plant was struck out for cold.")
    return tuple(notes)
