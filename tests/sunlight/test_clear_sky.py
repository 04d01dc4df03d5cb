"""Clear-sky light, held against FAO-56 and another library."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pvlib import atmosphere, clearsky

from sitepipe.sunlight.clear_sky import air_mass, clear_sky
from sitepipe.sunlight.daily import extraterrestrial_energy
from sitepipe.sunlight.tables import year_of_sun


def test_the_air_mass_is_that_of_kasten_and_young() -> None:
    # Independent: pvlib.
    elevation = np.array([1.0, 5.0, 20.0, 60.0, 90.0])
    theirs = atmosphere.get_relative_airmass(90.0 - elevation, "kastenyoung1989")
    np.testing.assert_allclose(air_mass(elevation, 0.0), theirs, rtol=1e-9)


@pytest.mark.parametrize("elevation", [30.0, 50.0, 70.0])
@pytest.mark.parametrize("turbidity", [2.0, 3.0])
def test_another_clear_sky_model_gives_about_the_same_light(elevation: float, turbidity: float) -> None:
    # Independent: pvlib's Ineichen & Perez (2002), another model of the same turbidity; they part in haze.
    zenith = pd.Series([90.0 - elevation])
    mass = atmosphere.get_relative_airmass(zenith)
    other = clearsky.ineichen(zenith, mass, turbidity, altitude=0.0, dni_extra=1367.0)
    beam, sky = clear_sky(np.array([elevation]), np.array([1.0]), turbidity, 0.0)
    total = beam[0] * np.sin(np.radians(elevation)) + sky[0]
    assert total == pytest.approx(float(other["ghi"].iloc[0]), rel=0.09)
    assert beam[0] == pytest.approx(float(other["dni"].iloc[0]), rel=0.12)


@pytest.mark.parametrize("day", [80, 172, 265])
@pytest.mark.parametrize("latitude", [30.0, 42.5, 55.0])
def test_a_clear_day_has_the_energy_of_fao_56(latitude: float, day: int) -> None:
    # Source: FAO-56 equation 37, (.75 + 2e-5 z) Ra; a rule for all clear skies, so within a tenth.
    path = year_of_sun(latitude, 0.0, 0.0, 2.0)
    beam, sky = clear_sky(path.elevation, path.distance, 3.0, 0.0)
    today = path.day == day - 1
    level = (beam * np.sin(np.radians(path.elevation)) + sky)[today].sum() * 120.0 * 1e-6
    assert level == pytest.approx(0.75 * float(extraterrestrial_energy(latitude, np.array(float(day)))), rel=0.1)


def test_there_is_no_light_by_night_and_less_in_haze() -> None:
    beam, sky = clear_sky(np.array([-5.0, 40.0]), np.array([1.0, 1.0]), 3.0, 0.0)
    hazy_beam, hazy_sky = clear_sky(np.array([-5.0, 40.0]), np.array([1.0, 1.0]), 6.0, 0.0)
    assert (beam[0], sky[0]) == (0.0, 0.0)
    assert hazy_beam[1] < beam[1]
    assert hazy_sky[1] > sky[1]
