"""Which parcels are done already: their own run.json says what they rest on."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from sitepipe import __version__
from sitepipe.region.parcel import RESULTS
from sitepipe.settings import read_settings
from sitepipe.writing.folder import RUN_FILE
from sitepipe.writing.provenance import digest_of, versions


def is_done(folder: Path) -> bool:
    """Tell whether a parcel's results stand whole, and rest on its files, its settings and this program as they are."""
    from sitepipe.reading.source import files_of

    results = folder / RESULTS
    try:
        noted: dict[str, Any] = json.loads((results / RUN_FILE).read_text(encoding="utf-8"))
        if noted["version"] != __version__ or noted["versions"] != versions():
            return False
        now = files_of(folder, read_settings(folder / "site.toml"))
        rested_on = {key: told["sha256"] for key, told in noted["inputs"].items()}
        # Tiles that the window does not meet are none of its inputs; which there are stands in site.toml.
        others = [key for key in now if key not in rested_on and not key.startswith("elevation.")]
        return (
            not others
            and all((results / name).is_file() for name in noted["files"])
            and all(key in now and digest_of(now[key]) == digest for key, digest in rested_on.items())
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return False
