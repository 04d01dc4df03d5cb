"""A change tried on the page is the same as in Python: kernels on any ground, and the whole way page, file, run."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Browser, Page
from shapely import LineString, Point

from sitepipe.arrays import IntArray
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.drainage.trial import try_ground
from sitepipe.mapping.frame import frame_of
from sitepipe.mapping.texts import asset
from sitepipe.mapping.trying import coarser, kernels_script, land_of, trying
from sitepipe.reading.changes import read_change
from sitepipe.site import PAGE_FIGURES
from sitepipe.works.water.change import weigh_change
from sitepipe.works.water.impact import drain_baseline
from sitepipe.works.water.tipped import tipped_works
from tests.browser.conftest import Opener
from tests.browser.test_hands import faults_of
from tests.mapping.drawn_analysis import make_analysis

pytestmark = pytest.mark.browser

Case = dict[str, Any]
TRY = """(cases) => cases.map(({heights, shape, parcel, storms}) => {
    const found = tryGround(shaped(Int32Array.from(heights), shape), Uint8Array.from(parcel),
        storms.map((drops) => Float64Array.from(drops)));
    return [found.receiver, found.exits, found.exitCells, ...found.depths].map((numbers) => Array.from(numbers));
})"""
"""Many grounds in one call, since a call is what costs."""


@pytest.fixture(scope="module")
def scripts(chromium: Browser) -> Iterator[Page]:
    """Open an empty page that knows the kernels, and nothing else of the map."""
    page = chromium.new_page()
    page.add_script_tag(
        content="\n".join([kernels_script(), *map(asset, ("ponds.js", "ground.js", "pens.js", "trial.js", "start.js"))])
    )
    yield page
    page.close()


def case_of(heights: IntArray, seed: int) -> Case:
    """Put storms and a parcel on a ground."""
    chance = np.random.default_rng(seed)
    drops = [np.where(heights == UNKNOWN, 0, chance.integers(0, most, heights.shape)) for most in (90_000, 900_000)]
    return {
        "heights": heights.ravel().tolist(),
        "shape": list(heights.shape),
        "parcel": (chance.random(heights.shape) < 0.7).ravel().astype(int).tolist(),
        "storms": [storm.ravel().tolist() for storm in drops],
    }


def ground_of(rows: int, columns: int, kind: str, seed: int) -> IntArray:
    """Make ground with ties, noise, steps, level parts or holes."""
    chance = np.random.default_rng(seed)
    grounds: dict[str, Callable[[], Any]] = {
        "ties": lambda: chance.integers(0, 5, (rows, columns)),
        "noise": lambda: chance.integers(0, 60_000, (rows, columns)),
        "slope": lambda: (
            np.add.outer(30 * np.arange(rows), 7 * np.arange(columns)) + chance.integers(-60, 60, (rows, columns))
        ),
        "steps": lambda: 500 * chance.integers(0, 2, (rows, columns)),
        "level": lambda: np.full((rows, columns), 7),
    }
    heights: IntArray = grounds[kind.removesuffix(" with holes")]().astype(np.int32)
    if kind.endswith("holes"):
        heights[chance.random(heights.shape) < 0.06] = UNKNOWN
    return heights


def in_python(case: Case) -> list[list[float]]:
    """Drain a case here."""
    shape = tuple(case["shape"])
    heights = np.array(case["heights"], dtype=np.int32).reshape(shape)
    storms = [np.array(storm, dtype=np.int64).reshape(shape) for storm in case["storms"]]
    found = try_ground(heights, 0.5, np.array(case["parcel"], dtype=np.bool_).reshape(shape), storms)
    numbers: list[Any] = [found.receiver, found.exits, found.exit_cells, *(storm.depth for storm in found.storms)]
    return [one.ravel().tolist() for one in numbers]


SHAPES = st.tuples(st.integers(1, 22), st.integers(1, 22))
KINDS = st.sampled_from(["ties", "noise", "slope", "steps", "level", "ties with holes", "noise with holes"])
GROUNDS = st.lists(st.tuples(SHAPES, KINDS, st.integers(0, 2**31)), min_size=10, max_size=10)


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(GROUNDS)
def test_any_ground_drains_alike_to_the_last_drop(
    scripts: Page, grounds: list[tuple[tuple[int, int], str, int]]
) -> None:
    cases = [case_of(ground_of(*shape, kind, seed), seed) for shape, kind, seed in grounds]
    assert scripts.evaluate(TRY, cases) == [in_python(case) for case in cases]


STORED = {"ties": (7668, 0.0276), "noise with holes": (3110, 22.4426), "slope": (3045, 0.1175)}
"""Of a ground of 30 x 40 cells with seed 7: sum of the receivers' remainders, and of the larger storm's depths. [m]"""


@pytest.mark.parametrize("kind", STORED)
def test_neither_side_drifts_from_what_was_stored(scripts: Page, kind: str) -> None:
    case = case_of(ground_of(30, 40, kind, 7), 7)
    for receivers, _, _, _, depths in (in_python(case), scripts.evaluate(TRY, [case])[0]):
        told = (sum((int(to) * (cell + 1)) % 1009 for cell, to in enumerate(receivers)) % 10_007, round(sum(depths), 4))
        assert told == STORED[kind]


def test_one_fault_in_the_written_text_is_caught(chromium: Browser) -> None:
    """Ties go to the lower bare ground: with the comparison turned round, a ground full of ties drains otherwise."""
    right = "ground < best_ground"
    script = kernels_script()
    assert script.count(right) == 1
    page = chromium.new_page()
    page.add_script_tag(content=script.replace(right, "ground > best_ground") + asset("ponds.js"))
    cases = [case_of(ground_of(18, 18, "ties", seed), seed) for seed in range(10)]
    assert page.evaluate(TRY, cases) != [in_python(case) for case in cases]
    page.close()


CHANGES = 40


def saved_change(chance: np.random.Generator, planned: list[str], size: list[float]) -> str:
    """Write a change as the page saves it: works anywhere on the parcel, one left out, one replaced."""
    features: list[dict[str, Any]] = []
    for number in range(int(chance.integers(1, 4))):
        kind = str(chance.choice(["mound", "path", "swale", "pad"]))
        ends = np.round(chance.uniform(0.0, 1.0, (2, 2)) * size, 3).tolist()
        told: dict[str, Any] = {"kind": kind, "status": "wanted", "width": round(float(chance.uniform(0.3, 3.0)), 2)}
        told["depth" if kind == "swale" else "height"] = round(float(chance.uniform(0.02, 1.1)), 4)
        if kind in ("mound", "swale"):
            told["side_slope"] = float(chance.choice([1.0, 1.5, 2.0]))
        if number == 0 and kind == "mound":
            told["replaces"] = planned[-1]
        features.append(
            {"type": "Feature", "geometry": {"type": "LineString", "coordinates": ends}, "properties": told}
        )
    if chance.random() < 0.5:
        out: dict[str, Any] = {"kind": "mound", "status": "left out", "replaces": planned[0]}
        features.append({"type": "Feature", "geometry": None, "properties": out})
    return json.dumps({"type": "FeatureCollection", "plane": "parcel", "features": features})


def test_forty_changes_go_from_page_to_file_to_python_and_say_the_same(scripts: Page, tmp_path: Path) -> None:
    analysis = make_analysis()
    land, frame = coarser(land_of(analysis), 250_000), frame_of(analysis.site)
    told = trying(analysis, frame)
    assert told is not None
    plan = analysis.plan
    baseline = drain_baseline(land)
    built = tipped_works(land, baseline.ground, plan.works)
    built = tuple(work for work in built if plan.impact is not None and work.work in plan.impact.built)
    names = [one["name"] for one in told["planned"]]
    chance = np.random.default_rng(3)
    texts = [saved_change(chance, names, [frame.width, frame.height]) for _ in range(CHANGES)]
    saved = scripts.evaluate(
        """async ([told, texts]) => {
            const ground = await openTrialGround(told);
            return texts.map((text) => {
                const works = openedChange(told, text);
                const found = weighChange(ground, ground.before, rowsOf(told, ground, works));
                return JSON.stringify(savedChange(told, ground, 'x', works, found));
            });
        }""",
        [told, texts],
    )
    moved = grown = 0
    for text in saved:
        (tmp_path / "change.geojson").write_text(text)
        change = read_change(tmp_path / "change.geojson")
        assert set(change.page) == set(PAGE_FIGURES)
        found = weigh_change(land, baseline, built, change)
        assert found.same_ground
        assert found.same_outlets, f"the page found outlets of {change.outlets} m2, Python of {found.outlets}"
        grown += len(found.outlets)
        assert found.page == {}, f"the page said {found.page}"
        moved += found.standing_after != found.standing_before
    assert grown > 0
    assert moved > CHANGES / 2, "most changes move some water, or nothing was compared"


def test_where_no_house_is_drawn_no_water_rises_at_it(scripts: Page) -> None:
    told = scripts.evaluate(
        """() => {
            const rows = [[0, 0], [0.2, 0], [0, 0], [1, 1]];
            const [was, is, none, all] = rows.map((row) => shaped(Float64Array.from(row), [1, 2]));
            return [none, all].map((mask) => highestRise({ depths: [was] }, { depths: [is] }, none, mask).height);
        }"""
    )
    assert told == [0, 0.2]


def test_what_a_work_comes_near_to_is_as_far_as_shapely_says(scripts: Page) -> None:
    """Capsules and rectangles against lines, areas and single places, wherever they lie."""
    chance = np.random.default_rng(5)
    works, things, expected = [], [], []
    for _ in range(150):
        ends, half = chance.uniform(0.0, 40.0, 4), float(chance.uniform(0.2, 3.0))
        kind = str(chance.choice(["pad", "path"]))
        work = LineString(ends.reshape(2, 2)).buffer(half, cap_style="flat" if kind == "pad" else "round", quad_segs=32)
        count = int(chance.integers(1, 6))
        coords = chance.uniform(0.0, 40.0, (count, 2))
        shape = Point(coords[0]) if count == 1 else LineString(coords) if count < 4 else Point(coords[0]).buffer(count)
        flat = shapely.get_coordinates(shape).ravel().tolist()
        works.append({"kind": kind, "pieces": [(1000.0 * ends).tolist()], "half": 1000.0 * half, "slope": 0, "rise": 0})
        things.append({"lines": [flat], "isArea": count > 3, "covers": 1e3, "trenches": 1e3})
        expected.append(work.distance(shape))
    far = scripts.evaluate(
        "([works, things]) => works.map((work, k) => nearThings({ hazards: [things[k]] }, work)[0].far)",
        [works, things],
    )
    # The page's round ends have a corner every 20 degrees or so.
    assert far == pytest.approx(expected, abs=0.06)
    assert min(expected) == 0.0


@pytest.mark.parametrize("ends", [(0.0, 0.0, 12.0, 0.0), (0.0, 0.0, 3.0, 9.0), (5.0, 2.0, -4.0, 6.0)])
def test_the_sun_that_a_mound_takes_is_what_its_crest_hides(scripts: Page, ends: tuple[float, ...]) -> None:
    """Half an hour for each place of the sun whose ray to the ground beside the foot passes below the crest."""
    azimuth, elevation = np.arange(60.0, 301.0, 8.0), 2.0 + 15.0 * np.sin(np.linspace(0.0, np.pi, 31))
    arc = {"name": "a day", "azimuth": azimuth.tolist(), "elevation": elevation.tolist()}
    work = {"kind": "mound", "pieces": [[1000.0 * end for end in ends]], "rise": 9000, "half": 300, "slope": 1.5}
    ((told),) = scripts.evaluate("([work, sky]) => hoursTaken(work, sky)", [work, {"isSouthern": False, "arcs": [arc]}])
    crest = LineString([ends[:2], ends[2:]])
    foot, middle = crest.buffer(0.3 + 1.5 * 0.9 + 0.3, quad_segs=64), crest.interpolate(0.5, normalized=True)
    beside = Point(shapely.get_coordinates(foot.intersection(LineString([middle, (middle.x, middle.y + 99.0)])))[-1])
    hidden = 0
    for way, up in zip(np.radians(azimuth), np.radians(elevation), strict=True):
        ray = LineString([beside, (beside.x + 99.0 * np.sin(way), beside.y + 99.0 * np.cos(way))])
        hidden += bool(ray.intersects(crest)) and ray.intersection(crest).distance(beside) * np.tan(up) < 0.9
    assert hidden > 0
    assert told["hours"] == pytest.approx(hidden / 2.0, abs=0.5)


def by_keyboard(page: Page) -> None:
    """Draw by keyboard alone: the focus goes on, no name is used twice, and what is typed stays on the ground."""
    title = page.locator("#card-title")
    for number in (1, 2):
        page.locator("[data-key=mound]").focus()
        page.keyboard.press("Enter")
        assert page.evaluate("() => document.activeElement.textContent") == "Put it in the middle of the map"
        page.keyboard.press("Enter")
        assert page.evaluate("() => document.activeElement.dataset.grip") == "whole"
        assert title.inner_text() == f"New mound {number}, being tried"
    verdict = page.locator("#card-body .answer").inner_text()
    assert "New mound 2 lies on " in verdict
    assert "new mound 1." in verdict
    page.locator('[data-key="new mound 1"]').click()
    page.locator("#card-aside").click()
    page.locator("[data-key=mound]").click()
    page.keyboard.press("Enter")
    assert title.inner_text() == "New mound 3, being tried"
    for typed, least, most in (("100000", 3.0, 2000.0), ("-5", 1.6, 1.7)):
        page.locator("[data-key=long]").fill(typed)
        page.keyboard.press("Tab")
        page.wait_for_function("(typed) => document.querySelector('[data-key=long]').value !== typed", arg=typed)
        assert page.evaluate("() => document.activeElement.dataset.key") == "turn"
        assert least <= float(page.locator("[data-key=long]").input_value()) <= most, "feet, from half a metre on"


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_mound_is_drawn_dragged_raised_left_out_and_saved(look: Opener, drawn_page: str, size: str) -> None:
    seen = look(drawn_page, size)
    page = seen.page
    seen.question(2)
    page.get_by_role("button", name="Try a change").click()
    page.wait_for_selector("body.is-trying")
    assert faults_of(seen) == []
    page.locator("[data-key=mound]").click()
    box = page.locator(".folium-map").bounding_box()
    assert box
    middle = (box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    for shift in (-20, 20):
        page.mouse.click(middle[0] + shift, middle[1] + shift)
    title = page.locator("#card-title")
    assert title.inner_text() == "New mound 1, being tried"
    said = page.locator("#card-body").inner_text()
    heads = ("Next door.", "House and road.", "Outlets.", "Standing water", "Roots.", "Sun.", "Loads and barrows.")
    assert [said.index(head) for head in heads] == sorted(said.index(head) for head in heads)
    assert "{" not in said
    assert "undefined" not in said
    assert faults_of(seen) == []

    def ends() -> list[str]:
        return [page.locator(f"[data-key={key}]").input_value() for key in ("north", "east", "long", "turn")]

    drawn = ends()
    grip = page.locator("[data-grip=end]").bounding_box()
    assert grip
    assert grip["width"] >= 43.5
    page.mouse.move(grip["x"] + 22, grip["y"] + 22)
    page.mouse.down()
    page.mouse.move(grip["x"] + 42, grip["y"] + 12, steps=3)
    page.mouse.up()
    turned = ends()
    assert turned[:2] == drawn[:2]
    assert turned[2:] != drawn[2:]
    page.locator("[data-grip=whole]").focus()
    page.keyboard.press("ArrowUp")
    assert float(ends()[0]) == pytest.approx(float(turned[0]) + 0.5, abs=0.11), "half a foot to the north"
    assert page.evaluate("() => document.activeElement.dataset.grip") == "whole", "the focus stays"
    assert page.locator("#tried").inner_text() != ""
    high = page.locator(".sizes dd").first.inner_text()
    page.locator("[data-key=risemore]").click()
    assert page.locator(".sizes dd").first.inner_text() != high
    with page.expect_download() as download:
        page.locator("[data-key=save]").click()
    saved = json.loads(Path(download.value.path()).read_text())
    assert saved["plane"] == "parcel"
    (mound,) = saved["features"]
    assert mound["properties"]["kind"] == "mound"
    page.locator("#card-aside").click()
    assert title.inner_text() == "Try a change"
    by_keyboard(page)
    page.locator(".trying-end").click()
    assert page.locator("#trying").is_hidden()
    assert seen.asked == []
    assert seen.complaints == []
