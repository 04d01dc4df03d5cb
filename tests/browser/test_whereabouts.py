"""Where one stands: only if the grower allows it, only when asked, only on the device."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pyproj import CRS, Transformer
from shapely.affinity import translate

from sitepipe.grid import Grid
from sitepipe.mapping.page import draw_map
from sitepipe.settings import PageSettings
from tests.browser.conftest import Opener
from tests.mapping.drawn_analysis import SOUTH, WEST, make_analysis

pytestmark = pytest.mark.browser


def test_a_page_that_holds_no_coordinates_has_no_such_button(look: Opener, drawn_page: str) -> None:
    for coordinate in (str(int(WEST)), str(int(SOUTH)), "42.4713", "73.2891"):
        assert coordinate not in drawn_page
    seen = look(drawn_page)
    seen.page.locator("#more").click()
    assert seen.page.locator("text=Where am I?").count() == 0


def test_the_place_is_shown_only_after_it_was_asked_for(look: Opener) -> None:
    analysis = make_analysis()
    grid = analysis.site.grid
    tied = Grid(grid.west, grid.north, grid.cell, grid.rows, grid.columns, CRS.from_epsg(32618).to_wkt())
    allowed = analysis.settings.model_copy(update={"page": PageSettings(share_location=True)})
    html = draw_map(replace(analysis, site=replace(analysis.site, grid=tied), settings=allowed))
    to_degrees = Transformer.from_crs(32618, 4326, always_xy=True)
    middle = translate(analysis.site.parcel.centroid, 0.0, 0.0)
    longitude, latitude = to_degrees.transform(middle.x, middle.y)
    seen = look(
        html,
        permissions=["geolocation"],
        geolocation={"longitude": longitude, "latitude": latitude, "accuracy": 6.0},
    )
    assert seen.page.locator(".you").count() == 0
    seen.page.locator("#more").click()
    seen.page.locator("text=Where am I?").click()
    seen.page.locator(".you").wait_for(state="attached")
    said = seen.page.locator("#telling").inner_text().replace("\u00a0", " ")
    assert "within 20 ft" in said
    ring = seen.page.locator(".you circle").nth(1).bounding_box()
    boundary = seen.page.locator(".kind-boundary path").bounding_box()
    assert ring
    assert boundary
    assert ring["x"] + ring["width"] / 2 == pytest.approx(boundary["x"] + boundary["width"] / 2, abs=12)
    assert seen.asked == []
