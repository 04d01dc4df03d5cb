"""A ditch or drain instead: a fall to an outlet of one's own, or a refusal with its reason."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import pytest
from shapely import LineString, Point, box

from sitepipe.answers.works import ditch_why
from sitepipe.settings import Settings
from sitepipe.site import Feature, Kind, Ref
from sitepipe.wetness.conductivity import soil_conductivity
from sitepipe.wetness.shallow_flow import drain_spacing
from sitepipe.works.water.drain import advise_drain
from sitepipe.works.water.record import DitchVerdict, DrainAdvice
from tests.sites import draw_thing, make_site, plane

if TYPE_CHECKING:
    from sitepipe.analysis import Analysis


def advised(*features: Feature, north: float = 0.0, east: float = 0.0) -> DrainAdvice:
    site = make_site(plane(100, 100, 1.0, east, north), features=features)
    return advise_drain(site, Point(50.0, 60.0), Settings())


def why(found: DrainAdvice, *features: Feature) -> str:
    site = make_site(plane(100, 100, 1.0), features=features)
    return ditch_why(found, cast("Analysis", SimpleNamespace(site=site, settings=Settings())))


def ditch(depth: str = "1.2 m", y: float = 12.0) -> Feature:
    return draw_thing(1, Kind.DITCH, "Old ditch", LineString([(10.0, y), (90.0, y)]), attributes={"depth": depth})


def test_without_an_outlet_of_ones_own_it_is_refused() -> None:
    found = advised()
    assert not found.is_possible
    assert found.verdict is DitchVerdict.NO_OUTLET
    said = why(found)
    assert "no ditch" in said.lower()
    assert "yours or permitted" in said


def test_an_outlet_beyond_the_boundary_is_not_ones_own() -> None:
    assert advised(ditch(y=2.0)).verdict is DitchVerdict.NO_OUTLET


def test_on_level_ground_the_fall_is_lacking() -> None:
    found = advised(ditch("0.5 m"))
    assert not found.is_possible
    assert found.fall == pytest.approx(-0.4)
    assert found.length == pytest.approx(48.0)
    assert "lower than the old ditch" in why(found, ditch("0.5 m"))


def test_a_fall_of_half_a_percent_is_enough_and_less_is_not() -> None:
    # Least fall .5 % over 48 m: .24 m. The bed is .9 m down, so the ditch must be 1.14 m deep on level ground.
    assert advised(ditch("1.20 m")).is_possible
    assert not advised(ditch("1.10 m")).is_possible


def test_a_possible_drain_has_length_fall_and_the_spacing_of_its_soil() -> None:
    found = advised(ditch(), north=0.01)
    assert found.is_possible
    assert found.fall is not None
    assert found.fall > 0.5
    # Hooghoudt, with the water .45 m down between drains at .9 m, 7 mm/d (ILRI 16).
    spacing = drain_spacing(soil_conductivity(Settings()), 0.45, 0.007, 0.3, 0.05)
    assert found.spacing == pytest.approx(spacing)
    assert "811" in why(found, ditch())


def test_a_drain_through_the_septic_field_is_refused() -> None:
    septic = draw_thing(2, Kind.SEPTIC, "Septic", box(45.0, 30.0, 55.0, 40.0))
    found = advised(ditch(), septic, north=0.01)
    assert not found.is_possible
    assert found.crossed == (Ref(Kind.SEPTIC, 2),)
    assert "would cross the septic" in why(found, ditch(), septic)


def test_the_end_of_a_culvert_on_the_parcels_side_is_the_outlet() -> None:
    culvert = draw_thing(1, Kind.CULVERT, "Culvert", LineString([(50.0, 9.5), (50.0, 1.0)]))
    found = advised(culvert, north=0.05)
    assert found.line is not None
    assert found.line.coords[1] == (50.0, 9.5)
    assert found.is_possible
