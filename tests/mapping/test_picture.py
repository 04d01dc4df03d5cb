"""Pictures and packed numbers open again in other programs."""

from __future__ import annotations

import base64
import io
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage import io as skimage_io

from sitepipe.mapping.picture import data_uri, grey_png, packed


def test_a_written_picture_is_read_back_by_another_library() -> None:
    shades = np.random.default_rng(2).integers(0, 256, (17, 23), dtype=np.uint8)
    opacity = np.random.default_rng(3).integers(0, 256, (17, 23), dtype=np.uint8)
    read = skimage_io.imread(io.BytesIO(grey_png(shades, opacity)))
    assert read.shape == (17, 23, 2)
    assert (read[..., 0] == shades).all()
    assert (read[..., 1] == opacity).all()


def test_the_same_picture_has_the_same_bytes() -> None:
    shades = np.arange(64, dtype=np.uint8).reshape(8, 8)
    assert data_uri(grey_png(shades, shades)) == data_uri(grey_png(shades.copy(), shades.copy()))
    assert data_uri(grey_png(shades, shades)).startswith("data:image/png;base64,iVBOR")


@given(st.binary(max_size=500))
def test_packed_numbers_come_out_whole(numbers: bytes) -> None:
    assert zlib.decompress(base64.b64decode(packed(numbers)), wbits=-15) == numbers


def test_a_smooth_picture_is_small() -> None:
    tone = np.round(np.linspace(0, 255, 400)[None, :].repeat(400, axis=0)).astype(np.uint8)
    assert len(grey_png(tone, np.full_like(tone, 255))) < 160_000 * 0.05
    with pytest.raises(ValueError, match="unpack"):
        grey_png(tone.ravel(), tone.ravel())
