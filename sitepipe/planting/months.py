"""Months: when each plant is sown or set out."""

from __future__ import annotations

from datetime import date, timedelta

from sitepipe.planting.palette import Plant


def sowings(plant: Plant, season: tuple[date, date]) -> tuple[date, ...]:
    """Return when a vegetable is sown or planted out in a year.

    Tender kinds wait two weeks into the season, hardy ones begin four weeks before it and may end four weeks after it
    (common practice, no source); each sowing must still ripen. What takes most of a year is planted as the season ends.

    Examples
    --------
    >>> radish = Plant("R", "radish", form="vegetable", days=30, succession_weeks=8, frost="light frost")
    >>> [f"{day:%d %b}" for day in sowings(radish, (date(2025, 5, 1), date(2025, 9, 30)))]
    ['03 Apr', '29 May', '24 Jul', '18 Sep']
    """
    if not plant.is_annual or plant.days is None:
        return ()
    first, last = season
    last = last if last > first else last.replace(year=last.year + 1)
    if plant.days > 200.0:
        return (last,)
    day = first + timedelta(weeks=2 if plant.warm_season else -4)
    end = last + timedelta(weeks=0 if plant.warm_season else 4)
    found = []
    while day + timedelta(days=plant.days) <= end:
        found.append(day)
        if not plant.succession_weeks:
            break
        day += timedelta(weeks=plant.succession_weeks)
    return tuple(found)
