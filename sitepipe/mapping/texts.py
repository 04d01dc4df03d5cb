"""Texts that a page is put together from, and what a browser is told so that it runs no others."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, Mapping
from importlib import resources


def asset(name: str, room: str = "mapping") -> str:
    """Return the text of a file that ships with a room."""
    return (resources.files(f"sitepipe.{room}") / "assets" / name).read_text(encoding="utf-8")


def filled(skeleton: str, texts: Mapping[str, str]) -> str:
    """Put every text in its place, in one pass, so that no text is searched for places."""
    return re.sub(r"@[A-Za-z]+_?[0-9a-f]*@", lambda found: texts.get(found[0], found[0]), skeleton)


def leaflet_script() -> str:
    """Leaflet with its licence, without the line that asks for a source map."""
    licence = asset("leaflet.LICENSE.txt").strip().replace("*/", "* /")
    code = "\n".join(line for line in asset("leaflet.js").splitlines() if "sourceMappingURL" not in line)
    return f"/*! {licence} */\n{code}"


def style_of(name: str, room: str = "mapping") -> str:
    """Return a library's style sheet without the rules that ask for pictures, which no page uses."""
    return "}".join(rule for rule in asset(name, room).split("}") if "url(" not in rule)


def hashes(texts: Iterable[str]) -> str:
    """Return the sources of a content security policy that allows just these scripts or styles."""
    digests = [base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii") for text in texts]
    return " ".join(f"'sha256-{digest}'" for digest in digests)
