"""Trying a ground."""

from __future__ import annotations

import numpy as np
import pytest

from sitepipe.drainage.heights import whole_heights
from sitepipe.drainage.stage import trace_drainage
from sitepipe.drainage.trial import routed_heights, try_ground, whole_drops
from sitepipe.errors import InputError
from sitepipe.settings import Settings
from tests.drainage.grounds import rolling
from tests.sites import make_site, valley

PARCEL = np.zeros((60, 41), dtype=np.bool_)
PARCEL[10:50, 5:36] = True
VALLEY, _ = whole_heights(valley(60, 41, 1.0))


def test_a_trial_of_the_ground_as_it_is_gives_the_drainage_of_the_run() -> None:
    site = make_site(rolling(60, 41))
    drainage = trace_drainage(site, Settings())
    trial = try_ground(routed_heights(drainage.heights, drainage.known), 1.0, PARCEL)
    assert (trial.receiver == drainage.receiver).all()
    assert (trial.ponding_depth == drainage.ponding_depth).all()
    assert (trial.upslope_area == drainage.upslope_area).all()
    assert trial.storms == ()


def test_a_mound_across_a_valley_ponds_water_above_it() -> None:
    ground, _ = whole_heights(valley(60, 41, 1.0, fall=0.02))
    before = try_ground(ground, 1.0, PARCEL)
    dammed = ground.copy()
    dammed[30:32, 10:31] += 4000
    after = try_ground(dammed, 1.0, PARCEL)
    assert before.ponding_depth[PARCEL].sum() == 0.0
    assert after.ponding_depth[PARCEL].sum() > 5.0
    assert after.ponding_depth[PARCEL].max() == pytest.approx(0.4, abs=0.05)


def test_exits_are_where_the_parcel_loses_its_water() -> None:
    trial = try_ground(VALLEY, 1.0, PARCEL)
    main = int(trial.exits[np.argmax(trial.exit_area)])
    assert divmod(main, 41) == (49, 20)
    assert trial.exit_area.max() == trial.upslope_area[49, 20]


def test_runoff_comes_to_rest_or_leaves() -> None:
    ground, _ = whole_heights(rolling(60, 41))
    (storm,) = try_ground(ground, 2.0, PARCEL, [whole_drops(np.full(ground.shape, 0.01))]).storms
    assert storm.stored + storm.left == pytest.approx(0.01 * 4.0 * ground.size, rel=1e-9)
    assert storm.depth.sum() * 4.0 == pytest.approx(storm.stored, rel=1e-6)


def test_what_runs_off_one_side_comes_out_where_that_side_drains() -> None:
    """A valley whose west side is paved: every exit carries the runoff of its own cells, not a mean."""
    runoff = np.full((60, 41), 0.01)
    runoff[:, :20] = 0.04
    trial = try_ground(VALLEY, 1.0, PARCEL, [whole_drops(runoff)])
    main = int(np.argmax(trial.exit_area))
    behind = trial.exit_area[main]
    assert trial.storms[0].exit_volume[main] == pytest.approx(behind * 0.025, rel=0.05)
    east = trial.exits % 41 > 30
    assert trial.storms[0].exit_volume[east] == pytest.approx(0.01 * trial.exit_area[east])


def test_a_parcel_of_another_shape_is_refused() -> None:
    with pytest.raises(InputError, match="they must be the same"):
        try_ground(np.zeros((3, 3), dtype=np.int32), 1.0, np.ones((2, 2), dtype=np.bool_))
