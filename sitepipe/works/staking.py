"""Where stakes go: the ends of a mound's crest, the corners of the hoop house, the ends of a row."""

from __future__ import annotations

import math
import string
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from shapely import Point

from sitepipe.site import Site, Status
from sitepipe.works.built import Built
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.mounds.making import ground_at
from sitepipe.works.mounds.record import Mound
from sitepipe.works.rows.record import Arch, Trellis
from sitepipe.works.stakes import Peg, SettingOut, set_out
from sitepipe.works.water.record import Swale


def stake_together(works: Iterable[Built], site: Site, setting_out: SettingOut) -> tuple[Built, ...]:
    """Return works with their stakes: a tape for one may start at a stake of another; what stands needs none."""
    pegs = [(work, [] if work.status is Status.STANDING else _pegs(work, site, setting_out)) for work in works]
    stakes = set_out([peg for _, own in pegs for peg in own], setting_out)
    return tuple(replace(work, stakes=tuple(stakes[peg.label] for peg in own)) for work, own in pegs)


def _pegs(work: Built, site: Site, setting_out: SettingOut) -> list[Peg]:
    """Return the ends of a crest at their finished height, else the corners or ends at the height of the ground."""
    if isinstance(work, Mound):
        ends = zip(string.ascii_uppercase, work.crest.coords, work.crest_ground, strict=False)
        return [Peg(f"{work.number}{letter}", Point(x, y), z + work.height.finished) for letter, (x, y), z in ends]
    match work:
        case HoopHouse():
            prefix = "H" if work.number == 1 else f"H{work.number}"
            places = work.outline.exterior.coords[:-1]
        case Arch():
            prefix, places = f"R{work.number}", work.outline.exterior.coords[:-1]
        case Trellis():
            prefix, places = f"T{work.number}", (work.line.coords[0], work.line.coords[-1])
        case Swale():
            prefix, places = f"S{work.number}", work.line.coords
        case _:
            return []
    pegs = []
    for letter, (x, y, *_) in zip(string.ascii_uppercase, places, strict=False):
        ground = float(ground_at(site, np.array([x]), np.array([y]))[0])
        height = ground if math.isfinite(ground) else setting_out.bench_height
        pegs.append(Peg(f"{prefix}{letter}", Point(x, y), height))
    return pegs
