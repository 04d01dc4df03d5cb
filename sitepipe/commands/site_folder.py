"""The site folder that a command is given, and its settings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sitepipe.errors import InputError

SITE_HELP = "Folder with site.toml, the heights and the hand-drawn layer."

if TYPE_CHECKING:
    from sitepipe.settings import Settings


def read_site_folder(folder: Path) -> Settings:
    """Return the settings of a site folder.

    Raises
    ------
    InputError
        If it is not a folder.
    SettingsError
        If its site.toml cannot be read or asks for something that cannot be.
    """
    try:
        is_folder = folder.is_dir()
        exists = folder.exists()
    except (OSError, ValueError) as error:
        raise InputError(f"{folder} cannot be opened: {error}. Give the folder that holds site.toml") from error
    if not is_folder:
        what = "is a file, not a folder" if exists else "does not exist"
        raise InputError(f"{folder} {what}. Give the folder that holds site.toml, or make one with 'sitepipe new'")
    from sitepipe.settings import read_settings

    return read_settings(folder / "site.toml")
