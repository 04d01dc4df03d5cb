"""Point clouds: ground points to heights by a moving plane, first returns to what stands on the ground."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from pyproj import CRS

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.errors import InputError
from sitepipe.grid import Grid
from sitepipe.reading.coordinates import horizontal, move_points

GROUND_CLASSES = (2, 9)
"""Ground and water of the LAS specification (ASPRS, LAS 1.4-R15, table 17; from memory)."""
NOISE_CLASSES = (7, 18)
POINTS_AT_ONCE = 500_000
"""Points unpacked at one time: some 50 MB."""
WIDEST_FILL = 16.0
"""Gaps in the ground points are bridged up to this many cells; beyond, the ground stays unknown; own choice."""
MOST_RECORDS, LEAST_RECORD = 1_000, 54
"""Records beside the points: their largest number, own choice, and their least size. [bytes]"""
PACKED, LEAST_POINT = 128, 20
"""Point formats from here on are packed (LAZ), and each chunk begins with a whole point. [1], [bytes]"""
ROWS_AT_ONCE = 256
"""Rows fitted at one time, so that the sums moved about stay small."""
GROUND_CELL_POINTS = 2.0
FINEST_CELL, COARSEST_CELL = 0.5, 5.0


@dataclass(frozen=True, slots=True)
class PointCloud:
    """What a point cloud says of itself.

    Parameters
    ----------
    path : Path
    points : int
    bounds : (west, south, east, north)
        In units of the file.
    crs : CRS
        As stated, a vertical part included.
    date : str
    """

    path: Path
    points: int
    bounds: tuple[float, float, float, float]
    crs: CRS
    date: str

    @property
    def name(self) -> str:
        """Its file name."""
        return self.path.name

    @property
    def middle(self) -> tuple[float, float]:
        """(x, y), in units of the file."""
        west, south, east, north = self.bounds
        return (west + east) / 2.0, (south + north) / 2.0

    @property
    def system(self) -> CRS:
        """Its horizontal coordinate system."""
        return horizontal(self.crs)


@dataclass(frozen=True, slots=True)
class CloudHeights:
    """Ground, and the highest first return over each cell, NaN where unknown. [units given]."""

    ground: FloatArray
    top: FloatArray
    ground_points: int


def describe_cloud(path: Path) -> PointCloud:
    """Read what a point cloud says of itself.

    Raises
    ------
    InputError
        If it is damaged, empty, or states no coordinate system.
    """
    with _opened(path) as reader:
        header = reader.header
        if header.point_count == 0:
            raise InputError(f"{path.name} holds no points. Fetch it again")
        try:
            crs = header.parse_crs()
        except Exception as error:
            raise InputError(
                f"{path.name} states a coordinate system that cannot be read ({str(error)[:80]}). "
                "Save it again with an EPSG code"
            ) from error
        if crs is None:
            raise InputError(f"{path.name} states no coordinate system. Save it again with one, such as an EPSG code")
        low, high = header.mins, header.maxs
        if not np.all(np.isfinite([*low, *high])):
            raise InputError(f"{path.name} states bounds that are no numbers: it is damaged. Fetch it again")
        date = header.creation_date.isoformat() if header.creation_date else ""
        return PointCloud(
            path, int(header.point_count), (float(low[0]), float(low[1]), float(high[0]), float(high[1])), crs, date
        )


def cloud_cell(cloud: PointCloud, metres: float) -> float:
    """Return a cell that holds some two ground points on the average, from half a metre to five. [m]."""
    ground = 0
    for _, _, _, classes, _ in _chunks(cloud):
        ground += int(np.isin(classes, GROUND_CLASSES).sum())
    if ground == 0:
        raise InputError(
            f"{cloud.name} holds {cloud.points:,} points and none of class ground (2): it is not classified. "
            "Bring a classified cloud, or heights as a raster"
        )
    west, south, east, north = (value * metres for value in cloud.bounds)
    cell = float(np.sqrt(max((east - west) * (north - south), 1e-9) * GROUND_CELL_POINTS / ground))
    return float(np.clip(np.ceil(cell * 4.0) / 4.0, FINEST_CELL, COARSEST_CELL))


def read_cloud(cloud: PointCloud, plane: CRS | None, metres: float, height_metres: float, grid: Grid) -> CloudHeights:
    """Read a point cloud onto a grid, some points at a time.

    Parameters
    ----------
    plane : CRS or None
        Of the grid; None where the cloud's own system, scaled to metres, is the plane.
    metres, height_metres : float
        Metres per unit along the ground and upwards.

    Returns
    -------
    CloudHeights
        [m]
    """
    count = grid.rows * grid.columns
    sums = np.zeros((9, count))
    top = np.full(count, -np.inf)
    source = horizontal(cloud.crs)
    ground_points = 0
    for x, y, z, classes, is_first in _chunks(cloud):
        east, north = (x * metres, y * metres) if plane is None else move_points(x, y, source, plane)
        height = z * height_metres
        column = np.floor((east - grid.west) / grid.cell)
        row = np.floor((grid.north - north) / grid.cell)
        inside = (column >= 0) & (column < grid.columns) & (row >= 0) & (row < grid.rows)
        cell = (row[inside] * grid.columns + column[inside]).astype(np.int64)
        is_ground = np.isin(classes[inside], GROUND_CLASSES)
        ground_points += int(is_ground.sum())
        # Measured from the cell's middle in cells, so that sums of squares stay exact.
        u = (east[inside] - grid.west) / grid.cell - column[inside] - 0.5
        v = (grid.north - north[inside]) / grid.cell - row[inside] - 0.5
        _add(sums, cell[is_ground], u[is_ground], v[is_ground], height[inside][is_ground])
        seen = is_first[inside] & ~np.isin(classes[inside], NOISE_CLASSES)
        np.maximum.at(top, cell[seen], height[inside][seen])
    ground = moving_plane(sums.reshape(9, grid.rows, grid.columns))
    return CloudHeights(ground, np.where(np.isfinite(top), top, np.nan).reshape(grid.shape), ground_points)


def _add(sums: FloatArray, cell: Any, u: FloatArray, v: FloatArray, z: FloatArray) -> None:
    ones = np.ones_like(u)
    for number, term in enumerate((ones, u, v, z, u * u, u * v, v * v, u * z, v * z)):
        sums[number] += np.bincount(cell, weights=term, minlength=sums.shape[1])


def moving_plane(sums: FloatArray) -> FloatArray:
    """Height at each cell's middle of the plane that fits the ground points around it best.

    The points of the cell and its eight neighbours, weighted towards the middle, are fitted first; where they do
    not fix a plane the neighbourhood is doubled, up to ``WIDEST_FILL`` cells. A plane is found exactly.

    Parameters
    ----------
    sums : (9, rows, columns) float array
        Per cell: count, u, v, z, uu, uv, vv, uz, vz of its points, with u eastwards and v southwards of
        the cell's middle. [cells], [m]

    Returns
    -------
    (rows, columns) float array
        NaN where too few points lie near. [m]
    """
    rows = sums.shape[1]
    pad = 2 * int(WIDEST_FILL)
    height = np.empty(sums.shape[1:])
    for first in range(0, rows, ROWS_AT_ONCE):
        low, high = max(first - pad, 0), min(first + ROWS_AT_ONCE + pad, rows)
        block = _moving_plane(sums[:, low:high])
        last = min(first + ROWS_AT_ONCE, rows)
        height[first:last] = block[first - low : last - low]
    return height


def _moving_plane(sums: FloatArray) -> FloatArray:
    height = np.full(sums.shape[1:], np.nan)
    reach = 1
    gathered = _gathered(sums, reach)
    while True:
        found = _plane_at_middle(gathered)
        if reach > 1:
            # Far points speak only where ground is seen to more than one side.
            found = np.where(_is_enclosed(sums[0], 2 * reach), found, np.nan)
        height = np.where(np.isnan(height), found, height)
        if not np.isnan(height).any() or 2 * reach > WIDEST_FILL:
            return height
        gathered = _gathered(gathered, reach)
        reach *= 2


def _gathered(sums: FloatArray, step: int) -> FloatArray:
    """Add up nine neighbours a step away, moved to the middle cell and weighted 1, 1/2, 1/4 outwards."""
    total = np.zeros_like(sums)
    _, rows, columns = sums.shape
    for down in (-step, 0, step):
        for right in (-step, 0, step):
            if abs(down) >= rows or abs(right) >= columns:
                continue
            weight = (0.5 if down else 1.0) * (0.5 if right else 1.0)
            here = (slice(max(-down, 0), rows - max(down, 0)), slice(max(-right, 0), columns - max(right, 0)))
            there = (slice(max(down, 0), rows - max(-down, 0)), slice(max(right, 0), columns - max(-right, 0)))
            n, u, v, z, uu, uv, vv, uz, vz = sums[:, there[0], there[1]]
            moved = (
                n,
                u + right * n,
                v + down * n,
                z,
                uu + 2.0 * right * u + right * right * n,
                uv + right * v + down * u + right * down * n,
                vv + 2.0 * down * v + down * down * n,
                uz + right * z,
                vz + down * z,
            )
            for number, term in enumerate(moved):
                total[number][here] += weight * term
    return total


def _plane_at_middle(sums: FloatArray) -> FloatArray:
    n, u, v, z, uu, uv, vv, uz, vz = sums
    with np.errstate(invalid="ignore", divide="ignore"):
        mean_u, mean_v, mean_z = u / n, v / n, z / n
        cuu, cuv, cvv = uu / n - mean_u**2, uv / n - mean_u * mean_v, vv / n - mean_v**2
        cuz, cvz = uz / n - mean_u * mean_z, vz / n - mean_v * mean_z
        spread = cuu * cvv - cuv**2
        east = (cvv * cuz - cuv * cvz) / spread
        south = (cuu * cvz - cuv * cuz) / spread
        # A middle outside the spread of its points would be a guess beyond them: on the banks of ponds metres off.
        is_fixed = (n >= 1.0) & (spread > 0.02 * (cuu + cvv) ** 2) & (mean_u**2 + mean_v**2 < cuu + cvv)
        return np.where(is_fixed, mean_z - east * mean_u - south * mean_v, np.nan)


def _is_enclosed(count: FloatArray, reach: int) -> BoolArray:
    """Whether ground points lie both west and east, or both north and south, within a reach."""
    near = count > 0.0
    rows, columns = near.shape

    def seen(axis: int, step: int) -> BoolArray:
        found = np.zeros_like(near)
        for distance in range(1, min(reach, (rows, columns)[axis] - 1) + 1):
            moved = np.roll(near, step * distance, axis=axis)
            edge: list[Any] = [slice(None), slice(None)]
            edge[axis] = slice(0, distance) if step > 0 else slice(-distance, None)
            moved[tuple(edge)] = False
            found |= moved
        return found

    across = seen(1, 1) & seen(1, -1)
    along = seen(0, 1) & seen(0, -1)
    enclosed: BoolArray = near | across | along
    return enclosed


def _chunks(cloud: PointCloud) -> Iterator[tuple[FloatArray, FloatArray, FloatArray, Any, BoolArray]]:
    read = 0
    with _opened(cloud.path) as reader:
        try:
            for points in reader.chunk_iterator(POINTS_AT_ONCE):
                read += len(points)
                yield (
                    np.asarray(points.x, dtype=np.float64),
                    np.asarray(points.y, dtype=np.float64),
                    np.asarray(points.z, dtype=np.float64),
                    np.asarray(points.classification, dtype=np.uint8),
                    np.asarray(points.return_number) == 1,
                )
        except InputError:
            raise
        except Exception as error:
            raise InputError(
                f"{cloud.name} is cut short or damaged after {read:,} of {cloud.points:,} points. Fetch it again"
            ) from error
    if read < cloud.points:
        raise InputError(f"{cloud.name} is cut short: {read:,} of {cloud.points:,} points are there. Fetch it again")


def _check_header(path: Path) -> None:
    """Refuse a header whose counts its file cannot hold: the library would read on for hours.

    Places of the fields from the LAS specification (ASPRS, LAS 1.4-R15, table 3; from memory, checked against laspy).
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(375)
    is_whole = len(head) >= 227
    if is_whole:
        major, minor = head[24], head[25]
        header_size, first_point, records = struct.unpack_from("<HII", head, 94)
        is_whole = major == 1 and minor <= 4 and 227 <= header_size <= first_point <= size
        is_whole = is_whole and records <= MOST_RECORDS and records * LEAST_RECORD <= first_point - header_size
        if is_whole and minor >= 4 and len(head) >= 255:
            start, extended = struct.unpack_from("<QI", head, 235)
            is_whole = extended <= MOST_RECORDS and (extended == 0 or start + extended * LEAST_RECORD <= size)
        is_whole = is_whole and _has_sound_chunks(path, first_point, head[104])
    if not is_whole:
        raise InputError(f"{path.name} cannot be read as a point cloud: it is damaged. Fetch it again")


def _has_sound_chunks(path: Path, first_point: int, point_format: int) -> bool:
    """Whether the table of a packed cloud lies in its file and lists no more chunks than the file can hold.

    The unpacking library reserves room for as many as it is told, and ends the process where there is none.
    """
    if point_format < PACKED:
        return True
    size = path.stat().st_size
    with path.open("rb") as file:
        file.seek(first_point)
        place = int.from_bytes(file.read(8), "little", signed=True)
        if place == -1:
            file.seek(max(size - 8, 0))
            place = int.from_bytes(file.read(8), "little", signed=True)
        if not first_point + 8 <= place <= size - 8:
            return False
        file.seek(place + 4)
        chunks = int.from_bytes(file.read(4), "little")
    return chunks * LEAST_POINT <= place - first_point


def _opened(path: Path) -> Any:
    import laspy

    _check_header(path)
    try:
        # The backend with threads trusts the sizes in the table of chunks, and ends the process where they lie.
        return laspy.open(path, laz_backend=laspy.LazBackend.Lazrs)
    except Exception as error:
        raise InputError(f"{path.name} cannot be read as a point cloud: it is damaged. Fetch it again") from error
