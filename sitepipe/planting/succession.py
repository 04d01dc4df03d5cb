"""Succession: what may go into a mound before it has settled, and what must wait."""

from __future__ import annotations

from sitepipe.planting.palette import Plant


def share_settled(years: float, half_life: float = 0.6) -> float:
    """Share of a mound's settlement that is over after some years.

    Parameters
    ----------
    years : float
        Since it was built. [year]
    half_life : float
        Time in which half of what is left settles (common practice, no source: most of a woody core's settlement
        is over in one to two years). [year]

    Returns
    -------
    float
        0 at the start, towards 1.

    Examples
    --------
    >>> share_settled(0.6)
    0.5
    """
    return float(1.0 - 0.5 ** (max(years, 0.0) / half_life))


def seasons_to_wait(plant: Plant) -> int:
    """Seasons that a plant waits on a new mound: none for annuals and herbs, one for woody and shallow crowns."""
    return 1 if plant.waits else 0


def order_of_planting(plants: list[Plant], built_in: int) -> str:
    """Say in a sentence or two what goes in when, for a mound built in a year counted from 1."""
    now = [plant.common for plant in plants if not plant.waits]
    later = [plant.common for plant in plants if plant.waits]
    first = (
        f"In year {built_in}: {', '.join(now)}, or a cover crop, while the mound settles."
        if now
        else f"In year {built_in}: a cover crop or a year of squash while the mound settles."
    )
    if not later:
        return first
    return (
        f"{first} From year {built_in + 1}, once the crest has been topped up: {', '.join(later)}; "
        "set each crown 3 to 5 cm (1 to 2 in) above the soil."
    )
