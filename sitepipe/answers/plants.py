"""What to plant where, in sentences."""

from __future__ import annotations

from sitepipe.analysis import Analysis
from sitepipe.answers.names import joined, tame
from sitepipe.planting.record import BedPlan
from sitepipe.units import Units, say_area

MOST_BEDS = 8


def plants(analysis: Analysis) -> tuple[str, ...]:
    """Say, for each place, the plants that suit it best, with counts; places alike are said together."""
    places: dict[str, list[str]] = {}
    for bed in analysis.planting.beds:
        if bed.choices:
            places.setdefault(_bed(bed, analysis.settings.units), []).append(bed.where)
    if not places:
        return ("Nothing is proposed for planting.",)
    said = [_capital(f"{joined(names)}: {told}") for told, names in list(places.items())[:MOST_BEDS]]
    if len(places) > MOST_BEDS:
        said.append(f"{len(places) - MOST_BEDS} more lists are on the map.")
    return tuple(said)


def _capital(sentence: str) -> str:
    return f"{sentence[:1].upper()}{sentence[1:]}"


def room_left(bed: BedPlan, units: Units) -> str:
    """Say what the rest of a zone would hold, where its plants fill only a bed beside the path."""
    if not bed.room_for or bed.ground is None:
        return ""
    return (
        f"They fill a bed of about {say_area(bed.ground.area, units)}; the rest of this ground, about "
        f"{say_area(bed.left, units)}, has room for about {bed.room_for:,} more."
    )


def _bed(bed: BedPlan, units: Units) -> str:
    counted = [f"{choice.count} {tame(choice.common)}" for choice in bed.choices if choice.count > 0]
    counted = counted or [tame(choice.common) for choice in bed.choices[:3]]
    return " ".join(text for text in (f"{joined(counted)}.", room_left(bed, units), bed.note) if text)
