"""Paper and scale: what fits on it, and how large a metre is. Lengths on paper in px, 1/96 in."""

from __future__ import annotations

from dataclasses import dataclass

from sitepipe.settings import Settings
from sitepipe.units import FOOT, INCH, Units

PX = 96.0
"""Pixels to the inch."""
POINT = 0.75
"""Points of a PDF to the pixel."""
MAP_WIDTH = 720.0
MARGIN_TOP, MARGIN_BOTTOM = 36.0, 36.0

_FEET_TO_THE_INCH = (5, 8, 10, 20, 30, 40, 50, 60, 80, 100, 150, 200, 300, 400, 500, 800, 1000, 2000)
"""Scales that an engineer's or an architect's ruler has, and their tens."""
_METRIC = (50, 75, 100, 200, 250, 400, 500, 750, 1000, 1250, 1500, 2000, 2500, 5000, 7500, 10000, 20000)


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet, upright. Width and height in px."""

    name: str
    width: float
    height: float

    @property
    def left(self) -> float:
        """Left edge of what is printed."""
        return (self.width - MAP_WIDTH) / 2.0

    @property
    def right(self) -> float:
        """Right edge of what is printed."""
        return self.left + MAP_WIDTH

    @property
    def bottom(self) -> float:
        """Lowest edge of what is printed."""
        return self.height - MARGIN_BOTTOM


LETTER = Paper("letter", 8.5 * PX, 11.0 * PX)
A4 = Paper("a4", 0.210 / INCH * PX, 0.297 / INCH * PX)


@dataclass(frozen=True, slots=True)
class Scale:
    """How the ground is drawn down.

    Parameters
    ----------
    ratio : float
        Metres on the ground to a metre on paper.
    said : str
        ``1 inch is 40 feet`` or ``1 to 500``.
    bar, bar_said, bar_check : float, str, str
        Length of the check bar on paper [px], the ground it stands for, and its length in words.
    """

    ratio: float
    said: str
    bar: float
    bar_said: str
    bar_check: str

    @property
    def px_per_metre(self) -> float:
        """How many px a metre on the ground takes."""
        return PX / INCH / self.ratio


def paper_of(settings: Settings) -> Paper:
    """Return the paper that is asked for, else Letter where feet are said and A4 where metres are."""
    asked = settings.print.paper
    if asked is None:
        return LETTER if settings.units is Units.IMPERIAL else A4
    return LETTER if asked == "letter" else A4


def choose_scale(width: float, height: float, room: tuple[float, float], units: Units) -> Scale:
    """Return the largest usual scale at which ground of a size fits a room on paper.

    Parameters
    ----------
    width, height : float
        Of the ground. [m]
    room : (float, float)
        Width and height on paper. [px]
    units : Units

    Examples
    --------
    >>> choose_scale(70.0, 69.0, (720.0, 675.0), Units.IMPERIAL).said
    '1 inch is 40 feet'
    """
    needed = max(width / room[0], height / room[1]) * PX / INCH
    if units is Units.IMPERIAL:
        feet = next((feet for feet in _FEET_TO_THE_INCH if feet * FOOT / INCH >= needed), _FEET_TO_THE_INCH[-1])
        while feet * FOOT / INCH < needed:
            feet *= 2
        return Scale(feet * FOOT / INCH, f"1 inch is {feet:,} feet", 2.0 * PX, f"{2 * feet:,}\u00a0ft", "2 inches")
    ratio = next((ratio for ratio in _METRIC if ratio >= needed), _METRIC[-1])
    while ratio < needed:
        ratio *= 2
    metres = ratio * 0.05
    bar_said = f"{metres:,.0f}\u00a0m" if metres >= 10.0 else f"{metres:.1f}\u00a0m".replace(".0", "")
    return Scale(float(ratio), f"1 to {ratio:,}", 0.05 / INCH * PX, bar_said, "5 centimetres")


@dataclass(frozen=True, slots=True)
class MapBox:
    """The window on the sheet through which the ground is seen; y runs down the sheet. [px]."""

    left: float
    top: float
    width: float
    height: float
    scale: Scale
    middle_x: float
    middle_y: float

    @property
    def right(self) -> float:
        """Right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Lower edge."""
        return self.top + self.height

    def to(self, x: float, y: float) -> tuple[float, float]:
        """Return where a place lies on the sheet; x and y count from the parcel's south-west corner. [m] to [px]."""
        size = self.scale.px_per_metre
        return (
            self.left + self.width / 2.0 + (x - self.middle_x) * size,
            self.top + self.height / 2.0 - (y - self.middle_y) * size,
        )

    def points(self, flat: list[float]) -> list[tuple[float, float]]:
        """Return where a flat row of places lies on the sheet."""
        return [self.to(x, y) for x, y in zip(flat[0::2], flat[1::2], strict=True)]
