"""Where a path meets running water: crossings, counted and named, and how far it runs along a flow line."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString, Point

from sitepipe.works.land import Land
from sitepipe.works.ways.walking import WalkingGround


def crossings_of(line: LineString, land: Land) -> tuple[tuple[Point, ...], tuple[tuple[float, float], ...]]:
    """Where a path crosses a flow line with enough ground behind it, from its start on: after how far, and how much."""
    found: list[tuple[float, Point, float]] = []
    for flow in land.drainage.flow_lines:
        for piece in shapely.get_parts(flow.line.intersection(line)):
            if piece.is_empty:
                continue
            place = piece if isinstance(piece, Point) else piece.interpolate(0.5, normalized=True)
            area = _area_at(flow.line, flow.upslope_area, place)
            if area >= land.settings.path.flow_area:
                found.append((line.project(place), place, area))
    found.sort(key=lambda crossing: (crossing[0], crossing[2]))
    apart: list[tuple[float, Point, float]] = []
    for crossing in found:
        if not apart or crossing[0] - apart[-1][0] > 1.0:
            apart.append(crossing)
    return tuple(place for _, place, _ in apart), tuple((along, area) for along, _, area in apart)


def _area_at(line: LineString, areas: tuple[float, ...], place: Point) -> float:
    """Ground behind the nearest vertex of a flow line. [m2]."""
    vertices = np.asarray(line.coords)[:, :2]
    nearest = int(np.argmin(np.hypot(vertices[:, 0] - place.x, vertices[:, 1] - place.y)))
    return float(areas[min(nearest, len(areas) - 1)]) if areas else 0.0


def in_flow_length(line: LineString, walking: WalkingGround, crossings: int) -> float:
    """Length of a path that runs along water, one and a half cells for each crossing taken off. [m]."""
    grid = walking.grid
    step = grid.cell / 4.0
    count = max(int(line.length / step), 1)
    wet = 0
    for k in range(count):
        place = line.interpolate((k + 0.5) / count, normalized=True)
        row, column = grid.cell_at(place.x, place.y)
        wet += bool(grid.holds(row, column) and walking.in_flow[row, column])
    return float(max(wet * line.length / count - 1.5 * grid.cell * crossings, 0.0))
