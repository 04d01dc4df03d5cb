"""The command line: one line for each error, its exit code, and streams that may close or speak no Unicode."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from sitepipe import cli
from sitepipe.commands import console
from sitepipe.errors import SitepipeError
from tests.writing.short_run import leftovers, make_site

HEAVY = ("numpy", "pandas", "geopandas", "rasterio", "pyogrio", "shapely", "numba", "scipy", "folium", "matplotlib")
ROOT = Path(__file__).resolve().parents[1]


def run(*arguments: str | bytes, **options: object) -> subprocess.CompletedProcess[bytes]:
    """Run the command line over the drawn analysis in a process of its own."""
    environment = {**os.environ, **options.pop("env", {})}  # type: ignore[dict-item]
    command = [sys.executable, "-m", "tests.writing.short_run", *arguments]
    return subprocess.run(command, capture_output=True, cwd=ROOT, env=environment, timeout=60, check=False, **options)  # type: ignore[call-overload, no-any-return]


def said(*arguments: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    """Run the command line in this process; return code, stdout, stderr."""
    code = cli.outcome(arguments)
    out, err = capsys.readouterr()
    return code, out, err


def test_help_imports_nothing_heavy() -> None:
    script = (
        "import sys\nsys.argv = ['sitepipe', '--help']\nfrom sitepipe.cli import main\n"
        "try:\n    main()\nexcept SystemExit as left:\n    code = left.code\n"
        f"print(code, [name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stderr.strip() == "0 []"
    for command in ("run", "check", "explain", "verify", "new", "sketch"):
        assert re.search(rf"^  {command} ", done.stdout, re.MULTILINE)


@pytest.mark.parametrize(
    ("arguments", "wanted"),
    [
        (["rum"], "run"),
        (["run"], "SITE"),
        (["run", "a", "b"], "unexpected"),
        (["run", "a", "--fast"], "--fast"),
        (["run", "a", "--out"], "--out"),
        (["explain", "slop"], "did you mean 'slope'"),
        (["--verbose"], "--verbose"),
    ],
)
def test_a_wrong_command_line_ends_with_2_and_one_line(
    arguments: list[str], wanted: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = said(*arguments, capsys=capsys)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert wanted in err


def test_every_cause_has_the_exit_code_that_the_design_gives_it() -> None:
    codes = {error.__name__: error.exit_code for error in SitepipeError.__subclasses__()}
    assert codes == {
        "InternalError": 1,
        "SettingsError": 2,
        "InputError": 3,
        "WritingError": 4,
        "SomeParcelsFailedError": 5,
        "InterruptedRunError": 130,
    }


@pytest.mark.parametrize(
    ("raised", "code", "wanted"),
    [
        (ZeroDivisionError("division by zero"), 1, "this is our bug, not yours: ZeroDivisionError in test_cli.py:"),
        (KeyboardInterrupt(), 130, "stopped"),
        (MemoryError(), 3, "too little memory"),
        (OSError(28, "No space left on device"), 4, "Free some space"),
    ],
)
def test_whatever_happens_is_told_in_one_line(
    raised: BaseException,
    code: int,
    wanted: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(cli, "app", _raising(raised))
    found, out, err = said("run", "x", capsys=capsys)
    assert (found, out) == (code, "")
    assert err.count("\n") == 1
    assert wanted in err
    assert "Traceback" not in err


def _raising(raised: BaseException) -> Callable[..., None]:
    def app(**_: object) -> None:
        raise raised

    return app


def test_debug_shows_where_an_error_arose(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("SITEPIPE_DEBUG", "1")
    monkeypatch.setattr(cli, "app", _raising(ZeroDivisionError("division by zero")))
    code, _, err = said("run", "x", capsys=capsys)
    assert code == 1
    assert "Traceback" in err


@pytest.mark.case(102)
def test_a_reader_that_has_seen_enough_costs_no_traceback(tmp_path: Path) -> None:
    site = make_site(tmp_path / "site")
    pipe = f"{sys.executable} -m tests.writing.short_run run {site} | head -c 20"
    done = subprocess.run(
        ["bash", "-o", "pipefail", "-c", pipe], capture_output=True, cwd=ROOT, timeout=60, check=False
    )
    assert done.returncode == 0
    assert b"Traceback" not in done.stderr
    assert b"BrokenPipe" not in done.stderr
    assert (site / "out" / "map.html").is_file()


@pytest.mark.case(102)
def test_a_closed_stdout_does_not_stop_a_run(tmp_path: Path) -> None:
    site = make_site(tmp_path / "site")
    command = f"{sys.executable} -m tests.writing.short_run run {site} >&-"
    done = subprocess.run(["bash", "-c", command], capture_output=True, cwd=ROOT, timeout=60, check=False)
    assert done.returncode == 0
    assert b"Traceback" not in done.stderr
    assert (site / "out" / "run.json").is_file()


def test_a_full_stdout_is_a_writing_error(tmp_path: Path) -> None:
    site = make_site(tmp_path / "site")
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "tests.writing.short_run", "run", str(site)],
            stdout=full,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            timeout=60,
            check=False,
        )
    assert done.returncode == 4
    assert b"Free some space" in done.stderr
    assert b"Traceback" not in done.stderr


@pytest.mark.parametrize(
    "environment",
    [
        {"LANG": "C", "LC_ALL": "C"},
        {"LANG": "de_DE.ISO-8859-1", "PYTHONIOENCODING": "latin-1"},
        {"LANG": "tr_TR.UTF-8", "LC_ALL": "tr_TR.UTF-8"},
        {"PYTHONIOENCODING": "ascii"},
        {"HOME": "/nonexistent", "TMPDIR": "/nonexistent"},
    ],
)
@pytest.mark.case(101, 103)
def test_no_locale_and_no_missing_home_stops_a_run(environment: dict[str, str], tmp_path: Path) -> None:
    site = make_site(tmp_path / "Łąka ½")
    done = run("run", str(site), env=environment)
    assert done.returncode == 0, done.stderr
    assert b"\nWater: " in done.stdout
    assert (site / "out" / "map.html").is_file()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
@pytest.mark.case(96)
def test_an_interrupted_run_clears_up_and_leaves_the_earlier_one(number: signal.Signals, tmp_path: Path) -> None:
    site = make_site(tmp_path / "site")
    command = [sys.executable, "-m", "tests.writing.short_run", "run", str(site)]
    with subprocess.Popen(
        command, stderr=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT, env={**os.environ, "SHORT_RUN_WAITS": "30"}
    ) as process:
        assert process.stderr is not None
        line = b""
        while b"Drawing by hand" not in line:
            line = process.stderr.readline()
            assert line, "the run ended before it was interrupted"
        assert leftovers(site)
        process.send_signal(number)
        _, err = process.communicate(timeout=30)
    assert process.returncode == 130
    assert b"stopped" in err
    assert b"Traceback" not in err
    assert sorted(path.name for path in site.iterdir()) == ["drawn.geojson", "elevation.tif", "site.toml"]


def test_json_is_all_that_stands_on_stdout(tmp_path: Path) -> None:
    site = make_site(tmp_path / "site")
    done = run("run", str(site), "--json")
    assert done.returncode == 0
    assert done.stdout == (site / "out" / "summary.json").read_bytes()
    assert json.loads(done.stdout)["site"]["name"] == "Rushy Bottom"


def test_what_is_piped_holds_no_escape_codes_and_one_line_to_a_sentence(tmp_path: Path) -> None:
    site = make_site(tmp_path / "site")
    done = run("run", str(site), "--full")
    text = done.stdout.decode("utf-8")
    assert "\x1b" not in text
    assert any(len(line) > 150 for line in text.splitlines())
    assert text.rstrip().endswith(str(site / "out" / "map.html"))


def test_a_name_cannot_move_the_cursor_of_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    console.say("Gate\x1b[2J\x07 of \u202etxt.exe\u202c ½ in")
    assert capsys.readouterr().out == "Gate[2J of txt.exe ½ in\n"


@pytest.mark.case(85)
def test_a_folder_named_like_an_option_is_reached_after_two_dashes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "--out").mkdir()
    code, _, err = said("check", "--", "--out", capsys=capsys)
    assert code == 2
    assert "site.toml is missing" in err


@pytest.mark.case(86)
def test_a_path_that_is_no_unicode_is_told_and_not_stumbled_over() -> None:
    done = run("check", b"/nowhere/\xff\xfe")
    assert done.returncode == 3
    assert b"does not exist" in done.stderr
    assert b"Traceback" not in done.stderr


def test_the_program_names_itself_and_its_version(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = said("--version", capsys=capsys)
    assert code == 0
    assert re.fullmatch(r"sitepipe \d+\.\d+\.\d+\n", out)


@pytest.mark.case(95)
def test_a_second_run_in_one_folder_is_refused_at_once(tmp_path: Path) -> None:
    site = make_site(tmp_path / "site")
    command = [sys.executable, "-m", "tests.writing.short_run", "run", str(site)]
    environment = {**os.environ, "SHORT_RUN_WAITS": "30"}
    with subprocess.Popen(
        command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, cwd=ROOT, env=environment
    ) as first:
        assert first.stderr is not None
        while b"Drawing by hand" not in first.stderr.readline():
            time.sleep(0.01)
        second = run("run", str(site))
        first.terminate()
        first.communicate(timeout=30)
    assert second.returncode == 4
    assert b"being written by another run" in second.stderr
    assert leftovers(site) == []


def test_what_a_library_prints_by_itself_does_not_reach_the_answer() -> None:
    lines = (
        "import os",
        "from sitepipe.commands import console",
        "console.prepare_streams()",
        "os.write(1, b'noise')",
        "console.say('heard')",
    )
    found = subprocess.run([sys.executable, "-c", "\n".join(lines)], capture_output=True, text=True, check=True)
    assert found.stdout == "heard\n"
