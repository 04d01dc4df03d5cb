"""What the works stage hands on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated

from sitepipe.fields import Goes, HoursADay, Key, Parts
from sitepipe.site import Ref
from sitepipe.works.built import Built, Stake, all_but, not_standing
from sitepipe.works.hazards import Hazard
from sitepipe.works.houses.record import HoopHouse, Refusal
from sitepipe.works.jobs.record import Article, ChipBed, Job, Quantity, Shortage, WayRound, YearOfWork
from sitepipe.works.mounds.record import Mound, MoundChoice
from sitepipe.works.rows.record import Arch, Trellis
from sitepipe.works.water.record import DrainAdvice, Impact, Swale, TriedChange
from sitepipe.works.ways.record import LeftOut, NoTipping, Path, TippingPlace


@dataclass(frozen=True, slots=True)
class ShadeCost:
    """Hours of direct sun that one work of the plan takes from another on a mean day of the other's months. [h/day]."""

    work: Ref
    by: Ref
    months: tuple[int, ...]
    hours: Annotated[HoursADay, Key("lost")]


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that stands, is wanted or is proposed; ``other_...`` are places that would do as well.

    ``own_shade`` is (mound number, hours of sun a day lost in the growing season to hoop house and trellises);
    ``shade_costs`` is what every work loses to every other that can reach it; ``hazards`` is what every part of a work
    that breaks or loads the ground comes near to.
    """

    mounds: tuple[Mound, ...] = ()
    hoop_houses: tuple[HoopHouse, ...] = ()
    other_hoop_houses: tuple[HoopHouse, ...] = ()
    hoop_house_refusals: tuple[Refusal, ...] = ()
    trellises: tuple[Trellis, ...] = ()
    arches: tuple[Arch, ...] = ()
    swales: tuple[Swale, ...] = ()
    paths: tuple[Path, ...] = ()
    tipping_places: tuple[TippingPlace, ...] = ()
    other_tipping_places: tuple[TippingPlace, ...] = ()
    impact: Impact | None = None
    change: Annotated[TriedChange | None, Key("tried_change")] = None
    quantities: tuple[Quantity, ...] = ()
    years: tuple[YearOfWork, ...] = ()
    articles: tuple[Article, ...] = ()
    shortages: tuple[Shortage, ...] = ()
    ways_round: tuple[WayRound, ...] = ()
    waiting: tuple[Ref, ...] = ()
    chip_bed: ChipBed | None = None
    drain: Annotated[DrainAdvice | None, Key("drain_instead")] = None
    jobs: tuple[Job, ...] = ()
    bench_mark: str = ""
    mound_choice: Annotated[MoundChoice, Goes.INLINE] = MoundChoice()  # noqa: RUF009 (frozen)
    no_tipping: NoTipping | None = None
    unreached: tuple[Ref, ...] = ()
    own_shade: Annotated[
        tuple[tuple[int, float], ...], Key("mounds_shaded_by_the_plan"), Parts("number", "lost_h_per_day")
    ] = ()
    shade_costs: Annotated[tuple[ShadeCost, ...], Key("shade_of_the_plan")] = ()
    hazards: tuple[Hazard, ...] = ()
    left_out: tuple[LeftOut, ...] = ()

    @property
    def stakes(self) -> tuple[Stake, ...]:
        """Of all that is built; other places for the hoop house have theirs on their own records."""
        works: tuple[Built, ...] = (*self.mounds, *self.hoop_houses, *self.trellises)
        return tuple(stake for work in works for stake in work.stakes)

    @property
    def works(self) -> tuple[Built, ...]:
        """All that stands, is wanted or is proposed, kind by kind."""
        return (
            *self.mounds,
            *self.hoop_houses,
            *self.trellises,
            *self.paths,
            *self.arches,
            *self.swales,
            *self.tipping_places,
        )

    @property
    def others(self) -> tuple[Built, ...]:
        """The places that would do as well."""
        return (*self.other_hoop_houses, *self.other_tipping_places)

    def to_build(self) -> Plan:
        """Return the plan without what stands already."""
        return replace(
            self,
            mounds=not_standing(self.mounds),
            hoop_houses=not_standing(self.hoop_houses),
            trellises=not_standing(self.trellises),
            paths=not_standing(self.paths),
            arches=not_standing(self.arches),
            swales=not_standing(self.swales),
        )

    def without_waiting(self) -> Plan:
        """Return the plan without what there is not enough for."""
        return replace(
            self,
            mounds=all_but(self.waiting, self.mounds),
            hoop_houses=all_but(self.waiting, self.hoop_houses),
            trellises=all_but(self.waiting, self.trellises),
            paths=all_but(self.waiting, self.paths),
            arches=all_but(self.waiting, self.arches),
            swales=all_but(self.waiting, self.swales),
        )
