"""Mounds as marks, numbered places and cards."""

from __future__ import annotations

from sitepipe.answers.jobs import AFTER_THE_MARKS
from sitepipe.answers.mounds import BORE_FIRST, mound_named, say_judgement, say_sureness, say_why
from sitepipe.answers.names import capital
from sitepipe.answers.stakes import foot
from sitepipe.answers.where import from_standpoint
from sitepipe.mapping.marks import Drawn, state_of
from sitepipe.mapping.parts import STROKES, near_part, plants_part, stake_marks, stakes_part
from sitepipe.mapping.view import Card, Desk, Part, Place, View
from sitepipe.saying import say_barrows, say_depth, say_distance, say_hours, say_length, say_volume
from sitepipe.site import Ref, Status, Work
from sitepipe.units import Units
from sitepipe.works.jobs.record import YearOfWork
from sitepipe.works.mounds.record import Mound


def add_mound(view: View, desk: Desk, mound: Mound) -> None:
    """Add a mound to the view."""
    thing, units = f"mound-{mound.number}", desk.units
    height = mound.height
    view.marks.append(
        Drawn(
            state_of("mound", mound.status),
            area=desk.frame.areas(mound.outline),
            axis=desk.frame.line(mound.crest),
            half=round(mound.base_width / 2.0, 2),
            thing=thing,
        )
    )
    if mound.status is Status.STANDING:
        view.marks.append(Drawn("crest", line=[desk.frame.line(mound.crest)]))
    view.marks += stake_marks(desk, mound.stakes, thing)
    west, south, east, north = mound.outline.bounds
    reach = max(east - west, north - south)
    across = say_length(mound.base_width, units)
    view.places.append(
        Place(
            thing,
            mound.crest.interpolate(0.5, normalized=True),
            reach,
            "mounds",
            f"{capital(mound_named(mound))},",
            f"{say_distance(mound.length, units)} long{_short(desk, mound)}",
            own=mound.number,
        )
    )
    view.cards[thing] = Card(
        capital(mound_named(mound)),
        from_standpoint(desk.analysis.site, mound.crest.centroid, units),
        (*_heights(mound, units), ("Base, across", across)),
        {
            "kind": "mound",
            "built": round(height.built, 3),
            "finished": round(height.finished, 3),
            "base": round(mound.base_width, 3),
            "top": round(mound.top_width, 3),
            "water": round(height.depth_to_water, 3),
            "said": f"water in the wet season, {say_depth(height.depth_to_water, units)} down",
            "heights": [say_length(height.built, units), say_length(height.finished, units)],
            "years": [(year, round(high, 3)) for year, high in crest_years(mound, desk.analysis.plan.years)],
        },
        _mound_caution(desk, mound),
        _mound_parts(desk, mound),
    )


def _heights(mound: Mound, units: Units) -> tuple[tuple[str, str], ...]:
    """Say how high to build a mound and what it settles to; of one that stands how high it is."""
    built, finished = say_length(mound.height.built, units), say_length(mound.height.finished, units)
    if mound.status is Status.STANDING:
        return (("Stands high", built),)
    return ("Build it", built), ("It settles to", finished)


def _short(desk: Desk, mound: Mound) -> str:
    """Say the rest of a mound's line in the list: whose it is, how high to build it, what speaks against it."""
    high = say_length(mound.height.built, desk.units)
    if mound.status is Status.STANDING:
        return f", stands {high} high; for {mound.crops}."
    guess = " (a guess: bore holes first)" if mound.is_guess else ""
    yours = ", as you want it" if mound.status is Status.WANTED else ""
    return f"{yours}: build it {high} high{guess}, for {mound.crops}. {say_judgement(mound, desk.analysis)}".rstrip()


def crest_years(mound: Mound, years: tuple[YearOfWork, ...]) -> list[tuple[float, float]]:
    """Return the crest of a mound from the day it is built, half a year into its first year.

    Returns
    -------
    list of (year, height)
        Empty for a mound that no year builds. [year, m]
    """
    built = [year.year for year in years if mound.number in year.builds]
    if not built:
        return []
    course = [(built[0] - 0.5, mound.height.built)]
    for year in years:
        course += [(float(year.year), height) for number, height in year.crest_heights if number == mound.number]
    return course


def _mound_caution(desk: Desk, mound: Mound) -> str:
    others = [other for other in desk.analysis.plan.mounds if other.number != mound.number]
    gap = ""
    if others:
        nearest = min(others, key=lambda other: float(other.outline.distance(mound.outline)))
        width = float(nearest.outline.distance(mound.outline))
        if width < 6.0:
            wide = say_length(width, desk.units)
            gap = f"Leave the {wide} gap to mound\u00a0{nearest.number} open, or the row dams the water. "
    bore = f"{BORE_FIRST} " if mound.is_guess else ""
    return f"{bore}{gap}{AFTER_THE_MARKS}"


def _mound_parts(desk: Desk, mound: Mound) -> tuple[Part, ...]:
    units, height = desk.units, mound.height
    terms = (
        f"Roots {say_length(height.roots, units)} and {say_length(height.fringe, units)} of fill that stays wet, "
        f"less {say_length(height.depth_to_water, units)} of ground above the water"
    )
    if height.allowance > 0.005:
        terms += f", and {say_length(height.allowance, units)} for what is not known"
    terms += f": {say_length(height.finished, units)}. Settling takes {round(10 * height.settlement)} parts in\u00a010."
    sureness = tuple((STROKES.get(kind.lower(), "dashes"), said) for kind, said in say_sureness(mound, desk.analysis))
    materials = ", ".join(f"{name} {say_volume(volume, units)}" for name, volume in mound.materials)
    parts = [
        Part("Why so high.", terms),
        Part("How sure.", strokes=sureness),
        Part(
            f"Materials, {say_volume(mound.volume, units)}.",
            f"{capital(materials)}: about {say_barrows(mound.barrows)}, {say_hours(mound.hours)} of work in all.",
        ),
    ]
    plants = plants_part(desk, Ref(Work.MOUND, mound.number))
    if plants is not None:
        parts.append(plants)
    why = say_why(desk.analysis.plan.mound_choice, desk.analysis.settings)
    if why:
        parts.append(Part("Why here.", why))
    stakes = stakes_part(desk, mound.stakes, f"{foot(mound, units)} ")
    return (*near_part(desk, mound.ref), *parts, *stakes)
