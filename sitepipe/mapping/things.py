"""What is said of a drawn feature when it is tapped."""

from __future__ import annotations

from sitepipe.answers.cautions import cautions_of
from sitepipe.answers.names import capital, ended, say_day
from sitepipe.answers.where import from_standpoint
from sitepipe.mapping.standing import shown_name
from sitepipe.mapping.view import Card, Desk, Part
from sitepipe.saying import say_length
from sitepipe.site import Feature, Kind, Origin

CAUTIONS = {
    Kind.CULVERT: "It is the road owner's. Do not block, lower or widen it without asking.",
    Kind.ROAD: "Soil beside a busy road may hold lead: have it tested before growing food within 100 ft.",
    Kind.BUILDING: "No mound, chips or soil against a wall; the ground must fall away from it.",
    Kind.DITCH: "Do not deepen or turn it without asking who is below.",
    Kind.WATER: "Keep children from it; do not fill or drain it before you ask the town.",
}
KINDS_WITHOUT_CARDS = (Kind.PARCEL,)


def feature_cards(desk: Desk) -> dict[str, Card]:
    """Return a card for every drawn feature."""
    return {
        f"feature-{feature.number}": _card(desk, feature)
        for feature in desk.analysis.site.features
        if feature.kind not in KINDS_WITHOUT_CARDS
    }


def _card(desk: Desk, feature: Feature) -> Card:
    numbers = []
    for label, size, by in (("High", feature.height, feature.height_by), ("Wide", feature.width, feature.width_by)):
        if by is not Origin.GUESSED:
            numbers.append((label, say_length(size, desk.units)))
        elif size > 0.0 and feature.height > 0.0:
            numbers.append((label, f"{say_length(size, desk.units)}, guessed"))
    said = [
        f"{key.replace('_', ' ')}: {value}"
        for key, value in sorted(feature.attributes.items())
        if key not in ("kind", "name")
    ]
    parts = [Part("What.", ended(capital(feature.kind.value)))]
    if said:
        parts.append(Part("Noted.", ended("; ".join(said))))
    readings = [
        (say_day(reading.day), _reading(desk, reading.depth_to_water, reading.hole_depth))
        for reading in desk.analysis.site.auger_readings
        if reading.place and feature.name.lower().endswith(reading.place.lower())
    ]
    if feature.kind is Kind.OBSERVATION and readings:
        parts.append(Part("Water in the hole.", table=(("read on", "down to the water"), *readings)))
    sure = "Seen on the ground" if feature.kind is Kind.OBSERVATION else "Drawn by hand, not measured"
    stroke = "solid" if feature.kind is Kind.OBSERVATION else "dashes"
    parts.append(Part("How sure.", strokes=((stroke, sure),)))
    place = feature.geometry.representative_point()
    return Card(
        shown_name(feature),
        from_standpoint(desk.analysis.site, place, desk.units),
        tuple(numbers),
        None,
        _caution(desk, feature.kind),
        tuple(parts),
    )


def _caution(desk: Desk, kind: Kind) -> str:
    """Return what the list of cautions says of a kind of thing, else what its own card does."""
    topics = {Kind.SEPTIC: "septic", Kind.WELL: "well", Kind.BURIED_LINE: "digging"}
    told = (caution.text for caution in cautions_of(desk.analysis) if caution.topic == topics.get(kind))
    return next(told, CAUTIONS.get(kind, ""))


def _reading(desk: Desk, depth: float | None, hole: float | None) -> str:
    if depth is not None:
        return say_length(depth, desk.units)
    return f"dry to {say_length(hole, desk.units)}" if hole is not None else "dry"
