"""Paragraphs that several cards share: cautions, plants, stakes."""

from __future__ import annotations

from sitepipe.answers.hazards import near_work
from sitepipe.answers.names import capital, ended, plants_of
from sitepipe.answers.plants import caution_of, note_of, room_left
from sitepipe.answers.stakes import SIDES, WEAK_ANGLE, tapes
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.view import Desk, Part
from sitepipe.planting.record import BedPlan, PlantChoice
from sitepipe.saying import say_length
from sitepipe.site import Ref
from sitepipe.works.built import Stake

DIG_CAUTION = "Call 811 (or your local line-locating service) two to three working days before any digging."
HOLLOW_CAUTION = (
    "Do not fill or ditch it before you ask: it may be protected wetland, and the water it holds back would go next "
    "door."
)
PATH_CAUTION = (
    "Chips float: where water crosses, lay a pipe, stones or a plank, and never make the path the lowest line."
)
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


def beds(desk: Desk, where: Ref) -> list[BedPlan]:
    """Return the plans for one place."""
    return [bed for bed in desk.analysis.planting.beds if bed.of == where]


def plants_part(desk: Desk, where: Ref) -> Part | None:
    """Say what is planted in one place, with counts where there are any."""
    planned = beds(desk, where)
    choices = [choice for bed in planned for choice in bed.choices]
    counted = [choice for choice in choices if choice.count]
    said = [_plant(desk, choice) for choice in counted or choices[:6]]
    if not said:
        return None
    told = [
        text
        for bed in planned
        for text in (room_left(bed, desk.units), note_of(bed, desk.analysis.planting, desk.units))
        if text
    ]
    notes = " ".join(ended(text) for text in told)
    return Part("Plants.", f"{ended('; '.join(said))} {notes}".strip())


def _plant(desk: Desk, choice: PlantChoice) -> str:
    entry = plants_of(choice.count, choice.common) if choice.count else choice.common
    if choice.spacing and choice.count > 1:
        entry += f", {say_length(choice.spacing, desk.units)} apart"
    return entry + (f" ({caution.rstrip('.')})" if (caution := caution_of(choice, desk.units)) else "")


def near_part(desk: Desk, *works: Ref) -> tuple[Part, ...]:
    """Say what the work of a card comes near to that it can hurt."""
    told = [capital(sentence) for work in works for sentence in near_work(desk.analysis, work)]
    return (Part("Near it.", " ".join(told)),) if told else ()


def stake_marks(desk: Desk, stakes: tuple[Stake, ...], thing: str) -> list[Drawn]:
    """Return the stakes of one thing, each named by its letters."""
    return [
        Drawn("stake", at=desk.frame.place(stake.place), name=stake.label.strip("0123456789"), thing=thing)
        for stake in stakes
    ]


def stakes_part(desk: Desk, stakes: tuple[Stake, ...], foot: str = "") -> tuple[Part, ...]:
    """Say where the stakes of one thing go: two tapes each, and the height of their tops."""
    if not stakes:
        return ()
    rows = [
        (f"{stake.label}, weak angle" if stake.angle < WEAK_ANGLE else stake.label, *tapes(stake, desk.units))
        for stake in stakes
    ]
    head = ("", "first tape", "second tape", "side", "its top")
    mark = desk.analysis.plan.bench_mark
    heights = f" Heights count from {mark}." if mark else ""
    return (Part("Stakes.", f"{foot}{SIDES}{heights}", table=(head, *rows)),)
