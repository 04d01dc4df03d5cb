"""``verify`` prints what independent libraries make of the drainage."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sitepipe import cli
from tests.reading.folders import make_folder


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """Make a plain site: a slope without a hollow, on which every library must agree."""
    make_folder(tmp_path)
    settings = 'name = "Slope"\nelevation = "elevation.tif"\nparcel = "parcel.geojson"\n'
    (tmp_path / "site.toml").write_text(settings, encoding="utf-8")
    return tmp_path


def test_every_library_is_named_with_its_share_and_a_verdict(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli._outcome(["verify", str(site)]) == 0
    out, _ = capsys.readouterr()
    assert out.startswith("Slope: 4,")
    for library in ("pysheds", "pyflwdir"):
        assert f"\n{library} " in out
    assert out.count("Filled heights agree on 100.00% of the cells") == 2
    assert out.count("lose no water") == 2


def test_a_program_reads_the_same(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli._outcome(["verify", str(site), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [opinion["library"] for opinion in told["opinions"]] == ["pysheds", "pyflwdir"]
    for opinion in told["opinions"]:
        parts = ("share_of_directions_that_agree", "share_as_steep", "share_ours_steeper", "share_theirs_steeper")
        assert sum(opinion[part] for part in parts) == pytest.approx(1.0)
        assert opinion["share_of_filled_heights_that_agree"] == 1.0
        assert opinion["share_of_water_that_leaves_ours"] == 1.0
    assert told["not_asked"] == []
