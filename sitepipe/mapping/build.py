"""What do we build? Mounds, hoop house, trellis, paths, planting, and what is left alone."""

from __future__ import annotations

import dataclasses

import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.answers import exclusions
from sitepipe.answers.impact import say_in_short, say_remedy
from sitepipe.answers.mounds import LACKING
from sitepipe.answers.names import capital, count, ended
from sitepipe.answers.plants import bed_named
from sitepipe.answers.where import from_standpoint
from sitepipe.mapping.frame import polygons_of, smooth_area
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.mounds import add_mound
from sitepipe.mapping.parts import DIG_CAUTION, HOLLOW_CAUTION, beds, plants_part
from sitepipe.mapping.plants import add_plants, bed_marks, drawn_beds
from sitepipe.mapping.standing import buried_lines, fixed_points, named
from sitepipe.mapping.structures import (
    add_arch,
    add_hoop_house,
    add_path,
    add_swale,
    add_tipping,
    add_trellis,
    number_path,
    number_paths,
    path_marks,
)
from sitepipe.mapping.view import Card, Desk, Part, Place, View
from sitepipe.mapping.water import shores
from sitepipe.planting.record import BedPlan
from sitepipe.saying import say_area, say_distance, say_hours
from sitepipe.scoring.record import Use, Zone
from sitepipe.site import Found, Kind, Ref
from sitepipe.works.mounds.record import Lacking
from sitepipe.works.record import Plan

LEAST_PLANTING = 6.0
"""Smaller pieces of wet planting are not numbered. [m2]"""
MOST_PLANTINGS, MOST_ROWS = 4, 3


def build_view(desk: Desk) -> View:
    """Draw the plan and say what there is to build."""
    view = View("Build", "What do we build?", _answer(desk), "To build, to plant, to leave alone")
    plan = desk.analysis.plan
    _add_zones(view, desk)
    _add_plantings(view, desk)
    _add_kept_clear(view, desk)
    for number, tipping in enumerate(plan.tipping_places):
        add_tipping(view, desk, tipping, number)
    view.marks += path_marks(desk)
    for path in plan.paths:
        add_path(view, desk, path)
    if len(plan.paths) == 1:
        number_path(view, desk, plan.paths[0])
    elif plan.paths:
        number_paths(view, desk, plan.paths)
    for trellis in plan.trellises[:MOST_ROWS]:
        add_trellis(view, desk, trellis)
    for arch in plan.arches:
        add_arch(view, desk, arch)
    for swale in plan.swales:
        add_swale(view, desk, swale)
    for house in plan.hoop_houses:
        add_hoop_house(view, desk, house)
    for mound in plan.mounds:
        add_mound(view, desk, mound)
    if add_plants(view, desk):
        drawn = [bed for bed in drawn_beds(desk) if bed.of.kind is Kind.BED]
        view.cards |= {f"bed-{bed.of.number}": _bed_card(desk, bed) for bed in drawn}
        view.caption = "To build and plant; come closer to see each plant"
    view.marks += fixed_points(desk)
    view.add_legend_of_drawn(
        (
            *_states(plan),
            ("hoop-house-proposed", "Hoop house"),
            ("trellis-proposed", "Trellis"),
            ("swale-runs", "Swale"),
            ("path", "Chip path"),
            ("wet-planting", "Wet planting"),
            ("keep-clear", "Keep clear"),
            ("tipping", "Chip pile"),
            ("water", "Water stands"),
        )
    )
    rank = {"mounds": 0, "planting": 1, "path": 2, "house": 3, "trellis": 4, "tipping": 5}
    view.places.sort(key=lambda place: rank[place.group])
    _weigh(view)
    view.caution = _caution(desk)
    return view


def _states(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Return the first entries of the legend: whose the works are, where not all were only proposed."""
    if all(work.is_proposed for work in plan.works):
        return (("mound-proposed", "Raised mound"),)
    return (("mound-stands", "Stands"), ("mound", "You want it"), ("mound-proposed", "Proposed"))


def _weigh(view: View) -> None:
    """Let the first of each kind come before the second of any."""
    order = ("mounds", "house", "planting", "path", "tipping", "trellis")
    for group in order:
        members = [place for place in view.places if place.group == group]
        for k, place in enumerate(members):
            nth = 0 if group == "mounds" else k
            weighed = dataclasses.replace(place, weight=nth * len(order) + order.index(group))
            view.places[view.places.index(place)] = weighed


def _answer(desk: Desk) -> str:
    plan, units = desk.analysis.plan.to_build(), desk.units
    things = []
    if plan.mounds:
        things.append(count(len(plan.mounds), "mound"))
    if plan.hoop_houses:
        things.append("a hoop house")
    if plan.paths:
        things.append(f"{say_distance(sum(path.line.length for path in plan.paths), units)} of path")
    if plan.mound_choice.lacking is Lacking.FINER_HEIGHTS:
        return LACKING[Lacking.FINER_HEIGHTS]
    if not things:
        return "Nothing yet: no ground here asks for mounds or paths."
    said = things[0] if len(things) == 1 else ", ".join(things[:-1]) + " and " + things[-1]
    water = f" {say_in_short(plan.impact, units)}" if plan.impact is not None else ""
    return capital(said) + "." + water


def _caution(desk: Desk) -> str:
    impact = desk.analysis.plan.impact
    said = [DIG_CAUTION]
    if impact is not None and not impact.passes:
        remedy = say_remedy(impact, desk.analysis.site, desk.analysis.settings)
        said.insert(0, f"As drawn it pushes water onto other ground. {remedy}")
    said.append("Two signs of wetland, or a septic field near: ask the town before moving soil.")
    return " ".join(said)


def _add_zones(view: View, desk: Desk) -> None:
    for zone in desk.analysis.zones.zones:
        thing = f"zone-{zone.number}"
        view.marks.append(Drawn("touch", area=desk.frame.areas(zone.outline.simplify(0.1)), thing=thing))
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
        why.append(f"What holds it back most: {exclusions.limit(zone)}.")
    parts = [Part("Why.", " ".join(why) or "Nothing else asks for it.")]
    parts.append(Part("How sure.", strokes=(("dashes", "Worked out; walk it before you build"),)))
    plants = plants_part(desk, Ref(Found.ZONE, zone.number))
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


def _bed_card(desk: Desk, bed: BedPlan) -> Card:
    plants = plants_part(desk, bed.of)
    return Card(
        capital(bed_named(bed, desk.analysis)),
        from_standpoint(desk.analysis.site, bed.positions[0][1], desk.units),
        (("Plants", f"{len(bed.positions):,}"), ("Kinds", str(len(bed.chosen)))),
        parts=(plants,) if plants is not None else (),
    )


def _reasons_to_keep_clear(desk: Desk, zone: Zone) -> str:
    reasons = [
        ended(f"{capital(exclusions.title(exclusion))}: {exclusions.SOURCES[exclusion.reason]}")
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
        view.marks.append(Drawn("wet-planting", area=desk.frame.areas(outline), thing=thing))
        view.marks += bed_marks(desk, zone, outline)
    if wet:
        land = shapely.union_all([zone.outline for zone in wet])
        standing = water.intersection(land)
        if not standing.is_empty:
            view.marks.append(Drawn("water", area=desk.frame.areas(standing)))
    for zone in sorted((z for z in wet if z.area >= LEAST_PLANTING), key=lambda z: -z.area)[:MOST_PLANTINGS]:
        middle = zone.outline.representative_point()
        choices = [choice for bed in beds(desk, Ref(Found.ZONE, zone.number)) for choice in bed.choices]
        plants = ", ".join(choice.common for choice in ([c for c in choices if c.count] or choices)[:3])
        rest = f"{from_standpoint(desk.analysis.site, middle, desk.units)}: {say_area(zone.area, desk.units)}"
        rest += f" for {plants}." if plants else "."
        view.places.append(
            Place(f"zone-{zone.number}", _west_side(zone.outline), 0.0, "planting", "Wet planting,", rest)
        )


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
        view.marks.append(Drawn("keep-clear", area=desk.frame.areas(area), **named(feature)))
    view.marks += buried_lines(desk)
