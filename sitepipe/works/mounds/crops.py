"""Crop groups, and how deep their roots want ground with air in it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CropGroup:
    """Crops that want the same depth of ground above the water. Depth in m."""

    name: str
    roots: float
    examples: str
    source: str


CROP_GROUPS = {
    group.name: group
    for group in (
        CropGroup(
            "strawberries",
            0.30,
            "strawberries, leaf herbs",
            "FAO-56 table 22: strawberries .2 to .3 m",
        ),
        CropGroup(
            "shallow vegetables",
            0.45,
            "cabbage, lettuce, onions, cucumbers",
            "British Columbia irrigation handbook: .45 m",
        ),
        CropGroup(
            "blueberries",
            0.45,
            "highbush blueberries",
            "18 in where a water table limits (quoted by a second source)",
        ),
        CropGroup(
            "deep vegetables",
            0.60,
            "beans, beets, carrots, potatoes, tomatoes",
            "British Columbia irrigation handbook: .60 m",
        ),
        CropGroup(
            "berry bushes",
            0.60,
            "currants, hazels, elder, cane fruit",
            "FAO-56 table 22: berry bushes .6 to 1.2 m; cane fruit 24 in over a water table (second source)",
        ),
        CropGroup(
            "fruit trees",
            0.90,
            "apples, pears, plums",
            "least wet-season depth for fruit trees .9 to 1.2 m: common practice, no source",
        ),
    )
}
