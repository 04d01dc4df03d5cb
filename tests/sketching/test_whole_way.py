"""From nothing to a map on real ground, as a newcomer goes: new, sketch, draw in a browser, check, run."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from shapely.geometry import shape

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.real_ground]


def sitepipe(*words: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "sitepipe", *words],
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def draw(page: Page, kind: str, shape_name: str, corners: list[tuple[float, float]], words: dict[str, str]) -> None:
    page.select_option("#kind", kind)
    page.click(f'#shapes [data-shape="{shape_name}"]')
    box = page.locator("#ground").bounding_box()
    assert box is not None
    for x, y in corners:
        page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])
    for field, text in words.items():
        page.fill(f"#{field}", text)
    page.click("#keep")


def test_heights_and_a_drawing_in_the_page_are_enough(chromium: Browser, real_ground: Path, tmp_path: Path) -> None:
    folder = tmp_path / "clay field"
    heights = real_ground / "silstrup-field" / "dtm_1m6.tif"
    sitepipe("new", str(folder), "--name", "Clay field", "--units", "metric", "--elevation", str(heights))
    sitepipe("sketch", str(folder))
    context = chromium.new_context(viewport={"width": 1200, "height": 800}, accept_downloads=True)
    page = context.new_page()
    page.goto((folder / "sketch.html").as_uri())
    draw(page, "parcel", "Polygon", [(0.42, 0.42), (0.56, 0.42), (0.56, 0.58), (0.42, 0.58)], {"name": "Lower end"})
    draw(page, "tree", "Point", [(0.45, 0.46)], {"name": "Oak", "height": "12 m", "width": "9 m"})
    draw(page, "gate", "Point", [(0.42, 0.5)], {"name": "Gate"})
    with page.expect_download() as waiting:
        page.click("#save")
    waiting.value.save_as(folder / "drawn.geojson")
    context.close()

    drawn = json.loads((folder / "drawn.geojson").read_text(encoding="utf-8"))
    assert "EPSG::25832" in drawn["crs"]["properties"]["name"]
    assert "Lower end" in sitepipe("check", str(folder)) or "Clay field" in sitepipe("check", str(folder))
    sitepipe("run", str(folder))
    summary = json.loads((folder / "out" / "summary.json").read_text(encoding="utf-8"))
    parcel = shape(drawn["features"][0]["geometry"])
    assert summary["site"]["parcel_area_m2"] == pytest.approx(parcel.area, rel=1e-6)
    assert summary["site"]["features"]["tree"] == 1
    assert (folder / "out" / "map.html").stat().st_size > 100_000

    # Opening the folder to draw on again shows what was drawn, at the same places.
    sitepipe("sketch", str(folder))
    text = (folder / "sketch.html").read_text(encoding="utf-8")
    data = json.loads(text.split('id="site">', 1)[1].split("</script>", 1)[0])
    origin = data["origin"]
    again = [[x + origin[0], y + origin[1]] for x, y in data["things"][0]["geometry"]["coordinates"][0]]
    before = drawn["features"][0]["geometry"]["coordinates"][0]
    assert len(again) == len(before)
    assert shape({"type": "Polygon", "coordinates": [again]}).hausdorff_distance(parcel) < 0.0015
