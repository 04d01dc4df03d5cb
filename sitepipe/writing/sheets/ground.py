"""The ground of the sheet: a quiet relief, level lines with their heights, the ticks of banks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from io import BytesIO
from typing import Any

import numpy as np
from reportlab.lib.utils import ImageReader

from sitepipe.mapping.frame import Frame
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.picture import grey_png
from sitepipe.mapping.relief import DrawnGround, relief_picture
from sitepipe.writing.sheets.fonts import width_of
from sitepipe.writing.sheets.labels import Room
from sitepipe.writing.sheets.paper import MapBox
from sitepipe.writing.sheets.pen import ITALIC, SOFT, WHITE, Pen, Point
from sitepipe.writing.sheets.strokes import length_of, spots_along, steps

DARKEST = 228
"""Relief in print is no darker than E4E4E4."""
LABELS_APART = 260.0
"""Least way along a level line between two of its numbers. [px]"""


def draw_relief(pen: Pen, ground: DrawnGround, frame: Frame, box: MapBox) -> None:
    """Lay the relief down as a grey picture, white where nothing was surveyed."""
    tone, opacity = relief_picture(ground)
    grey = DARKEST + (255 - DARKEST) * (tone / 255.0)
    paper = 255.0 + (grey - 255.0) * (opacity / 255.0)
    solid = np.full(tone.shape, 255, np.uint8)
    image = ImageReader(BytesIO(grey_png(np.round(paper).astype(np.uint8), solid)))
    left, top = box.to(ground.west - frame.west, ground.north - frame.south)
    rows, columns = ground.heights.shape
    size = ground.cell * box.scale.px_per_metre
    pen.picture(image, left, top, columns * size, rows * size)


def number_levels(pen: Pen, levels: Sequence[Drawn], box: MapBox, room: Room) -> None:
    """Write the height of each whole level line once or more along it, turned as the line runs."""
    for label, points in ((level.name, box.points(line)) for level in levels for line in level.line):
        total = length_of(points)
        if not label or total < 90.0:
            continue
        for spot in spots_along(points, steps(total * 0.35, total - 40.0, LABELS_APART)):
            half = 18.0
            rectangle = (spot.x - half, spot.y - half, spot.x + half, spot.y + half)
            if not room.is_free(rectangle):
                continue
            room.take(rectangle)
            turn = math.degrees(math.atan2(-spot.dy, spot.dx))
            if abs(turn) > 90.0:
                turn -= math.copysign(180.0, turn)
            down = math.radians(turn)
            foot = (spot.x + 4.2 * math.sin(down), spot.y + 4.2 * math.cos(down))
            half = width_of(label, 14.0, ITALIC) / 2.0 - 2.0
            east, south = half * math.cos(down), -half * math.sin(down)
            pen.stroke([[(spot.x - east, spot.y - south), (spot.x + east, spot.y + south)]], 6.0, grey=WHITE)
            pen.write(foot, label, 14.0, ITALIC, "middle", SOFT, has_edge=True, turn=turn)


def draw_banks(pen: Pen, banks: Sequence[Mapping[str, Any]], box: MapBox) -> None:
    """Draw the ticks of banks down from their top edge, long and short by turns."""
    size = box.scale.px_per_metre
    for bank in banks:
        top = box.points(bank["top"])
        ways = list(zip(bank["down"][0::2], bank["down"][1::2], strict=True))
        pen.stroke([top], 0.95, grey=SOFT)
        ticks: list[list[Point]] = []
        walked, due = 0.0, 0.0
        for k, (x, y) in enumerate(top):
            walked += math.dist(top[k - 1], (x, y)) if k else 0.0
            if walked >= due:
                share = 1.0 if len(ticks) % 2 == 0 else 0.5
                east, north = ways[k]
                ticks.append([(x, y), (x + east * size * share, y - north * size * share)])
                due = walked + 6.5
        pen.stroke(ticks, 0.95, grey=SOFT)
