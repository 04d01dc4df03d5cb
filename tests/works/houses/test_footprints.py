"""Every place and direction of a rectangle: against brute force, and against what was built."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from sitepipe.arrays import FloatArray
from sitepipe.works.houses.footprints import (
    BANNED,
    HEIGHT,
    SOFT,
    SOLID,
    Lattice,
    Wishes,
    box_grade,
    box_sum,
    level_score,
    room_score,
    try_every_place,
    turned_sums,
)
from sitepipe.works.houses.search import SearchGround, lattice_box, place_of, rectangle, search

WEIGHTS = (3, 2, 1, 1, 1, 2, 2, 1, 1)
"""Of five averaged layers, of level, access, room and direction."""
LAYERS = SOFT + 5
IS_HOPED = (False, True, True, False, False)
STEEPEST = 0.05


def random_layers(seed: int, rows: int, columns: int) -> FloatArray:
    noise = np.random.default_rng(seed)
    layers = noise.uniform(0.2, 1.0, (LAYERS, rows, columns))
    y, x = np.mgrid[0:rows, 0:columns]
    layers[HEIGHT] = 0.01 * x - 0.02 * y + noise.normal(0.0, 0.01, (rows, columns))
    layers[BANNED] = noise.uniform(size=(rows, columns)) < 0.03
    layers[SOLID] = noise.uniform(size=(rows, columns)) < 0.01
    return layers


def side_by_side(layers: FloatArray) -> FloatArray:
    """Put the layer last, as the search wants it."""
    return np.ascontiguousarray(np.moveaxis(layers, 0, 2))


@dataclass(frozen=True)
class Trial:
    """A search over one lattice, its cells and its wishes."""

    layers: FloatArray
    access: FloatArray
    cell: float = 1.0
    middle: tuple[float, float] = (13.0, 11.0)
    bearing: float = 0.0
    step: float = 1.0
    points: tuple[int, int] = (34, 34)
    box: tuple[int, int] = (7, 4)
    rooms: tuple[int, int, int] = (1, 2, 3)
    weights: tuple[int, ...] = WEIGHTS
    least: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0, 0.0)
    direction: tuple[float, float] = (1.0, 0.0)
    bin_side: float = 1.0

    @property
    def bins(self) -> tuple[int, int]:
        rows, columns = self.access.shape
        return int(rows * self.cell / self.bin_side) + 1, int(columns * self.cell / self.bin_side) + 1

    def place(self, i: float, j: float) -> tuple[float, float]:
        """Return a lattice point, east and south of the corner. [m]."""
        forward, sideways = ((k - (n - 1) / 2.0) * self.step for k, n in zip((i, j), self.points, strict=True))
        sine, cosine = np.sin(np.radians(self.bearing)), np.cos(np.radians(self.bearing))
        return (
            self.middle[0] + forward * sine + sideways * cosine,
            self.middle[1] - forward * cosine + sideways * sine,
        )

    def cell_of(self, i: float, j: float) -> tuple[int, int] | None:
        east, south = self.place(i, j)
        row, column = int(np.floor(south / self.cell)), int(np.floor(east / self.cell))
        return (row, column) if 0 <= row < self.access.shape[0] and 0 <= column < self.access.shape[1] else None

    def lattice(self) -> FloatArray:
        """Values on the turned lattice, point by point, without any table."""
        found = np.zeros((LAYERS, *self.points))
        found[BANNED] = 1.0
        for i in range(self.points[0]):
            for j in range(self.points[1]):
                cell = self.cell_of(i, j)
                if cell is not None:
                    found[:, i, j] = self.layers[:, *cell]
        return found

    def tables(self, space: FloatArray | None = None) -> FloatArray:
        ground = side_by_side(self.layers)
        room = np.zeros(0) if space is None else space
        return turned_sums(ground, self.shape, *self.points, room)

    @property
    def shape(self) -> Lattice:
        return Lattice(self.cell, *self.middle, self.bearing, self.step)

    @property
    def wishes(self) -> Wishes:
        weights = np.array(self.weights[:5])
        return Wishes(weights, np.array(self.least), np.array(IS_HOPED), self.weights[5], self.weights[7], STEEPEST)

    def tried(self) -> tuple[FloatArray, FloatArray]:
        best, hoped = np.zeros((*self.bins, 4)), np.zeros((*self.bins, 4))
        try_every_place(
            self.tables(),
            np.where(self.access > 0.0, self.access ** self.weights[6], 0.0),
            self.shape,
            np.array(self.box),
            np.array(self.rooms),
            self.wishes,
            np.array((self.direction[0] ** self.weights[8], self.direction[1])),
            self.bin_side,
            best,
            hoped,
        )
        return best, hoped

    def expected(self) -> tuple[FloatArray, FloatArray]:
        """Try every place by its points; the first of equals stays."""
        points = self.lattice()
        best, hoped = np.zeros((*self.bins, 4)), np.zeros((*self.bins, 4))
        for i in range(self.points[0] - self.box[0] + 1):
            for j in range(self.points[1] - self.box[1] + 1):
                at = (i + (self.box[0] - 1) / 2.0, j + (self.box[1] - 1) / 2.0)
                cell = self.cell_of(*at)
                if cell is None or self.access[cell] == 0.0:
                    continue
                east, south = self.place(*at)
                entry = int(south / self.bin_side), int(east / self.bin_side)
                wish = self.direction[0] ** self.weights[8] * float(self.access[cell]) ** self.weights[6]
                hope, score = self.brute_score(points, i, j)
                for kept, value in ((hoped, wish * hope), (best, wish * score)):
                    if value > kept[entry][0]:
                        kept[entry] = value, self.direction[1], east, south
        return best, hoped

    def brute_score(self, points: FloatArray, i: int, j: int) -> tuple[float, float]:
        """Return the hope and the score of one place, straight from the points below it."""
        box, weights = self.box, self.weights
        part = points[:, i : i + box[0], j : j + box[1]]
        means = part[SOFT:].reshape(LAYERS - SOFT, -1).mean(axis=1)
        hope = means[1] ** weights[1] * means[2] ** weights[2]
        if part[BANNED].sum() > 0.5 or (means < self.least).any():
            return float(hope), 0.0
        u, v = np.mgrid[0 : box[0], 0 : box[1]] * self.step
        terms = np.column_stack([u.ravel(), v.ravel(), np.ones(u.size)])
        slope = np.linalg.lstsq(terms, part[HEIGHT].ravel(), rcond=None)[0]
        level = np.clip((STEEPEST - np.hypot(slope[0], slope[1])) / (0.8 * STEEPEST), 0.0, 1.0)
        room = 0.0
        for margin, value in zip(self.rooms, (0.5, 0.75, 1.0), strict=True):
            around = points[SOLID, max(i - margin, 0) : i + box[0] + margin, max(j - margin, 0) : j + box[1] + margin]
            if around.sum() > 0.5:
                break
            room = value
        score = hope * level ** weights[5] * room ** weights[7]
        for layer in (0, 3, 4):
            score *= means[layer] ** weights[layer]
        return float(hope), float(score)


@pytest.mark.parametrize(
    "trial",
    [
        *(Trial(random_layers(7, 22, 26), np.ones((22, 26)), bearing=bearing) for bearing in (0.0, 30.0, 90.0, 127.5)),
        # Cells, steps and bins of other sizes, a lattice beside the middle, ground that is hard to reach.
        Trial(
            random_layers(8, 12, 15),
            np.random.default_rng(5).choice([0.0, 0.3, 0.8, 1.0], (12, 15)),
            cell=2.0,
            middle=(14.0, 10.5),
            bearing=62.0,
            step=0.9,
            points=(30, 25),
            box=(4, 5),
            rooms=(0, 2, 5),
            weights=(1, 2, 1, 2, 1, 1, 2, 2, 3),
            direction=(0.7, 5.0),
            bin_side=3.0,
        ),
        # A way in that weighs nothing still must be there.
        Trial(
            random_layers(9, 9, 20),
            np.random.default_rng(6).choice([0.0, 0.4], (9, 20)),
            cell=0.5,
            middle=(5.2, 2.0),
            bearing=200.0,
            step=0.4,
            points=(17, 30),
            box=(3, 2),
            weights=(1, 1, 1, 1, 1, 1, 0, 1, 1),
            direction=(0.9, 2.0),
            bin_side=0.7,
        ),
        # Places that are too poor in one thing are none, though one would hope for them.
        Trial(random_layers(7, 22, 26), np.ones((22, 26)), bearing=75.0, least=(0.58, 0.55, 0.0, 0.5, 0.0)),
        # A single line of points has no plane across.
        Trial(
            random_layers(4, 8, 9),
            np.ones((8, 9)),
            middle=(4.5, 4.0),
            bearing=11.0,
            points=(8, 9),
            box=(4, 1),
            step=1.3,
        ),
        Trial(random_layers(4, 8, 9), np.ones((8, 9)), middle=(4.5, 4.0), points=(12, 11), box=(1, 3), bearing=20.0),
    ],
)
def test_every_place_scores_as_brute_force_says(trial: Trial) -> None:
    for found, expected in zip(trial.tried(), trial.expected(), strict=True):
        assert (expected[..., 0] > 0.0).sum() > 10
        np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-12)


def test_of_equal_places_in_a_bin_the_first_is_kept() -> None:
    even = np.ones((LAYERS, 9, 9))
    even[[HEIGHT, BANNED, SOLID]] = 0.0
    trial = Trial(even, np.ones((9, 9)), middle=(4.5, 4.5), points=(9, 9), box=(2, 2), bin_side=3.0)
    for found, expected in zip(trial.tried(), trial.expected(), strict=True):
        np.testing.assert_array_equal(found, expected)


@settings(max_examples=60)
@given(st.integers(-4, 9), st.integers(-4, 8), st.integers(5, 14), st.integers(5, 14), st.integers(0, LAYERS - 1))
def test_a_box_sums_its_points_and_what_reaches_over_the_edge_is_cut(
    i: int, j: int, along: int, across: int, layer: int
) -> None:
    trial = Trial(random_layers(2, 6, 7), np.ones((6, 7)), middle=(3.5, 3.0), bearing=35.0, points=(9, 8))
    part = trial.lattice()[layer, max(i, 0) : i + along, max(j, 0) : j + across]
    assert box_sum(trial.tables(), layer, i, j, along, across) == pytest.approx(part.sum(), abs=1e-9)


@pytest.mark.parametrize("spare", [-1, 0, 1, 500])
def test_room_that_was_used_before_changes_no_table(spare: int) -> None:
    trial = Trial(random_layers(2, 6, 7), np.ones((6, 7)), middle=(3.5, 3.0), points=(9, 8))
    used = np.full(10 * 9 * (LAYERS + 2) + spare, np.nan)
    np.testing.assert_array_equal(trial.tables(used), trial.tables())
    assert np.isfinite(trial.tables(used)).all()


def test_the_search_finds_the_best_of_all_outlines_tried_one_by_one() -> None:
    """Brute force over outlines: shapely says which of 25 points a cell lie inside, no lattice and no table."""
    size, cell = 24, 0.5
    y, x = np.mgrid[0:size, 0:size]
    goodness = np.exp(-(((x - 15.2) / 4.0) ** 2 + ((y - 8.7) / 2.0) ** 2)) * 0.9 + 0.05
    layers = np.ones((LAYERS, size, size))
    layers[SOFT] = goodness
    layers[HEIGHT] = layers[BANNED] = layers[SOLID] = 0.0
    only = Wishes(np.array((1, 0, 0, 0, 0)), np.zeros(5), np.array(IS_HOPED), 0, 0, 0.05)
    ground = SearchGround(0.0, size * cell, cell, side_by_side(layers), np.ones((size, size)), only, (0.0, 0.0, 0.0))
    bearings = tuple((bearing, 1.0) for bearing in (0.0, 45.0, 90.0, 135.0))
    found, _ = search(ground, (4.0, 1.5), bearings)
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
    layers = np.zeros((LAYERS, rows, columns))
    y, x = np.mgrid[0:rows, 0:columns] + 0.5
    layers[HEIGHT] = east * x * 0.05 + south * y * 0.05
    tables = turned_sums(side_by_side(layers), Lattice(0.05, 2.0, 2.0, bearing, 0.05), 40, 40, np.zeros(0))
    assert box_grade(tables, 10, 12, 20, 12, 0.05) == pytest.approx(np.hypot(east, south), abs=6e-3)


def test_beyond_the_cells_all_is_banned() -> None:
    tables = turned_sums(np.zeros((4, 4, LAYERS)), Lattice(1.0, 2.0, 2.0, 0.0, 1.0), 8, 8, np.zeros(0))
    assert tables.shape == (9, 9, LAYERS + 2)
    assert tables[8, 8, BANNED] == 64.0 - 16.0


def test_a_sum_that_reaches_over_the_edge_counts_what_there_is() -> None:
    tables = turned_sums(np.ones((4, 4, LAYERS)), Lattice(1.0, 2.0, 2.0, 0.0, 1.0), 4, 4, np.zeros(0))
    assert box_sum(tables, 0, -2, -2, 4, 4) == 4.0


def test_room_falls_as_something_solid_comes_nearer() -> None:
    rooms = np.array([2, 4, 6])
    scores = []
    for distance in (1, 3, 5, 7):
        layers = np.zeros((LAYERS, 40, 40))
        layers[SOLID, 20, 20 + 5 + distance] = 1.0
        tables = turned_sums(side_by_side(layers), Lattice(1.0, 20.0, 20.0, 90.0, 1.0), 40, 40, np.zeros(0))
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
    wishes = Trial(layers, np.ones((30, 30))).wishes
    ground = SearchGround(0.0, 30.0, 1.0, side_by_side(layers), np.ones((30, 30)), wishes, (0.0, 0.0, 0.0))
    bearings = tuple((15.0 * k, 1.0) for k in range(12))
    once, again = (search(ground, (6.0, 3.0), bearings) for _ in range(2))
    assert np.array_equal(once[0], again[0])
    assert np.array_equal(once[1], again[1])
