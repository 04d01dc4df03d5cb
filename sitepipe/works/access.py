"""Paths and tipping place settled together: of the places ranked, the one with the least work along its own paths."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sitepipe.drainage.record import Drainage
from sitepipe.scoring.record import Scores
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.terrain.record import Terrain
from sitepipe.wetness.record import Wetness
from sitepipe.works.obstacles import drives
from sitepipe.works.order import haul_along_paths
from sitepipe.works.paths import lay_paths
from sitepipe.works.record import HoopHouse, Mound, Path, TippingPlace
from sitepipe.works.tipping import compared


@dataclass(frozen=True, slots=True)
class Access:
    """How one gets to everything: the places, the first one chosen, its paths, and the way to each mound. [m]."""

    places: tuple[TippingPlace, ...]
    paths: tuple[Path, ...]
    ways: dict[int, float]


def settle_access(
    site: Site,
    terrain: Terrain,
    drainage: Drainage,
    wetness: Wetness,
    scores: Scores,
    settings: Settings,
    mounds: tuple[Mound, ...] = (),
    house: HoopHouse | None = None,
    places: tuple[TippingPlace, ...] = (),
) -> Access:
    """Lay the paths for each tipping place and rank the places again by the work along the paths they get.

    A place from which the paths do not reach every mound keeps the work of the cheapest ways over open ground and
    comes after those that do.
    """
    options: list[tuple[bool, float, int, Access]] = []
    for index, place in enumerate(places or (None,)):
        paths = lay_paths(site, terrain, drainage, wetness, scores, settings, mounds, house, place)
        ways = dict(haul_along_paths({mound.number: mound.outline for mound in mounds}, place, paths, drives(site)))
        if place is None:
            return Access((), paths, ways)
        reaches_all = all(mound.number in ways for mound in mounds)
        if reaches_all and mounds:
            work = sum(mound.volume * ways[mound.number] for mound in mounds)
            place = replace(place, barrow_work=work, mean_haul=work / sum(mound.volume for mound in mounds))
        options.append((not reaches_all, place.barrow_work, index, Access((place,), paths, ways)))
    options.sort(key=lambda option: option[:3])
    best = options[0][3]
    ranked = tuple(replace(option[3].places[0], rank=rank) for rank, option in enumerate(options, 1))
    return Access(compared(ranked, settings), best.paths, best.ways)
