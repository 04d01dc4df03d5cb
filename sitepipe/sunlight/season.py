"""The growing season and the months in leaf."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from sitepipe.arrays import BoolArray
from sitepipe.settings import SeasonSettings
from sitepipe.sunlight.daily import extraterrestrial_energy

REFERENCE_YEAR = 2025
"""An ordinary year stands for all years: the sun's path moves by less than a quarter degree between them."""

SEASON_ENERGY = 25.0
"""Energy above the air that a growing season begins and ends with. [MJ/m2/day]"""

SPRING_LAG, AUTUMN_LAG = 30, 15
"""How long warmth lags behind the sun, in spring and in autumn. [days]"""

LEAF_ON_LAG = 14
"""From the start of the season to open leaves. [days]"""

LEAF_OFF_LAG = 21
"""From the end of the season to bare crowns. [days]"""


@dataclass(frozen=True, slots=True)
class GrowingSeason:
    """First and last day of the season and of leaves, in an ordinary year; an end before its start wraps round it.

    Parameters
    ----------
    start, end : date
        Both are counted.
    leaf_on, leaf_off : date
        First day in leaf, first day bare.
    is_guessed, are_leaves_guessed : bool
        Whether any of their days comes from the latitude alone.
    """

    start: date
    end: date
    leaf_on: date
    leaf_off: date
    is_guessed: bool
    are_leaves_guessed: bool

    @property
    def days(self) -> BoolArray:
        """For each of the 365 days of an ordinary year, whether it lies in the season."""
        return _between(self.start, self.end)

    @property
    def days_in_leaf(self) -> BoolArray:
        """For each of the 365 days of an ordinary year, whether deciduous crowns are in leaf."""
        return _between(self.leaf_on, self.leaf_off - timedelta(days=1))

    @property
    def months(self) -> tuple[int, ...]:
        """Months that the season covers by half or more, in the order of the season; at least one."""
        month_of_day = month_of_each_day()
        covered = np.bincount(month_of_day[self.days], minlength=13) / np.maximum(
            np.bincount(month_of_day, minlength=13), 1
        )
        in_order = [(self.start.month - 1 + k) % 12 + 1 for k in range(12)]
        full = tuple(month for month in in_order if covered[month] >= 0.5)
        return full or (int(np.argmax(covered)),)


def month_of_each_day() -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return the month (1 to 12) of each day of an ordinary year."""
    first = date(REFERENCE_YEAR, 1, 1)
    return np.array([(first + timedelta(days=k)).month for k in range(365)], dtype=np.int64)


def growing_season(latitude: float, settings: SeasonSettings) -> GrowingSeason:
    """Return the growing season: as given, and where not, from the latitude.

    The rule for the latitude: the season begins thirty days after the energy above the air rises to 25 MJ/m2/day
    (FAO-56 equation 21) and ends fifteen days after it falls below; leaves open two weeks after the beginning and
    are down three weeks after the end. Threshold and lags are our own, chosen to give about mid-April to mid-October
    at 42 degrees and early May to late September at 55: common practice, no source. Sea, height and exposure move
    the dates by weeks.

    Parameters
    ----------
    latitude : float
        North is positive. [deg]

    Examples
    --------
    >>> season = growing_season(42.5, SeasonSettings())
    >>> season.start.isoformat(), season.end.isoformat()
    ('2025-04-11', '2025-10-14')
    """
    start, end = _season_by_latitude(latitude)
    start = _day(settings.start) if settings.start else start
    end = _day(settings.end) if settings.end else end
    is_whole_year = int(_between(start, end).sum()) == 365
    leaf_on = start if is_whole_year else _in_year(start + timedelta(days=LEAF_ON_LAG))
    leaf_off = _in_year(end + timedelta(days=1 if is_whole_year else 1 + LEAF_OFF_LAG))
    leaf_on = _day(settings.leaf_on) if settings.leaf_on else leaf_on
    leaf_off = _day(settings.leaf_off) if settings.leaf_off else leaf_off
    return GrowingSeason(
        start,
        end,
        leaf_on,
        leaf_off,
        is_guessed=settings.start is None or settings.end is None,
        are_leaves_guessed=settings.leaf_on is None or settings.leaf_off is None,
    )


def _season_by_latitude(latitude: float) -> tuple[date, date]:
    is_strong = extraterrestrial_energy(latitude, np.arange(1.0, 366.0)) >= SEASON_ENERGY
    first = date(REFERENCE_YEAR, 1, 1)
    if is_strong.all():
        return first, date(REFERENCE_YEAR, 12, 31)
    rises = np.flatnonzero(is_strong & ~np.roll(is_strong, 1))
    runs = [int(np.argmin(np.roll(is_strong, -k))) for k in rises]
    longest = int(np.argmax(runs))
    start = int(rises[longest])
    end = start + runs[longest] - 1 + AUTUMN_LAG
    return first + timedelta(days=(start + SPRING_LAG) % 365), first + timedelta(days=end % 365)


def _day(month_day: tuple[int, int]) -> date:
    return date(REFERENCE_YEAR, *month_day)


def _in_year(day: date) -> date:
    first = date(REFERENCE_YEAR, 1, 1)
    return first + timedelta(days=(day - first).days % 365)


def _between(start: date, end: date) -> BoolArray:
    first = date(REFERENCE_YEAR, 1, 1)
    day = np.arange(365)
    low, high = (start - first).days, (end - first).days
    return np.asarray((day - low) % 365 <= (high - low) % 365)
