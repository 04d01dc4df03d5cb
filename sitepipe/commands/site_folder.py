"""The site folder that a command is given, and its settings."""

from __future__ import annotations

import os
import tempfile
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sitepipe.errors import InputError, WritingError

SiteFolder = Annotated[
    Path, typer.Argument(metavar="SITE", help="Folder with site.toml, the heights and the hand-drawn layer.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print it for a program to read.")]
DayDrawn = Annotated[
    datetime | None,
    typer.Option("--on", formats=["%Y-%m-%d"], metavar="DATE", help="Day on the page and sheets; today if not said."),
]

if TYPE_CHECKING:
    from sitepipe.settings import Settings


LEAST_MEMORY = int(1.1 * 2**30)
"""Address space that the libraries and a small site take. [B]"""


def read_site_folder(folder: Path) -> Settings:
    """Return the settings of a site folder.

    Raises
    ------
    InputError
        If it is not a folder, or the program may use less memory than the libraries alone take.
    SettingsError
        If its site.toml cannot be read or asks for something that cannot be.
    """
    refuse_no_folder(folder)
    _refuse_little_memory()
    from sitepipe.settings import read_settings

    return read_settings(folder / "site.toml")


def refuse_no_folder(folder: Path) -> None:
    """Raise where there is no folder of that name."""
    try:
        is_folder = folder.is_dir()
        exists = folder.exists()
    except (OSError, ValueError) as error:
        raise InputError(f"{folder} cannot be opened: {error}. Give the folder that holds site.toml") from error
    if not is_folder:
        what = "is a file, not a folder" if exists else "does not exist"
        raise InputError(f"{folder} {what}. Give the folder that holds site.toml, or make one with 'sitepipe new'")


def _refuse_little_memory() -> None:
    """Refuse a bound under which the libraries below would end the process in their own words, or wait for ever."""
    try:
        import resource
    except ImportError:
        return
    bound, _ = resource.getrlimit(resource.RLIMIT_AS)
    if bound != resource.RLIM_INFINITY and bound < LEAST_MEMORY:
        raise InputError(
            f"this shell lets a program have {bound / 2**20:,.0f} MiB of memory, and {LEAST_MEMORY / 2**20:,.0f} MiB "
            "are needed for the smallest site. Raise the limit, as with 'ulimit -v unlimited'"
        )


def write_whole(target: Path, content: bytes) -> None:
    """Write a file in one step: until it is whole the earlier one stays.

    Raises
    ------
    WritingError
        If it cannot be written; nothing is replaced then.
    """
    if target.exists() and not target.is_file():
        raise WritingError(f"{target} is not a file. Name a file")
    temporary = None
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name[:40]}.tmp-", dir=target.absolute().parent)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(target)
    except OSError as error:
        raise WritingError(f"{target} cannot be written: {error.strerror or error}; nothing was replaced") from error
    finally:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
