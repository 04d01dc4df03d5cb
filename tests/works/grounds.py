"""Records of the earlier stages drawn by hand, so that the works can be tried without them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
from shapely import LineString, MultiPolygon, Point, Polygon, box

from sitepipe.arrays import FloatArray
from sitepipe.drainage.record import Drainage, FlowLine, Gaps, Pond
from sitepipe.drainage.stage import trace_drainage
from sitepipe.scoring.record import Exclusion, Reason, Scores, Use, Zone, Zones
from sitepipe.settings import Settings
from sitepipe.site import Feature, Found, Kind, Ref, Site, Work
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.record import Terrain
from sitepipe.terrain.stage import derive_terrain
from sitepipe.wetness.record import SteadyFlow, WaterTable, Wetness
from sitepipe.works.built import Stake
from sitepipe.works.houses.record import HoopHouse, RidgeReason, RoofWater, WaterEnd
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound, MoundHeight
from sitepipe.works.rows.record import Arch, Trellis
from sitepipe.works.water.record import Swale
from sitepipe.works.ways.record import TippingPlace
from tests.sites import make_site

FLOW = SteadyFlow(cell=2.0, ratio=1e-3, conductivity=1.0)


def known(
    site: Site,
    wetness: FloatArray | float = 0.1,
    depth_to_water: FloatArray | float = 1.0,
    hours: FloatArray | float = 8.0,
    flow_lines: tuple[FlowLine, ...] = (),
    upslope_area: FloatArray | float = 1.0,
    ponds: tuple[Pond, ...] = (),
    exclusions: tuple[Exclusion, ...] = (),
) -> Land:
    """Make the records of a dry, sunny, level site, and of what a test asks for beside."""
    shape = site.grid.shape
    wet = np.broadcast_to(np.asarray(wetness, dtype=np.float64), shape).copy()
    zeros = np.zeros(shape)
    filled = np.nan_to_num(site.elevation)
    drainage = Drainage(
        heights=np.round(filled * 1e4).astype(np.int32),
        receiver=_steepest(filled),
        order=np.arange(filled.size, dtype=np.int32),
        known=np.isfinite(site.elevation),
        upslope_area=np.broadcast_to(np.asarray(upslope_area, dtype=np.float64), shape).copy(),
        specific_catchment_area=zeros,
        ponding_depth=zeros,
        height_above_nearest_drainage=zeros,
        depth_to_water_index=zeros,
        channels=np.zeros(shape, np.bool_),
        ponds=ponds,
        pond_at=np.full(shape, -1, np.int32),
        flow_lines=flow_lines,
        crossings=(),
        storms=(),
        edge_dependent=np.zeros(shape, np.bool_),
        questions=(),
        outflow_cells=0,
        gaps=Gaps(),
    )
    monthly = np.broadcast_to(np.asarray(hours, dtype=np.float64), (12, *shape)).astype(np.float32)
    sunlight = Sunlight(
        sun_hours=monthly[5].astype(np.float64),
        insolation=zeros,
        sky_view=zeros + 1.0,
        monthly_hours=monthly,
        season=(date(2025, 5, 1), date(2025, 9, 30)),
        season_months=(5, 6, 7, 8, 9),
        leanest_month=9,
        leanest_hours=monthly[8].astype(np.float64),
        doubtful=zeros,
        open_hours=tuple(12.0 for _ in range(12)),
    )
    return Land(
        site=site,
        settings=PLAIN,
        terrain=Terrain(zeros, zeros, site.elevation, zeros, 5.0, 0.001),
        drainage=drainage,
        sunlight=sunlight,
        wetness=Wetness(zeros, wet, (), None),
        water_table=WaterTable(
            np.broadcast_to(np.asarray(depth_to_water, dtype=np.float64), shape).copy(),
            zeros + 0.1,
            False,
            FLOW,
        ),
        scores=Scores(zeros, zeros, zeros, {}, {}, exclusions),
        zones=Zones((), zeros),
    )


def mound_site(
    elevation: FloatArray,
    cell: float = 1.0,
    depth: FloatArray | float = 0.2,
    error: float = 0.05,
    zone: Polygon | None = None,
    features: tuple[Feature, ...] = (),
    exclusions: tuple[Exclusion, ...] = (),
    parcel: Polygon | None = None,
    settings: Settings | None = None,
) -> Land:
    """Make a site with its own drainage whose parcel, or a part of it, is one zone for mounds."""
    settings = settings or PLAIN
    site = make_site(elevation, cell, features, parcel)
    zone = zone if zone is not None else site.parcel
    table = WaterTable(np.full(elevation.shape, depth), np.full(elevation.shape, error), False, FLOW)
    drawn = Zone(1, Use.MOUND, zone, zone.area, 1.0, "", 0.5, 8.0)
    ones = np.ones(elevation.shape)
    return replace(
        known(site),
        settings=settings,
        scores=Scores(ones, ones, ones, {}, {}, exclusions),
        terrain=derive_terrain(site, settings),
        drainage=trace_drainage(site, settings),
        water_table=table,
        zones=Zones((drawn,), ones),
    )


def strip_of_no_go(west: float, south: float, east: float, north: float) -> Exclusion:
    return Exclusion(Reason.SEPTIC, None, 0.0, box(west, south, east, north), (Use.MOUND,))


def flow_line(places: list[tuple[float, float]], area: float = 500.0) -> FlowLine:
    """Draw a flow line with the same ground behind each vertex."""
    return FlowLine(LineString(places), tuple(area for _ in places))


def pond(outline: Polygon | MultiPolygon, depth: float = 0.2) -> Pond:
    """Draw a hollow."""
    return Pond(1, outline, outline.area, depth, outline.area * depth, outline.centroid, 100.0, None, (), 500.0, 1.0)


def mound(
    number: int,
    x0: float,
    y0: float,
    x1: float,
    y1: float,
    base: float = 2.0,
    volume: float = 4.0,
    stakes: tuple[Stake, ...] = (),
) -> Mound:
    """Draw a mound along its crest."""
    crest = LineString([(x0, y0), (x1, y1)])
    return Mound(
        number=number,
        crest=crest,
        outline=crest.buffer(base / 2.0, cap_style="flat"),
        crops="berry bushes",
        fill="woody core",
        height=MoundHeight(0.45, 0.15, 0.2, 0.0, 0.4, 0.57, 0.3, 0.8),
        top_width=0.6,
        base_width=base,
        volume=volume,
        materials=(("chips and leaves", volume),),
        barrows=round(volume / 0.085),
        hours=8.0,
        stakes=stakes,
    )


PLAIN = Settings()


def house_on(outline: Polygon, rank: int = 1, score: float = 0.8, raised: float = 0.0) -> HoopHouse:
    """Draw a hoop house that was judged by nothing."""
    west, south, east, north = outline.bounds
    return HoopHouse(
        number=rank,
        outline=outline,
        bearing=90.0,
        length=east - west,
        width=north - south,
        score=score,
        reasons=(),
        roof_water=1.8,
        roof_water_goes=RoofWater(WaterEnd.HOLLOW, 4.0, Ref(Found.HOLLOW, 1)),
        roof_water_by_storm=((0.025, 0.9), (0.05, 1.8)),
        door=Point(west, (south + north) / 2.0),
        advice=RidgeReason.LOW_WINTER_SUN,
        raised=raised,
    )


def place_at(x: float, y: float, rank: int = 1, work: float = 100.0, radius: float = 2.0) -> TippingPlace:
    """Draw a tipping place beside a drive that a truck comes in by from the first drawn thing."""
    pile = Point(x, y).buffer(radius, quad_segs=32)
    return TippingPlace(rank, Point(x, y), pile, work, Ref(Kind.GATE, 1), 30.0, 0.0, can_turn=False)


def arch_on(line: LineString, beside: Ref | None = None) -> Arch:
    return Arch(
        1, line=line, outline=line.buffer(1.0), span=2.0, height=1.9, panels=3, posts=8, post_depth=0.6,
        beside=beside, is_wet=False,
    )  # fmt: skip


def swale_on(line: LineString) -> Swale:
    return Swale(
        1, line=line, outline=line.buffer(0.6), depth=0.2, bed_width=0.4, side_slope=2.0, dug=1.5, fall=0.1,
        leads_to=RoofWater(WaterEnd.EDGE_OF_HEIGHTS),
    )  # fmt: skip


def row_on(line: LineString, number: int = 1, is_wet: bool = False, clear_distance: float = 3.0) -> Trellis:
    """Draw a row beside the first mound, of a height of 2 m."""
    return Trellis(
        number=number,
        line=line,
        height=2.0,
        bearing=90.0,
        beside=Ref(Work.MOUND, 1),
        post_depth=1.0,
        posts=4,
        hours_lost=(),
        beds_lose=0.2,
        turned_beds_lose=0.3,
        clear_distance=clear_distance,
        is_wet=is_wet,
    )


def _steepest(height: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.int32]]:
    """Receiver of each cell by a plain look at its eight neighbours; -1 where none is lower."""
    rows, columns = height.shape
    around = np.pad(height, 1, constant_values=np.inf)
    steps = [(down, right) for down in (-1, 0, 1) for right in (-1, 0, 1) if down or right]
    falls = [
        (height - around[1 + down : 1 + down + rows, 1 + right : 1 + right + columns]) / np.hypot(down, right)
        for down, right in steps
    ]
    towards = np.argmax(falls, axis=0)
    onward = np.array([down * columns + right for down, right in steps])[towards]
    onward += np.arange(rows * columns).reshape(rows, columns)
    return np.where(np.max(falls, axis=0) > 0.0, onward, -1).astype(np.int32)
