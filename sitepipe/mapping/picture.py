"""Pictures and packed numbers as text that a page can carry."""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np

from sitepipe.arrays import ByteArray

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_GREY_WITH_ALPHA = 4


def grey_png(tone: ByteArray, opacity: ByteArray) -> bytes:
    """Write a picture of 256 greys with opacity; the same arrays give the same bytes.

    Parameters
    ----------
    tone, opacity : (rows, columns) uint8 array
        0 black to 255 white; 0 clear to 255 solid.

    References
    ----------
    ISO/IEC 15948:2004, Portable Network Graphics: signature, IHDR, IDAT with the Sub filter, IEND.
    """
    rows, columns = tone.shape
    samples = np.stack([tone, opacity], axis=2).reshape(rows, columns * 2)
    left = np.zeros_like(samples)
    left[:, 2:] = samples[:, :-2]
    filtered = np.empty((rows, columns * 2 + 1), np.uint8)
    filtered[:, 0] = 1
    filtered[:, 1:] = samples - left
    header = struct.pack(">IIBBBBB", columns, rows, 8, _GREY_WITH_ALPHA, 0, 0, 0)
    body = zlib.compress(filtered.tobytes(), 9)
    return _SIGNATURE + _chunk(b"IHDR", header) + _chunk(b"IDAT", body) + _chunk(b"IEND", b"")


def data_uri(picture: bytes) -> str:
    """Return a PNG as an address that asks nothing of the network."""
    return "data:image/png;base64," + base64.b64encode(picture).decode("ascii")


def packed(numbers: bytes) -> str:
    """Return bytes deflated (RFC 1951, no header) and written in base 64."""
    deflate = zlib.compressobj(9, zlib.DEFLATED, -15)
    return base64.b64encode(deflate.compress(numbers) + deflate.flush()).decode("ascii")


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
