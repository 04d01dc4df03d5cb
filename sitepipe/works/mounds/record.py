"""A mound, its height in its terms, and how the mounds came to lie as they do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, ClassVar

from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.fields import CubicMetres, Degrees, Goes, Hours, Key, Metres, Parts, Shape, Unit
from sitepipe.site import Work
from sitepipe.works.built import Built
from sitepipe.works.water.record import OutletChange, Rise


@dataclass(frozen=True, slots=True)
class MoundHeight:
    """The terms that add up to a mound's height, in m, and the standard deviations of two of them.

    ``finished = max(roots + fringe - depth_to_water + allowance, 0)`` holds with the stated chance;
    ``built = finished / (1 - settlement)``.
    """

    roots: Metres
    fringe: Metres
    depth_to_water: Metres
    allowance: Metres
    finished: Annotated[Metres, Key("finished_height")]
    built: Annotated[Metres, Key("built_height")]
    settlement: float
    chance: Annotated[float, Key("chance_that_roots_stay_dry")]
    water_error: Metres = 0.0
    settling_error: Metres = 0.0


@dataclass(frozen=True, slots=True)
class WouldDo:
    """What would keep the roots of a wanted mound dry where it does not: a height, another fill, or another place.

    ``height`` is as built, of its own fill, None where that is more than may be built; so is ``fill_height``.
    """

    height: float | None
    fill: str
    fill_height: float | None
    place: Point | None


@dataclass(frozen=True, slots=True)
class Mound(Built):
    """A raised mound, drawn as its crest line with a width.

    ``crest_ground`` is the height of the ground below each vertex of the crest, along a straight line. [m] ``is_guess``
    says that its height rests on no reading of the water in the wet season.
    """

    kind: ClassVar[Work] = Work.MOUND

    crest: Annotated[LineString, Shape("crests")]
    outline: Annotated[Polygon, Shape("mounds")]
    crops: str
    fill: str
    height: Annotated[MoundHeight, Goes.INLINE]
    top_width: Metres
    base_width: Metres
    volume: CubicMetres
    materials: Annotated[tuple[tuple[str, float], ...], Unit("m3")]
    barrows: int
    hours: Annotated[Hours, Key("work")]
    crest_ground: Annotated[tuple[float, ...], Goes.INTERNAL] = (0.0, 0.0)
    is_guess: bool = False
    side_slope: float = 1.5
    would_do: Annotated[WouldDo | None, Goes.SAID] = None

    @property
    def ground(self) -> BaseGeometry:
        """What it takes of the ground. [m]."""
        return self.outline

    @property
    def length(self) -> Metres:
        """From end to end at its foot, round ends included. [m]."""
        return self.crest_length + self.base_width

    @property
    def crest_length(self) -> Metres:
        """From end to end of its crest. [m]."""
        return float(self.crest.length)


class Lacking(StrEnum):
    """What there is not enough of for any mound."""

    GROUND = "ground"
    WATER_TABLE = "water table"
    ROOM = "room"
    FINER_HEIGHTS = "finer heights"


class Because(StrEnum):
    """What speaks most for the direction that was chosen, against the best of those that lie otherwise on the fall."""

    HOLDS_BACK = "holds back"
    IN_THE_WAY = "in the way"
    ROOM = "room"
    HAUL = "haul"
    NEXT_DOOR = "next door"


@dataclass(frozen=True, slots=True)
class RefusedFill:
    """A fill that will not do for a crop group: so wet above the water that it would have to be built too high."""

    crops: str
    fill: str
    fringe: Metres
    built: Metres


@dataclass(frozen=True, slots=True)
class MoundChoice:
    """How the mounds came to lie as they do.

    Parameters
    ----------
    bearing, fall : float or None
        Of the rows, and the direction that the ground below them falls to, None where it is level. [deg]
    haul : float
        Mean way with a barrow. [m]
    because : Because
    directions_tried : tuple of (bearing, score)
        The best of all scored 1.
    refused : tuple of RefusedFill
        One for each crop group and fill that would not do somewhere.
    lacking : Lacking or None
        Why there is no mound at all, where no fill says so.
    spared : harm or None
        What the best layout would have done to the water next door, for which another was taken or mounds left out.
    left_out : int
        Mounds left out for that.
    limited_by : str
        The material for want of which no more are laid out, empty where it is not for that.
    """

    bearing: Annotated[Degrees | None, Key("mounds_bearing")] = None
    fall: Annotated[Degrees | None, Key("mounds_fall_to")] = None
    haul: Annotated[Metres, Key("mounds_haul")] = 0.0
    because: Annotated[Because | None, Key("mounds_because")] = None
    directions_tried: Annotated[tuple[tuple[float, float], ...], Parts("bearing_deg", "score")] = ()
    refused: Annotated[tuple[RefusedFill, ...], Key("fills_refused")] = ()
    lacking: Annotated[Lacking | None, Key("mounds_lack")] = None
    spared: Annotated[Rise | OutletChange | None, Goes.SAID] = None
    left_out: Annotated[int, Key("mounds_left_out.count")] = 0
    limited_by: Annotated[str, Key("mounds_limited_by")] = ""
