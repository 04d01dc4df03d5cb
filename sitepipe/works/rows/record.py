"""What vines climb on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from shapely import LineString

from sitepipe.fields import Degrees, HoursADay, Metres, Parts, Shape
from sitepipe.site import Ref, Work
from sitepipe.works.built import Built


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
    beside: Ref
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
    def length(self) -> Metres:
        """From the first post to the last. [m]."""
        return float(self.line.length)
