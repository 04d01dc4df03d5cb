"""Machine code that is kept between runs, and the ways in which it is damaged; case 97 of the catalogue."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def compiled(cache: Path) -> subprocess.CompletedProcess[str]:
    script = (
        "from sitepipe._jit import kernel\nfrom tests.hostile.test_environment import doubled\n"
        "print(kernel(doubled)(21))"
    )
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(cache)}
    return subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env=environment,
        check=False,
        timeout=60,
    )


def doubled(value: int) -> int:
    """Double a number."""
    return value + value


@pytest.mark.parametrize("ending", [".nbi", ".nbc"])
@pytest.mark.parametrize("damage", ["cut", "empty", "flipped", "other"])
def test_97_damaged_machine_code_is_compiled_again(ending: str, damage: str, tmp_path: Path) -> None:
    assert compiled(tmp_path).stdout == "42\n"
    (kept,) = tmp_path.rglob(f"*{ending}")
    content = bytearray(kept.read_bytes())
    if damage == "flipped":
        content[len(content) // 2] ^= 0xFF
    kept.write_bytes(
        {"cut": bytes(content[:40]), "empty": b"", "other": b"no machine code"}.get(damage, bytes(content))
    )
    found = compiled(tmp_path)
    assert (found.returncode, found.stdout) == (0, "42\n"), found.stderr[-600:]
