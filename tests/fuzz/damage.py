"""Damage to the bytes of a file, the same for the same number."""

from __future__ import annotations

import zlib

import numpy as np

HEAD = 700
"""Half of the damage goes here, where formats keep what rules the rest. [B]"""
SIGNS = b"0123456789-+.eE,;:\"'{}[]()<>=/\\ \t\n\x00\xff&#%naif"
"""What can change the meaning of a text."""


def damaged(whole: bytes, name: str, number: int) -> bytes:
    """Return the bytes of a file with damage: flipped bytes, other signs, a piece taken out, doubled or cut off."""
    rng = np.random.default_rng([zlib.crc32(name.encode()), number])
    content = bytearray(whole)
    reach = min(len(content), HEAD) if number % 2 else len(content)
    for place in rng.integers(0, reach, int(rng.integers(1, 9))):
        if number % 3:
            content[place] = int(rng.integers(0, 256))
        else:
            content[place] = SIGNS[int(rng.integers(0, len(SIGNS)))]
    start = int(rng.integers(0, reach))
    length = int(rng.integers(1, 200))
    if number % 10 == 7:
        del content[start : start + length]
    if number % 10 == 8:
        content[start:start] = content[start : start + length]
    if number % 20 == 9:
        del content[start:]
    return bytes(content)
