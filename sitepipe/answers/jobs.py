"""The jobs in sentences: what each is called, how it is done, with what, how much, what to beware of, when."""

from __future__ import annotations

import calendar
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sitepipe.analysis import Analysis
from sitepipe.answers.cautions import digging
from sitepipe.answers.hazards import thing_named
from sitepipe.answers.names import capital, count, joined, plants_of, shown, spoken, tame
from sitepipe.answers.rows import say_arch
from sitepipe.answers.water import say_swale
from sitepipe.answers.ways import from_to
from sitepipe.planting.record import Early, SetOut
from sitepipe.saying import say_area, say_barrows, say_distance, say_length, say_volume
from sitepipe.site import Found, Kind, Stock, Work
from sitepipe.units import FOOT
from sitepipe.works.jobs.materials import count_barrows
from sitepipe.works.jobs.record import Job, Task
from sitepipe.works.ways.record import Path

AFTER_THE_MARKS = "Only once the buried lines are marked; by hand near any mark."
HEELED_IN = 9
"""Longer than a dormant season and what follows no plant stays in a trench: common practice, no source. [months]"""
HEELING = (
    "Bare roots, divisions and plugs: slantwise in a shaded trench of drained soil, roots covered and kept damp, "
    "labels on. Pots: in shade, watered. Cuttings: bundled in damp sand, cool."
)
NAMED_BEDS = 3
"""So many beds are named in a title."""
_TOOLS = {
    Stock.SEED: ("seed", "rake", "string"),
    Stock.CUTTING: ("knife", "dibber"),
    Stock.PLUG: ("trowel",),
    Stock.BARE_ROOT: ("spade", "bucket of water for the roots"),
    Stock.POT: ("spade",),
    Stock.DIVISION: ("garden fork",),
}
ROOTS_OUT = 0.3
"""So deep fresh cuttings of willow no longer shoot: common practice, no source. [m]"""
LIFTING = "Wet chips and logs weigh more than they look: half-full barrows, two to a log."


@dataclass(frozen=True, slots=True)
class SaidJob:
    """A job in words; the tools stand in the order in which they are needed."""

    title: str
    detail: str
    tools: tuple[str, ...]
    quantity: str
    caution: str


def say_job(job: Job, analysis: Analysis) -> SaidJob:
    """Say one job of the plan."""
    return _SAYINGS[job.task](job, analysis)


def say_months(months: tuple[int, ...]) -> str:
    """Say in which months a job can be done, runs as runs and around the turn of the year; empty for all.

    Examples
    --------
    >>> say_months((1, 2, 3, 11, 12)), say_months((4, 5, 9)), say_months(())
    ('November to March', 'April to May and September', '')
    """
    runs: list[list[int]] = []
    for month in sorted(months):
        if runs and month == runs[-1][-1] + 1:
            runs[-1].append(month)
        else:
            runs.append([month])
    if len(runs) > 1 and runs[0][0] == 1 and runs[-1][-1] == 12:
        runs = [runs[-1] + runs[0], *runs[1:-1]]
    names = [[calendar.month_name[month] for month in (run[0], run[-1])] for run in runs]
    return joined([first if first == last else f"{first} to {last}" for first, last in names])


def _ask(_: Job, analysis: Analysis) -> SaidJob:
    return SaidJob(
        "Ask before anyone digs",
        "Have buried lines marked; ask what the town asks of mounds, ditches and hoop houses, and whether the wet "
        "ground is a protected wetland. Hours below are common practice: time your own first day and scale them.",
        ("telephone", "this plan"),
        "1 call, 2 to 3 working days ahead",
        digging(analysis.site, analysis.settings.units).text,
    )


def _stake(_: Job, analysis: Analysis) -> SaidJob:
    site, plan = analysis.site, analysis.plan
    clear = [shown(thing) for thing in site.of_kind(Kind.SEPTIC, Kind.WELL, Kind.BURIED_LINE, Kind.KEEP_CLEAR)]
    flagged = f": {joined(list(dict.fromkeys(clear)))}" if clear else ""
    mark = f"Bench mark: {tame(plan.bench_mark)}. " if plan.bench_mark else ""
    return SaidJob(
        "Measure and stake",
        f"{mark}Set every stake by its two tape lengths, check its height, and walk the plan before the first spade. "
        f"Flag what stays clear{flagged}.",
        ("two tapes", "stakes", "flags", "hammer", "string", "level"),
        f"{len(plan.stakes)} stakes" if plan.stakes else "string and flags for each outline",
        f"A stake is driven into the ground. {AFTER_THE_MARKS}",
    )


def _bore(_: Job, __: Analysis) -> SaidJob:
    return SaidJob(
        "Bore holes first",
        "Bore three holes where the mounds are to stand and read the water in the wet months; then run this again. "
        "Until then the heights of the mounds are guesses: build none.",
        ("hand auger", "tape"),
        "3 holes",
        AFTER_THE_MARKS,
    )


def _clear(job: Job, analysis: Analysis) -> SaidJob:
    names = list(dict.fromkeys(thing_named(analysis, thing) for thing in job.things))
    return SaidJob(
        "Clear the outlet",
        f"See that water runs freely through {joined(names)}: rake out leaves and silt, as far as it is yours. Nothing "
        "is tipped before it does.",
        ("rake", "spade", "boots"),
        "",
        "Never reach or crawl into a pipe.",
    )


def _cut(job: Job, analysis: Analysis) -> SaidJob:
    buried = say_length(ROOTS_OUT, analysis.settings.units)
    return SaidJob(
        "Cut brush and turn lawn",
        f"As much as the mounds of year {job.year} take. Chop brush and tread it down as it is laid; dry willow, "
        f"dogwood and poplar for a summer or bury it {buried} deep, or it roots. Sods: upside down, joints broken.",
        ("loppers", "bow saw", "half-moon edger", "spade"),
        "as the table of materials says",
        "Not while birds nest in it; never poison ivy or sumac, nor what seeds or creeps and is unwanted. "
        f"{AFTER_THE_MARKS}",
    )


def _take_chips(_: Job, analysis: Analysis) -> SaidJob:
    chips = sum(path.chips for path in analysis.plan.paths)
    loads = max(math.ceil(chips / analysis.settings.materials.load - 1e-9), 1)
    return SaidJob(
        "Take the first load of chips",
        "Show the driver the way in and where to tip; not after rain, and the driver decides. "
        "Ask for clean chips: no walnut, no painted or treated wood, no poison ivy or sumac.",
        ("tarpaulin", "two flags for the driver", "rake"),
        f"{say_volume(chips, analysis.settings.units)} for the paths: {loads} load{'' if loads == 1 else 's'}",
        "Keep children and dogs away while it tips; keep sight lines at the road open. Not on soft ground: a truck or "
        "a laden barrow on wet soil ruins it for years.",
    )


def _lay_paths(job: Job, analysis: Analysis) -> SaidJob:
    units, settings = analysis.settings.units, analysis.settings
    numbers = {thing.number for thing in job.things}
    paths = [path for path in analysis.plan.paths if path.number in numbers]
    kind = "main path" if paths[0].is_main else "side path"
    thick = say_length(settings.path.chip_depth, units)
    pieces = "; ".join(f"path {path.number}, {_way(path, analysis)}" for path in paths)
    return SaidJob(
        f"Lay the {kind}{'s' if len(paths) > 1 and not paths[0].is_main else ''}",
        f"{say_length(paths[0].width, units)} wide, chips {thick} deep on cardboard and mown grass, in this order: "
        f"{pieces}.{_wet_places(paths, analysis)}{_dug_in(paths, thick)}{_for_wheels(paths[0], settings.path.wheel)}",
        ("barrow", "chip fork", "rake", "string", *(("spade",) if job.digs else ())),
        f"{say_volume(sum(path.chips for path in paths), units)}: "
        f"{say_barrows(sum(count_barrows(path.chips, settings.jobs.barrow) for path in paths))}",
        f"{AFTER_THE_MARKS} {LIFTING}" if job.digs else f"Chips float: keep them out of running water. {LIFTING}",
    )


def _way(path: Path, analysis: Analysis) -> str:
    return f"{from_to(path.joins, analysis)}, {say_distance(path.length, analysis.settings.units)}"


def _wet_places(paths: list[Path], analysis: Analysis) -> str:
    crossed = [
        f"path {path.number}, after {say_distance(along, analysis.settings.units)}"
        for path in paths
        for along, _ in path.waters
    ]
    return f" Where water crosses ({'; '.join(crossed)}): a pipe or a plank, never chips." if crossed else ""


def _dug_in(paths: list[Path], thick: str) -> str:
    sunk = [str(path.number) for path in paths if path.is_dug_in]
    if not sunk:
        return ""
    which = f"path{'s' if len(sunk) > 1 else ''} {joined(sunk)}"
    return f" Dig {which} {thick} deep and lay the chips level with the ground, or it holds water back."


def _for_wheels(path: Path, wheel: str) -> str:
    if not path.is_main or wheel != "wheelchair":
        return ""
    return " Chips alone are too soft for a wheelchair: lay packed stone dust, and ask what the local code wants."


def _build_mound(job: Job, analysis: Analysis) -> SaidJob:
    units, number = analysis.settings.units, job.things[0].number
    mound = next(mound for mound in analysis.plan.mounds if mound.number == number)
    first = next(one.things[0].number for one in analysis.plan.jobs if one.task is Task.BUILD_MOUND)
    is_trial = number == first and len(analysis.plan.mounds) > 1
    materials = "; ".join(f"{tame(name)} {say_volume(volume, units)}" for name, volume in mound.materials)
    return SaidJob(
        f"Build mound {number}{', the trial' if is_trial else ''}",
        f"Build it {say_length(mound.height.built, units)} high; it settles to "
        f"{say_length(mound.height.finished, units)}. Base {say_length(mound.base_width, units)} across"
        f"{': ' + materials if materials else ''}. Start at the far end, work back along the path."
        f"{' See it through a wet spell before you build the next.' if is_trial else ''}",
        ("barrow", "fork", "spade", "rake", "level", "string"),
        f"{say_volume(mound.volume, units)}: {say_barrows(mound.barrows)}",
        f"{AFTER_THE_MARKS} {LIFTING} No wood or chips against a wall or a trunk.",
    )


def _build_house(job: Job, analysis: Analysis) -> SaidJob:
    units = analysis.settings.units
    house = next(house for house in analysis.plan.hoop_houses if house.number == job.things[0].number)
    return SaidJob(
        "Build the hoop house",
        f"{say_length(house.length, units)} by {say_length(house.width, units)}. Square it by its diagonals, raise the "
        f"floor, ring it with a swale that has an outlet. Posts at least {say_length(2.0 * FOOT, units)} deep, an "
        "anchor at every corner; in saturated or frozen ground anchors hold half: test them.",
        ("tapes", "level", "post driver", "spade", "spanners", "ladder"),
        f"{say_area(house.length * house.width, units)} of floor",
        f"{AFTER_THE_MARKS} Never cover it in wind. Take snow off or take the cover off. "
        "Ask whether the town wants a permit.",
    )


def _set_trellis(job: Job, analysis: Analysis) -> SaidJob:
    units, number = analysis.settings.units, job.things[0].number
    row = next(row for row in analysis.plan.trellises if row.number == number)
    wet = "The ground is wet: no shallower, and brace both ends." if row.is_wet else "Brace both ends."
    return SaidJob(
        f"Set trellis {number}",
        f"{count(row.posts, 'post').capitalize()} over {say_length(row.length, units)}, "
        f"{say_length(row.height, units)} high, each set {say_length(row.post_depth, units)} deep. {wet}",
        ("post-hole digger", "level", "string", "wire", "pliers"),
        f"{row.posts} posts",
        AFTER_THE_MARKS,
    )


def _set_arch(job: Job, analysis: Analysis) -> SaidJob:
    arch = next(arch for arch in analysis.plan.arches if arch.ref in job.things)
    return SaidJob(
        f"Set arch {arch.number}",
        f"{capital(say_arch(arch, analysis))} Two bend and tie a panel; never stand in its line: it springs.",
        ("post driver", "level", "string", "wire", "pliers", "gloves", "goggles"),
        f"{count(arch.panels, 'panel')}, {count(arch.posts, 'post')}",
        AFTER_THE_MARKS,
    )


def _dig_swale(job: Job, analysis: Analysis) -> SaidJob:
    swale = next(swale for swale in analysis.plan.swales if swale.ref in job.things)
    return SaidJob(
        f"Dig swale {swale.number}",
        f"{capital(say_swale(swale, analysis))} Dig from its lower end up, so that water leaves as you go; no bank of "
        "the soil beside it: topsoil goes onto beds.",
        ("spade", "mattock", "level", "string", "barrow"),
        say_volume(swale.dug, analysis.settings.units),
        f"{AFTER_THE_MARKS} Where it leads must be yours or permitted; wet ground may be protected.",
    )


def _plant(job: Job, analysis: Analysis) -> SaidJob:
    month = next(m for m in analysis.planting.months if (m.year, m.month) == (job.year, *job.months))
    beds = [spoken(thing, analysis.site) for thing in job.things]
    where = f": {joined(beds)}" if len(beds) <= NAMED_BEDS else ""
    pieces = [
        f"{name}: {joined(_set_out([each for each in month.sets if each.of == thing]))}"
        for thing, name in zip(job.things, beds, strict=True)
    ]
    wet = any(thing.kind is Found.ZONE for thing in job.things)
    forms = {each.stock for each in month.sets}
    kinds = len({each.latin for each in month.sets})
    return SaidJob(
        f"Plant in {calendar.month_name[month.month]}{where}",
        f"{capital('; '.join(pieces))}. The places are on the sheets of beds; set and water in this order, mulch as "
        f"you go.{' Only while the ground bears a foot: a heel sinks in less than a finger.' if wet else ''}",
        (*dict.fromkeys(tool for form in Stock if form in forms for tool in _TOOLS[form]), "watering can", "mulch"),
        f"{sum(each.count for each in month.sets)} of {count(kinds, 'kind')}",
        f"{AFTER_THE_MARKS} Know what you plant before anyone eats of it; wash hands after soil and compost.",
    )


def _set_out(sets: list[SetOut]) -> list[str]:
    counts: dict[str, int] = {}
    again: dict[str, str] = {}
    for each in sets:
        counts[each.common] = counts.get(each.common, 0) + each.count
        if each.again and each.until:
            weeks = count(round(each.again), "week")
            again[each.common] = f" (again every {weeks} until {calendar.month_name[each.until]})"
    return [f"{plants_of(number, common)}{again.get(common, '')}" for common, number in counts.items()]


def _heel_in(job: Job, analysis: Analysis) -> SaidJob:
    early = [each for each in analysis.planting.early if (max(each.year, 1), each.month) == (job.year, *job.months)]
    soon = [each for each in early if each.months <= HEELED_IN]
    late = [_until(each) for each in early if each not in soon]
    told = [f"{joined([_until(each) for each in soon])}. {HEELING}"] if soon else []
    if late:
        told.append(f"Too long in a trench, so order later or line out in a nursery bed: {joined(late)}.")
    return SaidJob(
        "Heel in what comes early",
        " ".join(told),
        ("spade", "labels", "watering can"),
        f"{sum(each.count for each in early)} plants",
        AFTER_THE_MARKS,
    )


def _until(early: Early) -> str:
    month = calendar.month_name[early.until_month]
    return f"{plants_of(early.count, early.common)} until {month} of year {early.until_year}"


def _look_again(job: Job, analysis: Analysis) -> SaidJob:
    lifted = sorted({number for year in analysis.plan.years for number in year.tops_up})
    again = (
        f" Top up mound{'s' if len(lifted) > 1 else ''} {joined([str(number) for number in lifted])} as the years say."
        if lifted
        else ""
    )
    crests = sum(thing.kind is Work.MOUND for thing in job.things)
    return SaidJob(
        "Look again after the next wet spell",
        "The same flags, the same holes, the height of every crest, spring and autumn. Write down where water stands "
        f"and for how long; the next run reads it.{again}",
        ("this map", "tape", "level"),
        f"{crests} crest{'' if crests == 1 else 's'}" if crests else "all flags",
        "If water now stands at a neighbour's or at the road where it did not, open the lowest mound or path at once.",
    )


_SAYINGS: Mapping[Task, Callable[[Job, Analysis], SaidJob]] = {
    Task.ASK: _ask,
    Task.STAKE: _stake,
    Task.BORE: _bore,
    Task.CLEAR: _clear,
    Task.CUT: _cut,
    Task.DIG_SWALE: _dig_swale,
    Task.TAKE_CHIPS: _take_chips,
    Task.LAY_PATHS: _lay_paths,
    Task.BUILD_MOUND: _build_mound,
    Task.BUILD_HOUSE: _build_house,
    Task.SET_TRELLIS: _set_trellis,
    Task.SET_ARCH: _set_arch,
    Task.HEEL_IN: _heel_in,
    Task.PLANT: _plant,
    Task.LOOK_AGAIN: _look_again,
}
"""How each sort of job is said; a new task needs a line here and its needs in ``works/jobs/listing.py``."""
