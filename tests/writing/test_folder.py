"""A folder of results is replaced whole, or what stood there stays."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

from sitepipe.errors import SettingsError, WritingError
from sitepipe.writing import folder
from sitepipe.writing.folder import claimed, files_in
from tests.writing.short_run import copy_of, leftovers


def fill(place: Path, files: Mapping[str, str]) -> None:
    """Write what a run would, with the note by which its folder is known."""
    for name, content in files.items():
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        (place / name).write_text(content, encoding="utf-8")
    noted = {"made_by": "sitepipe", "files": sorted([*files_in(place), "run.json"])}
    (place / "run.json").write_text(json.dumps(noted), encoding="utf-8")


def make_run(target: Path, **files: str) -> dict[str, bytes]:
    """Let a run finish; return what it left."""
    with claimed(target) as fresh:
        fill(fresh, files or {"map.html": "first", "layers/slope.tif": "first"})
    return copy_of(target)


@pytest.fixture(params=["exchange", "two renames"])
def _both_swaps(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Try what follows on systems that can exchange two names in one step, and on those that cannot."""
    if request.param == "two renames":
        monkeypatch.setattr(folder, "_exchange", lambda *_: False)


@pytest.mark.usefixtures("_both_swaps")
def test_a_second_run_replaces_the_first_and_nothing_of_it_is_left(tmp_path: Path) -> None:
    make_run(tmp_path / "out")
    after = make_run(tmp_path / "out", **{"map.html": "second"})
    assert sorted(after) == ["map.html", "run.json"]
    assert after["map.html"] == b"second"
    assert leftovers(tmp_path) == []


@pytest.mark.usefixtures("_both_swaps")
def test_what_the_user_put_beside_the_results_is_kept(tmp_path: Path) -> None:
    make_run(tmp_path / "out")
    (tmp_path / "out" / "notes.txt").write_text("bring the level", encoding="utf-8")
    (tmp_path / "out" / "layers" / "mine.tif").write_text("mine", encoding="utf-8")
    (tmp_path / "out" / "link").symlink_to("notes.txt")
    after = make_run(tmp_path / "out", **{"map.html": "second"})
    assert after["notes.txt"] == b"bring the level"
    assert after["layers/mine.tif"] == b"mine"
    assert "layers/slope.tif" not in after
    assert (tmp_path / "out" / "link").readlink() == Path("notes.txt")


def test_what_a_viewer_left_beside_our_own_files_goes_with_them(tmp_path: Path) -> None:
    make_run(tmp_path / "out", **{"plan.gpkg": "first"})
    (tmp_path / "out" / "plan.gpkg-wal").write_text("stale", encoding="utf-8")
    assert "plan.gpkg-wal" not in make_run(tmp_path / "out", **{"plan.gpkg": "second"})


def test_a_file_of_the_user_that_a_run_would_cover_stops_the_run(tmp_path: Path) -> None:
    make_run(tmp_path / "out")
    (tmp_path / "out" / "plan.pdf").write_text("drawn by my neighbour", encoding="utf-8")
    with pytest.raises(WritingError, match=r"plan.pdf in out is not of an earlier run"):
        make_run(tmp_path / "out", **{"plan.pdf": "ours"})
    assert (tmp_path / "out" / "plan.pdf").read_text(encoding="utf-8") == "drawn by my neighbour"
    assert leftovers(tmp_path) == []


@pytest.mark.parametrize(
    "note",
    [None, "{}", "[]", '{"made_by": "someone else", "files": []}', '{"made_by": "sitepipe"}', "\x00", "{" * 5000],
)
def test_a_folder_that_no_run_made_is_refused(note: str | None, tmp_path: Path) -> None:
    target = tmp_path / "photos"
    target.mkdir()
    (target / "grandmother.jpg").write_text("irreplaceable", encoding="utf-8")
    if note is not None:
        (target / "run.json").write_text(note, encoding="utf-8")
    before = copy_of(target)
    with pytest.raises(WritingError, match=r"is not empty and holds no run.json of an earlier run"):
        make_run(target)
    assert copy_of(target) == before
    assert leftovers(tmp_path) == []


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    assert "map.html" in make_run(tmp_path / "out")


@pytest.mark.usefixtures("_both_swaps")
@pytest.mark.parametrize("raised", [ValueError("our bug"), KeyboardInterrupt(), MemoryError()])
def test_an_error_within_leaves_the_earlier_run_and_nothing_else(raised: BaseException, tmp_path: Path) -> None:
    before = make_run(tmp_path / "out")

    def stumble() -> None:
        with claimed(tmp_path / "out") as fresh:
            fill(fresh, {"map.html": "half"})
            raise raised

    with pytest.raises(type(raised)):
        stumble()
    assert copy_of(tmp_path / "out") == before
    assert leftovers(tmp_path) == []


def test_a_full_disk_is_told_with_its_remedy(tmp_path: Path) -> None:
    before = make_run(tmp_path / "out")

    def fill_up() -> None:
        with claimed(tmp_path / "out"):
            raise OSError(28, "No space left on device")

    with pytest.raises(WritingError, match=r"No space left on device.*untouched. Free some space"):
        fill_up()
    assert copy_of(tmp_path / "out") == before


def test_an_input_within_the_results_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    make_run(tmp_path / "out")
    heights = tmp_path / "out" / "elevation.tif"
    heights.write_text("heights", encoding="utf-8")
    with pytest.raises(SettingsError, match="which the run reads"), claimed(tmp_path / "out", [heights]):
        raise AssertionError("a folder was handed out")
    with pytest.raises(SettingsError, match="which the run reads"), claimed(tmp_path, [tmp_path]):
        raise AssertionError("a folder was handed out")
    assert heights.read_text(encoding="utf-8") == "heights"


@pytest.mark.case(91)
def test_a_link_to_a_folder_is_followed_and_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "disk").mkdir()
    (tmp_path / "out").symlink_to(tmp_path / "disk" / "results")
    make_run(tmp_path / "out")
    make_run(tmp_path / "out", **{"map.html": "second"})
    assert (tmp_path / "out").is_symlink()
    assert (tmp_path / "disk" / "results" / "map.html").read_text(encoding="utf-8") == "second"
    assert leftovers(tmp_path / "disk") == []


@pytest.mark.case(92)
def test_links_in_a_ring_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    with pytest.raises(WritingError, match="cannot be a folder for results"):
        make_run(tmp_path / "a")


def test_a_file_or_a_missing_parent_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(WritingError, match="is a file, not a folder"):
        make_run(tmp_path / "file")
    with pytest.raises(WritingError, match="its parent folder does not exist"):
        make_run(tmp_path / "none" / "out")
    with pytest.raises(WritingError, match="parent folder does not exist"):
        make_run(tmp_path / "file" / "out")
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize("name", ["with space", "åéî 🌧", "n" * 255, "CON", "aux.", "-out", "--", "a\nb"])
@pytest.mark.case(93)
def test_odd_names_are_only_names(name: str, tmp_path: Path) -> None:
    make_run(tmp_path / name)
    after = make_run(tmp_path / name, **{"map.html": "second"})
    assert after["map.html"] == b"second"
    assert leftovers(tmp_path) == []


@pytest.mark.case(94)
def test_names_that_differ_in_case_alone_do_not_share_their_temporary_names(tmp_path: Path) -> None:
    with claimed(tmp_path / "Out") as upper, claimed(tmp_path / "out") as lower:
        assert upper != lower
        fill(upper, {"map.html": "upper"})
        fill(lower, {"map.html": "lower"})
    assert copy_of(tmp_path / "Out")["map.html"] == b"upper"
    assert copy_of(tmp_path / "out")["map.html"] == b"lower"


def test_a_folder_held_by_a_run_is_refused_and_free_again_afterwards(tmp_path: Path) -> None:
    with claimed(tmp_path / "out") as fresh:
        with pytest.raises(WritingError, match="is being written by another run"):
            make_run(tmp_path / "out")
        fill(fresh, {"map.html": "first"})
    assert "map.html" in make_run(tmp_path / "out")


@pytest.mark.case(98)
def test_the_lock_of_a_killed_run_is_no_lock(tmp_path: Path) -> None:
    make_run(tmp_path / "out")
    (tmp_path / f"{folder.temporary_stem(tmp_path / 'out')}.lock").touch()
    make_run(tmp_path / "out", **{"map.html": "second"})
    assert leftovers(tmp_path) == []


def test_what_a_killed_run_left_is_cleared_by_the_next(tmp_path: Path) -> None:
    stem = folder.temporary_stem(tmp_path / "out")
    make_run(tmp_path / "out")
    (tmp_path / f"{stem}.new-abc" / "layers").mkdir(parents=True)
    make_run(tmp_path / "out")
    assert leftovers(tmp_path) == []


def test_a_run_killed_between_two_renames_gives_the_earlier_one_back(tmp_path: Path) -> None:
    before = make_run(tmp_path / "out")
    (tmp_path / "out").rename(tmp_path / f"{folder.temporary_stem(tmp_path / 'out')}.earlier")

    def stumble() -> None:
        with claimed(tmp_path / "out"):
            assert copy_of(tmp_path / "out") == before
            raise ValueError("our bug")

    with pytest.raises(ValueError, match="our bug"):
        stumble()
    assert copy_of(tmp_path / "out") == before


@pytest.mark.case(89)
def test_a_folder_that_may_not_be_written_to_is_refused_before_the_work(tmp_path: Path) -> None:
    """As an ordinary user, since the tests may run as one whom no permission stops."""
    (tmp_path / "site").mkdir()
    (tmp_path / "site").chmod(0o555)
    for parent in (tmp_path, *tmp_path.parents[:3]):
        parent.chmod(parent.stat().st_mode | 0o055)
    script = (
        "import os, sys\nfrom pathlib import Path\nfrom sitepipe.writing.folder import claimed\n"
        "from sitepipe.errors import WritingError\n"
        "os.geteuid() == 0 and os.setuid(65534)\n"
        "try:\n    with claimed(Path(sys.argv[1]) / 'out'):\n        print('handed out')\n"
        "except WritingError as error:\n    print(error)\n"
    )
    command = [sys.executable, "-c", script, str(tmp_path / "site")]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert "could not be written (Permission denied)" in done.stdout
    assert list((tmp_path / "site").iterdir()) == []


def test_the_folder_that_appears_may_be_read_like_any_other(tmp_path: Path) -> None:
    make_run(tmp_path / "out")
    (tmp_path / "plain").mkdir()
    assert (tmp_path / "out").stat().st_mode == (tmp_path / "plain").stat().st_mode


@pytest.mark.parametrize("what", ["fresh", "parent", "target"])
def test_a_folder_that_vanishes_during_a_run_is_told_and_nothing_else_is_lost(what: str, tmp_path: Path) -> None:
    site = tmp_path / "site"
    site.mkdir()
    before = make_run(site / "out")

    def write() -> None:
        with claimed(site / "out") as fresh:
            shutil.rmtree({"fresh": fresh, "parent": site, "target": site / "out"}[what])
            (fresh / "map.html").write_text("second", encoding="utf-8")
            fill(fresh, {"map.html": "second"})

    if what == "target":
        write()
        assert copy_of(site / "out")["map.html"] == b"second"
    else:
        with pytest.raises(WritingError, match="could not be written"):
            write()
        assert copy_of(site / "out") == (before if what == "fresh" else {})
    assert leftovers(tmp_path) == []
    assert not site.is_dir() or leftovers(site) == []
