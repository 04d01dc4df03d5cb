"""The sheets measure right, say what is built, and print without colour."""

from __future__ import annotations

import dataclasses
import math
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from shapely import Point, Polygon
from shapely.affinity import scale

from sitepipe.analysis import Analysis
from sitepipe.answers.jobs import say_job
from sitepipe.settings import PrintSettings, Settings
from sitepipe.units import FOOT, INCH, Units
from sitepipe.works.record import Plan
from sitepipe.writing.sheets.paper import A4, LETTER, choose_scale, paper_of
from sitepipe.writing.sheets.plan import draw_plan
from tests.mapping.drawn_analysis import make_analysis
from tests.writing.sheets.measured import POINTS_PER_INCH, Stroke, reader, strokes, text_of

CASES = {
    "feet on Letter": (Units.IMPERIAL, "letter", (612.0, 792.0), 40 * FOOT / INCH),
    "metres on A4": (Units.METRIC, "a4", (595.276, 841.890), 500.0),
    "feet on A4": (Units.IMPERIAL, "a4", (595.276, 841.890), 40 * FOOT / INCH),
    "metres on Letter": (Units.METRIC, "letter", (612.0, 792.0), 500.0),
}


def analysis_on(units: Units, paper: str | None) -> Analysis:
    drawn = make_analysis(units=units)
    chosen: dict[str, Any] = {"print": PrintSettings.model_validate({"paper": paper})}
    return dataclasses.replace(drawn, settings=drawn.settings.model_copy(update=chosen))


@cache
def pdf_of(case: str) -> bytes:
    units, paper, _, _ = CASES[case]
    return draw_plan(analysis_on(units, paper))


def boundary_of(pdf: bytes) -> Polygon:
    """Return the parcel as it stands on the sheet, found by the dashes that only the boundary has. [pt]."""
    dashes = tuple(length * 0.75 for length in (12.0, 4.0, 2.0, 4.0))
    (found,) = [stroke for stroke in strokes(pdf) if stroke.dashes == pytest.approx(dashes)]
    return Polygon(found.lines[0])


@pytest.mark.parametrize("case", CASES)
def test_the_paper_has_its_size(case: str) -> None:
    _, _, (width, height), _ = CASES[case]
    for page in reader(pdf_of(case)).pages:
        assert float(page.mediabox.width) == pytest.approx(width, abs=0.01)
        assert float(page.mediabox.height) == pytest.approx(height, abs=0.01)


@pytest.mark.parametrize("case", CASES)
def test_the_bar_is_two_inches_or_five_centimetres_long(case: str) -> None:
    units, *_ = CASES[case]
    wanted = 2.0 * POINTS_PER_INCH if units is Units.IMPERIAL else 0.05 / INCH * POINTS_PER_INCH
    bars = [
        stroke
        for stroke in strokes(pdf_of(case))
        if len(stroke.lines) == 1 and len(stroke.lines[0]) == 2 and _length(stroke) == pytest.approx(wanted, abs=0.01)
    ]
    assert len(bars) == 1
    said = {
        Units.IMPERIAL: "Bar not 2 inches long? Print again",
        Units.METRIC: "Bar not 5 centimetres long? Print again",
    }
    assert said[units] in text_of(pdf_of(case))


def _length(stroke: Stroke) -> float:
    (x, y), (to_x, to_y) = stroke.lines[0]
    return float(np.hypot(to_x - x, to_y - y))


@pytest.mark.parametrize("case", CASES)
def test_the_parcel_measures_right_on_the_sheet(case: str) -> None:
    units, paper, _, ratio = CASES[case]
    parcel = analysis_on(units, paper).site.parcel
    on_ground = INCH / POINTS_PER_INCH * ratio
    drawn = scale(boundary_of(pdf_of(case)), on_ground, on_ground, origin=(0, 0))
    assert drawn.area == pytest.approx(parcel.area, rel=0.001)
    west, south, east, north = parcel.bounds
    left, low, right, high = drawn.bounds
    assert (right - left, high - low) == pytest.approx((east - west, north - south), abs=0.02)


def test_the_scale_that_is_written_is_the_scale_that_is_drawn() -> None:
    assert "1 inch is 40 feet." in text_of(pdf_of("feet on Letter"))
    assert "1 to 500." in text_of(pdf_of("metres on A4"))
    assert "80 ft" in text_of(pdf_of("feet on Letter"))
    assert "25 m" in text_of(pdf_of("metres on A4"))


def test_north_is_up() -> None:
    drawn = make_analysis()
    boundary = boundary_of(pdf_of("feet on Letter"))
    corners = np.asarray(drawn.site.parcel.exterior.coords) - drawn.site.parcel.centroid.coords[0]
    found = np.asarray(boundary.exterior.coords) - boundary.centroid.coords[0]
    assert np.all(np.sign(np.round(corners, 1)) == np.sign(np.round(found, 1)))


@pytest.mark.parametrize("case", CASES)
def test_everything_printed_lies_within_the_margins(case: str) -> None:
    """Printers leave a quarter of an inch blank; the clip of the map is the frame that is drawn last."""
    _, _, (width, height), _ = CASES[case]
    for page in range(1, len(reader(pdf_of(case)).pages)):
        for stroke in strokes(pdf_of(case), page):
            for x, y in (point for line in stroke.lines for point in line):
                assert 18.0 <= x <= width - 18.0
                assert 18.0 <= y <= height - 18.0


def rendered(pdf: bytes, page: int = 0, dots: int = 100) -> npt.NDArray[np.uint8]:
    """Return a page as a printer's raster sees it, by PDFium. (rows, columns, 3) bytes."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        return np.asarray(document[page].render(scale=dots / POINTS_PER_INCH).to_numpy()[:, :, :3]).copy()
    finally:
        document.close()


def test_the_sheet_is_printed_without_colour_and_is_light() -> None:
    picture = rendered(pdf_of("feet on Letter")).astype(int)
    assert np.ptp(picture, axis=2).max() == 0
    assert picture.mean() > 200
    assert picture.min() < 60


def test_the_ground_is_no_darker_than_it_may_be() -> None:
    """The relief alone, where nothing else is drawn: no darker than E4E4E4."""
    bare = dataclasses.replace(make_analysis(), plan=Plan())
    picture = rendered(draw_plan(bare))[:, :, 0]
    parcel = picture[160:560, 300:640]
    values, counts = np.unique(parcel, return_counts=True)
    assert values[counts.argmax()] >= 0xE4


def test_greys_stand_under_water_only() -> None:
    """Whatever is stroked is black, soft, thin or white; the two fills of water are the only greys between."""
    greys = {round(stroke.grey, 2) for stroke in strokes(pdf_of("feet on Letter"))}
    assert greys <= {0.08, 0.30, 0.42, 0.50, 0.70, 0.78, 0.74, 1.0}


def test_the_first_sheet_says_what_is_built_and_what_to_mind() -> None:
    text = text_of(pdf_of("feet on Letter"))
    for wanted in (
        "Rushy Bottom: what we build",
        "sheet 1 of",
        "Mound",
        "Hoop house",
        "Stands 8+ in 10",
        "Pipe: don’t dig",
        "settles to",
        "2 ft 1½ in",
        "Caution.",
        "Call 811",
        "Heights are within ½ in",
        "House",
        "Septic",
        "Gate",
    ):
        assert wanted in text


def test_the_next_sheets_hold_every_stake_quantity_job_and_caution() -> None:
    pdf = pdf_of("feet on Letter")
    text = "\n".join(text_of(pdf, page) for page in range(1, len(reader(pdf).pages)))
    flat = " ".join(text.split())
    drawn = make_analysis()
    for mound in drawn.plan.mounds:
        for stake in mound.stakes:
            assert stake.label in flat
    for quantity in drawn.plan.quantities:
        assert quantity.material in flat
    for job in drawn.plan.jobs:
        assert f"{job.number}. {say_job(job, drawn).title}." in flat
    for title in ("Call before you dig.", "Keep off the septic field.", "Send no water next door.", "Lift with care."):
        assert title in flat


def test_a_weak_stake_is_marked() -> None:
    drawn = make_analysis()
    mound = drawn.plan.mounds[0]
    weak = dataclasses.replace(mound.stakes[0], angle=12.0)
    plan = dataclasses.replace(drawn.plan, mounds=(dataclasses.replace(mound, stakes=(weak,)),), jobs=())
    text = text_of(draw_plan(dataclasses.replace(drawn, plan=plan)), 1)
    assert "A1 *" in text
    assert "meet at a flat angle" in text
    assert "*" not in text_of(pdf_of("feet on Letter"), 1)


def test_stakes_without_a_point_to_tape_from_ask_for_one() -> None:
    drawn = make_analysis()
    nothing = (("", math.nan), ("", math.nan))
    mounds = tuple(
        dataclasses.replace(mound, stakes=tuple(dataclasses.replace(s, from_points=nothing) for s in mound.stakes))
        for mound in drawn.plan.mounds
    )
    pdf = draw_plan(dataclasses.replace(drawn, plan=dataclasses.replace(drawn.plan, mounds=mounds)))
    text = " ".join(text_of(pdf, 0).split() + text_of(pdf, 1).split())
    assert "not known" not in text
    assert "No tapes. Some stakes have nothing to be taped from." in text


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert draw_plan(analysis_on(Units.IMPERIAL, "letter")) == pdf_of("feet on Letter")


def test_the_file_says_nothing_of_who_made_it_when() -> None:
    told = reader(pdf_of("feet on Letter")).metadata
    assert told is not None
    assert told.title == "Rushy Bottom: what we build"
    assert told.author in {None, "", "anonymous"}
    # The day of the run as the tests set it, never the clock's.
    assert told.creation_date is None or f"{told.creation_date:%Y-%m-%d}" == "2027-04-01"


def test_a_plan_with_nothing_in_it_still_prints() -> None:
    bare = make_analysis()
    bare = dataclasses.replace(
        bare,
        plan=Plan(),
        drainage=dataclasses.replace(bare.drainage, questions=()),
        site=dataclasses.replace(bare.site, features=()),
        zones=dataclasses.replace(bare.zones, zones=()),
    )
    assert "what we build" in text_of(draw_plan(bare))


def test_a_long_plan_runs_onto_more_sheets_and_loses_nothing() -> None:
    drawn = make_analysis()
    mound = drawn.plan.mounds[0]
    many = tuple(
        dataclasses.replace(
            mound, number=k, stakes=tuple(dataclasses.replace(s, label=f"{s.label[0]}{k}") for s in mound.stakes)
        )
        for k in range(1, 61)
    )
    pdf = draw_plan(dataclasses.replace(drawn, plan=dataclasses.replace(drawn.plan, mounds=many)))
    count = len(reader(pdf).pages)
    assert count >= 5
    text = "\n".join(text_of(pdf, page) for page in range(count))
    assert "Stakes, continued" in text
    for k in range(1, 61):
        assert f"B{k} " in text.replace("\n", " ")
    assert f"sheet {count} of {count}" in text


def test_hostile_names_are_printed_as_text_and_lost_signs_show() -> None:
    names = {"House": "<b>)(\\ ½ Łąka 沼", "Gate": "x" * 3000}
    text = text_of(draw_plan(make_analysis(names, site_name="a\x00b\u202e (c)")))
    assert "<b>)(" in text
    assert "x" * 40 not in text


@pytest.mark.parametrize(("units", "width", "said"), [
    (Units.IMPERIAL, 12.0, "1 inch is 8 feet"),
    (Units.IMPERIAL, 3000.0, "1 inch is 2,000 feet"),
    (Units.IMPERIAL, 90_000.0, "1 inch is 64,000 feet"),
    (Units.METRIC, 12.0, "1 to 75"),
    (Units.METRIC, 94.0, "1 to 500"),
    (Units.METRIC, 96.0, "1 to 750"),
])  # fmt: skip
def test_the_scale_is_the_largest_usual_one_that_fits(units: Units, width: float, said: str) -> None:
    found = choose_scale(width, width / 2.0, (720.0, 675.0), units)
    assert found.said == said
    assert width * found.px_per_metre <= 720.0 + 1e-6


def test_the_paper_follows_the_units_unless_it_is_asked_for() -> None:
    assert paper_of(Settings(units=Units.IMPERIAL)) is LETTER
    assert paper_of(Settings(units=Units.METRIC)) is A4
    assert paper_of(Settings(units=Units.METRIC, print=PrintSettings(paper="letter"))) is LETTER
    assert isinstance(make_analysis().site.parcel.centroid, Point)
