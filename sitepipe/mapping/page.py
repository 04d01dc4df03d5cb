"""The shared page: one file that opens from disk and asks nothing of the network."""

from __future__ import annotations

import html
import re

from sitepipe.analysis import Analysis
from sitepipe.errors import InternalError, WritingError
from sitepipe.mapping.elements import (
    STYLES,
    Body,
    Data,
    GroundMap,
    Insert,
    Script,
    Sheet,
    Start,
    Style,
    numbered_ids,
)
from sitepipe.mapping.palette import style_sheet
from sitepipe.mapping.sheet import MOST_BYTES, as_json, sheet_of
from sitepipe.mapping.texts import asset, filled, hashes, leaflet_script, style_of

SKELETON_BYTES = 8_000
"""What the page holds besides its scripts, styles and data, at most."""
_ADDRESS = re.compile(r"(?:https?:)?//[a-z0-9-]+(?:\.[a-z0-9-]+)*\.[a-z]{2,}", re.IGNORECASE)
_STYLE_ADDRESS = re.compile(r"@import|url\(\s*['\"]?(?!data:|#)", re.IGNORECASE)
_ALLOWED = ("http://www.w3.org/", "https://leafletjs.com")
"""The name of SVG, and the credit in a corner of the library that this page does not show: neither is ever fetched."""


def draw_map(analysis: Analysis) -> str:
    """Draw the whole analysis as one page.

    Returns
    -------
    str
        An HTML document; the same analysis gives the same bytes.

    Raises
    ------
    WritingError
        If the page would be larger than 2 MB.
    InternalError
        If anything in it would ask the network for something.
    """
    figure, ground_map = Sheet(), GroundMap()
    vars(ground_map)["_parent"] = None  # folium puts every map into a figure of its own
    inserts: list[Insert] = [
        Style(style_of("leaflet.css")),
        Style(style_sheet()),
        *(Style(asset(name)) for name in STYLES),
        Script(leaflet_script()),
        Body(asset("before_map.html")),
    ]
    start = Start(ground_map)
    spent = sum(len(insert.text.encode()) for insert in (*inserts, start)) + SKELETON_BYTES
    sheet = sheet_of(analysis, MOST_BYTES - spent)
    after: list[Insert] = [Body(asset("after_map.html")), Data(as_json(sheet)), start]
    for part in (*inserts, ground_map, *after):
        figure.add_child(part)
    numbered_ids(figure)
    texts = {insert.place: insert.text for insert in (*inserts, *after)}
    texts["@title@"] = html.escape(f"{sheet['name']}: water, sun and what to build")
    page = with_policy(filled(figure.render(), texts))
    refuse_addresses(page)
    size = len(page.encode("utf-8"))
    if size > MOST_BYTES:
        raise WritingError(
            f"map.html would be {size / 1e6:.1f} MB and the limit is {MOST_BYTES / 1e6:.0f} MB; "
            "all else was written; split the site into parcels for a page of each"
        )
    return page


def with_policy(page: str) -> str:
    """Put in a content security policy that knows this page's own scripts and styles by their hashes."""
    scripts = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    styles = re.findall(r"<style>(.*?)</style>", page, re.DOTALL)
    policy = (
        f"default-src 'none'; script-src {hashes(scripts)}; style-src {hashes(styles)}; img-src data: blob:; "
        "connect-src 'none'; base-uri 'none'; form-action 'none'"
    )
    return page.replace("@policy@", f'<meta http-equiv="Content-Security-Policy" content="{policy}">', 1)


def refuse_addresses(page: str, name: str = "map.html") -> None:
    """Look for addresses in everything that a browser reads as markup, style or script; data is only ever text."""
    active = re.sub(r'<script type="application/json".*?</script>', "", page, flags=re.DOTALL)
    active = re.sub(r"/\*.*?\*/", "", active, flags=re.DOTALL)
    styles = " ".join(re.findall(r"<style>(.*?)</style>", active, re.DOTALL))
    for text, pattern in ((active, _ADDRESS), (styles, _STYLE_ADDRESS)):
        for found in pattern.finditer(text):
            around = text[found.start() : found.start() + 60]
            if not around.startswith(_ALLOWED):
                raise InternalError(f"{name} would hold the address {around!r}; a page asks nothing of the network")
