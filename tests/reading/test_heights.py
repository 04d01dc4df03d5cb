"""Heights that are possible and wrong: steps, spikes, and cells too wide for a garden."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sitepipe.answers import advice
from sitepipe.arrays import FloatArray
from sitepipe.reading.heights import height_step, spikes
from tests.reading.folders import make_folder, polygon, read, ring, settings_of, slope, write_drawing, write_heights


def hills(seed: int, side: int = 128) -> FloatArray:
    """Ground as rough at every scale as the one above, 300 m high (spectral synthesis, exponent 2)."""
    rng = np.random.default_rng(seed)
    waves = np.hypot(*np.meshgrid(np.fft.fftfreq(side), np.fft.fftfreq(side)))
    waves[0, 0] = np.inf
    ground = np.real(np.fft.ifft2(np.fft.fft2(rng.normal(size=(side, side))) * waves**-2.0))
    return np.asarray(300.0 * (ground - ground.min()) / np.ptp(ground), dtype=np.float64)


@pytest.mark.parametrize("share", [0.95, 0.6])
@pytest.mark.parametrize("step", [1.0, 0.3048, 0.1])
def test_heights_most_of_which_stand_on_steps_come_in_steps(share: float, step: float) -> None:
    fine = hills(1) / 20.0
    stepped = np.where(np.random.default_rng(2).random(fine.shape) < share, np.round(fine / step) * step, fine)
    assert height_step(stepped) == pytest.approx(step, rel=1e-6)
    assert height_step(fine) == 0.0


def test_two_ponds_are_no_steps() -> None:
    ground = hills(3) / 10.0 + 50.0
    ground[:40] = 61.37
    ground[50:90] = 63.11
    assert height_step(ground) == 0.0


def test_the_error_of_nearly_whole_metres_is_that_of_whole_metres(tmp_path: Path) -> None:
    make_folder(tmp_path)
    heights = np.where(np.random.default_rng(4).random((60, 80)) < 0.95, np.round(slope()), slope())
    write_heights(tmp_path / "elevation.tif", heights)
    site = read(tmp_path)
    # Lidar's .10 m and a step of 1 m, even within it: 1 / sqrt(12).
    assert site.ground.vertical_error == pytest.approx(np.hypot(0.10, 1.0 / np.sqrt(12.0)), abs=1e-3)
    assert any("steps of 1 m: the lawn is terraced" in said for said in site.warnings)


@pytest.mark.parametrize("cell", [5.0, 10.0, 20.0, 30.0])
def test_hills_have_no_spikes_however_wide_the_cells(cell: float) -> None:
    for seed in range(4):
        ground = hills(seed) * cell / 20.0
        assert spikes(ground, cell) == []
        ground[40, 50] += 3.0 * cell
        assert [found[:2] for found in spikes(ground, cell)] == [(40, 50)]


def test_a_bird_over_a_lawn_is_one() -> None:
    ground = slope()
    ground[20, 40] += 2.5
    ground[5, 0] -= 4.0
    assert [(row, column) for row, column, _ in spikes(ground, 1.0)] == [(5, 0), (20, 40)]


@pytest.mark.parametrize(("cell", "verdict"), [(2.0, "in part"), (5.0, "no"), (30.0, "no")])
def test_check_says_from_cells_of_five_metres_on_what_they_cannot_tell(
    cell: float, verdict: str, tmp_path: Path
) -> None:
    from tests.reading.folders import NORTH, WEST

    write_heights(tmp_path / "elevation.tif", slope(cell=cell), transform=(cell, 0.0, WEST, 0.0, -cell, NORTH))
    corners = ring(WEST + 20 * cell, NORTH - 40 * cell, WEST + 60 * cell, NORTH - 15 * cell)
    write_drawing(tmp_path / "parcel.geojson", polygon(corners, kind="parcel"))
    # Drawn finer they know no more.
    told = advice.allowed(read(tmp_path, ground={"error": "5 cm", "cell": "2 m"}), settings_of())
    puddles, mounds = (
        next(answer for answer in told if answer.question == question)
        for question in ("Where puddles stand", "How high mounds must be")
    )
    assert puddles.verdict == mounds.verdict == verdict
    assert (f"cells of {cell:g}\N{NO-BREAK SPACE}m " in puddles.why) == (cell >= 5.0)
