"""Arches of bent wire panels over a path: how high they stand, how many panels and posts they take."""

from __future__ import annotations

import math

import numpy as np

from sitepipe.site import DrawnWork, Work
from sitepipe.works.land import Land
from sitepipe.works.rows.record import Arch
from sitepipe.works.rows.trellis import post_depth
from sitepipe.works.ways.record import Path

PANEL = (4.88, 1.27)
"""Length and width of a stiff wire panel, 16 ft by 50 in as sold. [m]"""
SPANS = (1.2, 1.5, 1.8, 2.1, 2.4, 3.0)
HEIGHTS = (1.96, 1.95, 1.92, 1.88, 1.83, 1.68)
"""Inside height of one panel bent to each span: our own solution of a springy strip. [m]"""
SPAN = 2.1
"""Of an arch that is drawn without: a path of 3 ft and planted feet. Common practice, no source. [m]"""
NEAR_PATH = 1.0
"""An arch stands over the path whose middle is so near to its own. [m]"""


def height_over(span: float) -> float:
    """Inside height of a panel that is bent to a span. [m].

    Examples
    --------
    >>> height_over(2.1), round(height_over(2.7), 3)
    (1.88, 1.755)
    """
    return float(np.interp(span, SPANS, HEIGHTS))


def draw_arches(land: Land, paths: tuple[Path, ...]) -> tuple[Arch, ...]:
    """Make the arches that stand or are wanted, as they were drawn along the path that they stand over."""
    return tuple(_arch(work, land, paths) for work in land.site.works_of(Work.ARCH))


def _arch(work: DrawnWork, land: Land, paths: tuple[Path, ...]) -> Arch:
    span, middle = work.width or SPAN, work.shape.interpolate(0.5, normalized=True)
    over = min(paths, key=lambda path: float(path.line.distance(middle)), default=None)
    is_over = over is not None and over.line.distance(middle) <= NEAR_PATH
    outline = work.shape.buffer(span / 2.0, cap_style="flat")
    row, column = land.site.grid.cell_at(middle.x, middle.y)
    depth = float(land.water_table.water_table_depth[row, column])
    panels = max(math.ceil(work.shape.length / PANEL[1] - 1e-9), 1)
    height = work.height or height_over(span)
    is_wet = depth < land.settings.trellis.wet_depth
    return Arch(
        work.number,
        line=work.shape,
        outline=outline,
        span=span,
        height=height,
        panels=panels,
        posts=2 * (panels + 1),
        post_depth=post_depth(LEAST_POST, is_wet),
        beside=over.ref if over is not None and is_over else None,
        is_wet=is_wet,
        name=work.name,
        status=work.status,
        built=work.built,
    )


LEAST_POST = 1.2
"""Posts that a panel is tied to stand out so far: common practice, no source. [m]"""
