"""The plan as tasks: in their order, with tools, quantities, people, hours and cautions."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from shapely import Point
from shapely.ops import nearest_points

from sitepipe.settings import Settings
from sitepipe.site import Kind, Ref, Site, Work
from sitepipe.units import FOOT, say_area, say_barrows, say_distance, say_length, say_volume
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.jobs.hours import house_hours, path_hours, planting_hours, row_hours
from sitepipe.works.jobs.materials import count_barrows
from sitepipe.works.jobs.order import haul_along_paths, order_of_building
from sitepipe.works.jobs.record import Job, Task
from sitepipe.works.mounds.record import Mound
from sitepipe.works.obstacles import drives
from sitepipe.works.record import Plan
from sitepipe.works.rows.record import Trellis
from sitepipe.works.ways.record import Path, TippingPlace

STAKE_HOURS = 0.1
"""For one stake, with two people on the tapes: common practice, no source. [h]"""
HAND_DIG = 2.0 * FOOT
"""Either side of a mark that is dug by hand alone: 18 to 24 in."""


def list_jobs(site: Site, plan: Plan, settings: Settings) -> tuple[Job, ...]:
    """List the jobs in the order in which they are done: ask, measure, clear the outlet, get in, build, look again."""
    found = [
        *_before(site, plan, settings),
        *_outlets(site, plan),
        *_ways(site, plan, settings),
        *_building(site, plan, settings),
    ]
    if found:
        found.append(_after(plan, settings))
    numbered = [replace(job, number=number) for number, job in enumerate(found, 1)]
    return tuple(replace(job, after=_what_comes_before(job, numbered)) for job in numbered)


def _what_comes_before(job: Job, jobs: Sequence[Job]) -> tuple[int, ...]:
    """Return the jobs without which one cannot begin: what it stands on, and the mounds of earlier years."""
    needed = {
        Task.STAKE: {Task.ASK},
        Task.BORE: {Task.ASK},
        Task.TAKE_CHIPS: {Task.CLEAR},
        Task.LAY_PATH: {Task.STAKE, Task.TAKE_CHIPS, Task.LAY_PATH},
        Task.BUILD: {Task.STAKE, Task.BORE, Task.LAY_PATH}
        if any(work.kind is Work.MOUND for work in job.works)
        else {Task.STAKE},
        Task.LOOK_AGAIN: {Task.LAY_PATH, Task.BUILD},
    }.get(job.task, set())
    return tuple(
        other.number
        for other in jobs
        if other.number < job.number
        and (
            (other.task in needed and other.task is not Task.BUILD)
            or (other.task is Task.BUILD and other.year < job.year)
            or (job.task is Task.PLANT and other.task is Task.BUILD and set(other.works) & set(job.works))
            or (job.task is Task.LOOK_AGAIN and other.task is Task.BUILD and other.year == 1)
        )
    )


def digging_caution(site: Site, settings: Settings) -> str:
    """Return what the first job asks for, so that every other that breaks the ground can refer to it."""
    lines = [feature.name for feature in site.of_kind(Kind.BURIED_LINE, Kind.SEPTIC)]
    private = f" Not marked by them, but drawn here: {', '.join(dict.fromkeys(lines))}." if lines else ""
    return (
        "Call 811 (elsewhere the local call-before-you-dig line) 2 to 3 working days before, and wait for the marks. "
        f"Dig by hand within {say_length(HAND_DIG, settings.units)} of any mark. Private lines are not marked.{private}"
    )


AFTER_THE_MARKS = "Only once the buried lines are marked; by hand near any mark."
OUTLET_NEAR = 5.0
"""A culvert or ditch so near to the parcel is its outlet: own choice. [m]"""
LIFTING = (
    "Wet chips and logs weigh more than they look: half-full barrows, two to a log, nothing over 20 kg (45 lb) alone."
)
NO_RAIN = "Not on soft ground: a truck or a laden barrow on wet soil ruins it for years."


def _before(site: Site, plan: Plan, settings: Settings) -> Iterator[Job]:
    """Ask and measure: always the first jobs."""
    if not _has_works(plan):
        return
    gate = _way_in(site)
    yield Job(
        0,
        "Ask before anyone digs",
        "Have buried lines marked; ask what the town asks of mounds, ditches and hoop houses, and whether the wet "
        "ground is a protected wetland. Hours below are common practice: time your own first day and scale them.",
        gate,
        ("telephone", "this plan"),
        "1 call, 2 to 3 working days ahead",
        1,
        1.0,
        digging_caution(site, settings),
        task=Task.ASK,
    )
    stakes = sum(len(mound.stakes) for mound in plan.mounds)
    stakes += sum(len(house.stakes) for house in plan.hoop_houses) + sum(len(row.stakes) for row in plan.trellises)
    clear = [feature.name for feature in site.of_kind(Kind.SEPTIC, Kind.WELL, Kind.BURIED_LINE, Kind.KEEP_CLEAR)]
    bench = f"Bench mark: {plan.bench_mark}. " if plan.bench_mark else ""
    yield Job(
        0,
        "Measure and stake",
        f"{bench}Set every stake by its two tape lengths, check its height, and walk the plan before the first spade. "
        f"{'Flag what stays clear: ' + ', '.join(dict.fromkeys(clear)) + '.' if clear else 'Flag what stays clear.'}",
        gate,
        ("two tapes", "stakes", "flags", "hammer", "string", "level"),
        f"{stakes} stakes" if stakes else "string and flags for each outline",
        2,
        round(max(2.0 * STAKE_HOURS * stakes, 1.0), 1),
        f"A stake is driven into the ground. {AFTER_THE_MARKS}",
        task=Task.STAKE,
        digs=True,
    )


def _outlets(site: Site, plan: Plan) -> Iterator[Job]:
    """Bore for the water where no one has, and clear its way out, before anything is tipped."""
    if any(mound.is_guess for mound in plan.mounds):
        yield Job(
            0,
            "Bore holes first",
            "Bore three holes where the mounds are to stand and read the water in the wet months; then run this again. "
            "Until then the heights of the mounds are guesses: build none.",
            plan.mounds[0].crest.interpolate(0.5, normalized=True),
            ("hand auger", "tape"),
            "3 holes",
            2,
            3.0,
            AFTER_THE_MARKS,
            task=Task.BORE,
            digs=True,
        )
    drains = [
        drain for drain in site.of_kind(Kind.DITCH, Kind.CULVERT) if drain.geometry.distance(site.parcel) <= OUTLET_NEAR
    ]
    if drains and _has_works(plan):
        names = " and ".join(dict.fromkeys(drain.name for drain in drains))
        yield Job(
            0,
            "Clear the outlet",
            f"See that water runs freely through {names}: rake out leaves and silt, as far as it is yours. Nothing is "
            "tipped before it does.",
            nearest_points(drains[0].geometry, site.parcel)[0],
            ("rake", "spade", "boots"),
            f"{len(drains)} to look through",
            2,
            2.0,
            "Never reach or crawl into a pipe.",
            task=Task.CLEAR,
        )


def _ways(site: Site, plan: Plan, settings: Settings) -> Iterator[Job]:
    """Get in: the first load, then the main path, then the side paths."""
    place = plan.tipping_places[0] if plan.tipping_places else None
    chips = sum(path.chips for path in plan.paths)
    if place is not None:
        yield _first_load(place, chips, settings)
    middles = {path.number: path.line.interpolate(0.5, normalized=True) for path in plan.paths}
    hauls = haul_along_paths(middles, place, plan.paths, drives(site))
    for is_main in (True, False):
        paths = tuple(path for path in plan.paths if path.is_main is is_main)
        if paths:
            yield _lay_paths(paths, hauls, plan, site, settings)


def _first_load(place: TippingPlace, chips: float, settings: Settings) -> Job:
    loads = max(math.ceil(chips / settings.materials.load - 1e-9), 1)
    return Job(
        0,
        "Take the first load of chips",
        "Show the driver the way in and where to tip; not after rain, and the driver decides. "
        "Ask for clean chips: no walnut, no painted or treated wood, no poison ivy or sumac.",
        place.place,
        ("tarpaulin", "two flags for the driver", "rake"),
        f"{say_volume(chips, settings.units)} for the paths: {loads} {'load' if loads == 1 else 'loads'}",
        1,
        1.0,
        f"Keep children and dogs away while it tips; keep sight lines at the road open. {NO_RAIN}",
        (place.ref,),
        Task.TAKE_CHIPS,
    )


def _ends(path: Path, plan: Plan, site: Site) -> str:
    """Name what a path joins."""

    def named(end: Ref | None) -> str:
        if end is None:
            return "the way in"
        if end.kind is Work.PATH:
            onward = next((other.joins[1] for other in plan.paths if other.number == end.number), None)
            return f"path to {named(onward)}"
        if isinstance(end.kind, Kind):
            return site.feature(end).name
        return f"{end.kind} {end.number}" if end.kind is Work.MOUND else str(end.kind)

    return " to ".join(named(end) for end in path.joins)


def _lay_paths(paths: tuple[Path, ...], hauls: Mapping[int, float], plan: Plan, site: Site, settings: Settings) -> Job:
    """One job for all main paths, one for all side paths: they are laid piece after piece from the way in."""
    units = settings.units
    kind = "main path" if paths[0].is_main else "side paths" if len(paths) > 1 else "side path"
    barrows = [count_barrows(path.chips, settings.jobs.barrow) for path in paths]
    hours = sum(path_hours(path, hauls.get(path.number, path.line.length), settings.jobs) for path in paths)
    pieces = "; ".join(f"{_ends(path, plan, site)}, {say_distance(path.line.length, units)}" for path in paths)
    crossings = sum(len(path.crossings) for path in paths)
    water = ""
    if crossings:
        where = "; ".join(
            f"path {path.number}, after {say_distance(along, units)}" for path in paths for along, _ in path.waters
        )
        water = f" Where water crosses ({where}): a pipe or a plank, never chips."
    firm = ""
    if paths[0].is_main and settings.path.wheel == "wheelchair":
        firm = " Chips alone are too soft for a wheelchair: lay packed stone dust, and ask what the local code wants."
    sunk = [path for path in paths if path.is_dug_in]
    if sunk:
        ways = " and ".join(f"path {path.number} ({_ends(path, plan, site)})" for path in sunk)
        thick = say_length(settings.path.chip_depth, units)
        water += f" Dig {ways} {thick} deep and lay its chips level with the ground, or it holds water back."
    digs = crossings > 0 or any(path.cut > 0.0 for path in paths)
    chips = sum(path.chips for path in paths)
    longest = max(paths, key=lambda path: path.line.length)
    return Job(
        0,
        f"Lay the {kind}",
        f"{say_length(paths[0].width, units)} wide, chips {say_length(settings.path.chip_depth, units)} deep on "
        f"cardboard and mown grass, in this order: {pieces}.{water}{firm}",
        longest.line.interpolate(0.5, normalized=True),
        ("barrow", "chip fork", "rake", "string", *(("spade",) if digs else ())),
        f"{say_volume(chips, units)}: {say_barrows(sum(barrows))}",
        min(settings.jobs.people, 3),
        round(hours, 1),
        AFTER_THE_MARKS if digs else f"Chips float: keep them out of running water. {LIFTING}",
        tuple(Ref(Work.PATH, path.number) for path in paths),
        Task.LAY_PATH,
        digs=digs,
    )


def _building(site: Site, plan: Plan, settings: Settings) -> Iterator[Job]:
    """Build: mounds in the order of access, then what stands on posts."""
    by_number = {mound.number: mound for mound in plan.mounds}
    place = plan.tipping_places[0] if plan.tipping_places else None
    year_of = {number: year.year for year in plan.years for number in year.builds}
    order = order_of_building(plan.mounds, place, plan.paths, plan.years, drives(site))
    for year, numbers in groupby(order, year_of.get):
        built = [by_number[number] for number in numbers]
        for mound in built:
            yield _build_mound(mound, year, settings, is_trial=mound.number == order[0] and len(order) > 1)
        yield _plant(built, year)
    for house in plan.hoop_houses:
        yield _build_house(house, settings)
    for row in plan.trellises:
        year = year_of.get(row.beside.number, 1) if row.beside.kind is Work.MOUND else 1
        yield replace(_build_row(row, settings), year=year)


def _plant(mounds: Sequence[Mound], year: int | None) -> Job:
    names = ", ".join(str(mound.number) for mound in mounds)
    return Job(
        0,
        f"Plant mound{'s' if len(mounds) > 1 else ''} {names}",
        "As the sheets of beds show, and mulch as you go. Shrubs and trees wait until it has settled, a year or two.",
        mounds[0].crest.interpolate(0.5, normalized=True),
        ("trowel", "watering can", "mulch"),
        "",
        2,
        round(max(sum(planting_hours(mound) for mound in mounds), 0.5), 1),
        "Know what you plant before anyone eats of it; wash hands after soil and compost.",
        tuple(Ref(Work.MOUND, mound.number) for mound in mounds),
        task=Task.PLANT,
        year=year or 1,
    )


def _build_mound(mound: Mound, year: int | None, settings: Settings, *, is_trial: bool) -> Job:
    units = settings.units
    materials = "; ".join(f"{name} {say_volume(volume, units)}" for name, volume in mound.materials)
    when = f"Year {year}. " if year is not None else ""
    return Job(
        0,
        f"Build mound {mound.number}{', the trial' if is_trial else ''}",
        f"{when}Build it {say_length(mound.height.built, units)} high; it settles to "
        f"{say_length(mound.height.finished, units)}. Base {say_length(mound.base_width, units)} across"
        f"{': ' + materials if materials else ''}. Start at the far end, work back along the path."
        f"{' See it through a wet spell before you build the next.' if is_trial else ''}",
        mound.crest.interpolate(0.5, normalized=True),
        ("barrow", "fork", "spade", "rake", "level", "string"),
        f"{say_volume(mound.volume, units)}: {say_barrows(mound.barrows)}",
        settings.jobs.people,
        round(mound.hours, 1),
        f"{AFTER_THE_MARKS} {LIFTING} No wood or chips against a wall or a trunk.",
        (Ref(Work.MOUND, mound.number),),
        year=year or 1,
        digs=True,
    )


def _build_house(house: HoopHouse, settings: Settings) -> Job:
    units = settings.units
    return Job(
        0,
        "Build the hoop house",
        f"{say_length(house.length, units)} by {say_length(house.width, units)}. Square it by its diagonals, raise the "
        f"floor, ring it with a swale that has an outlet. Posts at least "
        f"{say_length(2.0 * FOOT, units)} deep, an anchor at every corner; "
        "in saturated or frozen ground anchors hold half: test them.",
        house.outline.centroid,
        ("tapes", "level", "post driver", "spade", "spanners", "ladder"),
        f"{say_area(house.length * house.width, units)} of floor",
        max(2, min(settings.jobs.people, 4)),
        round(house_hours(house), 1),
        f"{AFTER_THE_MARKS} Never cover it in wind. Take snow off or take the cover off. "
        "Ask whether the town wants a permit.",
        (house.ref,),
        digs=True,
    )


def _build_row(row: Trellis, settings: Settings) -> Job:
    units = settings.units
    wet = " The ground is wet: no shallower, and brace both ends." if row.is_wet else " Brace both ends."
    return Job(
        0,
        f"Set trellis {row.number}",
        f"{row.posts} posts over {say_length(row.line.length, units)}, {say_length(row.height, units)} high, each "
        f"{say_length(row.post_depth, units)} in the ground.{wet}",
        row.line.interpolate(0.5, normalized=True),
        ("post-hole digger", "level", "string", "wire", "pliers"),
        f"{row.posts} posts",
        2,
        round(row_hours(row), 1),
        AFTER_THE_MARKS,
        (Ref(Work.TRELLIS, row.number),),
        digs=True,
    )


def _after(plan: Plan, settings: Settings) -> Job:
    top_ups = sorted({number for year in plan.years for number in year.tops_up})
    again = f" Top up mounds {', '.join(str(number) for number in top_ups)} as the years say." if top_ups else ""
    return Job(
        0,
        "Look again after the next wet spell",
        "The same flags, the same holes, the height of every crest, spring and autumn. Write down where water stands "
        f"and for how long; the next run reads it.{again}",
        None,
        ("this map", "tape", "level"),
        f"{len(plan.mounds)} crests" if plan.mounds else "all flags",
        min(settings.jobs.people, 2),
        2.0,
        "If water now stands at a neighbour's or at the road where it did not, open the lowest mound or path at once.",
        task=Task.LOOK_AGAIN,
    )


def _has_works(plan: Plan) -> bool:
    return bool(plan.mounds or plan.hoop_houses or plan.trellises or plan.paths)


def _way_in(site: Site) -> Point | None:
    gates = site.of_kind(Kind.GATE)
    return gates[0].geometry.centroid if gates else None
