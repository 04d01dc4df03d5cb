"""A surface model as what stands on the ground."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sitepipe.errors import InputError, SettingsError
from sitepipe.reading.obstacles import obstacles_of
from sitepipe.units import FOOT
from tests.reading.folders import NORTH, WEST, make_folder, read, slope, write_heights


def house(offset: float = 0.0) -> np.ndarray:
    surface = slope() + offset
    surface[20:30, 35:45] += 6.0
    surface[0:5, 0:5] += 0.2
    return surface


def test_what_stands_on_the_ground_is_the_excess_of_the_surface(tmp_path: Path) -> None:
    make_folder(tmp_path)
    write_heights(tmp_path / "dsm.tif", house())
    site = read(tmp_path, surface="dsm.tif")
    row, column = site.grid.cell_at(WEST + 40.0, NORTH - 25.0)
    assert site.obstacle_height[row, column] == pytest.approx(6.0)
    assert (site.obstacle_height > 0.0).sum() == 100
    assert any("dsm.tif shows something standing" in said for said in site.assumptions)


def test_a_surface_on_a_shifted_grid_is_laid_where_it_belongs(tmp_path: Path) -> None:
    """The same house from cells half a metre off and twice as fine."""
    make_folder(tmp_path)
    fine = np.repeat(np.repeat(house(), 2, axis=0), 2, axis=1)
    write_heights(tmp_path / "dsm.tif", fine, transform=(0.5, 0.0, WEST, 0.0, -0.5, NORTH))
    site = read(tmp_path, surface="dsm.tif")
    rows, columns = np.nonzero(site.obstacle_height > 3.0)
    x = site.grid.x[columns]
    assert (x.min(), x.max()) == (WEST + 35.5, WEST + 44.5)
    assert site.grid.y[rows].max() == NORTH - 20.5


def test_a_surface_of_another_level_is_shifted_and_said_to_be(tmp_path: Path) -> None:
    make_folder(tmp_path)
    write_heights(tmp_path / "dsm.tif", house(1.3))
    site = read(tmp_path, surface="dsm.tif")
    assert site.obstacle_height.max() == pytest.approx(6.0)
    assert any("lies +1.30 m off the ground" in warning for warning in site.warnings)


def test_a_surface_in_feet_over_ground_in_metres_is_asked_about(tmp_path: Path) -> None:
    make_folder(tmp_path)
    write_heights(tmp_path / "dsm.tif", house() / FOOT)
    with pytest.raises(SettingsError, match=r"3\.28 times as high as the ground.*surface_unit = 'ft'"):
        read(tmp_path, surface="dsm.tif")
    site = read(tmp_path, surface="dsm.tif", surface_unit="ft")
    assert site.obstacle_height.max() == pytest.approx(6.0, abs=1e-4)


def test_a_surface_without_a_place_beside_ground_with_one_is_refused(tmp_path: Path) -> None:
    make_folder(tmp_path)
    write_heights(tmp_path / "dsm.tif", house(), None, (1.0, 0.0, 10.0, 0.0, -1.0, 20.0))
    with pytest.raises(InputError, match="cannot be laid on one another"):
        read(tmp_path, surface="dsm.tif")


def test_grass_and_holes_stand_on_nothing() -> None:
    ground = np.full((4, 4), 5.0)
    surface = ground + 0.3
    surface[0, 0], surface[1, 1], surface[2, 2] = np.nan, 4.0, 9.0
    height = obstacles_of(surface, ground, "dsm.tif", is_same_survey=True).height
    assert height[2, 2] == pytest.approx(4.0)
    assert (height > 0.0).sum() == 1
