"""Drainage, soil, storms, ponding uncertainty, wet ground and the water in it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sitepipe.settings.section import Length, Section, Share


class DrainageSettings(Section):
    """Where water runs: what counts as a hollow, a channel, a drain."""

    least_depth: Annotated[Length, Field(gt=0.0, le=10.0)] | None = None
    """Shallowest hollow named as a pond; without it 3 cm, or half the heights' error where that is more. [m]"""
    least_area_m2: float = Field(default=4.0, ge=0.0, le=1e6)
    """Smallest hollow named as a pond, four cells at least. Common practice, no source. [m2]"""
    channel_area_m2: float | None = Field(default=None, gt=0.0, le=1e9)
    """Ground behind a cell from which on water gathers to a channel; without it the area that the wettest 2 %
    of the heights exceed, so that garden and farm both have channels. Common practice, no source. [m2]"""
    closed_gap_m2: float = Field(default=2500.0, ge=0.0, le=1e6)
    """Largest gap in the heights that lets no water out: a void that lidar leaves over a farm pond or where a barn was
    taken out. Larger gaps are ends of the heights. Common practice, no source. [m2]"""
    drain_reach: Annotated[Length, Field(ge=0.0, le=20.0)] = 1.5
    """How far from the end of a drawn drain its mouth is looked for: hand-drawn ends miss the bottom. [m]"""
    bank_width: Annotated[Length, Field(gt=0.0, le=100.0)] = 15.0
    """A rim that is lower beyond within this distance may be a bank with a pipe in it. [m]"""
    bank_height: Annotated[Length, Field(gt=0.0, le=20.0)] = 0.25
    """Lower banks are not asked about. [m]"""


class SoilSettings(Section):
    """The soil of the parcel, as a ribbon test or a soil map tells it."""

    texture: Literal[
        "sand", "loamy sand", "sandy loam", "loam", "silt loam", "sandy clay loam",
        "clay loam", "silty clay loam", "sandy clay", "silty clay", "clay",
    ] = "silt loam"  # fmt: skip
    """Of the upper half metre; it says how fast a puddle soaks in."""
    group: Literal["A", "B", "C", "D"] = "D"
    """Hydrologic soil group. Ground whose wet-season water stands within 60 cm of the surface counts as D, whatever
    its texture (NRCS National Engineering Handbook 630.07, value from memory): so it is on the ground meant here."""


class StormSettings(Section):
    """Rain that is followed until it stands, soaks in, or leaves."""

    depths: tuple[Annotated[Length, Field(gt=0.0, le=2.0)], ...] | None = Field(
        default=None, min_length=1, max_length=6
    )
    """Without them 25 and 50 mm, or 1 and 2 in. [m]"""
    cover: Literal["lawn", "pasture", "meadow", "brush", "woods", "woods and grass"] = "lawn"
    """What grows where nothing is drawn."""
    condition: Literal["good", "fair", "poor"] = "fair"
    """Of that cover: poor is grazed or trodden bare, good is dense."""
    crops_hours: float = Field(default=48.0, gt=0.0, le=1000.0)
    """Most vegetables recover if flooded for less (University of Delaware). [h]"""
    mosquito_hours: float = Field(default=72.0, gt=0.0, le=1000.0)
    """Drain within this time, or mosquitoes hatch (4 to 14 days from egg to adult; common rule). [h]"""


class UncertaintySettings(Section):
    """How many equally likely grounds are tried."""

    grounds: int | None = Field(default=None, ge=8, le=2000)
    """Without it 100 on small windows, down to 40 on large ones; a chance is good to about 1 in 20 with 100."""
    seed: int = Field(default=1, ge=0, le=2**32 - 1)
    """Same seed, same bytes, whatever the number of threads."""
    threads: int = Field(default=2, ge=1, le=64)


class WaterTableSettings(Section):
    """Shallow ground water in the wet season: what is assumed before auger holes say otherwise."""

    recharge: float = Field(default=1.0, gt=0.0, le=20.0)
    """Rain that soaks in over the wet season, less what plants take: common practice, no source. [mm/day]"""
    conductivity: float | None = Field(default=None, gt=0.0, le=100.0)
    """Sideways, of the soil above the tight layer; without it from the soil's texture. [m/day]"""
    doubt: float = Field(default=5.0, ge=1.5, le=100.0)
    """Factor by which recharge over conductivity may well be wrong, either way. [1]"""
    permeable_depth: Annotated[Length, Field(gt=0.2, le=20.0)] = 1.2
    """From the surface down to the layer that lets little water through. [m]"""
    local_doubt: Annotated[Length, Field(gt=0.0, le=2.0)] = 0.12
    """Standard deviation of what the flow model misses from place to place: common practice. [m]"""
    reach: Annotated[Length, Field(gt=1.0, le=1000.0)] = 25.0
    """Distance over which such a miss goes together, so how far one hole speaks. [m]"""
    reading_error: Annotated[Length, Field(gt=0.0, le=1.0)] = 0.10
    """Of one wet-season reading as a design level; it shrinks with their number down to 3 cm. [m]"""
    gray_above: Annotated[Length, Field(ge=0.0, le=1.0)] = 0.20
    """How far the wet-season water stands above the first gray colour (Humphrey & O'Driscoll 2011). [m]"""
    wet_months: tuple[int, ...] = (11, 12, 1, 2, 3, 4, 5)
    """Months whose readings count as a design level, north of the equator; shifted by six south of it."""

    def wet_at(self, latitude: float) -> frozenset[int]:
        """Return the wet months (1 to 12) at a latitude. [deg]."""
        return frozenset((month + 5) % 12 + 1 if latitude < 0.0 else month for month in self.wet_months)


class WetnessSettings(Section):
    """How the wettest places are picked out; how wet a place is takes no settings (one set for all sites)."""

    soaked_share: float = Field(default=0.15, gt=0.0, le=0.9)
    """Share of the parcel, the wettest, that may be named as soaked. Common practice, no source. [1]"""
    soaked_least: Share = 0.6
    """Wetness below which no place is named, however dry the rest. [1]"""
    least_area_m2: float = Field(default=6.0, ge=0.0, le=1e6)
    """Smallest patch that is worth naming: one that a helper finds. Common practice, no source. [m2]"""
    least_depth: Annotated[Length, Field(ge=0.0, le=5.0)] = 0.01
    """Shallower water is not named: rain stands that deep on any lawn. [m]"""
    least_chance: Share = 0.2
    """Chance of standing water below which a hollow is not named: face.md draws nothing below 2 in 10. [1]"""
    places: int = Field(default=9, ge=1, le=50)


class ObservationSettings(Section):
    """How far a thing seen outweighs the model around it."""

    reach: Annotated[Length, Field(gt=0.0, le=500.0)] = 12.0
    """Distance at which its say has fallen to 37 %. Common practice, no source. [m]"""
    height_reach: Annotated[Length, Field(gt=0.0, le=20.0)] = 0.15
    """Climb that counts as much as that distance: a pool says nothing of the bank above it. [m]"""
    certain: float = Field(default=0.95, gt=0.5, lt=1.0)
    """Wetness that the surest sight stands for (dry: 1 minus this). [1]"""
    wet_after: float = Field(default=48.0, gt=0.0, le=1000.0)
    """Water that still stands so long after rain is no passing puddle: crops fail beyond it. [h]"""
    dry_within: float = Field(default=24.0, gt=0.0, le=1000.0)
    """Ground that is firm so soon after rain is dry ground. [h]"""
