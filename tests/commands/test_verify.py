"""``verify`` prints what an independent library makes of the drainage.

All that asks the library stands in this file: it compiles for ten seconds in each process that does.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sitepipe import cli
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.network import route
from sitepipe.drainage.second_opinion import SecondOpinion, ask_library, ask_pysheds
from sitepipe.drainage.stage import trace_drainage
from sitepipe.settings import Settings
from tests.drainage.grounds import heights_of, rolling
from tests.network import nothing_is_asked
from tests.reading.folders import make_folder
from tests.sites import make_site


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """Make a plain site: a slope without a hollow, on which both must agree."""
    make_folder(tmp_path)
    settings = 'name = "Slope"\nelevation = "elevation.tif"\nparcel = "parcel.geojson"\n'
    (tmp_path / "site.toml").write_text(settings, encoding="utf-8")
    return tmp_path


def test_the_answer_is_a_few_sentences_and_a_picture(
    site: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with nothing_is_asked(monkeypatch):
        assert cli.outcome(["verify", str(site)]) == 0
    out, _ = capsys.readouterr()
    assert out.startswith("Slope: 4,")
    assert "pysheds" in out
    assert "fills 100.0% of the cells to the same height" in " ".join(out.split())
    assert "lose no water" in " ".join(out.split())
    assert (site / "verify.png").read_bytes().startswith(b"\x89PNG")


def test_a_folder_that_cannot_be_written_is_said(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (site / "verify.png").mkdir()
    assert cli.outcome(["verify", str(site)]) == 4
    assert "is not a file" in capsys.readouterr().err


def test_a_program_reads_the_same(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.outcome(["verify", str(site), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    parts = ("share_of_directions_that_agree", "share_as_steep", "share_ours_steeper", "share_theirs_steeper")
    assert sum(told[part] for part in parts) == pytest.approx(1.0)
    assert told["share_of_filled_heights_that_agree"] == 1.0
    assert told["share_of_water_that_leaves_ours"] == 1.0
    assert not (site / "verify.png").exists()


@pytest.fixture(scope="module")
def opinion() -> SecondOpinion:
    return ask_library(trace_drainage(make_site(rolling(80, 70)), Settings()))


def test_both_flood_the_ground_to_the_same_tenth_of_a_millimetre(opinion: SecondOpinion) -> None:
    assert (opinion.library, opinion.level_agrees) == ("pysheds", 1.0)


def test_they_differ_only_where_two_ways_are_as_steep(opinion: SecondOpinion) -> None:
    assert opinion.receiver_agrees > 0.75
    assert opinion.theirs_steeper == 0.0
    assert opinion.ours_steeper < 0.005
    assert opinion.leaves == 1.0
    assert opinion.verdict.startswith("Both lose no water; they differ only where two ways are as steep")


def test_the_shares_add_up_and_the_picture_shows_the_difference(opinion: SecondOpinion) -> None:
    shares = opinion.receiver_agrees, opinion.as_steep, opinion.ours_steeper, opinion.theirs_steeper
    assert sum(shares) == pytest.approx(1.0, abs=1e-12)
    assert opinion.ours_leaves == 1.0
    assert opinion.differs.shape == (80, 70)
    assert opinion.differs.mean() == pytest.approx(1.0 - opinion.receiver_agrees)


def test_beside_unknown_ground_the_verdict_falls_by_conservation() -> None:
    """Pysheds 0.5 leaves a sink two cells from the hole (seen here); unknown cells are left out."""
    ground = rolling(80, 70)
    ground[:6, :9] = np.nan
    opinion = ask_library(trace_drainage(make_site(ground), Settings()))
    assert opinion.leaves < 1.0
    assert "pysheds loses the water of" in opinion.verdict
    assert opinion.ours_leaves == 1.0
    assert not opinion.differs[:6, :9].any()


def test_lost_water_is_said_whoever_lost_it() -> None:
    nothing = np.zeros((1, 1), dtype=np.bool_)

    def verdict(leaves: float, ours: float) -> str:
        return SecondOpinion("library", "1.0", 1.0, 1.0, 0.0, 0.0, 0.0, leaves, ours, nothing).verdict

    assert verdict(0.62, 1.0) == "library loses the water of 38.0% of the cells in inner sinks; ours loses none."
    assert verdict(1.0, 0.9) == "Ours loses the water of 10.0% of the cells: a bug, please report it."


def test_pysheds_takes_the_same_steepest_neighbours() -> None:
    """An independent library for D8 on ground without hollows and ties (recipes: a good witness for D8)."""
    y, x = np.mgrid[0:40, 0:30].astype(np.float64)
    ground = 50.0 - 0.05 * y - 0.013 * x + 0.002 * np.sin(x * 1.7 + y * 0.9)
    heights = heights_of(ground)
    assert (filled(heights) == heights).all()
    ours = route(heights).receiver
    theirs = ask_pysheds(ground)[1]
    assert (ours[1:-1, 1:-1] == theirs[1:-1, 1:-1]).all()
