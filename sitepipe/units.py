"""Units of length, and lengths as people write them, read into metres."""

from __future__ import annotations

import math
import re
from enum import StrEnum
from fractions import Fraction

FOOT = 0.3048
INCH = 0.0254
YARD = 0.9144
SURVEY_FOOT = 1200.0 / 3937.0
ACRE = 4046.8564224
CUBIC_YARD = YARD**3
CUBIC_FOOT = FOOT**3
US_GALLON = 0.003785411784

METRES_PER = {
    "mm": 0.001,
    "cm": 0.01,
    "m": 1.0,
    "metre": 1.0,
    "metres": 1.0,
    "meter": 1.0,
    "meters": 1.0,
    "km": 1000.0,
    "in": INCH,
    "inch": INCH,
    "inches": INCH,
    '"': INCH,
    "ft": FOOT,
    "foot": FOOT,
    "feet": FOOT,
    "'": FOOT,
    "yd": YARD,
    "yard": YARD,
    "yards": YARD,
    "international foot": FOOT,
    **dict.fromkeys(("us-ft", "us ft", "ftus", "foot_us", "us survey foot", "us survey feet"), SURVEY_FOOT),
}
"""Every word for a unit of length, those of coordinate systems and of files of heights among them."""
_PART = re.compile(
    r"""\s*(?P<number>\d+\s+\d+/\d+|\d+-\d+/\d+|\d+/\d+|\d*\.\d+|\d+\.?)\s*(?P<unit>[a-z]+|"|')\s*""", re.IGNORECASE
)


class Units(StrEnum):
    """How distances are said."""

    METRIC = "metric"
    IMPERIAL = "imperial"


def parse_length(text: str) -> float:
    """Read a length with its unit, in metres.

    Parameters
    ----------
    text : str
        A number and a unit, or several of them: ``2.4 m``, ``8 ft``, ``5 ft 7-3/8 in``, ``-3 cm``.

    Returns
    -------
    float
        The length. [m]

    Raises
    ------
    ValueError
        If there is no unit, an unknown one, or anything else in the text.

    Examples
    --------
    >>> parse_length("8 ft")
    2.4384
    >>> round(parse_length("5 ft 7 3/8 in"), 6)
    1.711325
    """
    remaining = text.strip().replace("′", "'").replace("″", '"').replace("’", "'").replace("”", '"')
    sign = -1.0 if remaining.startswith(("-", "−")) else 1.0
    remaining = remaining[1:].strip() if remaining.startswith(("+", "-", "−")) else remaining
    if not remaining:
        raise ValueError(f"{text!r} is not a length; write a number and a unit, such as '2.4 m' or '8 ft'")
    total = 0.0
    while remaining:
        part = _PART.match(remaining)
        if part is None or part["unit"].lower() not in METRES_PER:
            raise ValueError(f"{text!r} is not a length; write a number and a unit, such as '2.4 m' or '8 ft'")
        total += _number(part["number"]) * METRES_PER[part["unit"].lower()]
        remaining = remaining[part.end() :]
    return sign * total


def _number(text: str) -> float:
    pieces = re.split(r"[\s-]+", text.strip())
    try:
        return float(sum(Fraction(piece) if "/" in piece else Fraction(piece.rstrip(".") or "0") for piece in pieces))
    except ZeroDivisionError as error:
        raise ValueError(f"{text!r} divides by zero") from error


def compass_word(degrees: float) -> str:
    """Return the nearest of eight directions to a bearing, clockwise from north.

    Examples
    --------
    >>> compass_word(95.0), compass_word(338.0)
    ('east', 'north')
    """
    names = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
    return names[math.floor((degrees % 360.0) / 45.0 + 0.5) % 8]
