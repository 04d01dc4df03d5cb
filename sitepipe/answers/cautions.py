"""The one list of cautions: what can hurt someone here, and whom to ask."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sitepipe.analysis import Analysis
from sitepipe.answers.hazards import all_near
from sitepipe.answers.impact import say_outlet, say_remedy
from sitepipe.answers.names import capital, joined, shown
from sitepipe.answers.plants import INDEX_OF_WETLAND, cautions_of_plants
from sitepipe.answers.ways import left_out
from sitepipe.drainage.cells import cells_inside
from sitepipe.drainage.edges import feeds
from sitepipe.saying import say_distance, say_length
from sitepipe.site import Feature, Kind, Site
from sitepipe.units import FOOT, INCH, Units, compass_word

ROAD_BAND = 100.0 * FOOT
"""Lead lies mainly within 100 ft of busy roads: a survey of 1970, cited in the trade notes. [m]"""

MOSQUITO_HOURS = 72.0
"""Water that stands longer breeds mosquitoes: 4 to 14 days from egg to adult, drain within 72 h. [h]"""

KNOW_PLANTS = (
    "Eat nothing that somebody who knows the plants has not named for you: water hemlock and poison hemlock are deadly "
    "and grow in ground like this. Never plant purple loosestrife, yellow flag, common reed, reed canary grass, glossy "
    "buckthorn or autumn olive; look up the local list of prohibited plants before you buy. Never burn or chip poison "
    "sumac or poison ivy."
)
STEEP, LEAST_STEEP = 0.466, 100.0
"""Ground of 25 degrees and more slips most readily (value from memory; no source), and less of it than this is a bank.
[rise per run], [m2]"""
WET_PLANTS = ("rush", "sedge", "cattail", "flag", "buttercup", "reed", "moss", "fern", "alder", "willow")
GRAY_SOIL_DEPTH = 12.0 * INCH
"""Gray or mucky soil nearer the surface than this is a sign of wetland. [m]"""


@dataclass(frozen=True, slots=True)
class Caution:
    """One warning that applies to this analysis.

    Parameters
    ----------
    topic : str
        A short fixed word for programs: ``digging``, ``septic``, ``wetland`` ...
    title : str
        What to do, in a few words.
    text : str
        One or two sentences, in the user's units.
    is_stop : bool
        Whether it must be cleared up before anything is begun.
    """

    topic: str
    title: str
    text: str
    is_stop: bool = False


def cautions_of(analysis: Analysis) -> tuple[Caution, ...]:
    """Return every caution that applies, the gravest first.

    Local codes and licensed practice come before anything said here.
    """
    return tuple(_all_cautions(analysis))


def _all_cautions(analysis: Analysis) -> Iterator[Caution]:
    site, units = analysis.site, analysis.settings.units
    yield digging(site, units)
    near = all_near(analysis)
    if near:
        yield Caution("near", "Work near what it can hurt", " ".join(near))
    for path in analysis.plan.left_out:
        yield Caution("no path", "Lay no path there", left_out(analysis, path))
    yield from _septic_and_well(site, units)
    yield from _wetland(analysis)
    yield from neighbour_cautions(analysis)
    yield from _steep(analysis)
    yield from _road(site, units)
    yield from _trench(analysis)
    yield from _walls(analysis)
    yield from _standing_water(analysis)
    yield from _poison(analysis)
    yield from _hoop_house(analysis)
    yield from _lifting(analysis)
    yield Caution(
        "law",
        "Ask locally first",
        "Boundaries, setbacks and permits are as the map was drawn, not as the law has them: "
        "local codes and licensed practice come before anything said here.",
    )


def by_hand(units: Units) -> str:
    """Say how near to a mark on the ground only a hand digs."""
    kept = "18 to 24\u00a0in" if units is Units.IMPERIAL else "45 to 60\u00a0cm"
    return f"dig by hand within {kept} of a mark"


def digging(site: Site, units: Units) -> Caution:
    """Return what must be asked before anyone digs."""
    drawn = site.of_kind(Kind.BURIED_LINE, Kind.SEPTIC)
    known = f" Drawn here: {joined([shown(line) for line in drawn])}; there may be others." if drawn else ""
    return Caution(
        "digging",
        "Call before you dig",
        "Have buried lines marked two to three working days before any digging, posts and stakes included "
        f"(811 in the United States, the local service elsewhere), and {by_hand(units)}. "
        f"Private lines are not marked by anyone.{known}",
    )


def _septic_and_well(site: Site, units: Units) -> Iterator[Caution]:
    field = site.of_kind(Kind.SEPTIC)
    if field:
        yield Caution(
            "septic",
            "Keep off the septic field",
            "No digging, driving, mounds or trees on it. Keep food crops at least "
            f"{say_distance(10 * FOOT, units)} away, {say_distance(20 * FOOT, units)} is safer, and willows and "
            f"poplars {say_distance(50 * FOOT, units)}.",
        )
    elif site.of_kind(Kind.BUILDING):
        yield Caution(
            "septic",
            "Is there a septic field?",
            "None is drawn. If the house has a tank or a field, find it and draw it before building: nobody may dig, "
            "drive or grow roots there.",
        )
    if site.of_kind(Kind.WELL):
        yield Caution(
            "well",
            "Keep compost from the well",
            f"Keep compost and manure {say_distance(50 * FOOT, units)} to {say_distance(100 * FOOT, units)} from it; "
            "the local health code decides.",
        )


def wetland_signs(analysis: Analysis) -> tuple[str, ...]:
    """Return the signs of a protected wetland that the site itself shows; two or more mean: stop and ask.

    Plants, soil and water are the three tests that delineators use; a map cannot replace them.
    """
    site, prevalence = analysis.site, analysis.planting.prevalence
    signs = []
    seen = [feature for feature in site.of_kind(Kind.OBSERVATION) if _tells_of(feature, WET_PLANTS)]
    if seen:
        signs.append(f"wet-ground plants ({joined([shown(feature) for feature in seen])})")
    elif prevalence is not None and prevalence.index <= INDEX_OF_WETLAND:
        signs.append(f"plants that point to wetland (index {prevalence.index:.1f})")
    gray = [
        reading
        for reading in site.auger_readings
        if reading.gray_depth is not None and reading.gray_depth <= GRAY_SOIL_DEPTH
    ]
    if gray:
        signs.append("gray soil near the surface")
    if any(
        place.is_seen and (place.hours_to_drain or 0.0) >= MOSQUITO_HOURS for place in analysis.wetness.soggy_places
    ):
        signs.append("water that stood for days")
    if any(feature.geometry.intersects(site.parcel) for feature in site.of_kind(Kind.WATER, Kind.DITCH)):
        signs.append("open water or a ditch beside it")
    return tuple(signs)


def _tells_of(feature: Feature, words: tuple[str, ...]) -> bool:
    told = " ".join([feature.name, *(str(value) for value in feature.attributes.values())]).lower()
    return any(word in told for word in words)


def _wetland(analysis: Analysis) -> Iterator[Caution]:
    signs = wetland_signs(analysis)
    if len(signs) >= 2:
        yield Caution(
            "wetland",
            "Stop: this may be protected wetland",
            f"Protected wetland? {capital(joined(list(signs)))}: ask the town before you fill, ditch or clear.",
            is_stop=True,
        )
    elif analysis.wetness.soggy_places:
        found = f" One sign was found: {signs[0]}." if signs else ""
        yield Caution(
            "wetland",
            "Wet ground may be protected",
            "Ask the town or the state before filling or draining it; two of wet-ground plants, gray soil near the "
            f"surface and long-standing water are enough to stop and ask.{found}",
        )


def neighbour_cautions(analysis: Analysis) -> Iterator[Caution]:
    """Yield what the plan does to the water of those who live around."""
    impact = analysis.plan.impact
    if impact is not None and not impact.passes:
        yield Caution(
            "neighbour",
            "This plan sends water where it did not go",
            "Built as drawn it would change the water at the boundary. Do not build it so. "
            + say_remedy(impact, analysis.site, analysis.settings),
            is_stop=True,
        )
    elif impact is not None and impact.outlets:
        count = len(impact.outlets)
        yield Caution(
            "neighbour",
            "More water leaves here than now",
            f"Built as drawn, more leaves over the boundary at {count} place{'s' if count > 1 else ''}, the first "
            f"{say_outlet(impact.outlets[0], analysis.site, analysis.settings.units)}. Spread it over the grass before "
            "it leaves, or leave out what turns it there; "
            "whoever lives below must agree, and local law may forbid it.",
        )
    elif any(not crossing.is_inflow for crossing in analysis.drainage.crossings):
        yield Caution(
            "neighbour",
            "Send no water next door",
            "Do not concentrate, turn or hold back water at the boundary: leave the gaps between mounds open, "
            "and look at the same places after the first heavy rain.",
        )


def _steep(analysis: Analysis) -> Iterator[Caution]:
    site, drainage = analysis.site, analysis.drainage
    above = feeds(drainage.receiver, drainage.order, cells_inside(site.grid, site.parcel))
    with np.errstate(invalid="ignore"):
        above &= analysis.terrain.broad_slope >= STEEP
    if above.sum() * site.grid.cell_area < LEAST_STEEP:
        return
    rows, columns = np.nonzero(above)
    middle = site.parcel.centroid
    bearings = np.degrees(np.arctan2(site.grid.x[columns] - middle.x, site.grid.y[rows] - middle.y))
    sides, cells = np.unique([compass_word(bearing) for bearing in bearings], return_counts=True)
    main = [str(side) for side in sides[np.argsort(-cells, kind="stable")][:2]]
    yield Caution(
        "steep ground",
        "Steep ground above",
        f"To the {joined(main)} ground of 1 in 2 and steeper rises above where "
        "you work: after long rain it may slip, or send water and stones down. Ask the geological survey or a licensed "
        "engineer, dig nothing away at its foot, and keep away in a storm.",
    )


def _road(site: Site, units: Units) -> Iterator[Caution]:
    roads = [road for road in site.of_kind(Kind.ROAD) if road.geometry.distance(site.parcel) <= ROAD_BAND]
    if roads:
        yield Caution(
            "lead",
            "Test the soil for lead by the road",
            f"Within {say_distance(ROAD_BAND, units)} of a road, and under the eaves of old painted walls, have the "
            "soil tested before growing food; 200 mg/kg is where the United States now asks for action.",
        )
        yield Caution(
            "sight",
            "Keep the corner clear to see",
            "Nothing tall by a road, a drive or a corner where drivers must see; the strip along the road is often "
            "public ground.",
        )


def _trench(analysis: Analysis) -> Iterator[Caution]:
    drain = analysis.plan.drain
    if drain is not None and drain.is_possible:
        yield Caution(
            "trench",
            "Never stand in a deep trench",
            f"A trench deeper than {say_length(1.2, analysis.settings.units)} can fall in and kill. "
            "The outlet must be yours, or permitted.",
        )


def _walls(analysis: Analysis) -> Iterator[Caution]:
    if analysis.plan.mounds or analysis.plan.paths:
        showing = say_length(6 * INCH, analysis.settings.units)
        yield Caution(
            "walls",
            "No wood or chips against walls",
            f"Buried wood and chips bring termites, damp and fire to a wall or fence: leave {showing} of wall showing "
            "and the ground falling away from it. No treated, painted or creosoted wood, no walnut under food.",
        )


def _standing_water(analysis: Analysis) -> Iterator[Caution]:
    lasting = [
        place
        for place in analysis.wetness.soggy_places
        if place.hours_to_drain is not None and place.hours_to_drain > MOSQUITO_HOURS
    ]
    if lasting:
        yield Caution(
            "mosquitoes",
            "Water that stands breeds mosquitoes",
            f"Place {joined([str(place.rank) for place in lasting])} holds water for more than three days in the warm "
            "season. Watch small children by any standing water.",
        )


def _poison(analysis: Analysis) -> Iterator[Caution]:
    """Say what holds for all plants, and what holds for single ones in one."""
    if not analysis.planting.beds:
        return
    yield Caution("plants", "Know plants before you eat, burn or plant them", KNOW_PLANTS)
    if single := cautions_of_plants(analysis.planting, analysis.settings.units):
        yield Caution("plants", "Single plants on the list", single)


def _hoop_house(analysis: Analysis) -> Iterator[Caution]:
    if analysis.plan.hoop_houses:
        yield Caution(
            "hoop house",
            "Anchor the hoop house, and ask for a permit",
            "Wind lifts a light house: anchor every corner, and test the anchors when the ground is wet. "
            "Clear or uncover it in heavy snow; many places want a permit.",
        )


def _lifting(analysis: Analysis) -> Iterator[Caution]:
    if analysis.plan.mounds or analysis.plan.paths or analysis.plan.jobs:
        load = "50\u00a0lb" if analysis.settings.units is Units.IMPERIAL else "25\u00a0kg"
        yield Caution(
            "lifting",
            "Lift with care",
            f"Wet chips and logs are heavy: no one lifts more than {load} alone. Saws and chippers only by trained "
            "hands, with eyes and ears covered. Look for ticks; drink in the heat.",
        )
