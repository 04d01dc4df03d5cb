"""What the plan itself takes from its mounds: hours of sun lost to hoop house and trellises."""

from __future__ import annotations

import numpy as np
from shapely import LineString, Polygon

from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.sunlight.shade import bed_hours_lost
from sitepipe.sunlight.stage import site_scene
from sitepipe.units import say_hours
from sitepipe.works.record import HoopHouse, Mound, Trellis
from sitepipe.works.row_shade import REACH

WORTH_SAYING = 0.25
"""Hours a day below which a shadow is not worth a sentence. [h]"""


def own_shade(
    site: Site,
    settings: Settings,
    sunlight: Sunlight,
    mounds: tuple[Mound, ...],
    house: HoopHouse | None,
    rows: tuple[Trellis, ...],
) -> tuple[tuple[tuple[int, float], ...], tuple[str, ...]]:
    """Return (mound, hours lost a day in the growing season), and a sentence for each shadow that matters.

    House and trees keep casting theirs: an hour that they take already is not lost again. Where two things of the plan
    shade a mound at once the hour counts twice: the figure is what is lost at most.
    """
    castings: list[tuple[str, LineString | Polygon, float, float]] = [
        (f"trellis {row.number}", row.line, row.height, settings.trellis.let_through) for row in rows
    ]
    if house is not None:
        own = settings.hoop_house
        castings.append(("the hoop house", house.outline, own.height, own.film))
    if not castings or not mounds:
        return (), ()
    scene = site_scene(site, settings)
    lost = dict.fromkeys((mound.number for mound in mounds), 0.0)
    sentences: list[str] = []
    for name, shape, height, passes in castings:
        for mound in mounds:
            if shape.distance(mound.outline) > REACH * height:
                continue
            months = bed_hours_lost(site, settings, shape, height, [mound.outline], passes, scene)
            hours = float(np.mean([months[month - 1][1] for month in sunlight.season_months]))
            lost[mound.number] += hours
            if hours >= WORTH_SAYING:
                sentences.append(
                    f"Mound {mound.number} loses {say_hours(hours)} of sun a day in the growing season to {name}."
                )
    return tuple(lost.items()), tuple(sentences)
