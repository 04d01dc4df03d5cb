"""Compiled kernels on disk: cases 97 and 99 of the catalogue of bad input, and machines where nothing can be kept."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from sitepipe import _compiled, _jit

SOURCES = {
    "inner": "from sitepipe._jit import kernel\n\n\n@kernel\ndef twice(x: float) -> float:\n    return {factor} * x\n",
    "constant": "STEP = {step}\n",
    "outer": (
        "from sitepipe._jit import kernel\nfrom sitepipe.room.constant import STEP\n"
        "from sitepipe.room.inner import twice\n\n\n"
        "@kernel\ndef all_of(x: float) -> float:\n    return twice(x) + STEP\n"
    ),
}
CALL = "from sitepipe.room.outer import all_of; print(all_of(10.0), sum(all_of.stats.cache_hits.values()))"


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """Make a package of the same name with two kernels of which one calls the other."""
    package = tmp_path / "sitepipe"
    (package / "room").mkdir(parents=True)
    for path in (_jit.__file__, _compiled.__file__):
        shutil.copy(path, package)
    (package / "__init__.py").touch()
    (package / "room" / "__init__.py").touch()
    write(tmp_path)
    return tmp_path


def write(copy: Path, factor: float = 2.0, step: float = 1.0) -> None:
    for name, text in SOURCES.items():
        (copy / "sitepipe" / "room" / f"{name}.py").write_text(text.format(factor=factor, step=step), encoding="utf-8")


def call(copy: Path, **environment: str) -> tuple[float, int]:
    """Return what the outer kernel says in a fresh process, and whether it was found on the disk."""
    told = {name: value for name, value in os.environ.items() if name != "NUMBA_CACHE_DIR"}
    told |= {"PYTHONPATH": str(copy), **environment}
    done = subprocess.run([sys.executable, "-c", CALL], env=told, capture_output=True, text=True, check=True, cwd=copy)
    value, hits = done.stdout.split()
    return float(value), int(hits)


def kept(copy: Path) -> list[Path]:
    return sorted((copy / "sitepipe" / "room" / "__pycache__").glob("*.nb[ci]"))


def test_a_kernel_is_compiled_once(copy: Path) -> None:
    assert call(copy) == (21.0, 0)
    assert call(copy) == (21.0, 1)


@pytest.mark.parametrize(("change", "value"), [({"factor": 3.0}, 31.0), ({"step": 5.0}, 25.0)])
def test_99_a_kernel_kept_from_other_source_is_not_believed(copy: Path, change: dict[str, float], value: float) -> None:
    """The outer kernel's own file stays as it is; what it calls, or a constant that it reads, changes."""
    call(copy)
    write(copy, **change)
    assert call(copy) == (value, 0)
    assert call(copy) == (value, 1)


def test_97_a_damaged_kernel_is_compiled_again(copy: Path) -> None:
    call(copy)
    assert len(kept(copy)) == 4
    for number, damage in ((-3, "flip"), (-1, "flip"), (-2, "flip"), (-1, "cut"), (-2, "zeros"), (-1, "empty")):
        path = kept(copy)[number]
        content = path.read_bytes()
        middle = len(content) // 2
        spoilt = {
            "flip": content[:middle] + bytes([content[middle] ^ 0x10]) + content[middle + 1 :],
            "cut": content[:middle],
            "empty": b"",
            "zeros": bytes(len(content)),
        }
        path.write_bytes(spoilt[damage])
        assert call(copy)[0] == 21.0
        assert spoilt[damage] not in [file.read_bytes() for file in kept(copy)]


def test_97_a_damaged_note_costs_a_compilation_and_nothing_else(copy: Path) -> None:
    call(copy)
    (path,) = (copy / "sitepipe" / "room" / "__pycache__").glob(_compiled.NOTE)
    for note in (b"\xff\x00", b"[]", b'{"outer": {"files": []}, "inner": 3}', b"[" * 90_000):
        path.write_bytes(note)
        assert call(copy)[0] == 21.0
    assert call(copy) == (21.0, 1)


def test_what_a_killed_process_compiled_is_compiled_again(copy: Path) -> None:
    call(copy)
    (path,) = (copy / "sitepipe" / "room" / "__pycache__").glob(_compiled.NOTE)
    path.unlink()
    assert call(copy) == (21.0, 0)
    assert json.loads(path.read_text(encoding="utf-8")).keys() == {"inner", "outer"}


def test_where_the_package_cannot_be_written_the_users_own_cache_is_used(
    copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(os, "access", lambda path, _: Path(path) != _jit._PACKAGE)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "own"))
    assert _jit._store() == tmp_path / "own" / "sitepipe"
    assert os.environ["NUMBA_CACHE_DIR"] == str(tmp_path / "own" / "sitepipe")
    where = str(tmp_path / "elsewhere")
    assert [call(copy, NUMBA_CACHE_DIR=where)[1] for _ in range(2)] == [0, 1]
    assert kept(copy) == []


def test_101_where_nothing_can_be_kept_a_run_compiles_anew(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.touch()
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(os, "access", lambda *_: False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(file / "under a file"))
    assert _jit._store() is None
    monkeypatch.setattr(_jit, "_STORE", None)
    monkeypatch.setattr(_jit, "_KEEPS", _jit._may_keep())
    assert _jit.is_cold()
    doubled = _jit.kernel(lambda x: x * 2)
    assert doubled(21) == 42
    assert doubled.stats.cache_path is None  # type: ignore[attr-defined]


def test_87_on_a_full_disk_no_first_kernel_is_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(_jit, "_STORE", tmp_path)
    assert _jit._may_keep()
    monkeypatch.setattr(_jit, "ROOM", 2**62)
    assert not _jit._may_keep()
    (tmp_path / "kept.nbi").touch()
    assert _jit._may_keep()


def test_every_kernel_of_the_package_is_looked_after() -> None:
    package = Path(_jit.__file__).parent
    flood, window = package / "drainage" / "depression_filling.py", package / "window.py"
    assert _compiled.digest_of(flood) != _compiled.digest_of(window)
    sources = [path for path in package.rglob("*.py") if b"\n@kernel" in path.read_bytes()]
    assert len(sources) > 20
    assert len({_compiled.digest_of(path) for path in sources}) == len(sources)
