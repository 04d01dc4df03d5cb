"""What is drawn and how: one table of marks for the page and the sheets, each made of strokes that a pen could make.

Lengths of marks are CSS pixels on the page and 1/96 in on paper; those of drawn things are metres.
"""

from __future__ import annotations

import math
from dataclasses import MISSING, dataclass, field, fields, replace
from typing import Any

from shapely import LineString

from sitepipe.mapping.frame import Flat
from sitepipe.site import Status


@dataclass(frozen=True, slots=True)
class Drawn:
    """One thing as it lies on the ground; ``MARKS`` says what it looks like. Metres from the frame's corner.

    Parameters
    ----------
    mark : str
        Key of ``MARKS``.
    area : list of polygon
        Each a list of flat rings, the outer one first.
    line : list of flat line
        What the pen follows; without any, the edges of the areas.
    axis : flat line
        Crest of a mound, ridge of a house, middle of a road.
    at : flat row of places
    half, apart : float
        Half the width on the ground; least way between figures along the line. [m]
    widths : tuple of float
        Of the line, at each of its vertices. [px]
    thing : str
        What a finger on it opens.
    rank : int
        An overview draws the first few only.
    """

    mark: str
    area: list[list[Flat]] = field(default_factory=list)
    line: list[Flat] = field(default_factory=list)
    axis: Flat = field(default_factory=list)
    at: Flat = field(default_factory=list)
    half: float = 0.0
    apart: float = 0.0
    widths: tuple[float, ...] = ()
    thing: str = ""
    name: str = ""
    rank: int = 0


@dataclass(frozen=True, slots=True)
class Figure:
    """A few strokes repeated along a line, around an axis, or set down at each place.

    Parameters
    ----------
    strokes : tuple of flat lines
        Along the way and to its right, in px or, with ``in_halves``, in half widths of the thing; none stands for the
        line itself.
    each, first : float
        Way between two; without ``first`` they are spread evenly from end to end, and without ``each`` only the ends
        have one. [px]
    has_end : bool
        One more stands at the end, and none within 24 px of it.
    around : float
        Follow a band around the axis, so many half widths away from it.
    least : float
        Half width of the thing below which there is no room for them. [px]
    """

    strokes: tuple[Flat, ...]
    role: str
    width: float
    each: float = 0.0
    first: float = 0.0
    has_end: bool = False
    in_halves: bool = False
    around: float = 0.0
    least: float = 0.0
    edge: float = 0.0
    is_round: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """How a class is drawn: an edge of paper, a fill with its pattern, the line, then figures.

    Parameters
    ----------
    line, fill : str
        Roles in ``palette.COLOURS``.
    dashes : tuple of float
        On and off; empty for a solid line.
    pattern : str
        Key of ``TILES``.
    edge : float
        Paper kept clear on the two sides of the line together.
    band : float
        Least half width of the band that is drawn around a line or a place.
    opacity : float
        Of fill and pattern on the page; of the line where there is neither.
    near : float
        Pixels of a metre from which it is drawn.
    is_scalloped, is_inset, is_joined : bool
        The edge is a row of arcs; it is repeated inwards; all edges lie below all fills, so that no joint shows.
    letter, letter_role : str
    """

    line: str = ""
    fill: str = ""
    width: float = 0.0
    dashes: tuple[float, ...] = ()
    pattern: str = ""
    figures: tuple[Figure, ...] = ()
    edge: float = 0.0
    band: float = 0.0
    opacity: float = 1.0
    near: float = 0.0
    is_scalloped: bool = False
    is_inset: bool = False
    is_joined: bool = False
    letter: str = ""
    letter_role: str = "card"


@dataclass(frozen=True, slots=True)
class Tile:
    """A pattern: one tile with its strokes, turned clockwise by so many degrees."""

    width: float
    height: float
    strokes: tuple[Flat, ...]
    role: str
    pen: float
    turn: float = 0.0
    opacity: float = 1.0
    is_round: bool = False


def _hatch(step: float, role: str, pen: float, turn: float = 45.0, opacity: float = 1.0) -> Tile:
    return Tile(step, step, ([step / 2.0, 0.0, step / 2.0, step],), role, pen, turn, opacity)


def _tuft(x: float, y: float) -> tuple[Flat, ...]:
    return [x, y, x, y - 4.0], [x, y, x - 2.3, y - 3.0], [x, y, x + 2.3, y - 3.0]


TILES: dict[str, Tile] = {
    "ripples": Tile(16.0, 9.0, ([1.0, 2.5, 7.0, 2.5], [9.0, 7.0, 15.0, 7.0]), "water-line", 1.1),
    "dots": Tile(9.0, 9.0, ([2.2, 2.2, 2.2, 2.2], [6.7, 6.7, 6.7, 6.7]), "water-line", 1.9, is_round=True),
    "hatch-11": _hatch(11.0, "shade-line", 1.2, opacity=0.55),
    "hatch-6": _hatch(6.0, "shade-line", 1.5, opacity=0.8),
    "cross-5": Tile(5.0, 5.0, ([2.5, 0.0, 2.5, 5.0], [0.0, 2.5, 5.0, 2.5]), "shade-line", 1.05, 45.0),
    "hatch-10": _hatch(10.0, "water-line", 1.9),
    "hatch-7": _hatch(7.0, "water-line", 1.5),
    "back-hatch-7": _hatch(7.0, "water-line", 1.1, -45.0),
    "back-hatch-8": _hatch(8.0, "ink", 1.1, -45.0),
    "chips": Tile(
        7.0,
        7.0,
        ([0.8, 2.2, 3.0, 1.1], [3.8, 5.6, 6.0, 4.7], [4.6, 1.4, 6.0, 2.5], [0.9, 5.0, 1.9, 6.2]),
        "path-line",
        0.95,
    ),
    "tufts": Tile(15.0, 13.0, (*_tuft(3.6, 5.6), *_tuft(11.1, 12.1)), "plant-line", 1.25),
}

INSET_SHORES: tuple[tuple[float, float], ...] = ((4.0, 1.2), (9.0, 1.05), (15.5, 0.9), (23.5, 0.75), (33.0, 0.6))
"""How far in from a certain shore it is repeated, and how wide. [px]"""


def _dot(role: str, across: float) -> Figure:
    return Figure(([0.0, 0.0, 0.0, 0.0],), role, across, is_round=True)


def _ring(across: float, width: float) -> tuple[Figure, Figure]:
    return _dot("ink", across + width), _dot("card", across - width)


def _in_three_states(name: str, wanted: Mark) -> dict[str, Mark]:
    """Return how a work is drawn that stands, in ink, that is wanted, and that is proposed, in broken strokes."""
    in_ink = tuple(replace(figure, role="ink") for figure in wanted.figures)
    faint = replace(wanted, fill="paper", opacity=0.75) if wanted.fill else wanted
    return {
        f"{name}-proposed": replace(faint, dashes=(9, 5)),
        name: wanted,
        f"{name}-stands": replace(wanted, line="ink", fill=wanted.fill and "card", width=2.2, figures=in_ink),
    }


_POST: Flat = [-3.0, 0.0, 3.0, 0.0]
_BAR: Flat = [-6.5, 0.0, 6.5, 0.0]
_CROSS: tuple[Flat, ...] = ([-4.5, -4.5, 4.5, 4.5], [4.5, -4.5, -4.5, 4.5])
_HEAD = Figure(
    ([-7.46, 4.08, 0.0, 0.0, -7.46, -4.08],), "water-line", 2.0, 62.0, 62.0, has_end=True, edge=1.6, is_round=True
)
_PIN: tuple[Flat, ...] = ([0.0, -6.0, 5.2, 3.0, -5.2, 3.0, 0.0, -6.0],)
_SQUARE = Figure(([-8.0, 0.0, 8.0, 0.0],), "ink", 16.0)

MARKS: dict[str, Mark] = {
    "sun-8": Mark("", "sun-8"),
    "sun-6": Mark("", "sun-6", pattern="hatch-11"),
    "sun-4": Mark("", "sun-4", pattern="hatch-6"),
    "sun-0": Mark("", "sun-0", pattern="cross-5"),
    "edge-8": Mark("shade-line", width=1.3),
    "edge-8-guessed": Mark("shade-line", width=1.3, dashes=(7, 4)),
    "edge": Mark("shade-line", width=2.0),
    "edge-guessed": Mark("shade-line", width=2.0, dashes=(7, 4)),
    "level-beyond": Mark("level", width=0.75, opacity=0.45),
    "level-whole-beyond": Mark("level-whole", width=1.0, opacity=0.45),
    "level": Mark("level", width=0.75),
    "level-whole": Mark("level-whole", width=1.0),
    "touch": Mark(),
    "drive": Mark("soft", width=1.5, dashes=(1.5, 4.5)),
    "road": Mark("ink", "paper", 1.6, opacity=0.85),
    "open-water": Mark("water-line", "stands-8", 2.2, is_inset=True),
    "bed": Mark("soft", width=1.2, dashes=(5, 3)),
    "ditch": Mark("water-line", width=4.0, figures=(Figure((), "paper", 2.0),)),
    "culvert": Mark("ink", width=2.0, dashes=(6, 5), figures=(Figure(([0.0, -9.0, 0.0, 9.0],), "ink", 2.6),)),
    "soaked": Mark("water-line", width=1.5, dashes=(7, 4), pattern="hatch-10", opacity=0.6),
    "wet-planting": Mark("plant-line", "plant", 1.4, pattern="tufts", edge=2.2),
    "set-out": Mark("", "plant", near=11.0),
    "cut-off": Mark("plant-line", width=1.3, dashes=(6, 3), near=11.0),
    "room": Mark(near=11.0),
    "water": Mark("water-line", "stands-8", 1.6),
    "water-more": Mark("water-line", "stands-2", 2.2, pattern="hatch-7"),
    "water-less": Mark("water-line", "paper", 1.5, (7, 4), "back-hatch-7"),
    "hedge": Mark(
        "tree-line", "tree", 1.1, figures=(_dot("tree-line", 2.6),), band=4.5, opacity=0.72, is_scalloped=True
    ),
    "wall": Mark("ink", width=3.4),
    "kerb": Mark("ink", width=1.2),
    "building": Mark("ink", "card", 2.2),
    "roof": Mark("ink", width=1.0, near=6.0),
    "ridge": Mark("ink", width=1.4),
    "tree": Mark(
        "tree-line", "tree", 1.1, figures=(_dot("tree-line", 4.0),), band=6.0, opacity=0.72, is_scalloped=True
    ),
    "tap": Mark(figures=(*_ring(8.4, 1.8), _dot("ink", 2.8))),
    "well": Mark(figures=(*_ring(12.0, 1.8), _dot("ink", 2.8))),
    "gate": Mark("ink", width=1.0, edge=4.0, figures=(Figure((_POST,), "ink", 6.0),)),
    "fixed-point": Mark(figures=(Figure(_PIN, "card", 6.0), Figure(_PIN, "ink", 1.8), _dot("ink", 2.4))),
    "stands-2": Mark("water-line", "stands-2", 1.4, (0.1, 4.6), "dots"),
    "stands-5": Mark("water-line", "stands-5", 1.5, (7, 4), "ripples"),
    "stands-8": Mark("water-line", "stands-8", 2.2, is_inset=True),
    "keep-clear": Mark("ink", "card", 1.4, (6, 3), "back-hatch-8"),
    "soft-ground": Mark("water-line", "stands-2", 1.5, (7, 4), "hatch-10"),
    "runs": Mark("water-line", width=1.2, edge=2.4, figures=(_HEAD,)),
    "runs-guessed": Mark("water-line", width=2.2, dashes=(5, 4), edge=2.4, figures=(_HEAD,)),
    "tipping": Mark("path-line", "path", 1.2, (5, 3), "chips", edge=2.4),
    "path": Mark("path-line", "path", 2.4, pattern="chips", edge=3.0, band=3.2, is_joined=True),
    **_in_three_states("swale", Mark("built-line", "card", 1.8, edge=2.4)),
    "swale-runs": Mark("water-line", width=1.5, edge=2.0, figures=(_HEAD,)),
    **_in_three_states(
        "trellis", Mark("built-line", width=2.0, edge=2.4, figures=(Figure((_POST,), "built-line", 6.0, 13.0),))
    ),
    **_in_three_states(
        "arch", Mark("built-line", width=1.8, edge=2.4, figures=(Figure((_BAR,), "built-line", 3.2, 13.0),))
    ),
    **_in_three_states(
        "hoop-house",
        Mark(
            "built-line",
            "card",
            2.0,
            edge=2.4,
            figures=(Figure(([0.0, -1.0, 0.0, 1.0],), "built-line", 1.3, 11.0, in_halves=True),),
        ),
    ),
    **_in_three_states(
        "mound",
        Mark(
            "built-line",
            "mound",
            1.8,
            edge=2.6,
            figures=(
                Figure(([0.0, 0.0, 0.0, -0.34],), "built-line", 1.0, 6.5, in_halves=True, around=0.86, least=5.0),
            ),
        ),
    ),
    "crest": Mark("ink", width=1.0),
    "stake-out": Mark("built-line", "card", 2.4, (6, 4)),
    "plant-ring": Mark("plant-line", width=1.2, band=0.5, near=11.0, figures=(_dot("plant-line", 4.0),)),
    "plant-tuft": Mark(
        near=11.0,
        figures=(
            Figure(
                ([0.0, 0.4, 0.0, -0.4], [0.0, 0.4, -0.46, -0.2], [0.0, 0.4, 0.46, -0.2]),
                "plant-line",
                1.1,
                in_halves=True,
            ),
        ),
    ),
    "buried": Mark("ink", width=1.8, dashes=(9, 5), edge=4.2, figures=(Figure(_CROSS, "ink", 1.8, 28.0, 14.0),)),
    "hole": Mark(near=6.0, figures=(*_ring(10.0, 1.8), Figure(([-5.0, 0.0, 5.0, 0.0],), "ink", 1.4))),
    "seen-at": Mark("ink", width=1.4, edge=3.4, figures=(Figure(([0.0, 0.0, 0.1, 0.0],), "ink", 5.0, is_round=True),)),
    "seen-dry": Mark(figures=(_SQUARE,), letter="D"),
    "seen-wet": Mark(figures=(_SQUARE,), letter="W"),
    "stake": Mark(figures=(Figure(_CROSS, "ink", 2.0, edge=2.5),)),
    "boundary": Mark("ink", width=1.6, dashes=(12, 4, 2, 4)),
    "job": Mark(
        figures=tuple(
            Figure(([-4.5, 0.0, 4.5, 0.0],), role, width, is_round=True)
            for role, width in (("ink", 17.8), ("card", 14.2))
        ),
        letter="1",
        letter_role="ink",
    ),
}
"""Every mark of the page and the sheets, from the lowest to the topmost."""

FLOW_WIDTH_LEAST, FLOW_WIDTH_MOST, FLOW_WIDTH_ROOT = 1.2, 3.6, 28.0
"""A flow line is least + sqrt(m2 behind it) / root wide, at most most. [px]"""

_ALONG = ("runs-guessed", "edge", "edge-8", "edge-guessed", "edge-8-guessed", "buried", "swale-runs")
_SAMPLE = [1.5, 2.0, 32.5, 2.0, 32.5, 18.0, 1.5, 18.0]


def flow_width(upslope_area: float) -> float:
    """Width of a flow line with so much ground behind it. [m2] to [px].

    Examples
    --------
    >>> flow_width(0.0), flow_width(784.0), flow_width(1e6)
    (1.2, 2.2, 3.6)
    """
    return min(FLOW_WIDTH_LEAST + math.sqrt(max(upslope_area, 0.0)) / FLOW_WIDTH_ROOT, FLOW_WIDTH_MOST)


GRAINS = (0.02, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2)
"""How finely a page draws, from the finest on, until it is small enough to pass by message. [m]"""
SPECK = 8.0
"""Ground classes whose piece is no wider than this many grains are left out."""
_GROUND = ("sun-", "stands-", "soaked", "soft-ground", "wet-planting", "set-out", "water", "touch")


def thinned(drawn: Drawn, grain: float) -> Drawn:
    """Return a thing whose edges are true to a grain [m], without the pieces of ground that are too small for it."""
    if drawn.widths:
        return drawn
    least = (SPECK * grain) ** 2 if grain > GRAINS[0] and drawn.mark.startswith(_GROUND) else 0.0
    area = []
    for rings in drawn.area:
        outer, *holes = (_thin([*ring, *ring[:2]], grain, least)[:-2] for ring in rings)
        if outer:
            area.append([outer, *(hole for hole in holes if hole)])
    return replace(drawn, area=area, line=[thin for line in drawn.line if (thin := _thin(line, grain, least))])


def _thin(flat: Flat, grain: float, least: float) -> Flat:
    line = LineString(list(zip(flat[0::2], flat[1::2], strict=True))).simplify(grain)
    is_kept = ring_size(flat) >= least and (len(line.coords) > 3 or flat[:2] != flat[-2:])
    return [value for place in line.coords for value in place] if is_kept else []


def ring_size(ring: Flat) -> float:
    """Area inside a flat ring by the shoelace rule. [m2]."""
    x, y = ring[0::2], ring[1::2]
    return abs(sum(x[k - 1] * y[k] - x[k] * y[k - 1] for k in range(len(x)))) / 2.0


def sample_of(mark: str) -> list[Drawn]:
    """Return how a mark stands in a legend, in a box of 34 by 20 px whose y runs up."""
    if mark == "seen-both":
        return [Drawn("seen-wet", at=[8.0, 10.0]), Drawn("seen-dry", at=[26.0, 10.0])]
    if mark == "runs":
        return [Drawn(mark, line=[[2.0, 5.0, 11.0, 6.5, 19.0, 12.0, 32.0, 14.5]], widths=(2.2,) * 4)]
    if mark in _ALONG or mark.startswith(("trellis", "arch")):
        return [Drawn(mark, line=[[2.0, 10.0, 32.0, 10.0]])]
    if mark == "path":
        return [Drawn(mark, line=[[7.0, 10.0, 27.0, 10.0]], half=5.0)]
    if MARKS[mark].letter:
        return [Drawn(mark, at=[17.0, 10.0])]
    if mark.startswith("mound") or mark == "stake-out":
        crest = LineString([(9.5, 10.0), (24.5, 10.0)])
        ring = [value for place in crest.buffer(8.0).exterior.coords[:-1] for value in place]
        return [Drawn(mark, area=[[ring]], axis=[9.5, 10.0, 24.5, 10.0], half=8.0)]
    return [Drawn(mark, area=[[_SAMPLE]], axis=[1.5, 10.0, 32.5, 10.0], half=8.0)]


def state_of(name: str, status: Status) -> str:
    """Return the mark of a work in its state.

    Examples
    --------
    >>> state_of("mound", Status.STANDING), state_of("mound", Status.WANTED), state_of("arch", Status.PROPOSED)
    ('mound-stands', 'mound', 'arch-proposed')
    """
    return {Status.STANDING: f"{name}-stands", Status.WANTED: name}.get(status, f"{name}-proposed")


def plain(record: Any) -> dict[str, Any]:
    """Return what a record of this file says beyond its defaults, for the page's JSON."""
    said = {}
    for one in fields(record):
        value = getattr(record, one.name)
        default = one.default_factory() if one.default_factory is not MISSING else one.default
        if value != default:
            said[one.name] = [plain(figure) for figure in value] if one.name == "figures" else value
    return said
