"""Lengths, areas, amounts and chances in the user's own units, no finer than they are known."""

from __future__ import annotations

import math

from sitepipe.units import ACRE, CUBIC_YARD, FOOT, INCH, US_GALLON, Units

NO_BREAK = "\u00a0"
"""Number and unit never part at the end of a line."""

UNKNOWN = "not known"


def say_length(metres: float, units: Units, step: float = 0.5) -> str:
    """Say how high, wide or deep a built thing is, no finer than it can be built.

    Parameters
    ----------
    metres : float
        The length. [m]
    units : Units
    step : float
        Least step said in imperial units; in metric units it is always a centimetre. [in]

    Returns
    -------
    str
        Feet and inches from a foot on, inches below; centimetres below a metre, metres above.

    Examples
    --------
    >>> say_length(0.66, Units.IMPERIAL).replace(NO_BREAK, " ")
    '2 ft 2 in'
    >>> say_length(0.114, Units.IMPERIAL).replace(NO_BREAK, " ")
    '4½ in'
    >>> say_length(0.66, Units.METRIC).replace(NO_BREAK, " ")
    '66 cm'
    """
    if not math.isfinite(metres):
        return UNKNOWN
    if units is Units.METRIC:
        centimetres = _nearest(abs(metres) / 0.01)
        said = f"{centimetres / 100:.2f}{NO_BREAK}m" if centimetres >= 100 else f"{centimetres}{NO_BREAK}cm"
        return _signed(metres, centimetres, said)
    steps = _nearest(abs(metres) / (step * INCH))
    feet, inches = divmod(steps * step, 12.0)
    pieces = [f"{_grouped(int(feet))}{NO_BREAK}ft"] if feet else []
    if inches or not feet:
        pieces.append(f"{_mixed(inches)}{NO_BREAK}in")
    return _signed(metres, steps, NO_BREAK.join(pieces))


def say_level(metres: float, units: Units) -> str:
    """Say a height against the bench mark: ``1 ft 2½ in above``, ``3 cm below``, ``level``.

    Examples
    --------
    >>> say_level(-0.03, Units.METRIC).replace(NO_BREAK, " ")
    '3 cm below'
    """
    if not math.isfinite(metres):
        return UNKNOWN
    said = say_length(abs(metres), units)
    if said.startswith(f"0{NO_BREAK}"):
        return "level"
    return f"{said}{NO_BREAK}{'above' if metres > 0 else 'below'}"


def say_depth(metres: float, units: Units) -> str:
    """Say how deep water stands: half inches below 3 in, whole inches above; whole centimetres.

    Examples
    --------
    >>> say_depth(0.2, Units.IMPERIAL).replace(NO_BREAK, " ")
    '8 in'
    >>> say_depth(0.004, Units.METRIC).replace(NO_BREAK, " ")
    'under 1 cm'
    """
    if not math.isfinite(metres):
        return UNKNOWN
    if units is Units.METRIC:
        return f"under 1{NO_BREAK}cm" if 0.0 < metres < 0.005 else say_length(metres, units)
    if 0.0 < metres < 0.25 * INCH:
        return f"under ½{NO_BREAK}in"
    return say_length(metres, units, step=0.5 if metres < 2.75 * INCH else 1.0)


def say_distance(metres: float, units: Units) -> str:
    """Say how far to walk: whole feet or metres, from 100 ft or 100 m on by fives.

    Examples
    --------
    >>> say_distance(44.0, Units.IMPERIAL).replace(NO_BREAK, " ")
    '145 ft'
    >>> say_distance(44.0, Units.METRIC).replace(NO_BREAK, " ")
    '44 m'
    """
    if not math.isfinite(metres):
        return UNKNOWN
    size, unit = (1.0, "m") if units is Units.METRIC else (FOOT, "ft")
    count = _nearest(abs(metres) / size)
    if count >= 100:
        count = 5 * _nearest(abs(metres) / size / 5.0)
    return f"{_grouped(count)}{NO_BREAK}{unit}"


def say_area(square_metres: float, units: Units) -> str:
    """Say an area: tens of square feet, acres from half an acre on; square metres, hectares from one on.

    Examples
    --------
    >>> say_area(94.0, Units.IMPERIAL).replace(NO_BREAK, " ")
    '1,010 sq ft'
    >>> say_area(4856.0, Units.IMPERIAL).replace(NO_BREAK, " ")
    '1.2 acres'
    """
    if not math.isfinite(square_metres):
        return UNKNOWN
    if units is Units.METRIC:
        if square_metres >= 10_000.0:
            return f"{_decimal(square_metres / 10_000.0, 1 if square_metres >= 100_000.0 else 2)}{NO_BREAK}ha"
        step = 10 if square_metres >= 1000.0 else 1
        return f"{_grouped(step * _nearest(square_metres / step))}{NO_BREAK}m²"
    square_feet = square_metres / FOOT**2
    if square_metres >= ACRE / 2.0:
        acres = _decimal(square_metres / ACRE, 1)
        return f"{acres}{NO_BREAK}{'acre' if acres == '1' else 'acres'}"
    return f"under 10{NO_BREAK}sq{NO_BREAK}ft" if 0.0 < square_feet < 5.0 else _square_feet(square_feet)


def say_volume(cubic_metres: float, units: Units) -> str:
    """Say a volume of fill, chips or soil: cubic yards or cubic metres, halves below ten.

    Examples
    --------
    >>> say_volume(10.0, Units.IMPERIAL).replace(NO_BREAK, " ")
    '13 cu yd'
    >>> say_volume(1.5, Units.METRIC).replace(NO_BREAK, " ")
    '1½ m³'
    """
    if not math.isfinite(cubic_metres):
        return UNKNOWN
    size, unit = (1.0, "m³") if units is Units.METRIC else (CUBIC_YARD, f"cu{NO_BREAK}yd")
    count = cubic_metres / size
    if 0.0 < count < 0.25:
        return f"under ½{NO_BREAK}{unit}"
    halves = _nearest(count * 2.0) / 2.0 if count < 9.75 else float(_nearest(count))
    return f"{_mixed(halves)}{NO_BREAK}{unit}"


def say_water(cubic_metres: float, units: Units) -> str:
    """Say an amount of water to two figures: US gallons, or litres below ten cubic metres.

    Examples
    --------
    >>> say_water(14.3, Units.METRIC).replace(NO_BREAK, " ")
    '14 m³'
    >>> say_water(1.8, Units.IMPERIAL).replace(NO_BREAK, " ")
    '480 gallons'
    """
    if not math.isfinite(cubic_metres):
        return UNKNOWN
    if units is Units.IMPERIAL:
        return f"{_grouped(_two_figures(cubic_metres / US_GALLON))}{NO_BREAK}gallons"
    if cubic_metres < 10.0:
        return f"{_grouped(_two_figures(cubic_metres * 1000.0))}{NO_BREAK}litres"
    return f"{_grouped(_two_figures(cubic_metres))}{NO_BREAK}m³"


def say_rain(metres: float, units: Units) -> str:
    """Say a depth of rain: quarters of an inch, or millimetres.

    Examples
    --------
    >>> say_rain(0.0508, Units.IMPERIAL).replace(NO_BREAK, " ")
    '2 in'
    """
    if not math.isfinite(metres):
        return UNKNOWN
    if units is Units.METRIC:
        return f"{_nearest(metres * 1000.0)}{NO_BREAK}mm"
    return f"{_mixed(_nearest(metres / INCH * 4.0) / 4.0)}{NO_BREAK}in"


def say_chance(probability: float) -> str:
    """Say a probability as chances in ten, never as a percentage.

    Examples
    --------
    >>> say_chance(0.9).replace(NO_BREAK, " ")
    '9 chances in 10'
    """
    if not math.isfinite(probability):
        return UNKNOWN
    tenths = _nearest(probability * 10.0)
    if tenths >= 10:
        return f"more than 9{NO_BREAK}chances in{NO_BREAK}10"
    if tenths == 0:
        return f"less than 1{NO_BREAK}chance in{NO_BREAK}10"
    return f"{tenths}{NO_BREAK}{'chance' if tenths == 1 else 'chances'} in{NO_BREAK}10"


def say_hours(hours: float) -> str:
    """Say hours of sun or work, to the half hour.

    Examples
    --------
    >>> say_hours(6.4).replace(NO_BREAK, " ")
    '6½ hours'
    """
    if not math.isfinite(hours):
        return UNKNOWN
    halves = _nearest(hours * 2.0) / 2.0
    return f"{_mixed(halves)}{NO_BREAK}{'hour' if 0.0 < halves <= 1.0 else 'hours'}"


def say_work(hours: float) -> str:
    """Say hours of work: minutes by fives below an hour, half hours up to ten, then whole hours.

    Examples
    --------
    >>> say_work(0.2).replace(NO_BREAK, " ")
    '10 minutes'
    """
    if not math.isfinite(hours):
        return UNKNOWN
    if hours < 0.75:
        return f"{max(5, 5 * _nearest(hours * 12.0))}{NO_BREAK}minutes"
    return say_hours(hours if hours < 10.0 else _nearest(hours))


def say_duration(hours: float) -> str:
    """Say how long water stays: hours up to two days, then days.

    Examples
    --------
    >>> say_duration(100.0).replace(NO_BREAK, " ")
    '4 days'
    """
    if not math.isfinite(hours):
        return UNKNOWN
    if hours < 1.0:
        return f"under 1{NO_BREAK}hour"
    if hours < 48.0:
        count = _nearest(hours)
        return f"{count}{NO_BREAK}{'hour' if count == 1 else 'hours'}"
    return f"{_grouped(_nearest(hours / 24.0))}{NO_BREAK}days"


def say_fall(rise_per_run: float) -> str:
    """Say how steep ground or a pipe is, as one in so many.

    Examples
    --------
    >>> say_fall(0.0125).replace(NO_BREAK, " ")
    '1 in 80'
    """
    if not math.isfinite(rise_per_run):
        return UNKNOWN
    if abs(rise_per_run) < 0.001:
        return "level"
    return f"1{NO_BREAK}in{NO_BREAK}{_two_figures(1.0 / abs(rise_per_run))}"


def say_barrows(count: float) -> str:
    """Say barrow loads by tens, since no one counts finer.

    Examples
    --------
    >>> say_barrows(117).replace(NO_BREAK, " ")
    '120 barrows'
    """
    tens = max(10, 10 * _nearest(count / 10.0)) if count > 0 else 0
    return f"{_grouped(tens)}{NO_BREAK}barrows"


def _square_feet(square_feet: float) -> str:
    return f"{_grouped(10 * _nearest(square_feet / 10.0))}{NO_BREAK}sq{NO_BREAK}ft"


def _nearest(value: float) -> int:
    return math.floor(value + 0.5)


def _two_figures(value: float) -> int:
    if value < 10.0:
        return _nearest(value)
    size: int = 10 ** (len(str(int(value))) - 2)
    return size * _nearest(value / size)


def _grouped(count: int) -> str:
    return f"{count:,}"


def _decimal(value: float, places: int) -> str:
    whole = f"{value:,.{places}f}"
    return whole.rstrip("0").rstrip(".") if "." in whole else whole


def _mixed(value: float) -> str:
    """Write halves and quarters as one sign: ``4½``."""
    whole, quarters = divmod(_nearest(value * 4.0), 4)
    sign = ("", "¼", "½", "¾")[quarters]
    return f"{_grouped(whole) if whole or not sign else ''}{sign}"


def _signed(value: float, steps: int, said: str) -> str:
    return f"−{said}" if value < 0.0 and steps else said
