"""How far a region is: one moving line at a terminal, nothing elsewhere, and a file for those who look in."""

from __future__ import annotations

import contextlib
import json
import time
from collections.abc import Callable
from pathlib import Path

from sitepipe.answers.region import rate

PROGRESS_FILE = "progress.json"
EVERY = 2.0
"""Between two writings of the file. [s]"""


class Progress:
    """Counts parcels as they come."""

    def __init__(self, of: int, folder: Path, tell: Callable[[str], None]) -> None:
        self.done = self.failed = 0
        self._of, self._path, self._tell = of, folder / PROGRESS_FILE, tell
        self._started, self._written = time.monotonic(), float("-inf")

    def count(self, is_done: bool) -> None:
        """Count one parcel."""
        self.done += is_done
        self.failed += not is_done
        self._tell(self.said)
        if time.monotonic() - self._written >= EVERY or self.done + self.failed == self._of:
            self.write()

    @property
    def said(self) -> str:
        """How far it is, in a few words."""
        return rate(self.done, self.failed, self._of, time.monotonic() - self._started)

    def write(self) -> None:
        """Write the file; that it cannot be written stops no parcel."""
        self._written = time.monotonic()
        told = {"done": self.done, "failed": self.failed, "of": self._of, "said": self.said}
        fresh = self._path.with_suffix(".new")
        with contextlib.suppress(OSError):
            fresh.write_text(f"{json.dumps(told)}\n", encoding="utf-8")
            fresh.replace(self._path)
