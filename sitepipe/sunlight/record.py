"""What the sunlight stage hands on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from sitepipe.arrays import Float32Array, FloatArray
from sitepipe.fields import Goes, Key, Layer, Unit


@dataclass(frozen=True, slots=True)
class Sunlight:
    """Hours and energy of sun on every cell.

    Parameters
    ----------
    monthly_hours : (12, rows, columns) float32 array
        Hours of direct sun on a mean day of each month, January first. [h/day]
    season : (date, date)
        First and last day counted, in an ordinary year.
    season_months : tuple of int
        Months (1 to 12) that the season covers by half or more, in the order of the season.
    leanest_month : int
        The month of the season with the least sun over the parcel.
    leanest_hours : (rows, columns) float array
        Hours in that month. [h/day]
    doubtful : (rows, columns) float array
        How many hours a day the season's figure moves if drawn trees are 15 % higher or lower. [h/day]
    open_hours : tuple of float
        Hours of each month on a level field with nothing on it. [h/day]
    is_season_guessed, are_leaves_guessed : bool
        Whether any of their days comes from the latitude alone.
    disbelief : float
        Rise of bare ground that casts no shade, since the heights are not that sure. [m]

    Notes
    -----
    Cells farther from the parcel than ``sun.margin`` are NaN. Horizons are not kept: ask ``horizon_at`` for a place.
    """

    sun_hours: Annotated[
        FloatArray,
        Layer(
            "Hours of direct sun",
            "h/day",
            "Hours of direct sun on a mean day of the growing season.",
            "Michalsky (1988) sun path; horizons after Dozier & Frew (1990)",
        ),
    ]
    insolation: Annotated[
        FloatArray,
        Layer(
            "Energy of the sun",
            "MJ/m2/day",
            "Clear-sky sun and sky light on the ground, season mean.",
            "Rigollier, Bauer & Wald (2000), ESRA clear sky",
        ),
    ]
    sky_view: Annotated[
        FloatArray,
        Layer("Sky view", "1", "Share of the sky's light that reaches level ground.", "Dozier & Frew (1990)"),
    ]
    monthly_hours: Annotated[Float32Array, Goes.INTERNAL]
    season: Annotated[tuple[date, date], Goes.SAID]
    season_months: tuple[int, ...]
    leanest_month: int
    leanest_hours: Annotated[FloatArray, Goes.INTERNAL]
    doubtful: Annotated[FloatArray, Goes.INTERNAL]
    open_hours: Annotated[tuple[float, ...], Key("open_field"), Unit("h_per_day")] = ()
    is_season_guessed: Annotated[bool, Goes.SAID] = False
    are_leaves_guessed: Annotated[bool, Goes.SAID] = False
    disbelief: Annotated[float, Goes.SAID] = 0.0
