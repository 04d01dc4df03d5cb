"""Survivors that cannot change a result, each with its reason."""

from __future__ import annotations

import tomllib
from pathlib import Path

EXPLAINED = Path(__file__).with_name("explained.toml")


def reason_for(room: str, file: str, change: str) -> str:
    """Return why a mutant of a file lives on, or nothing if nobody has looked at it.

    Parameters
    ----------
    room, file : str
        The package and the file's stem.
    change : str
        What was changed, as the list of survivors says it.
    """
    explained = tomllib.loads(EXPLAINED.read_text(encoding="utf-8"))
    return str(explained.get(f"{room}/{file}", {}).get(change, ""))
