"""One room under trial: a copy of the project, warm, in which one file at a time is broken."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

from tests.mutation.mutants import Mutant

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 3.0
"""A mutant that runs so many times longer than the first, compiling run of the sound code has lost its way, and counts
as killed: never less than ``LEAST_PATIENCE``. [1]"""
LEAST_PATIENCE = 180.0
"""[s]"""

Case = tuple[str, Mutant]


class Room:
    """A copy of the project whose tests of one room pass, with every kernel compiled.

    Parameters
    ----------
    name : str
        The room: a package of ``sitepipe`` and its tests.
    scratch : Path
        An empty folder for the copy.

    Raises
    ------
    RuntimeError
        If the tests of the room fail before anything is broken.
    """

    def __init__(self, name: str, scratch: Path) -> None:
        self.name = name
        self.pristine = _copied(ROOT, scratch / "pristine")
        self.folder = scratch / "broken"
        self.patience: float | None = None
        start = time.monotonic()
        whole = self._pytest(self.pristine, f"tests/{name}")
        self.patience = max(LEAST_PATIENCE, PATIENCE * (time.monotonic() - start))
        if whole.returncode != 0:
            raise RuntimeError(f"the tests of {name} fail before anything is broken:\n{whole.stdout[-2000:]}")
        _copied(self.pristine, self.folder)
        self.users = _users(self.folder / "sitepipe" / name)

    def lets_live(self, file: str, mutant: Mutant) -> bool:
        """Break one file, run its own tests and then the room's, and put everything back."""
        package = Path("sitepipe") / self.name
        (self.folder / package / f"{file}.py").write_text(mutant.text, encoding="utf-8")
        # A kernel compiled into its callers is not compiled again there when it changes: the callers start cold.
        for user in self.users[file] | {file}:
            for cached in (self.folder / package / "__pycache__").glob(f"{user}.*.nb[ci]"):
                cached.unlink()
        try:
            alive = all(self._passes(what) for what in self._order(file))
        finally:
            shutil.rmtree(self.folder / package)
            shutil.copytree(self.pristine / package, self.folder / package)
        return alive

    def _order(self, file: str) -> list[str]:
        own = f"tests/{self.name}/test_{file}.py"
        room = f"tests/{self.name}"
        return [own, room] if (self.folder / own).is_file() else [room]

    def _passes(self, what: str) -> bool:
        try:
            return self._pytest(self.folder, what).returncode == 0
        except subprocess.TimeoutExpired:
            return False

    def _pytest(self, folder: Path, what: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", what]
        environment = {**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
        environment.pop("NUMBA_CACHE_DIR", None)
        return subprocess.run(
            command, cwd=folder, env=environment, capture_output=True, text=True, timeout=self.patience, check=False
        )


def _copied(source: Path, folder: Path) -> Path:
    leave = shutil.ignore_patterns("*.pyc", "out", ".venv", ".git")
    for name in ("sitepipe", "tests", "configs", "sample_site"):
        shutil.copytree(source / name, folder / name, ignore=leave)
    shutil.copy2(source / "pyproject.toml", folder)
    return folder


def _users(package: Path) -> dict[str, set[str]]:
    """Return for each file of a package the files there that import it, straight or through another."""
    imports = {file.stem: _imported(file) for file in package.glob("*.py")}
    users = {stem: {user for user, needs in imports.items() if stem in needs} for stem in imports}
    for _ in imports:
        users = {stem: known.union(*(users[user] for user in known)) for stem, known in users.items()}
    return users


def _imported(file: Path) -> set[str]:
    prefix = f"sitepipe.{file.parent.name}"
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module is not None:
            if node.module == prefix:
                found |= {name.name for name in node.names}
            elif node.module.startswith(prefix + "."):
                found.add(node.module.rpartition(".")[2])
    return found
