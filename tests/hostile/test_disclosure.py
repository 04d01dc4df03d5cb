"""What the README promises under "Security and privacy", held against the files of a real run and its commands."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from pyproj import Transformer

from sitepipe import cli
from tests.reading.folders import NORTH, UTM, WEST
from tests.test_run import make_bowl

README = Path(__file__).resolve().parents[2] / "README.md"
LONGITUDE, LATITUDE = Transformer.from_crs(UTM, 4326, always_xy=True).transform(WEST + 30.0, NORTH - 30.0)
PLACE = re.compile(
    rf"(?<![\d.])({int(WEST) // 1000}|{int(NORTH) // 1000})\d\d\d(\.\d|\b)|"
    rf"(?<![\d.]){int(LATITUDE)}\.\d{{3,}}|{int(LONGITUDE)}\.\d{{3,}}|EPSG|UTM"
)
"""The ground's own coordinates, in metres or degrees, or the system that they are in."""
QUIET, TELLING = ("map.html", "plan.pdf", "summary.json", "tables"), ("plan.gpkg", "layers", "run.json")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a site; the run is one of the tests, under the eyes of the hook that forbids the network."""
    return make_bowl(tmp_path_factory.mktemp("disclosure") / "site")


def texts(folder: Path, name: str) -> Iterator[tuple[str, str]]:
    """Yield the files of a result and what can be read in them."""
    for path in sorted((folder / name).rglob("*")) if (folder / name).is_dir() else [folder / name]:
        if path.suffix == ".pdf":
            done = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True)
            yield path.name, done.stdout
        elif path.suffix == ".tif":
            import rasterio

            with rasterio.open(path) as file:
                yield path.name, f"{file.crs} {file.bounds.left:.1f}"
        elif path.suffix == ".gpkg":
            import pyogrio

            told = [pyogrio.read_info(path, layer=layer) for layer, _ in pyogrio.list_layers(path)]
            yield path.name, " ".join(f"{info['crs']} {info['total_bounds']}" for info in told)
        elif path.is_file():
            yield path.name, path.read_text(encoding="utf-8")


@pytest.mark.case(112)
@pytest.mark.parametrize("command", [["run"], ["check"], ["sketch"], ["run", "--json"]])
def test_no_command_opens_a_connection_or_listens(command: list[str], site: Path) -> None:
    """``verify`` is watched where its library is compiled: in its own tests."""
    assert cli.outcome([command[0], str(site), *command[1:]]) == 0


@pytest.mark.parametrize("name", QUIET)
def test_these_do_not_say_where_the_ground_lies(name: str, site: Path) -> None:
    assert f"`{name}" in README.read_text(encoding="utf-8") or name == "map.html"
    for file, text in texts(site / "out", name):
        # The page carries pictures as text, and a library for maps that knows planes by name.
        plain = re.sub(r"base64,[A-Za-z0-9+/=]+|[A-Za-z0-9+/=]{200,}", "", text)
        plain = re.sub(r"<script.*?</script>", lambda m: "" if "EPSG900913" in m[0] else m[0], plain, flags=re.DOTALL)
        found = PLACE.search(plain)
        assert found is None, (file, plain[max(found.start() - 60, 0) : found.end() + 60])


@pytest.mark.parametrize("name", TELLING)
def test_these_do_and_the_readme_says_so(name: str, site: Path) -> None:
    told = README.read_text(encoding="utf-8").split("## Security and privacy")[1].split("## ")[0]
    assert re.search(rf"`{name}/?`.*do: keep those to yourself", told.replace("\n", " "))
    assert any(PLACE.search(text) for _, text in texts(site / "out", name))


def test_the_page_says_where_it_is_only_when_asked_to(site: Path, tmp_path: Path) -> None:
    asked = Path(shutil.copytree(site, tmp_path / "asked"))
    (asked / "site.toml").write_text(
        (asked / "site.toml").read_text(encoding="utf-8") + "[page]\nshare_location = true\n", encoding="utf-8"
    )
    assert cli.outcome(["run", str(asked)]) == 0
    page = (asked / "out" / "map.html").read_text(encoding="utf-8")
    assert f"{LATITUDE:.3f}"[:-1] in page


def test_the_page_is_held_to_its_promise_by_a_policy(site: Path) -> None:
    page = (site / "out" / "map.html").read_text(encoding="utf-8")
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]+)"', page)
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";") if " " in rule.strip())
    assert rules["default-src"] == "'none'"
    assert rules.get("connect-src", "'none'") == "'none'"
    assert rules.get("form-action") == "'none'"
    assert "unsafe" not in rules["script-src"]
    assert not re.search(r"https?:", policy)


def test_nothing_of_the_machine_is_in_any_file(site: Path) -> None:
    machine = [str(site), str(Path.home()), str(Path(cli.__file__).parent)]
    for path in sorted((site / "out").rglob("*")):
        content = path.read_bytes() if path.is_file() else b""
        assert [name for name in machine if name.encode() in content] == [], path.name
    noted = json.loads((site / "out" / "run.json").read_text(encoding="utf-8"))
    assert noted["made_by"] == "sitepipe"
