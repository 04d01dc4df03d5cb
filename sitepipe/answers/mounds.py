"""Mounds in sentences: what for, how high, why there, how sure, and what would not do."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sitepipe.analysis import Analysis
from sitepipe.answers.impact import say_harm
from sitepipe.answers.names import NUMBERS, capital, count, joined, say_day, tame, work_named
from sitepipe.saying import say_distance, say_length, say_volume
from sitepipe.settings import Settings
from sitepipe.site import Status
from sitepipe.units import Units, compass_word
from sitepipe.works.mounds.fills import NEVER_DRAINS
from sitepipe.works.mounds.record import Because, Lacking, Mound, MoundChoice, RefusedFill

ALONG, ACROSS = 30.0, 60.0
"""Rows lie along the fall up to so many degrees off it, across it from so many. [deg]"""

BORE_FIRST = (
    "Bore holes first: the water of the wet season was read in none, so the heights of these mounds are guesses and no "
    "design to build from."
)
_BECAUSE = {
    Because.HOLDS_BACK: "so that water drains between them",
    Because.IN_THE_WAY: "out of the way of what runs off above them",
    Because.ROOM: "which gives most room",
    Because.HAUL: "which is nearest to barrow",
    Because.NEXT_DOOR: "which raises no water next door",
}
LACKING = {
    Lacking.GROUND: "No zone of the parcel suits a mound.",
    Lacking.WATER_TABLE: "The depth to water under the ground for mounds is not known.",
    Lacking.FINER_HEIGHTS: "The heights are too coarse for a plan: a cell of them is wider than a mound, or a height "
    "may be off by as much as one is high. Bring heights good to 10\u00a0cm (4\u00a0in) with cells of 2\u00a0m "
    "(6\u00a0ft) or less, or levels of your own; until then nothing is placed, and what it would do to the water next "
    "door is not told.",
    Lacking.ROOM: "The ground that suits mounds is too narrow for one with a path beside it.",
}


def say_mounds(analysis: Analysis) -> tuple[str, ...]:
    """Say each mound: what for, how high to build it, what it settles to, how wide, how much fill."""
    choice = analysis.plan.mound_choice
    if not analysis.plan.mounds:
        return ("No mound is proposed.",)
    guess = (BORE_FIRST,) if analysis.plan.mounds[0].is_guess else ()
    first = next((mound.ref for mound in analysis.plan.mounds if mound.is_proposed), None)
    why = {first: f" {say_why(choice, analysis.settings)}".rstrip()}
    return (*guess, *(f"{_mound(mound, analysis)}{why.get(mound.ref, '')}" for mound in analysis.plan.mounds))


def mound_named(mound: Mound) -> str:
    """Return what a mound is called."""
    return work_named(mound)


def _mound(mound: Mound, analysis: Analysis) -> str:
    units, height = analysis.settings.units, mound.height
    name = f"{capital(work_named(mound))}, for {tame(mound.crops)}"
    if mound.status is Status.STANDING:
        since = f" since {say_day(mound.built)}" if mound.built else ""
        return f"{name}: stands{since}, {say_length(height.built, units)} high. {say_roots(height.chance)}"
    if height.finished <= 0.0:
        return f"{name}: no height is needed here."
    return (
        f"{name}: build it {'about ' if mound.is_guess else ''}{say_length(height.built, units)} high"
        f"{' (a guess)' if mound.is_guess else ''}, it settles to "
        f"{say_length(height.finished, units)}; {say_length(mound.base_width, units)} across "
        f"and {say_distance(mound.length, units)} long at its foot. It takes {say_materials(mound, units)}. "
        f"{say_judgement(mound, analysis)}"
    ).rstrip()


def say_roots(chance: float) -> str:
    """Say in how many wet seasons of ten the roots stay dry.

    Examples
    --------
    >>> say_roots(0.8), say_roots(0.03), say_roots(0.99)
    ('Its roots stay dry in eight wet seasons of ten.', 'Its roots stand in water.', 'Its roots stay dry.')
    """
    tenths = round(10.0 * chance)
    if tenths in (0, 10):
        return "Its roots stay dry." if tenths else "Its roots stand in water."
    return f"Its roots stay dry in {NUMBERS[tenths]} wet season{'s' if tenths > 1 else ''} of ten."


def say_judgement(mound: Mound, analysis: Analysis) -> str:
    """Say of a wanted mound that its roots will not stay dry, and the nearest that would do; nothing where they do."""
    would, units = mound.would_do, analysis.settings.units
    if would is None:
        return ""
    ways = []
    if would.height is not None:
        ways.append(f"built {say_length(would.height, units)} high")
    if would.fill and would.fill_height is not None:
        ways.append(f"of {would.fill}, {say_length(would.fill_height, units)} high")
    if would.place is not None:
        middle = mound.crest.interpolate(0.5, normalized=True)
        bearing = math.degrees(math.atan2(would.place.x - middle.x, would.place.y - middle.y))
        ways.append(f"{say_distance(float(would.place.distance(middle)), units)} {compass_word(bearing)} of here")
    answer = f"It would do {', or '.join(ways)}." if ways else "Nothing that may be built here keeps them dry."
    return f"{say_roots(mound.height.chance)} {answer}"


def say_materials(mound: Mound, units: Units) -> str:
    """Say how much of each material a mound takes."""
    return joined([f"{say_volume(volume, units)} of {tame(name)}" for name, volume in mound.materials])


def say_why(choice: MoundChoice, settings: Settings) -> str:
    """Say in one sentence why the mounds lie as they do."""
    if choice.bearing is None or choice.because is None:
        return ""
    lie = ""
    if choice.fall is not None:
        off = abs((choice.bearing - choice.fall + 90.0) % 180.0 - 90.0)
        lie = ", downhill" if off <= ALONG else ", across the slope" if off >= ACROSS else ", aslant to the slope"
    return (
        f"The rows run {compass_word(choice.bearing)} to {compass_word(choice.bearing + 180.0)}{lie}, "
        f"{_BECAUSE[choice.because]}; {say_distance(choice.haul, settings.units)} to barrow."
    )


def say_sureness(mound: Mound, analysis: Analysis) -> tuple[tuple[str, str], ...]:
    """Say how sure the terms of a mound's height are: how each is known, and how far it may be off."""
    units, height = analysis.settings.units, mound.height
    water = "Water, worked out from the terrain" if mound.is_guess else "Water, from auger holes"
    return (
        ("measured", f"Ground heights: {say_length(analysis.site.ground.vertical_error, units)}"),
        ("may be" if mound.is_guess else "worked out", f"{water}: {say_length(height.water_error, units)}"),
        ("rule of thumb", f"Settling, rule of thumb: {say_length(height.settling_error, units)}"),
    )


def say_notes(analysis: Analysis) -> Iterator[str]:
    """Say what was in the way of mounds: no ground, fills that will not do, water that would change next door."""
    choice, settings = analysis.plan.mound_choice, analysis.settings
    if choice.lacking is not None:
        yield LACKING[choice.lacking]
    if choice.limited_by:
        years = count(settings.materials.years, "year")
        yield f"No more mounds are laid out: the {tame(choice.limited_by)} of {years} covers no more."
    for refused in choice.refused:
        yield _refused(refused, settings)
    if choice.left_out and choice.spared is not None:
        were, them = ("s were", "them") if choice.left_out > 1 else (" was", "it")
        harm = say_harm(choice.spared, analysis.site, settings)
        yield (
            f"{choice.left_out} mound{were} left out, since with {them} the water next door would have changed: {harm}"
        )
    elif choice.spared is not None:
        yield "The best direction would have changed the water next door; the next best is taken."


def _refused(refused: RefusedFill, settings: Settings) -> str:
    name, units = f"For {tame(refused.crops)}: Not with {refused.fill}", settings.units
    if not math.isfinite(refused.fringe) or refused.fringe > NEVER_DRAINS:
        return f"{name}: it holds its water and never lets enough air in, however high."
    return (
        f"{name}: it stays too wet for {say_length(refused.fringe, units)} above the water, so it would have to be "
        f"built {say_length(refused.built, units)} high; {say_length(settings.mound.highest, units)} is the most."
    )
