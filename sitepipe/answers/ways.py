"""Paths and the place where chips are tipped, in sentences."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sitepipe.analysis import Analysis
from sitepipe.answers.hazards import thing_named
from sitepipe.answers.impact import say_harm
from sitepipe.answers.names import called, count, joined, shown
from sitepipe.saying import say_area, say_distance, say_length, say_volume
from sitepipe.site import Kind, Ref, Work
from sitepipe.works.ways.record import LeftOut, NoTipping, Path, TippingPlace
from sitepipe.works.ways.truck import GATE_SLACK

EASY, HARD = 1.8, 3.5
"""Going is easy below so many metres of level dry path for one, hard from so many: own choice. [1]"""
WORTH_SAYING = 1.05
"""The shortest way is told where it costs more than so many times the path. [1]"""


def paths(analysis: Analysis) -> tuple[str, ...]:
    """Say where paths run, how wide, and the chips that they take."""
    if not analysis.plan.paths and not analysis.plan.left_out:
        return ("No path is proposed.",)
    said = [_path(path, analysis) for path in analysis.plan.paths]
    return (*said, *(left_out(analysis, path) for path in analysis.plan.left_out))


def _path(path: Path, analysis: Analysis) -> str:
    units = analysis.settings.units
    return (
        f"Path {path.number}, from {from_to(path.joins, analysis)}: {say_distance(path.line.length, units)} long, "
        f"{say_length(path.width, units)} wide, {say_volume(path.chips, units)} of chips. {path_why(path, analysis)}"
        f"{dug_in(path, analysis)}"
    )


def from_to(joins: tuple[Ref | None, Ref | None], analysis: Analysis) -> str:
    """Say which two things a path joins."""
    return " to ".join(_end(end, analysis) for end in joins)


def _end(end: Ref | None, analysis: Analysis) -> str:
    if end is None:
        return "the way in"
    if isinstance(end.kind, Kind):
        return thing_named(analysis, end)
    return called(end) if end.kind in (Work.MOUND, Work.PATH) else str(end.kind)


def path_why(path: Path, analysis: Analysis) -> str:
    """Say how hard a path goes, what is wrong with a shorter way, and what water it crosses."""
    hard = path.cost / max(path.length, 1e-9)
    said = "Easy going" if hard < EASY else "Fair going, wet or steep in parts" if hard < HARD else "Hard going"
    if path.shortest_cost > WORTH_SAYING * path.cost:
        said += f"; the shortest way, {say_distance(path.shortest, analysis.settings.units)}, is wetter or steeper"
    names = waters(path, analysis)
    if not names:
        return f"{said}; no water crosses it."
    times = {1: "once", 2: "twice"}.get(len(names), count(len(names), "time"))
    return f"{said}. Water crosses it {times} ({'; '.join(names)}): keep it level there, with a pipe or a plank over."


def waters(path: Path, analysis: Analysis) -> tuple[str, ...]:
    """Say what water crosses a path, and after how far."""
    units = analysis.settings.units
    return tuple(
        f"after {say_distance(along, units)}: water from {say_area(area, units)} runs across"
        for along, area in path.waters
    )


def dug_in(path: Path, analysis: Analysis) -> str:
    """Say that a path is dug in, and where it is not; empty where it lies on the ground."""
    units = analysis.settings.units
    if not path.is_dug_in:
        return ""
    thick = say_length(analysis.settings.path.chip_depth, units)
    said = f" Dig it {thick} deep and lay the chips level with the ground."
    if path.grass_length < 0.01:
        return said
    beside = joined(list(dict.fromkeys(thing_named(analysis, thing) for thing in path.left_as_grass)))
    return f"{said} Leave {say_distance(path.grass_length, units)} of it as grass, undug, beside {beside}."


def left_out(analysis: Analysis, path: LeftOut) -> str:
    """Say why a path is not laid."""
    beside = joined(list(dict.fromkeys(thing_named(analysis, thing) for thing in path.beside)))
    harm = say_harm(path.harm, analysis.site, analysis.settings).rstrip(".")
    return (
        f"No path is laid from {from_to(path.joins, analysis)}: tipped on top it would do harm "
        f"({harm[:1].lower()}{harm[1:]}), and dug in it would come too near to {beside}. Walk there over the grass."
    )


def notes(analysis: Analysis) -> Iterator[str]:
    """Say what no path reaches, and why chips can be tipped nowhere."""
    gates, roads = analysis.site.of_kind(Kind.GATE), analysis.site.of_kind(Kind.ROAD)
    match analysis.plan.no_tipping:
        case NoTipping.NO_WAY_IN:
            yield "No tipping place: neither gate nor road is drawn, so it is not known where a truck comes in."
        case NoTipping.NARROW_GATE:
            least = say_length(analysis.settings.tipping.truck_width - GATE_SLACK, analysis.settings.units)
            yield (
                f"No tipping place: {shown(gates[0])} is narrower than {least}. "
                "Have chips tipped at the road where the town allows it."
            )
        case NoTipping.SOFT:
            yield (
                f"No tipping place: no free ground near {shown((*gates, *roads)[0])} stays firm enough for a truck in "
                "the wet season. Have chips brought in a dry spell, or tipped at the road where the town allows it."
            )
        case None:
            pass
    if analysis.plan.unreached:
        missed = ", ".join(_end(ref, analysis) for ref in analysis.plan.unreached)
        yield f"No path reaches {missed}: something stands in the way, or no way in is drawn."


def tipping_access(place: TippingPlace, analysis: Analysis) -> str:
    """Say how a truck comes to a tipping place."""
    units = analysis.settings.units
    if place.entry is None or not math.isfinite(place.way_in):
        return "No truck gets there over firm ground from a gate or road that is drawn: ask the driver."
    entry = thing_named(analysis, place.entry)
    drive = (
        ""
        if place.off_lane is None
        else " on the drive"
        if place.off_lane <= 0.0
        else f", {say_distance(place.off_lane, units)} of it off the drive over firm ground"
    )
    wide = say_length(analysis.settings.tipping.truck_width, units)
    return (
        f"A truck {wide} wide comes {say_distance(place.way_in, units)} from {entry}{drive}, and "
        f"{'can turn there' if place.can_turn else f'backs in from {entry}'}. Not after rain; the driver decides."
    )


def tipping_why(place: TippingPlace, analysis: Analysis) -> str:
    """Say how the barrow work of a place compares with the first one's."""
    best, units = analysis.plan.tipping_places[0], analysis.settings.units
    if best.barrow_work <= 0.0:
        return "Nearest to the way in; no mound asks for chips."
    haul = say_distance(place.mean_haul, units)
    if place.number == best.number:
        return (
            f"Least to barrow of all places that a truck reaches: {haul} a trip, off flow lines, hollows, roots and "
            "buried things."
        )
    return f"{haul} a trip: more to barrow than from the first place."
