"""What the grower has: its kinds in the palette, and what finds no place."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence

from sitepipe.errors import InputError
from sitepipe.planting.assign import Counts
from sitepipe.planting.beds import Bed
from sitepipe.planting.match import Fit
from sitepipe.planting.palette import Own, Plant
from sitepipe.planting.record import Reason, Unplaced
from sitepipe.site import Site

MEANT = {Reason.ANOTHER_PURPOSE, Reason.NO_SUPPORT, Reason.RUNS}
"""What speaks against a bed for what it is for, and not for its ground."""


def own_kinds(site: Site, palette: Sequence[Plant]) -> Own:
    """Return the grower's plants with their kinds in the palette.

    Raises
    ------
    InputError
        If the palette does not know a name, or not how far apart it stands; the nearest name is told.
    """
    by_name = {name.lower(): plant for plant in palette for name in (plant.common, plant.latin)}
    found = []
    for mine in site.own_plants:
        plant = by_name.get(mine.name.lower())
        if plant is None:
            close = difflib.get_close_matches(mine.name.lower(), by_name, n=1, cutoff=0.6)
            hint = f" (did you mean {close[0]!r}?)" if close else ""
            raise InputError(
                f"{mine.where}: {mine.name!r} is in no list of plants{hint}. Give it a row in a list of your own "
                "(planting.palette), with its spacing and how wet it may stand"
            )
        if not plant.room:
            raise InputError(
                f"{mine.where}: no list says how far apart {mine.name!r} stands. Give it a row with in_row_m"
            )
        found.append((plant, mine))
    return tuple(found)


def unplaced(
    own: Own, palette: Sequence[Plant], beds: Sequence[Bed], fits: Sequence[Sequence[Fit]], placed: Counts
) -> Iterable[Unplaced]:
    """Say of the grower's plants that found no place why not where they would come nearest to it.

    ``placed`` is how many of each kind stand in each bed. (kinds, beds).
    """
    for k, plant in enumerate(palette):
        left = sum(mine.count for kind, mine in own if kind is plant) - int(placed[k].sum())
        if left <= 0:
            continue
        reason, nearest = Reason.NO_ROOM, None
        if beds and not any(judged.score > 0.0 for judged in fits[k]):
            # What the ground lacks can be mended; that a bed is meant for other plants is said where nothing else is.
            fewest = min(
                range(len(beds)), key=lambda bed: (bool(MEANT & {*fits[k][bed].against}), len(fits[k][bed].against))
            )
            reason, nearest = fits[k][fewest].against[0], beds[fewest].of
        yield Unplaced(plant.common, left, reason, nearest, plant.aerated, plant.least_sun or plant.crop_sun)
