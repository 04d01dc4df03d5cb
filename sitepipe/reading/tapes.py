"""Places found with a tape: from two fixed points, or along a base line and square to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

WEAKEST_ANGLE = 30.0
"""Two tapes that meet at less fix a place badly; checks 1.5. [deg]"""
TAPE_ERROR = 0.02
"""Standard deviation of a taped length in grass; checks 1.5, L09. [m]"""

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class TapedPlace:
    """A place, the angle at which its two tapes meet [deg], and how sure it is along and across the base. [m]."""

    x: float
    y: float
    angle: float
    error_along: float
    error_across: float


def trilaterate(
    first: Place, second: Place, to_first: float, to_second: float, side: str, tape_error: float = TAPE_ERROR
) -> TapedPlace:
    """Place a point by its distances from two fixed points.

    Parameters
    ----------
    first, second : (x, y)
        [m]
    to_first, to_second : float
        Level tape lengths. [m]
    side : {"left", "right"}
        Of the line from the first to the second, as seen walking along it.

    Raises
    ------
    ValueError
        If the fixed points coincide, the tapes do not reach each other, or the side is none.

    Examples
    --------
    >>> place = trilaterate((0.0, 0.0), (20.0, 0.0), 12.0, 16.0, "left")
    >>> round(place.x, 6), round(place.y, 6), round(place.angle, 6)
    (7.2, 9.6, 90.0)
    """
    east, north = second[0] - first[0], second[1] - first[1]
    base = float(np.hypot(east, north))
    if base < 1e-6:
        raise ValueError("the two fixed points are the same place. Name two different points")
    if side not in {"left", "right"}:
        raise ValueError(f"side is {side[:20]!r}; write left or right of the way from the first point to the second")
    if min(to_first, to_second) <= 0.0:
        raise ValueError(f"a tape of {min(to_first, to_second):g} m fixes no place. Measure from another point")
    along = (to_first**2 - to_second**2 + base**2) / (2.0 * base)
    square = to_first**2 - along**2
    if square < 0.0:
        gap = max(base - to_first - to_second, abs(to_first - to_second) - base)
        raise ValueError(
            f"tapes of {to_first:.2f} and {to_second:.2f} m on a base of {base:.2f} m miss each other by {gap:.2f} m. "
            "Measure again"
        )
    across = float(np.sqrt(square))
    sign = 1.0 if side == "left" else -1.0
    x = first[0] + (along * east - sign * across * north) / base
    y = first[1] + (along * north + sign * across * east) / base
    cosine = (to_first**2 + to_second**2 - base**2) / (2.0 * to_first * to_second)
    meeting = float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
    error_along = tape_error * float(np.hypot(to_first, to_second)) / base
    if across > 0.0:
        by_first = to_first * (1.0 - along / base) / across
        by_second = to_second * along / base / across
        error_across = tape_error * float(np.hypot(by_first, by_second))
    else:
        error_across = float("inf")
    return TapedPlace(x, y, min(meeting, 180.0 - meeting), error_along, error_across)


def refuse_weak(place: TapedPlace) -> None:
    """Raise if two tapes meet too flatly to fix a place."""
    if place.angle < WEAKEST_ANGLE:
        raise ValueError(
            f"the two tapes meet at {place.angle:.0f} degrees, so the place is only good to "
            f"{place.error_across:.2f} m across the base. Measure from fixed points at which they meet at "
            f"{WEAKEST_ANGLE:.0f} degrees or more"
        )


def offset_place(start: Place, end: Place, along: float, offset: float) -> Place:
    """Place a point along a base line and square to it, to the right where positive. [m].

    Examples
    --------
    >>> offset_place((0.0, 0.0), (0.0, 10.0), 4.0, 1.0)
    (1.0, 4.0)
    """
    east, north = end[0] - start[0], end[1] - start[1]
    base = float(np.hypot(east, north))
    if base < 1e-6:
        raise ValueError("the base line begins and ends at the same place. Name two different points")
    return (
        start[0] + (along * east + offset * north) / base,
        start[1] + (along * north - offset * east) / base,
    )


def walked_place(start: Place, bearing: float, length: float) -> Place:
    """Place a point by the bearing [deg clockwise from north] and the length [m] of a leg.

    Examples
    --------
    >>> x, y = walked_place((10.0, 0.0), 90.0, 5.0)
    >>> round(x, 9), round(y, 9)
    (15.0, 0.0)
    """
    return (
        start[0] + length * float(np.sin(np.radians(bearing))),
        start[1] + length * float(np.cos(np.radians(bearing))),
    )
