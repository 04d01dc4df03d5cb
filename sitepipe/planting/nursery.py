"""Nursery rows: what one bed yields each autumn, and how a dug block is filled again."""

from __future__ import annotations

from dataclasses import dataclass

from sitepipe.errors import SettingsError


@dataclass(frozen=True, slots=True)
class Rotation:
    """Blocks of one bed in turn: each autumn the oldest is dug, each spring it is planted again.

    Parameters
    ----------
    blocks : int
        One for each year that the stock stands.
    plants_per_block : int
    dug : tuple of (year, block, plants)
        Autumn by autumn.
    planted : tuple of (year, block, plants)
        Spring by spring.
    """

    blocks: int
    plants_per_block: int
    dug: tuple[tuple[int, int, int], ...]
    planted: tuple[tuple[int, int, int], ...]


def rotation(plants: int, years_to_size: int, years: int) -> Rotation:
    """Divide a bed into as many blocks as the stock stands years.

    Parameters
    ----------
    plants : int
        Places in the whole bed.
    years_to_size : int
        Growing seasons from planting to digging.
    years : int
        How many years to plan.

    Returns
    -------
    Rotation
        In year y block (y - 1) mod blocks is planted in spring; from year ``years_to_size`` on the oldest block is
        dug each autumn, so that no place stands empty for more than a winter.

    Raises
    ------
    SettingsError
        If a number is not at least 1.

    Examples
    --------
    >>> rotation(20, 2, 3).dug
    ((2, 1, 10), (3, 2, 10))
    """
    if plants < 1 or years_to_size < 1 or years < 1:
        raise SettingsError("a nursery rotation needs at least one plant, one season and one year")
    blocks = min(years_to_size, plants)
    each = plants // blocks
    planted = tuple((year, (year - 1) % blocks + 1, each) for year in range(1, years + 1))
    dug = tuple((year, (year - blocks) % blocks + 1, each) for year in range(blocks, years + 1))
    return Rotation(blocks, each, dug, planted)


SEASONS_TO_SIZE = {"hardwood cuttings": 2, "division": 1, "seed or layers": 3}
"""Growing seasons until a plant can be sold (common practice, no source)."""
