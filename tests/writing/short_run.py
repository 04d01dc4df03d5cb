"""The real command line over an analysis drawn by hand: every edge of a run, without the minutes of computing.

The page and the sheets are left blank, unless SHORT_RUN_DRAWS is ``everything``: many tests start a process each.
"""

from __future__ import annotations

import dataclasses
import os
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path

from sitepipe.analysis import Analysis
from tests.mapping.drawn_analysis import make_analysis
from tests.sites import PLANE_METRES

SITE_FILES = {
    "site.toml": 'name = "Rushy Bottom"\nelevation = "elevation.tif"\nparcel = "drawn.geojson"\nunits = "imperial"\n',
    "elevation.tif": "read by nobody here",
    "drawn.geojson": "read by nobody here",
}


@cache
def drawn() -> Analysis:
    """Return the drawn analysis on a plane that files can name."""
    analysis = make_analysis()
    grid = dataclasses.replace(analysis.site.grid, crs=PLANE_METRES)
    return dataclasses.replace(analysis, site=dataclasses.replace(analysis.site, grid=grid))


def make_site(folder: Path) -> Path:
    """Make a site folder whose files the short run hashes but does not read."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in SITE_FILES.items():
        (folder / name).write_text(content, encoding="utf-8")
    return folder


def analyse(_: Path | str, tell: Callable[[str], None] = lambda _: None) -> Analysis:
    """Stand in for the pipeline; waits, if it is told to, so that a test can interrupt it."""
    tell("Drawing by hand")
    time.sleep(float(os.environ.get("SHORT_RUN_WAITS", "0")))
    return drawn()


def leftovers(folder: Path) -> list[str]:
    """Return every temporary name that a run has left in a folder."""
    return sorted(path.name for path in folder.iterdir() if path.name.startswith(".sitepipe-"))


def copy_of(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder by name."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }


def main() -> None:
    """Run the command line with the stand-in."""
    import sitepipe.analysis

    if os.environ.get("SHORT_RUN_DRAWS") != "everything":
        import sitepipe.writing.results as written

        setattr(written, "draw_map", lambda _: "<html>")  # noqa: B010 (mypy minds the name of the parameter)
        setattr(written, "draw_plan", lambda _: b"%PDF")  # noqa: B010
    setattr(sitepipe.analysis, "analyse", analyse)  # noqa: B010 (mypy minds the name of the first parameter)
    from sitepipe.cli import main as real

    real()


if __name__ == "__main__":
    main()
