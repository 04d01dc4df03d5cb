"""Every place and direction of a rectangle: against brute force, and against what was built."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from sitepipe.arrays import FloatArray
from sitepipe.works.footprints import (
    BANNED,
    HEIGHT,
    SOFT,
    SOLID,
    TABLES,
    box_grade,
    box_sum,
    level_score,
    room_score,
    try_every_place,
    turned_sums,
)
from sitepipe.works.hoop_search import Demands, SearchGround, lattice_box, place_of, rectangle, search

WEIGHTS = (3, 2, 1, 1, 1, 2, 2, 1, 1)
STEEPEST = 0.05


def random_layers(seed: int, rows: int, columns: int) -> FloatArray:
    noise = np.random.default_rng(seed)
    layers = noise.uniform(0.2, 1.0, (SOFT + 3, rows, columns))
    y, x = np.mgrid[0:rows, 0:columns]
    layers[HEIGHT] = 0.01 * x - 0.02 * y + noise.normal(0.0, 0.01, (rows, columns))
    layers[BANNED] = noise.uniform(size=(rows, columns)) < 0.03
    layers[SOLID] = noise.uniform(size=(rows, columns)) < 0.01
    return layers


def side_by_side(layers: FloatArray) -> FloatArray:
    """Put the layer last, as the search wants it."""
    return np.ascontiguousarray(np.moveaxis(layers, 0, 2))


def lattice(layers: FloatArray, cell: float, bearing: float, step: float, along: int, across: int) -> FloatArray:
    """Values on a turned lattice, point by point, without any table."""
    middle = (layers.shape[2] * cell / 2.0, layers.shape[1] * cell / 2.0)
    found = np.zeros((SOFT + 3, along, across))
    found[BANNED] = 1.0
    sine, cosine = np.sin(np.radians(bearing)), np.cos(np.radians(bearing))
    for i in range(along):
        for j in range(across):
            forward, sideways = (i - (along - 1) / 2.0) * step, (j - (across - 1) / 2.0) * step
            column = int(np.floor((middle[0] + forward * sine + sideways * cosine) / cell))
            row = int(np.floor((middle[1] - forward * cosine + sideways * sine) / cell))
            if 0 <= row < layers.shape[1] and 0 <= column < layers.shape[2]:
                found[:, i, j] = layers[:, row, column]
    return found


def brute_score(
    points: FloatArray, i: int, j: int, box: tuple[int, int], rooms: tuple[int, int, int]
) -> tuple[float, float]:
    """Return the hope and the score of one place, straight from the points below it."""
    part = points[:, i : i + box[0], j : j + box[1]]
    means = part[:SOFT].reshape(SOFT, -1).mean(axis=1)
    hope = means[1] ** WEIGHTS[1] * means[2] ** WEIGHTS[2]
    if part[BANNED].sum() > 0.5:
        return float(hope), 0.0
    u, v = np.mgrid[0 : box[0], 0 : box[1]].astype(np.float64)
    terms = np.column_stack([u.ravel(), v.ravel(), np.ones(u.size)])
    slope = np.linalg.lstsq(terms, part[HEIGHT].ravel(), rcond=None)[0]
    level = np.clip((STEEPEST - np.hypot(slope[0], slope[1])) / (0.8 * STEEPEST), 0.0, 1.0)
    room = 0.0
    for margin, value in zip(rooms, (0.5, 0.75, 1.0), strict=True):
        around = points[SOLID, max(i - margin, 0) : i + box[0] + margin, max(j - margin, 0) : j + box[1] + margin]
        if around.sum() > 0.5:
            break
        room = value
    score = hope * level ** WEIGHTS[5] * room ** WEIGHTS[7]
    for layer in (0, 3, 4):
        score *= means[layer] ** WEIGHTS[layer]
    return float(hope), float(score)


@pytest.mark.parametrize("bearing", [0.0, 30.0, 90.0, 127.5])
def test_every_place_scores_as_brute_force_says(bearing: float) -> None:
    rows, columns, cell, step = 22, 26, 1.0, 1.0
    layers = random_layers(7, rows, columns)
    along, across, box, rooms = 34, 34, (7, 4), (1, 2, 3)
    tables = turned_sums(side_by_side(layers), cell, np.array([13.0, 11.0]), bearing, step, along, across)
    best, hoped = np.zeros((rows, columns, 4)), np.zeros((rows, columns, 4))
    try_every_place(
        tables,
        np.ones((rows, columns)),
        cell,
        np.array([13.0, 11.0]),
        bearing,
        step,
        np.array(box),
        np.array(rooms),
        np.array(WEIGHTS),
        STEEPEST,
        np.array([1.0, 0.0]),
        1.0,
        best,
        hoped,
    )
    points = lattice(layers, cell, bearing, step, along, across)
    expected, expected_hope = np.zeros((rows, columns)), np.zeros((rows, columns))
    sine, cosine = np.sin(np.radians(bearing)), np.cos(np.radians(bearing))
    for i in range(along - box[0] + 1):
        for j in range(across - box[1] + 1):
            forward = (i + (box[0] - 1) / 2.0 - (along - 1) / 2.0) * step
            sideways = (j + (box[1] - 1) / 2.0 - (across - 1) / 2.0) * step
            east, south = 13.0 + forward * sine + sideways * cosine, 11.0 - forward * cosine + sideways * sine
            row, column = int(np.floor(south)), int(np.floor(east))
            if 0 <= row < rows and 0 <= column < columns:
                hope, score = brute_score(points, i, j, box, rooms)
                expected[row, column] = max(expected[row, column], score)
                expected_hope[row, column] = max(expected_hope[row, column], hope)
    assert np.allclose(best[..., 0], expected, rtol=1e-9, atol=1e-12)
    assert np.allclose(hoped[..., 0], expected_hope, rtol=1e-9, atol=1e-12)
    assert (best[..., 0] > 0.0).sum() > 10


def test_the_search_finds_the_best_of_all_outlines_tried_one_by_one() -> None:
    """Brute force over outlines: shapely says which of 25 points a cell lie inside, no lattice and no table."""
    size, cell = 24, 0.5
    y, x = np.mgrid[0:size, 0:size]
    goodness = np.exp(-(((x - 15.2) / 4.0) ** 2 + ((y - 8.7) / 2.0) ** 2)) * 0.9 + 0.05
    layers = np.ones((SOFT + 3, size, size))
    layers[0] = goodness
    layers[HEIGHT] = layers[BANNED] = layers[SOLID] = 0.0
    ground = SearchGround(0.0, size * cell, cell, side_by_side(layers), np.ones((size, size)))
    bearings = tuple((bearing, 1.0) for bearing in (0.0, 45.0, 90.0, 135.0))
    demands = Demands((0.0, 0.0, 0.0), np.array((1, 0, 0, 0, 0, 0, 0, 0, 0)), 0.05)
    found, _ = search(ground, (4.0, 1.5), bearings, demands)
    fine = (np.arange(size * 5) + 0.5) * cell / 5.0
    centres_x, centres_y = np.meshgrid(fine, fine[::-1])
    fine_goodness = np.repeat(np.repeat(goodness, 5, axis=0), 5, axis=1)
    best = (0.0, 0.0, 0.0, 0.0)
    for bearing, _ in bearings:
        for place_x in np.arange(2.0, 10.01, 0.25):
            for place_y in np.arange(2.0, 10.01, 0.25):
                outline = rectangle(place_x, place_y, bearing, 4.0, 1.5)
                below = shapely.contains_xy(outline, centres_x, centres_y)
                mean = float(fine_goodness[below].mean())
                best = max(best, (mean, place_x, place_y, bearing))
    first = place_of(found[0])
    assert first.bearing == best[3] == 90.0
    assert abs(first.x - best[1]) <= 0.5
    assert abs(first.y - best[2]) <= 0.5
    assert first.product == pytest.approx(best[0], rel=0.03)


@settings(max_examples=40, deadline=None)
@given(st.floats(-0.1, 0.1), st.floats(-0.1, 0.1), st.floats(0.0, 180.0))
def test_the_plane_below_a_box_is_as_steep_as_it_was_built(east: float, south: float, bearing: float) -> None:
    rows = columns = 80
    layers = np.zeros((SOFT + 3, rows, columns))
    y, x = np.mgrid[0:rows, 0:columns] + 0.5
    layers[HEIGHT] = east * x * 0.05 + south * y * 0.05
    tables = turned_sums(side_by_side(layers), 0.05, np.array([2.0, 2.0]), bearing, 0.05, 40, 40)
    assert box_grade(tables, 10, 12, 20, 12, 0.05) == pytest.approx(np.hypot(east, south), abs=6e-3)


def test_beyond_the_cells_all_is_banned() -> None:
    tables = turned_sums(np.zeros((4, 4, SOFT + 3)), 1.0, np.array([2.0, 2.0]), 0.0, 1.0, 8, 8)
    assert tables.shape == (9, 9, TABLES)
    assert tables[8, 8, BANNED] == 64.0 - 16.0


def test_a_sum_that_reaches_over_the_edge_counts_what_there_is() -> None:
    tables = turned_sums(np.ones((4, 4, SOFT + 3)), 1.0, np.array([2.0, 2.0]), 0.0, 1.0, 4, 4)
    assert box_sum(tables, 0, -2, -2, 4, 4) == 4.0


def test_room_falls_as_something_solid_comes_nearer() -> None:
    rooms = np.array([2, 4, 6])
    scores = []
    for distance in (1, 3, 5, 7):
        layers = np.zeros((SOFT + 3, 40, 40))
        layers[SOLID, 20, 20 + 5 + distance] = 1.0
        tables = turned_sums(side_by_side(layers), 1.0, np.array([20.0, 20.0]), 90.0, 1.0, 40, 40)
        # bearing 90: along runs east; the box covers columns 15 to 24, rows 18 to 21
        scores.append(room_score(tables, 15, 18, 10, 4, rooms))
    assert scores == [0.0, 0.5, 0.75, 1.0]


@pytest.mark.parametrize(("grade", "score"), [(0.0, 1.0), (0.01, 1.0), (0.03, 0.5), (0.05, 0.0), (0.2, 0.0)])
def test_level_counts_from_a_fifth_of_the_steepest(grade: float, score: float) -> None:
    assert level_score(grade, 0.05) == pytest.approx(score)


def test_the_lattice_box_covers_the_house() -> None:
    assert lattice_box((9.0, 4.2), 0.5).tolist() == [18, 8]
    assert lattice_box((3.0, 2.0), 5.0).tolist() == [2, 2]


def test_the_same_search_gives_the_same_places() -> None:
    layers = random_layers(3, 30, 30)
    layers[BANNED] = 0.0
    ground = SearchGround(0.0, 30.0, 1.0, side_by_side(layers), np.ones((30, 30)))
    bearings = tuple((15.0 * k, 1.0) for k in range(12))
    demands = Demands((0.0, 0.0, 0.0), np.array(WEIGHTS), 0.05)
    once, again = (search(ground, (6.0, 3.0), bearings, demands) for _ in range(2))
    assert np.array_equal(once[0], again[0])
    assert np.array_equal(once[1], again[1])
