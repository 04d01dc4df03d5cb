"""Stakes for what stands on posts: corners of the hoop house, ends of a row."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from shapely import Point

from sitepipe.site import Site
from sitepipe.works.mounds.making import ground_at
from sitepipe.works.record import HoopHouse, Stake, Trellis
from sitepipe.works.stakes import SettingOut, make_stake


def stake_house(house: HoopHouse, site: Site, setting_out: SettingOut) -> HoopHouse:
    """Add a stake at each corner, at the height of the ground there."""
    corners = list(house.outline.exterior.coords)[:-1]
    prefix = "H" if house.rank == 1 else f"H{house.rank}"
    stakes = tuple(
        _at_ground(f"{prefix}{letter}", Point(corner[:2]), site, setting_out)
        for letter, corner in zip("ABCD", corners, strict=False)
    )
    return replace(house, stakes=stakes)


def stake_row(row: Trellis, site: Site, setting_out: SettingOut) -> Trellis:
    """Add a stake at each end, at the height of the ground there."""
    ends = (row.line.coords[0], row.line.coords[-1])
    stakes = tuple(
        _at_ground(f"T{row.number}{letter}", Point(end[:2]), site, setting_out)
        for letter, end in zip("AB", ends, strict=True)
    )
    return replace(row, stakes=stakes)


def _at_ground(label: str, place: Point, site: Site, setting_out: SettingOut) -> Stake:
    ground = float(ground_at(site, np.array([place.x]), np.array([place.y]))[0])
    return make_stake(label, place, ground if math.isfinite(ground) else setting_out.bench_height, setting_out)
