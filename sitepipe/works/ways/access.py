"""Paths and tipping place settled together: of the places ranked, the one with the least work along its own paths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sitepipe.site import Ref, Work
from sitepipe.works.built import Built, these
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.ways.network import Network, join_all, ways_over
from sitepipe.works.ways.paths import paths_of
from sitepipe.works.ways.record import NoTipping, Path, TippingPlace
from sitepipe.works.ways.truck import why_no_place


@dataclass(frozen=True, slots=True)
class Access:
    """How one gets to everything: the places, the first one chosen, its paths, and the way to each mound. [m]."""

    places: tuple[TippingPlace, ...]
    paths: tuple[Path, ...]
    ways: dict[int, float]
    no_tipping: NoTipping | None = None
    unreached: tuple[Ref, ...] = ()


def settle_access(land: Land, works: Sequence[Built] = (), places: tuple[TippingPlace, ...] = ()) -> Access:
    """Join all works for each tipping place and rank the places again by the work along the paths they get.

    Where a tipping place is among the works there is nothing to rank.

    A place from which the paths do not reach every mound keeps the work of the cheapest ways over open ground and
    comes after those that do.
    """
    mounds = these(Mound, works)
    options: list[tuple[bool, float, int, TippingPlace, Network]] = []
    for index, place in enumerate(places):
        network = join_all(land, (*works, place))
        ways = ways_over(network)
        reaches_all = all(mound.number in ways for mound in mounds)
        if reaches_all and mounds:
            work = sum(mound.volume * ways[mound.number] for mound in mounds)
            place = replace(place, barrow_work=work, mean_haul=work / sum(mound.volume for mound in mounds))
        options.append((not reaches_all, place.barrow_work, index, place, network))
    options.sort(key=lambda option: option[:3])
    network = options[0][4] if options else join_all(land, works)
    first = land.site.next_number(Work.TIPPING_PLACE)
    ranked = tuple(
        replace(option[3], number=number) if option[3].is_proposed else option[3]
        for number, option in enumerate(options, first)
    )
    paths = paths_of(network, land) if land.settings.path.propose else ()
    reached = {branch.end for branch in network.branches}
    missed = (terminal.ref for terminal in network.terminals if terminal.ref not in reached)
    return Access(
        places=ranked,
        paths=paths,
        ways=ways_over(network),
        no_tipping=None
        if places or these(TippingPlace, works) or not land.settings.tipping.propose
        else why_no_place(land.site, land.settings),
        unreached=tuple(ref for ref in missed if ref is not None and land.settings.path.propose),
    )
