"""What to plant where, in sentences."""

from __future__ import annotations

from sitepipe.analysis import Analysis
from sitepipe.answers.names import joined, tame
from sitepipe.planting.record import BedPlan

MOST_BEDS = 8


def plants(analysis: Analysis) -> tuple[str, ...]:
    """Say, for each place, the plants that suit it best, with counts; places alike are said together."""
    places: dict[str, list[str]] = {}
    for bed in analysis.planting.beds:
        if bed.choices:
            places.setdefault(_bed(bed), []).append(bed.where)
    if not places:
        return ("Nothing is proposed for planting.",)
    said = [_capital(f"{joined(names)}: {told}") for told, names in list(places.items())[:MOST_BEDS]]
    if len(places) > MOST_BEDS:
        said.append(f"{len(places) - MOST_BEDS} more lists are on the map.")
    return tuple(said)


def _capital(sentence: str) -> str:
    return f"{sentence[:1].upper()}{sentence[1:]}"


def _bed(bed: BedPlan) -> str:
    counted = [f"{choice.count} {tame(choice.common)}" for choice in bed.choices if choice.count > 0]
    counted = counted or [tame(choice.common) for choice in bed.choices[:3]]
    note = f" {bed.note}" if bed.note else ""
    return f"{joined(counted)}.{note}"
