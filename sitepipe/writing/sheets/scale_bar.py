"""The bar that tells whether a sheet was printed at its true size. Lengths in px."""

from __future__ import annotations

from sitepipe.writing.sheets.paper import MAP_WIDTH, Scale
from sitepipe.writing.sheets.pen import BLACK, Pen

TEXT = 14.0


def draw_bar(pen: Pen, scale: Scale, left: float, top: float) -> None:
    """Draw the bar, the ground that it stands for, and how long it must be."""
    foot = top + 9.0
    ticks = [
        [(left + k * scale.bar / 8.0, foot - (9.0 if k in (0, 8) else 5.0)), (left + k * scale.bar / 8.0, foot)]
        for k in range(9)
    ]
    pen.stroke(ticks, 1.2)
    pen.stroke([[(left, foot), (left + scale.bar, foot)]], 1.8, grey=BLACK)
    pen.write((left + scale.bar + 9.0, foot + 2.0), scale.bar_said, TEXT)
    said = f"{scale.said[:1].upper()}{scale.said[1:]}. Bar not {scale.bar_check} long? Print again at full size."
    pen.write((left + MAP_WIDTH, foot + 2.0), said, TEXT, anchor="end")
