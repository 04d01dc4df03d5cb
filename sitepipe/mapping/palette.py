"""Colours and marks of the map and the printed sheet, as plain data by role, for day and night."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ink:
    """One role's colour on light and on dark paper, as six hexadecimal digits."""

    light: str
    dark: str


COLOURS: dict[str, Ink] = {
    "paper": Ink("FBFBF7", "14191C"),
    "card": Ink("FFFFFF", "1B2226"),
    "ink": Ink("1C2328", "EEF1EC"),
    "soft": Ink("4A5359", "B4BDC0"),
    "level-whole": Ink("545E63", "9EAAAE"),
    "level": Ink("6C767A", "808C90"),
    "tree-line": Ink("3B4744", "B9C4BF"),
    "tree": Ink("E6EAE7", "2B3432"),
    "water-line": Ink("0A4A86", "9CCBF2"),
    "stands-8": Ink("6FA8D6", "1F66A6"),
    "stands-5": Ink("A5CBE8", "22486B"),
    "stands-2": Ink("D3E5F2", "26343F"),
    "built-line": Ink("B8360B", "FF8F63"),
    "mound": Ink("F1AE8D", "74301B"),
    "plant-line": Ink("075440", "7FD6B0"),
    "plant": Ink("A6D8C2", "1F4F3E"),
    "path-line": Ink("3A3012", "F4E9C0"),
    "path": Ink("F7EECB", "75693F"),
    "shade-line": Ink("2E2745", "C9BFE0"),
    "sun-8": Ink("FFEB9C", "806A1B"),
    "sun-6": Ink("E6D2B8", "5C5239"),
    "sun-4": Ink("BDB0C8", "4A4159"),
    "sun-0": Ink("8B80A4", "231B35"),
}
"""Ink is what is there, blue is water, red is what we propose, green is what we plant, violet is shade."""

RELIEF_LIT = Ink("FFFEF9", "363C3F")
RELIEF_SHADED = Ink("BEC5CC", "20272B")
"""The ends of the ground's tone: lit and shaded."""

FILLS_OF_VIEW: dict[str, tuple[str, ...]] = {
    "water": ("stands-8", "stands-5", "stands-2"),
    "sun": ("sun-8", "sun-6", "sun-4", "sun-0"),
    "build": ("mound", "path", "plant", "tree", "stands-8"),
}
"""Fills that stand beside each other in one view and must be told apart."""

LINES = ("water-line", "built-line", "plant-line", "path-line", "ink")
"""Line colours that must be told apart."""


@dataclass(frozen=True, slots=True)
class Mark:
    """How a class is drawn. Lengths in CSS pixels on the page and in 1/96 in in print.

    Parameters
    ----------
    line, fill : str or None
        Roles in ``COLOURS``.
    width : float
        Of the line.
    dashes : tuple of float
        On and off lengths; empty for a solid line.
    pattern : str
        Name of the pattern that the fill carries; empty for none.
    """

    line: str | None
    fill: str | None
    width: float
    dashes: tuple[float, ...] = ()
    pattern: str = ""


MARKS: dict[str, Mark] = {
    "stands-8": Mark("water-line", "stands-8", 2.2),
    "stands-5": Mark("water-line", "stands-5", 1.5, (7, 4), "ripples"),
    "stands-2": Mark("water-line", "stands-2", 1.4, (0.1, 4.6), "dots"),
    "runs": Mark("water-line", None, 1.2),
    "runs-guessed": Mark("water-line", None, 2.2, (5, 4)),
    "sun-8": Mark(None, "sun-8", 0.0),
    "sun-6": Mark("shade-line", "sun-6", 1.2, (), "hatch-11"),
    "sun-4": Mark("shade-line", "sun-4", 1.5, (), "hatch-6"),
    "sun-0": Mark("shade-line", "sun-0", 1.7, (), "cross-5"),
    "mound": Mark("built-line", "mound", 1.8),
    "hoop-house": Mark("built-line", "card", 2.0, (), "bows"),
    "trellis": Mark("built-line", None, 2.0),
    "stake-out": Mark("built-line", "card", 2.4, (6, 4)),
    "path": Mark("path-line", "path", 1.2, (), "chips"),
    "tipping": Mark("path-line", "path", 1.2, (5, 3), "chips"),
    "wet-planting": Mark("plant-line", "plant", 1.4, (), "tufts"),
    "plants": Mark("plant-line", None, 1.2),
    "keep-clear": Mark("ink", "card", 1.4, (6, 3), "back-hatch-8"),
    "soft-ground": Mark("water-line", "stands-2", 1.5, (7, 4), "hatch-10"),
    "soaked": Mark("water-line", None, 1.5, (7, 4), "hatch-10"),
    "boundary": Mark("ink", None, 1.6, (12, 4, 2, 4)),
    "buried": Mark("ink", None, 1.8, (9, 5)),
}
"""Every mark of the page and the sheet."""

INSET_SHORES: tuple[tuple[float, float], ...] = ((4.0, 1.2), (9.0, 1.05), (15.5, 0.9), (23.5, 0.75), (33.0, 0.6))
"""How far in from a certain shore it is repeated, and how wide. [px]"""

FLOW_WIDTH_LEAST, FLOW_WIDTH_MOST, FLOW_WIDTH_ROOT = 1.2, 3.6, 28.0
"""A flow line is least + sqrt(m2 behind it) / root wide, at most most. [px]"""


def flow_width(upslope_area: float) -> float:
    """Width of a flow line with so much ground behind it. [m2] to [px].

    Examples
    --------
    >>> flow_width(0.0), flow_width(784.0), flow_width(1e6)
    (1.2, 2.2, 3.6)
    """
    return min(FLOW_WIDTH_LEAST + math.sqrt(max(upslope_area, 0.0)) / FLOW_WIDTH_ROOT, FLOW_WIDTH_MOST)


def style_sheet() -> str:
    """Return the colours as CSS custom properties, the dark ones for a reader whose device asks for dark."""
    light = "".join(f"--{role}:#{ink.light};" for role, ink in COLOURS.items())
    dark = "".join(f"--{role}:#{ink.dark};" for role, ink in COLOURS.items())
    return f":root{{{light}color-scheme:light dark}}\n@media (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
