"""Paths, trellises, the hoop house and the tipping place as marks, numbered places and cards."""

from __future__ import annotations

from shapely import Point

from sitepipe.answers.houses import house_why, judged, ridge, roof_water
from sitepipe.answers.jobs import AFTER_THE_MARKS
from sitepipe.answers.names import capital, count, ended, work_named
from sitepipe.answers.rows import SPRINGS, row_reason, say_arch
from sitepipe.answers.water import say_swale
from sitepipe.answers.ways import dug_in, from_to, path_why, tipping_access, tipping_why, waters
from sitepipe.answers.where import from_standpoint
from sitepipe.mapping.frame import long_axis, smooth_joined
from sitepipe.mapping.marks import Drawn, state_of
from sitepipe.mapping.north import NO_COMPASS
from sitepipe.mapping.parts import PATH_CAUTION, near_part, plants_part, stakes_part
from sitepipe.mapping.view import Card, Desk, Part, Place, View
from sitepipe.saying import say_distance, say_length, say_volume
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.rows.arch import PANEL
from sitepipe.works.rows.record import Arch, Trellis
from sitepipe.works.water.record import Swale
from sitepipe.works.ways.record import Path, TippingPlace

BOWS_APART = 1.2
"""Way between the bows of a hoop house as it is drawn. [m]; common practice, no source."""


def path_marks(desk: Desk) -> list[Drawn]:
    """Return the paths as smooth lines with their widths."""
    paths = desk.analysis.plan.paths
    lines = smooth_joined([path.line for path in paths], 0.2) if paths else []
    return [
        Drawn("path", line=[desk.frame.line(line)], half=round(path.width / 2.0, 2), thing=f"path-{path.number}")
        for path, line in zip(paths, lines, strict=True)
    ]


def add_path(view: View, desk: Desk, path: Path) -> None:
    """Say what a path is."""
    thing, units = f"path-{path.number}", desk.units
    length = say_distance(path.line.length, units)
    ends = from_to(path.joins, desk.analysis)
    why = f"{path_why(path, desk.analysis)}{dug_in(path, desk.analysis)}"
    parts = [*near_part(desk, path.ref)]
    if why:
        parts.append(Part("Why here.", ended(why)))
    if path.waters:
        parts.append(Part("Crosses water.", ended(capital(", ".join(waters(path, desk.analysis))))))
    parts.append(Part("Materials.", f"Chips {say_volume(path.chips, units)}; they settle, so top up each year."))
    parts.append(Part("How sure.", strokes=(("dashes", "Laid out from the heights; walk it first"),)))
    view.cards[thing] = Card(
        "Chip path" if path.is_main else "Side path",
        ends,
        (("Long", length), ("Wide", say_length(path.width, units)), ("Chips", say_volume(path.chips, units))),
        None,
        PATH_CAUTION,
        tuple(parts),
    )


def number_path(view: View, desk: Desk, path: Path) -> None:
    """Give the only path its number."""
    length, width = say_distance(path.line.length, desk.units), say_length(path.width, desk.units)
    rest = f"{length} long, {width} wide, {from_to(path.joins, desk.analysis)}"
    anchor = path.line.interpolate(0.6, normalized=True)
    view.places.append(Place(f"path-{path.number}", anchor, 0.0, "path", "Chip path,", ended(rest)))


def number_paths(view: View, desk: Desk, paths: tuple[Path, ...]) -> None:
    """Give all paths one number and one card, so that their many ends do not crowd out the mounds."""
    units = desk.units
    main = max(paths, key=lambda path: (path.is_main, path.line.length))
    length = say_distance(sum(path.line.length for path in paths), units)
    chips = say_volume(sum(path.chips for path in paths), units)
    rest = f"{length} in {count(len(paths), 'piece')}, {chips} of chips."
    view.places.append(Place("paths", main.line.interpolate(0.6, normalized=True), 0.0, "path", "Chip paths,", rest))
    rows = tuple(
        (
            from_to(path.joins, desk.analysis),
            say_distance(path.line.length, units),
            say_volume(path.chips, units),
        )
        for path in paths
    )
    crossed = tuple(dict.fromkeys(name for path in paths for name in waters(path, desk.analysis)))
    view.cards["paths"] = Card(
        "Chip paths",
        "",
        (("Long", length), ("Chips", chips)),
        None,
        PATH_CAUTION,
        (
            *near_part(desk, *(path.ref for path in paths)),
            Part("From and to.", table=(("from, to", "long", "chips"), *rows)),
            *((Part("Crosses water.", ended(capital("; ".join(crossed)))),) if crossed else ()),
            Part("How sure.", strokes=(("dashes", "Laid out from the heights; walk them first"),)),
        ),
    )


def add_trellis(view: View, desk: Desk, trellis: Trellis) -> None:
    """Add a trellis to the view."""
    thing, units = f"trellis-{trellis.number}", desk.units
    view.marks.append(
        Drawn(
            state_of("trellis", trellis.status),
            line=[desk.frame.line(trellis.line)],
            apart=round(trellis.line.length / max(trellis.posts - 1, 1), 2),
            thing=thing,
        )
    )
    length = say_distance(trellis.line.length, units)
    height = say_length(trellis.height, units)
    anchor = Point(trellis.line.coords[0])
    view.places.append(Place(thing, anchor, 0.0, "trellis", "Trellis,", f"{length} long, {height} high."))
    parts = [Part("Why here.", f"{row_reason(trellis, desk.analysis)} {NO_COMPASS}")]
    parts.append(
        Part("Posts.", f"{trellis.posts}, set {say_length(trellis.post_depth, units)} deep, braced at both ends.")
    )
    parts.append(Part("How sure.", strokes=(("dashes", "Shade worked out for a clear sky"),)))
    if (plants := plants_part(desk, trellis.ref)) is not None:
        parts.append(plants)
    view.cards[thing] = Card(
        "Trellis",
        from_standpoint(desk.analysis.site, trellis.line.centroid, units),
        (("Long", length), ("High", height), ("Posts", str(trellis.posts))),
        None,
        AFTER_THE_MARKS,
        (*near_part(desk, trellis.ref), *parts, *stakes_part(desk, trellis.stakes)),
    )


def add_arch(view: View, desk: Desk, arch: Arch) -> None:
    """Draw an arch as bars across its path, and say what it takes."""
    thing, units = f"arch-{arch.number}", desk.units
    lines = [desk.frame.line(foot) for foot in arch.feet]
    view.marks.append(Drawn(state_of("arch", arch.status), line=lines, apart=round(PANEL[1], 2), thing=thing))
    said, where = say_arch(arch, desk.analysis), arch.line.interpolate(0.5, normalized=True)
    view.places.append(Place(thing, where, 0.0, "trellis", f"{capital(work_named(arch))},", said))
    view.cards[thing] = Card(
        capital(work_named(arch)),
        from_standpoint(desk.analysis.site, where, units),
        (("Spans", say_length(arch.span, units)), ("High", say_length(arch.height, units)), ("Posts", str(arch.posts))),
        None,
        f"{AFTER_THE_MARKS} {SPRINGS}",
        (*near_part(desk, arch.ref), Part("What it takes.", said), *stakes_part(desk, arch.stakes)),
    )


def add_swale(view: View, desk: Desk, swale: Swale) -> None:
    """Draw a swale by its edges and its fall, and say where it leads."""
    thing, units = f"swale-{swale.number}", desk.units
    view.marks.append(Drawn(state_of("swale", swale.status), area=desk.frame.areas(swale.outline), thing=thing))
    view.marks.append(Drawn("swale-runs", line=[desk.frame.line(swale.line)], thing=thing))
    said, where = say_swale(swale, desk.analysis), swale.line.interpolate(0.5, normalized=True)
    view.places.append(Place(thing, where, 0.0, "path", f"{capital(work_named(swale))},", said))
    view.cards[thing] = Card(
        capital(work_named(swale)),
        from_standpoint(desk.analysis.site, where, units),
        (("Long", say_distance(swale.length, units)), ("Deep", say_length(swale.depth, units))),
        None,
        PATH_CAUTION,
        (*near_part(desk, swale.ref), Part("Where it leads.", said), *stakes_part(desk, swale.stakes)),
    )


def add_hoop_house(view: View, desk: Desk, house: HoopHouse) -> None:
    """Add the best place for a hoop house, and name the next best."""
    thing, units, why = "hoop-house", desk.units, house_why(house, desk.analysis)
    view.marks.append(
        Drawn(
            state_of("hoop-house", house.status),
            area=desk.frame.areas(house.outline),
            axis=desk.frame.line(long_axis(house.outline)),
            half=round(house.width / 2.0, 2),
            apart=BOWS_APART,
            thing=thing,
        )
    )
    size = f"{say_length(house.width, units)} by {say_length(house.length, units)}"
    west, south, east, north = house.outline.bounds
    reach = max(east - west, north - south)
    view.places.append(Place(thing, house.outline.centroid, reach, "house", "Hoop house,", f"{size}. {why}"))
    counted = ((one.criterion.value, str(round(10 * one.score)), judged(one, desk.analysis)) for one in house.reasons)
    parts = [
        Part("Why here.", why),
        Part("Ridge.", f"{ridge(desk.analysis)} {NO_COMPASS}"),
        Part("What counted.", table=(("for", "of ten", "why"), *counted)),
        Part("Roof water.", roof_water(house, desk.analysis)),
    ]
    parts.append(Part("How sure.", strokes=(("dashes", "Worked out; look at it in a wet week"),)))
    others = desk.analysis.plan.other_hoop_houses[:2]
    if others:
        places = [from_standpoint(desk.analysis.site, other.outline.centroid, units) for other in others]
        said_others = " ".join(
            f"{other.number}: {place}. {house_why(other, desk.analysis)}"
            for other, place in zip(others, places, strict=True)
        )
        parts.append(Part("Next best.", said_others))
    view.cards[thing] = Card(
        "Hoop house",
        from_standpoint(desk.analysis.site, house.outline.centroid, units),
        (("Long", say_length(house.length, units)), ("Wide", say_length(house.width, units))),
        None,
        f"{AFTER_THE_MARKS} Wind lifts it: anchor every corner, and test the pull in wet ground.",
        (*near_part(desk, house.ref), *parts, *stakes_part(desk, house.stakes)),
    )


def add_tipping(view: View, desk: Desk, tipping: TippingPlace, number: int) -> None:
    """Add the place where a truck may tip."""
    thing = f"tipping-{number}"
    view.marks.append(Drawn("tipping", area=desk.frame.areas(tipping.outline), thing=thing))
    where = from_standpoint(desk.analysis.site, tipping.place, desk.units)
    view.places.append(
        Place(
            thing, tipping.place, 0.0, "tipping", "Tip chips here,", f"{where}. {tipping_why(tipping, desk.analysis)}"
        )
    )
    view.cards[thing] = Card(
        "Where a truck may tip",
        where,
        (("Barrow haul", say_distance(tipping.mean_haul, desk.units)),) if tipping.mean_haul else (),
        None,
        "Not over the septic field, a buried line, or soft ground: a loaded truck sinks.",
        (
            *near_part(desk, tipping.ref),
            Part("Access.", tipping_access(tipping, desk.analysis)),
            Part("Why here.", tipping_why(tipping, desk.analysis)),
            Part("How sure.", strokes=(("dashes", "Worked out; look at it with the driver"),)),
        ),
    )
