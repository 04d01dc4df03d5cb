"""The arrow to true north. Lengths in px."""

from __future__ import annotations

import math

from sitepipe.mapping.north import convergence
from sitepipe.site import Site
from sitepipe.writing.sheets.fonts import BOLD
from sitepipe.writing.sheets.pen import Pen, Point

TEXT = 14.0


def draw_north(pen: Pen, top: Point, site: Site, long: float = 46.0) -> None:
    """Draw the letter at a place and the arrow below it, turned to true north about its middle."""
    x, y = top
    angle = -math.radians(convergence(site))
    middle = (x, y + 14.0 + long / 2.0)

    def turned(across: float, down: float) -> Point:
        cos, sin = math.cos(angle), math.sin(angle)
        return middle[0] + across * cos - down * sin, middle[1] + across * sin + down * cos

    half = long / 2.0
    arrow = [turned(0.0, half), turned(0.0, -half), turned(-6.0, -half + 16.0)]
    pen.write((x, y + 8.0), "N", TEXT, BOLD, "middle", has_edge=True)
    pen.stroke([arrow], 4.6, grey=1.0)
    pen.stroke([arrow], 1.8)
