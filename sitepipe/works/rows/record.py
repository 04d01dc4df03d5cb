"""What vines climb on: rows and arches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.fields import Degrees, Goes, HoursADay, Metres, Parts, Shape
from sitepipe.site import Ref, Work
from sitepipe.works.built import Built

SIDE_ROOM = 0.45
"""Free on each side of a row, to pick from; so near it stands to its bed. [m]"""


@dataclass(frozen=True, slots=True)
class Trellis(Built):
    """A row for vines.

    It stands at the side of ``beside``, a mound or the bed of that number, for whose vines it is. ``hours_lost`` is
    (month, lost by this row, lost by the other direction), in bed-hours a day: hours of direct sun times square metres
    of bed, on a mean day of the month; ``beds_lose`` is the same as hours a day over the beds in its reach, on the mean
    of the growing season, and ``turned_beds_lose`` what the other direction would take. ``clear_distance`` is what to
    keep between this row and the next bed on its shaded side; ``is_wet`` says that its posts stand in wet ground.
    """

    kind: ClassVar[Work] = Work.TRELLIS

    line: Annotated[LineString, Shape("trellises")]
    height: Metres
    bearing: Degrees
    beside: Ref | None
    post_depth: Metres
    posts: int
    hours_lost: Annotated[
        tuple[tuple[int, float, float], ...], Parts("month", "this_row_m2_h_per_day", "other_direction_m2_h_per_day")
    ]
    beds_lose: HoursADay
    turned_beds_lose: HoursADay
    clear_distance: Metres
    is_wet: bool

    @property
    def ground(self) -> BaseGeometry:
        """What it takes of the ground. [m]."""
        return self.line.buffer(SIDE_ROOM)

    @property
    def length(self) -> Metres:
        """From the first post to the last. [m]."""
        return float(self.line.length)


@dataclass(frozen=True, slots=True)
class Arch(Built):
    """Bent wire panels over a path, side by side along it, for vines that are planted at both feet.

    ``height`` is inside at its middle; ``beside`` the path that it stands over, if any; ``is_wet`` says that its posts
    stand in wet ground.
    """

    kind: ClassVar[Work] = Work.ARCH

    line: Annotated[LineString, Goes.INTERNAL]
    outline: Annotated[Polygon, Shape("arches")]
    span: Metres
    height: Metres
    panels: int
    posts: int
    post_depth: Metres
    beside: Ref | None
    is_wet: bool

    @property
    def length(self) -> Metres:
        """Along the path. [m]."""
        return float(self.line.length)

    @property
    def feet(self) -> tuple[LineString, LineString]:
        """The lines that its panels stand on, left and right. [m]."""
        return self.line.offset_curve(self.span / 2.0), self.line.offset_curve(-self.span / 2.0)

    @property
    def ground(self) -> BaseGeometry:
        """What it takes of the ground: a strip at each foot; one walks between. [m]."""
        return shapely.union_all([foot.buffer(SIDE_ROOM / 2.0) for foot in self.feet])
