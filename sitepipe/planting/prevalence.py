"""Prevalence index: what the plants that grow there already say of the ground."""

from __future__ import annotations

from collections.abc import Mapping

from sitepipe.errors import SettingsError
from sitepipe.planting.palette import Plant
from sitepipe.planting.record import Prevalence
from sitepipe.settings import Settings

WEIGHTS = {"OBL": 1, "FACW": 2, "FAC": 3, "FACU": 4, "UPL": 5}
"""Weights of the wetland indicator statuses; an unlisted plant counts as UPL (value from memory)."""


def prevalence_index(cover: Mapping[str, float]) -> float:
    """Mean indicator weight of the vegetation, weighted by cover.

    Parameters
    ----------
    cover : mapping of indicator status to cover
        Any unit of cover, such as percent of ground.

    Returns
    -------
    float
        1 (all obligate wetland plants) to 5 (all upland plants).

    Raises
    ------
    SettingsError
        If a status is unknown, a cover negative, or there is no cover at all.

    References
    ----------
    US Army Corps of Engineers (1987), Wetlands Delineation Manual, and its regional supplements (from memory).

    Examples
    --------
    >>> prevalence_index({"OBL": 50, "UPL": 50})
    3.0
    """
    for status, amount in cover.items():
        if status not in WEIGHTS:
            raise SettingsError(f"indicator {status!r} is not one of {', '.join(WEIGHTS)}")
        if not amount >= 0:
            raise SettingsError(f"the cover of {status} plants is {amount}; it must not be negative")
    total = sum(cover.values())
    if not total > 0:
        raise SettingsError("planting.seen gives no cover; write the share of ground that each plant covers")
    return sum(WEIGHTS[status] * amount for status, amount in cover.items()) / total


def prevalence_of(palette: tuple[Plant, ...], settings: Settings) -> Prevalence | None:
    """Return what the plants that were seen tell of the ground, None where none are named."""
    if not settings.planting.seen:
        return None
    by_name = {name: plant for plant in palette for name in (plant.latin.lower(), plant.common.lower())}
    cover: dict[str, float] = {}
    unrated = []
    for name, amount in settings.planting.seen.items():
        if name.upper() in WEIGHTS:
            status = name.upper()
        elif (plant := by_name.get(name.lower())) is None:
            raise SettingsError(
                f"site.toml: planting.seen names {name!r}, which is not in the palette; "
                "write its indicator status instead (OBL, FACW, FAC, FACU or UPL)"
            )
        else:
            status = plant.indicator or "UPL"
            if not plant.indicator:
                unrated.append(plant.common)
        cover[status] = cover.get(status, 0.0) + amount
    return Prevalence(prevalence_index(cover), tuple(unrated))
