"""``verify`` prints what an independent library makes of the drainage."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sitepipe import cli
from tests.reading.folders import make_folder


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """Make a plain site: a slope without a hollow, on which both must agree."""
    make_folder(tmp_path)
    settings = 'name = "Slope"\nelevation = "elevation.tif"\nparcel = "parcel.geojson"\n'
    (tmp_path / "site.toml").write_text(settings, encoding="utf-8")
    return tmp_path


def test_the_answer_is_a_few_sentences_and_a_picture(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli._outcome(["verify", str(site)]) == 0
    out, _ = capsys.readouterr()
    assert out.startswith("Slope: 4,")
    assert "pysheds" in out
    assert "fills 100.0% of the cells to the same height" in " ".join(out.split())
    assert "lose no water" in " ".join(out.split())
    assert (site / "verify.png").read_bytes().startswith(b"\x89PNG")


def test_a_folder_that_cannot_be_written_is_said(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (site / "verify.png").mkdir()
    assert cli._outcome(["verify", str(site)]) == 4
    assert "cannot be written" in capsys.readouterr().err


def test_a_program_reads_the_same(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli._outcome(["verify", str(site), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    parts = ("share_of_directions_that_agree", "share_as_steep", "share_ours_steeper", "share_theirs_steeper")
    assert sum(told[part] for part in parts) == pytest.approx(1.0)
    assert told["share_of_filled_heights_that_agree"] == 1.0
    assert told["share_of_water_that_leaves_ours"] == 1.0
    assert not (site / "verify.png").exists()
