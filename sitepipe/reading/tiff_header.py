"""The first directory of a TIFF, read by hand: its size and blocks are known before any library unpacks it."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from sitepipe.errors import InputError

WIDTH, HEIGHT, BITS, SAMPLES, ROWS_PER_STRIP, TILE_WIDTH, TILE_HEIGHT = 256, 257, 258, 277, 278, 322, 323
_WANTED = frozenset({WIDTH, HEIGHT, BITS, SAMPLES, ROWS_PER_STRIP, TILE_WIDTH, TILE_HEIGHT})
_SIZES = {1: ("B", 1), 3: ("H", 2), 4: ("I", 4), 16: ("Q", 8)}
MOST_TAGS = 4096


@dataclass(frozen=True, slots=True)
class TiffHeader:
    """What a TIFF declares of its first picture: columns, rows, samples a cell, and bytes of one block of a sample."""

    columns: int
    rows: int
    samples: int
    block_columns: int
    block_rows: int
    block_bytes: int


def read_tiff_header(path: Path) -> TiffHeader:
    """Read the first directory of a TIFF or BigTIFF.

    Raises
    ------
    InputError
        If it has none.

    References
    ----------
    TIFF revision 6.0 (1992), section 2; BigTIFF as the libtiff documentation has it. Both from memory.
    """
    try:
        with path.open("rb") as file:
            tags = _first_directory(file)
        columns, rows = tags[WIDTH], tags[HEIGHT]
    except (struct.error, KeyError, ValueError, OSError) as error:
        raise InputError(f"{path.name} begins like a TIFF and is cut short or damaged. Fetch it again") from error
    block_columns = tags.get(TILE_WIDTH, columns)
    block_rows = tags.get(TILE_HEIGHT, min(tags.get(ROWS_PER_STRIP, rows), rows))
    bits = tags.get(BITS, 1)
    return TiffHeader(
        columns=columns,
        rows=rows,
        samples=tags.get(SAMPLES, 1),
        block_columns=block_columns,
        block_rows=block_rows,
        block_bytes=block_columns * block_rows * max(bits // 8, 1),
    )


def _first_directory(file: BinaryIO) -> Mapping[int, int]:
    head = file.read(16)
    order = "<" if head[:2] == b"II" else ">"
    is_big = struct.unpack_from(order + "H", head, 2)[0] == 43
    first = struct.unpack_from(order + ("Q" if is_big else "I"), head, 8 if is_big else 4)[0]
    file.seek(first)
    count_format, count_size = ("Q", 8) if is_big else ("H", 2)
    count = struct.unpack(order + count_format, file.read(count_size))[0]
    if count > MOST_TAGS:
        raise ValueError(f"{count} tags")
    size = 20 if is_big else 12
    entries = file.read(count * size)
    found: dict[int, int] = {}
    for start in range(0, len(entries) - size + 1, size):
        tag, kind = struct.unpack_from(order + "HH", entries, start)
        if tag not in _WANTED or kind not in _SIZES:
            continue
        number = struct.unpack_from(order + ("Q" if is_big else "I"), entries, start + 4)[0]
        letter, width = _SIZES[kind]
        inline = start + (12 if is_big else 8)
        if number * width <= (8 if is_big else 4):
            found[tag] = int(struct.unpack_from(order + letter, entries, inline)[0])
        else:
            file.seek(struct.unpack_from(order + ("Q" if is_big else "I"), entries, inline)[0])
            found[tag] = int(struct.unpack(order + letter, file.read(width))[0])
    return found
