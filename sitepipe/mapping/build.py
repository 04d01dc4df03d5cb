"""What do we build? Mounds, hoop house, trellis, paths, planting, and what is left alone."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.mapping.frame import polygons_of, smooth, smooth_area
from sitepipe.mapping.view import Card, Desk, Part, Place, View
from sitepipe.mapping.water import HOLLOW_CAUTION, shores
from sitepipe.mapping.words import capital, count, ended, from_standpoint
from sitepipe.planting.record import BedPlan, PlantChoice
from sitepipe.scoring.record import Use, Zone
from sitepipe.site import Kind
from sitepipe.units import (
    say_area,
    say_barrows,
    say_depth,
    say_distance,
    say_hours,
    say_length,
    say_level,
    say_rain,
    say_stake,
    say_volume,
)
from sitepipe.works.record import HoopHouse, Mound, Path, Stake, TippingPlace, Trellis

DIG_CAUTION = "Call 811 (or your local line-locating service) two to three working days before any digging."
LEAST_PLANTING = 6.0
"""Smaller pieces of wet planting are not numbered. [m2]"""
MOST_PLANTINGS, MOST_ROWS = 4, 3
STROKES = {
    "measured": "solid",
    "seen": "solid",
    "worked out": "dashes",
    "likely": "dashes",
    "read once": "dashes",
    "rule of thumb": "dots",
    "may be": "dots",
    "guessed": "dots",
}
"""How a word for how sure is drawn: solid measured or seen, dashes worked out, dots a rule of thumb."""


def build_view(desk: Desk) -> View:
    """Draw the plan and say what there is to build."""
    view = View("Build", "What do we build?", _answer(desk), "To build, to plant, to leave alone")
    plan = desk.analysis.plan
    _add_zones(view, desk)
    _add_plantings(view, desk)
    _add_kept_clear(view, desk)
    for number, tipping in enumerate(plan.tipping_places[:1]):
        _add_tipping(view, desk, tipping, number)
    for path in plan.paths:
        _add_path(view, desk, path)
    for trellis in plan.trellises[:MOST_ROWS]:
        _add_trellis(view, desk, trellis)
    for house in plan.hoop_houses[:1]:
        _add_hoop_house(view, desk, house)
    for mound in plan.mounds:
        _add_mound(view, desk, mound)
    for mark, said in (
        ("mound", "Raised mound"),
        ("hoop-house", "Hoop house"),
        ("trellis", "Trellis"),
        ("path", "Chip path"),
        ("wet-planting", "Wet planting"),
        ("keep-clear", "Keep clear"),
        ("tipping", "Tip chips here"),
    ):
        if any(drawn["mark"] == mark for drawn in view.marks):
            view.add_legend(mark, said)
    rank = {"mounds": 0, "planting": 1, "path": 2, "house": 3, "trellis": 4, "tipping": 5}
    view.places.sort(key=lambda place: rank.get(place.group, 9))
    view.caution = _caution(desk)
    return view


def _answer(desk: Desk) -> str:
    plan, units = desk.analysis.plan, desk.units
    things = []
    if plan.mounds:
        things.append(count(len(plan.mounds), "mound"))
    if plan.hoop_houses:
        things.append("a hoop house")
    if plan.paths:
        things.append(f"{say_distance(sum(path.line.length for path in plan.paths), units)} of path")
    if not things:
        return "Nothing yet: no ground here asks for mounds or paths."
    said = things[0] if len(things) == 1 else ", ".join(things[:-1]) + " and " + things[-1]
    impact = plan.impact
    water = ""
    if impact is not None:
        water = " No water is pushed next door." if impact.passes else " It pushes water: see the caution."
    return capital(said) + "." + water


def _caution(desk: Desk) -> str:
    impact = desk.analysis.plan.impact
    said = [DIG_CAUTION]
    if impact is not None and not impact.passes:
        said.insert(0, f"As drawn it pushes water onto other ground. {ended(impact.remedy)}")
    said.append("Two signs of wetland, or a septic field near: ask the town before moving soil.")
    return " ".join(said)


def _touch(view: View, desk: Desk, outline: BaseGeometry, thing: str) -> None:
    view.marks.append({"mark": "touch", "area": desk.frame.areas(outline), "thing": thing})


def _add_zones(view: View, desk: Desk) -> None:
    for zone in desk.analysis.zones.zones:
        thing = f"zone-{zone.number}"
        _touch(view, desk, zone.outline.simplify(0.1), thing)
        view.cards[thing] = _zone_card(desk, zone)


def _zone_card(desk: Desk, zone: Zone) -> Card:
    units = desk.units
    titles = {
        Use.MOUND: "Ground for mounds",
        Use.WET_PLANTING: "Ground for wet planting",
        Use.PATH: "Ground for paths",
        Use.KEEP_CLEAR: "Keep clear",
        Use.LEAVE: "Leave as it is",
    }
    middle = zone.outline.representative_point()
    why = [f"Of ten points it scores {round(10 * zone.score)} for this use."] if zone.score > 0 else []
    if zone.limit:
        why.append(f"What holds it back most: {zone.limit}.")
    parts = [Part("Why.", " ".join(why) or "Nothing else asks for it.")]
    parts.append(Part("How sure.", strokes=(("dashes", "Worked out; walk it before you build"),)))
    plants = _plants_part(desk, f"zone {zone.number}")
    if plants is not None:
        parts.append(plants)
    caution = HOLLOW_CAUTION if zone.use is Use.WET_PLANTING else _reasons_to_keep_clear(desk, zone)
    return Card(
        titles[zone.use],
        from_standpoint(desk.analysis.site, middle, units),
        (
            ("Covers", say_area(zone.area, units)),
            ("Sun", say_hours(zone.sun_hours)),
            ("Wetness", f"{round(10 * zone.wetness)} of 10"),
        ),
        None,
        caution,
        tuple(parts),
    )


def _reasons_to_keep_clear(desk: Desk, zone: Zone) -> str:
    reasons = [
        ended(f"{capital(exclusion.reason)}: {exclusion.source}")
        for exclusion in desk.analysis.scores.exclusions
        if exclusion.outline.intersects(zone.outline)
    ]
    return " ".join(dict.fromkeys(reasons)) if zone.use is Use.KEEP_CLEAR else ""


def _add_plantings(view: View, desk: Desk) -> None:
    wet = [zone for zone in desk.analysis.zones.zones if zone.use is Use.WET_PLANTING]
    water = shores(desk)["stands-8"]
    for zone in wet:
        thing = f"zone-{zone.number}"
        outline = smooth_area(zone.outline, 0.6 * desk.analysis.site.grid.cell).intersection(desk.analysis.site.parcel)
        view.marks.append({"mark": "wet-planting", "area": desk.frame.areas(outline), "thing": thing})
    if wet:
        land = shapely.union_all([zone.outline for zone in wet])
        standing = water.intersection(land)
        if not standing.is_empty:
            view.marks.append({"mark": "water", "area": desk.frame.areas(standing), "thing": ""})
    for zone in sorted((z for z in wet if z.area >= LEAST_PLANTING), key=lambda z: -z.area)[:MOST_PLANTINGS]:
        middle = zone.outline.representative_point()
        choices = [choice for bed in _beds(desk, f"zone {zone.number}") for choice in bed.choices]
        plants = ", ".join(choice.common for choice in ([c for c in choices if c.count] or choices)[:3])
        rest = f"{from_standpoint(desk.analysis.site, middle, desk.units)}: {say_area(zone.area, desk.units)}"
        rest += f" for {plants}." if plants else "."
        view.places.append(Place(f"zone-{zone.number}", _west_side(zone.outline), 0.0, "planting", "Wet planting,", rest))


def _west_side(outline: BaseGeometry) -> shapely.Point:
    largest = max(polygons_of(outline), key=lambda piece: piece.area)
    west, _, _, _ = largest.bounds
    middle = largest.representative_point()
    cut = shapely.LineString([(west - 1.0, middle.y), (middle.x, middle.y)]).intersection(largest)
    coordinates = shapely.get_coordinates(cut)
    return shapely.Point(coordinates[0]) if len(coordinates) else middle


def _add_kept_clear(view: View, desk: Desk) -> None:
    for feature in desk.analysis.site.of_kind(Kind.SEPTIC, Kind.KEEP_CLEAR, Kind.WELL):
        area = feature.geometry
        if area.area <= 0.0:
            continue
        thing = f"feature-{feature.number}"
        mark = {"mark": "keep-clear", "area": desk.frame.areas(area), "thing": thing, "name": feature.name}
        view.marks.append(mark)
    for feature in desk.analysis.site.of_kind(Kind.BURIED_LINE):
        mark = {"mark": "buried", "line": desk.frame.lines(feature.geometry), "thing": f"feature-{feature.number}"}
        view.marks.append(mark)


def _add_path(view: View, desk: Desk, path: Path) -> None:
    thing, units = f"path-{path.number}", desk.units
    view.marks.append(
        {
            "mark": "path",
            "line": [desk.frame.line(smooth(path.line, 0.2))],
            "across": round(path.width, 2),
            "thing": thing,
        }
    )
    length = say_distance(path.line.length, units)
    ends = " to ".join(end for end in path.joins if end)
    rest = f"{length} long, {say_length(path.width, units)} wide" + (f", {ends}." if ends else ".")
    if path.is_main or path.number == 1:
        anchor = path.line.interpolate(0.6, normalized=True)
        view.places.append(Place(thing, anchor, 0.0, "path", "Chip path,", rest))
    parts = [Part("Why here.", ended(path.why))] if path.why else []
    if path.crossing_names:
        parts.append(Part("Crosses water.", ended(capital(", ".join(path.crossing_names)))))
    parts.append(Part("Materials.", f"Chips {say_volume(path.chips, units)}; they settle, so top up each year."))
    parts.append(Part("How sure.", strokes=(("dashes", "Laid out from the heights; walk it first"),)))
    view.cards[thing] = Card(
        "Chip path" if path.is_main else "Side path",
        ends,
        (("Long", length), ("Wide", say_length(path.width, units)), ("Chips", say_volume(path.chips, units))),
        None,
        "Chips float: where water crosses, lay stones or a log edge, and never make the path the lowest line.",
        tuple(parts),
    )


def _add_trellis(view: View, desk: Desk, trellis: Trellis) -> None:
    thing, units = f"trellis-{trellis.number}", desk.units
    view.marks.append(
        {
            "mark": "trellis",
            "line": [desk.frame.line(trellis.line)],
            "posts": trellis.posts,
            "thing": thing,
        }
    )
    length = say_distance(trellis.line.length, units)
    height = say_length(trellis.height, units)
    anchor = shapely.Point(trellis.line.coords[0])
    view.places.append(Place(thing, anchor, 0.0, "trellis", "Trellis,", f"{length} long, {height} high."))
    parts = [Part("Why here.", ended(trellis.why))]
    parts.append(Part("Posts.", f"{trellis.posts}, set {say_length(trellis.post_depth, units)} deep, braced at both ends."))
    parts.append(Part("How sure.", strokes=(("dashes", "Shade worked out for a clear sky"),)))
    view.cards[thing] = Card(
        "Trellis",
        from_standpoint(desk.analysis.site, trellis.line.centroid, units),
        (("Long", length), ("High", height), ("Posts", str(trellis.posts))),
        None,
        DIG_CAUTION,
        (*parts, *_stakes_part(desk, trellis.stakes)),
    )


def _add_hoop_house(view: View, desk: Desk, house: HoopHouse) -> None:
    thing, units = "hoop-house", desk.units
    corners = shapely.get_coordinates(house.outline.exterior)[:4].tolist()
    view.marks.append({"mark": "hoop-house", "area": desk.frame.areas(house.outline), "corners": len(corners), "thing": thing})
    size = f"{say_length(house.width, units)} by {say_length(house.length, units)}"
    west, south, east, north = house.outline.bounds
    reach = max(east - west, north - south)
    view.places.append(Place(thing, house.outline.centroid, reach, "house", "Hoop house,", f"{size}. {ended(house.why)}"))
    parts = [Part("Why here.", ended(house.why))]
    parts += [Part("Ridge.", ended(house.advice))] if house.advice else []
    if house.reasons:
        said = (("for", "of ten", "why"), *((name, str(round(10 * score)), why) for name, score, why in house.reasons))
        parts.append(Part("What counted.", table=said))
    water = f"{ended(capital(house.roof_water_goes))}" if house.roof_water_goes else ""
    if water:
        parts.append(Part("Roof water.", water))
    parts.append(Part("How sure.", strokes=(("dashes", "Worked out; look at it in a wet week"),)))
    others = desk.analysis.plan.hoop_houses[1:3]
    if others:
        said_others = " ".join(
            f"{other.rank}: {from_standpoint(desk.analysis.site, other.outline.centroid, units)}. {ended(other.why)}"
            for other in others
        )
        parts.append(Part("Next best.", said_others))
    view.cards[thing] = Card(
        "Hoop house",
        from_standpoint(desk.analysis.site, house.outline.centroid, units),
        (("Long", say_length(house.length, units)), ("Wide", say_length(house.width, units))),
        None,
        f"{DIG_CAUTION} Wind lifts it: anchor every corner, and test the pull in wet ground.",
        (*parts, *_stakes_part(desk, house.stakes)),
    )


def _add_tipping(view: View, desk: Desk, tipping: TippingPlace, number: int) -> None:
    thing = f"tipping-{number}"
    view.marks.append({"mark": "tipping", "area": desk.frame.areas(tipping.outline), "thing": thing})
    where = from_standpoint(desk.analysis.site, tipping.place, desk.units)
    view.places.append(Place(thing, tipping.place, 0.0, "tipping", "Tip chips here,", f"{where}. {ended(tipping.why)}"))
    view.cards[thing] = Card(
        "Where a truck may tip",
        where,
        (("Barrow haul", say_distance(tipping.mean_haul, desk.units)),) if tipping.mean_haul else (),
        None,
        "Not over the septic field, a buried line, or soft ground: a loaded truck sinks.",
        (
            Part("Access.", ended(capital(tipping.access))),
            Part("Why here.", ended(tipping.why)),
            Part("How sure.", strokes=(("dashes", "Worked out; look at it with the driver"),)),
        ),
    )


def _add_mound(view: View, desk: Desk, mound: Mound) -> None:
    thing, units = f"mound-{mound.number}", desk.units
    height = mound.height
    view.marks.append(
        {
            "mark": "mound",
            "area": desk.frame.areas(mound.outline),
            "line": [desk.frame.line(mound.crest)],
            "half": round(mound.base_width / 2.0, 2),
            "stakes": [[stake.label, *desk.frame.place(stake.place)] for stake in mound.stakes],
            "thing": thing,
        }
    )
    west, south, east, north = mound.outline.bounds
    reach = max(east - west, north - south)
    across = say_length(mound.base_width, units)
    view.places.append(
        Place(
            thing,
            mound.crest.interpolate(0.5, normalized=True),
            reach,
            "mounds",
            f"Mound {mound.number},",
            f"{say_distance(mound.crest.length + mound.base_width, units)} long: build it "
            f"{say_length(height.built, units)} high, for {mound.crops}.",
        )
    )
    view.cards[thing] = Card(
        f"Mound {mound.number}",
        from_standpoint(desk.analysis.site, mound.crest.centroid, units),
        (
            ("Build it", say_length(height.built, units)),
            ("It settles to", say_length(height.finished, units)),
            ("Base, across", across),
        ),
        {
            "kind": "mound",
            "built": round(height.built, 3),
            "finished": round(height.finished, 3),
            "base": round(mound.base_width, 3),
            "top": round(mound.top_width, 3),
            "water": round(height.depth_to_water, 3),
            "said": f"water in the wet season, {say_depth(height.depth_to_water, units)} down",
        },
        _mound_caution(desk, mound),
        _mound_parts(desk, mound),
    )


def _mound_caution(desk: Desk, mound: Mound) -> str:
    others = [other for other in desk.analysis.plan.mounds if other.number != mound.number]
    gap = ""
    if others:
        nearest = min(others, key=lambda other: float(other.outline.distance(mound.outline)))
        width = float(nearest.outline.distance(mound.outline))
        if width < 6.0:
            gap = f"Leave the {say_length(width, desk.units)} gap to mound\u00a0{nearest.number} open, or the row dams the water. "
    return f"{gap}{DIG_CAUTION} Two people to a wet log."


def _mound_parts(desk: Desk, mound: Mound) -> tuple[Part, ...]:
    units, height = desk.units, mound.height
    terms = (
        f"Roots {say_length(height.roots, units)} and damp fringe {say_length(height.fringe, units)}, "
        f"less {say_length(height.depth_to_water, units)} of ground above the water"
    )
    if height.allowance > 0.005:
        terms += f", and {say_length(height.allowance, units)} for what is not known"
    terms += f": {say_length(height.finished, units)}. Settling takes {round(10 * height.settlement)} parts in\u00a010."
    sureness = tuple((STROKES.get(kind.lower(), "dashes"), said) for kind, said in mound.sureness)
    materials = ", ".join(f"{name} {say_volume(volume, units)}" for name, volume in mound.materials)
    parts = [
        Part("Why so high.", terms),
        Part("How sure.", strokes=sureness or (("dashes", "Worked out from the water table"),)),
        Part(
            f"Materials, {say_volume(mound.volume, units)}.",
            f"{capital(materials)}: about {say_barrows(mound.barrows)}, {say_hours(mound.hours)} of work in all.",
        ),
    ]
    plants = _plants_part(desk, f"mound {mound.number}")
    if plants is not None:
        parts.append(plants)
    if mound.why:
        parts.append(Part("Why here.", ended(mound.why)))
    return (*parts, *_stakes_part(desk, mound.stakes))


def _beds(desk: Desk, where: str) -> list[BedPlan]:
    return [bed for bed in desk.analysis.planting.beds if bed.where == where]


def _plants_part(desk: Desk, where: str) -> Part | None:
    beds = _beds(desk, where)
    choices = [choice for bed in beds for choice in bed.choices]
    counted = [choice for choice in choices if choice.count]
    said = [_plant(desk, choice) for choice in (counted or choices)[:6]]
    if not said:
        return None
    notes = " ".join(ended(bed.note) for bed in beds if bed.note)
    return Part("Plants.", f"{ended('; '.join(said))} {notes}".strip())


def _plant(desk: Desk, choice: PlantChoice) -> str:
    entry = f"{choice.count} {choice.common}" if choice.count else choice.common
    if choice.spacing and choice.count > 1:
        entry += f", {say_length(choice.spacing, desk.units)} apart"
    return entry + (f" ({choice.caution.rstrip('.')})" if choice.caution else "")


def _stakes_part(desk: Desk, stakes: tuple[Stake, ...]) -> tuple[Part, ...]:
    if not stakes:
        return ()
    first = tuple(name for name, _ in stakes[0].from_points)
    is_shared = all(tuple(name for name, _ in stake.from_points) == first for stake in stakes)
    tapes = tuple(f"from {name}" for name in first) if is_shared else ("first tape", "second tape")
    rows = []
    for stake in stakes:
        label = f"{stake.label}, weak angle" if stake.angle < 30.0 else stake.label
        lengths = [
            say_stake(distance, desk.units) + ("" if is_shared else f" from {name}")
            for name, distance in stake.from_points
        ]
        rows.append((label, *lengths, say_level(stake.height, desk.units)))
    head = ("", *tapes, "its top")
    mark = desk.analysis.plan.bench_mark
    said = (Part("Heights.", ended(f"Counted from {mark}")),) if mark else ()
    return (Part("Stakes.", table=(head, *rows)), *said)


def storm_said(desk: Desk) -> str:
    """Return the rain of the larger storm, as people say it."""
    storms = desk.analysis.drainage.storms
    return say_rain(max(storm.rain_depth for storm in storms), desk.units) if storms else ""
