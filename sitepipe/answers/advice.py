"""What a site folder allows, and what one more hour of measuring would buy, in order of worth."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sitepipe.answers.exclusions import undrawn
from sitepipe.answers.names import count, joined, shown
from sitepipe.saying import say_area, say_chance, say_depth, say_distance, say_length
from sitepipe.settings import Settings
from sitepipe.site import COARSE_CELL, STANDING, Feature, Ground, Kind, Origin, Site
from sitepipe.terrain.undrawn import undrawn_ground
from sitepipe.units import INCH, Units

SHALLOW_PUDDLE = 0.03
"""A puddle that matters on a lawn. [m]"""

BELIEVED = 1.6449
"""Standard deviations that a one-sided 95 % asks for."""

CELLS_OF_HOLLOW = 3.0
"""A hollow needs a cell and a rim on either side of it."""

MOST_SAID = 5


@dataclass(frozen=True, slots=True)
class Allowed:
    """One question that the data can or cannot answer: ``yes``, ``in part`` or ``no``."""

    question: str
    verdict: str
    why: str


@dataclass(frozen=True, slots=True)
class Measurement:
    """Something worth an hour: what to do, with what, what it buys."""

    what: str
    tools: str
    buys: str


def least_believed_hollow(height_error: float) -> float:
    """Return the depth of hollow that one height against one rim height tells from level ground in 95 of 100 cases.

    Examples
    --------
    >>> round(least_believed_hollow(0.013), 3)
    0.03
    """
    return BELIEVED * math.sqrt(2.0) * height_error


def chance_of_right_sign(depth: float, height_error: float) -> float:
    """Return the chance that a hollow of a depth shows as a hollow at all, one height against one rim height."""
    if height_error <= 0.0:
        return 1.0
    return 0.5 * (1.0 + math.erf(depth / (math.sqrt(2.0) * height_error) / math.sqrt(2.0)))


def understood(site: Site, settings: Settings) -> tuple[str, ...]:
    """Say what was read."""
    units = settings.units
    ground = site.ground
    said = [
        f"The parcel has {say_area(site.parcel.area, units)}.",
        f"Heights: {ground.source}, good to {say_length(ground.vertical_error, units)} ({ground.error_source}).",
        *ground_as_understood(site, units),
    ]
    kinds = [kind for kind in Kind if kind is not Kind.PARCEL and site.of_kind(kind)]
    if kinds:
        said.append(f"Drawn: {joined([_counted(kind, len(site.of_kind(kind))) for kind in kinds])}.")
    else:
        said.append("Nothing is drawn but the parcel.")
    if site.works:
        sorts = [(work.kind, work.status) for work in site.works]
        told = [f"{count(sorts.count(sort), f'{sort[0]}')} {sort[1]}" for sort in dict.fromkeys(sorts)]
        said.append(f"Works of yours: {joined(told)}.")
    said += undrawn(undrawn_ground(site, settings.keep_clear.undrawn), site, units)
    if site.auger_readings:
        holes = len({reading.place for reading in site.auger_readings})
        said.append(f"Depth to water: {count(len(site.auger_readings), 'reading')} in {count(holes, 'auger hole')}.")
    return tuple(said)


def ground_as_understood(site: Site, units: Units, is_shared: bool = False) -> Iterator[str]:
    """Say extent, cell, unit and dates of the heights; what is shared tells no height above the sea."""
    grid, ground = site.grid, site.ground
    across, along, cell, low, high = (
        say_length(length, units)
        for length in (
            grid.columns * grid.cell,
            grid.rows * grid.cell,
            grid.cell,
            float(np.nanmin(site.elevation)),
            float(np.nanmax(site.elevation)),
        )
    )
    span = f"from {low} to {high} high"
    if is_shared:
        rise = say_length(float(np.nanmax(site.elevation) - np.nanmin(site.elevation)), units)
        span = f"{rise} from the lowest to the highest"
    yield f"Read: {across} by {along}, a height every {cell}, {span}."
    yield f"The file's heights are in {ground.unit} ({ground.unit_source or 'taken for granted'})."
    if not ground.dates:
        yield "The sources do not say when they were made."
    elif len(ground.dates) == 1:
        yield f"The source was made on {ground.dates[0]}, as it says itself."
    else:
        yield f"The oldest source was made on {ground.dates[0]}, the newest on {ground.dates[-1]}, as they say."


def _counted(kind: Kind, count: int) -> str:
    if count == 1:
        return f"1 {kind}"
    plural = {Kind.TREE: "trees", Kind.KEEP_CLEAR: "areas to keep clear", Kind.DITCH: "ditches"}
    return f"{count} {plural.get(kind, f'{kind}s')}"


def allowed(site: Site, settings: Settings) -> tuple[Allowed, ...]:
    """Say which questions the heights and the drawing can answer."""
    return tuple(_allowed(site, settings))


def _allowed(site: Site, settings: Settings) -> Iterator[Allowed]:
    units = settings.units
    if site.open_edge:
        yield Allowed(
            "Where water comes from", "in part", "the ground that feeds the parcel runs off the edge of the heights"
        )
    else:
        yield Allowed("Where water comes from", "yes", "the heights cover all the ground that feeds the parcel")
    yield _puddles(site, settings)
    yield _sun(site, settings)
    if site.ground.bears_works:
        yield _mounds(site)
        yield _stakes(site)
        return
    told = _too_coarse(site.ground, units)
    yield Allowed("How high mounds must be", "no", told)
    yield Allowed("Where stakes go", "no", told)


def _puddles(site: Site, settings: Settings) -> Allowed:
    units, error, question = settings.units, site.ground.vertical_error, "Where puddles stand"
    if site.ground.source_cell >= COARSE_CELL:
        cell, hollow = (say_distance(cells * site.ground.source_cell, units) for cells in (1.0, CELLS_OF_HOLLOW))
        return Allowed(question, "no", f"cells of {cell} show no hollow narrower than {hollow}")
    least = least_believed_hollow(error)
    told = (
        f"heights good to {say_length(error, units)} tell a hollow from level ground from {say_depth(least, units)} on"
    )
    if least <= SHALLOW_PUDDLE * 1.05:
        return Allowed(question, "yes", told)
    chance = say_chance(chance_of_right_sign(SHALLOW_PUDDLE, error))
    puddle = say_depth(SHALLOW_PUDDLE, units)
    told += f"; one of {puddle} shows as a hollow with {chance} only"
    return Allowed(question, "in part" if least <= 4.0 * SHALLOW_PUDDLE else "no", told)


def _too_coarse(ground: Ground, units: Units) -> str:
    """Say why the heights bear no works, however finely they are drawn."""
    if ground.source_cell >= COARSE_CELL:
        cell = say_distance(ground.source_cell, units)
        return f"cells of {cell} are wider than a mound or a path; bring cells of 2 m or less, or level it yourself"
    error = say_length(ground.vertical_error, units)
    return f"a height may be off by {error}, as much as a mound is high; bring surer heights, or level it yourself"


def _sun(site: Site, settings: Settings) -> Allowed:
    standing = site.of_kind(*STANDING)
    guessed = [feature for feature in standing if feature.height_by is Origin.GUESSED]
    if not undrawn_ground(site, settings.keep_clear.undrawn).is_empty:
        return Allowed("Where the sun reaches", "in part", "the surface model shows something that is not drawn")
    if not standing:
        return Allowed("Where the sun reaches", "in part", "no tree, hedge or building is drawn that could shade it")
    if guessed:
        return Allowed(
            "Where the sun reaches", "in part", f"the height is guessed for {_few(guessed)}: write what is known"
        )
    return Allowed("Where the sun reaches", "yes", "everything drawn that stands has its height")


def _mounds(site: Site) -> Allowed:
    if site.auger_readings:
        return Allowed("How high mounds must be", "yes", "the depth to water was read in auger holes")
    return Allowed("How high mounds must be", "in part", "the depth to water is worked out from the ground, not read")


def _stakes(site: Site) -> Allowed:
    fixed = site.of_kind(Kind.FIXED_POINT, Kind.GATE, Kind.BUILDING)
    if len(fixed) >= 2:
        return Allowed("Where stakes go", "yes", f"tapes can start at {_few(list(fixed))}")
    return Allowed("Where stakes go", "no", "fewer than two things are drawn that a tape can start at")


def _few(features: list[Feature]) -> str:
    names = list(dict.fromkeys(shown(feature) for feature in features))
    return joined(names) if len(names) <= 3 else f"{', '.join(names[:3])} and {len(names) - 3} more"


def worth_an_hour(site: Site, settings: Settings) -> tuple[Measurement, ...]:
    """Return what to measure next, the most worth first."""
    return tuple(_worth(site, settings))[:MOST_SAID]


def _worth(site: Site, settings: Settings) -> Iterator[Measurement]:
    units = settings.units
    if not site.of_kind(Kind.BURIED_LINE, Kind.SEPTIC):
        yield Measurement(
            "Have buried lines marked and ask where the septic field lies; draw both.",
            "telephone",
            "no one digs into them, and nothing is planned on top",
        )
    if site.stock is None:
        yield Measurement(
            "List in stock.csv what there is: chips, logs, soil.",
            "a walk round the ground, and a telephone",
            "the plan fits what you have, and says what is short and how to do without",
        )
    if not site.of_kind(Kind.OBSERVATION):
        rain = say_depth(INCH, units)
        yield Measurement(
            f"Walk it a day after {rain} of rain and draw where water stands and where it stayed dry.",
            "boots, a phone for pictures",
            "what was seen outweighs what is worked out, and says how far to trust the rest",
        )
    if not site.auger_readings:
        depth = say_length(3.0 * 12.0 * INCH if units is Units.IMPERIAL else 1.0, units)
        yield Measurement(
            f"Bore three holes to {depth}, wait a day, read the depth to water; again each week in spring.",
            "hand auger, tape",
            "the height of every mound rests on it",
        )
    yield from _levels(site, units)
    yield from _tree_heights(site, units)
    if len(site.of_kind(Kind.FIXED_POINT)) < 2:
        yield Measurement(
            "Draw two fixed points that will still stand next year, such as a gate post and a corner of the house.",
            "",
            "stakes are set out from them with two tapes",
        )
    if site.open_edge:
        yield Measurement(
            "Fetch the heights again, reaching further uphill.",
            "the public elevation portal",
            "all the water that comes is counted",
        )
    if site.of_kind(Kind.ROAD) and not site.of_kind(Kind.CULVERT):
        yield Measurement(
            "Look along the road for pipes under it and draw each as a culvert.",
            "boots",
            "water passes where it passes, instead of being held back by the bank",
        )


def _levels(site: Site, units: Units) -> Iterator[Measurement]:
    if least_believed_hollow(site.ground.vertical_error) > SHALLOW_PUDDLE * 1.05:
        step = say_distance(2.0, units)
        yield Measurement(
            f"Level the wet part on a grid of {step}, starting from a bench mark and ending there.",
            "water level or laser, staff",
            f"hollows of {say_depth(least_believed_hollow(0.005), units)} can be told from level ground",
        )


def _tree_heights(site: Site, units: Units) -> Iterator[Measurement]:
    standing = site.of_kind(*STANDING)
    guessed = [feature for feature in standing if feature.height_by is Origin.GUESSED]
    if guessed:
        yield Measurement(
            f"Measure how high {_few(guessed)} stand{'s' if len(guessed) == 1 else ''}: "
            f"shadow against the shadow of a {say_length(1.0 if units is Units.METRIC else 36 * INCH, units)} stick.",
            "stick, tape, a sunny hour",
            "the sun of the leanest month, which decides where food grows",
        )
