"""The page's parts as folium and branca elements: nothing of them asks the network for anything."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

import folium
from branca.element import Element, Figure, MacroElement
from folium.template import Template

from sitepipe.mapping.texts import asset
from sitepipe.mapping.trying import kernels_script

SCRIPTS = (
    "pens.js",
    "marks.js",
    "ground.js",
    "drawing.js",
    "places.js",
    "panel.js",
    "day.js",
    "sunlight.js",
    "tools.js",
    "ponds.js",
    "trial.js",
    "change.js",
    "start.js",
)
STYLES = ("page.css", "map.css")


class Sheet(Figure):
    """The whole document, in English and with its own head."""

    _template = Template(
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n@policy@\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="referrer" content="no-referrer">\n'
        '<meta name="format-detection" content="telephone=no">\n'
        "<title>@title@</title>\n"
        "{{ this.header.render(**kwargs) }}\n</head>\n<body>\n"
        "{{ this.html.render(**kwargs) }}\n"
        "<script>{{ this.script.render(**kwargs) }}</script>\n</body>\n</html>\n"
    )

    def __init__(self) -> None:
        super().__init__()
        self.header._children.clear()


class GroundMap(folium.Map):
    """A folium map in plain metres, without tiles, and without the files that folium would fetch."""

    _template = Template(
        """
        {% macro html(this, kwargs) %}<div class="folium-map" id="{{ this.get_name() }}" role="application"
        aria-roledescription="map" aria-label="Map. Arrow keys move it, plus and minus zoom; the list says the same."
        tabindex="0"></div>{% endmacro %}
        {% macro script(this, kwargs) %}
        var {{ this.get_name() }} = L.map({{ this.get_name()|tojson }},
            {crs: L.CRS.{{ this.crs }}, center: {{ this.location|tojson }}, ...{{ this.options|tojavascript }}});
        {% endmacro %}
        """
    )

    def __init__(self) -> None:
        super().__init__(
            location=(0.0, 0.0),
            tiles=None,
            crs="Simple",
            zoom_control=False,
            attribution_control=False,
            zoom_snap=0,
            zoom_delta=1,
            min_zoom=-4,
            max_zoom=8,
            zoom_animation=False,
            fade_animation=False,
            inertia=True,
            bounce_at_zoom_limits=False,
            double_click_zoom=False,
        )
        self.default_js = []
        self.default_css = []


class Insert(MacroElement):
    """A text that goes into the page as it is.

    branca reads what an element renders as a template again, so a name that looks like one would be run. So an
    element renders only its place, and ``filled`` puts the texts in at the end, in one pass.
    """

    def __init__(self, text: str) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._name = type(self).__name__
        self.text = text

    @property
    def place(self) -> str:
        """The mark that stands for the text until the page is filled."""
        return f"@{self.get_name()}@"


class Style(Insert):
    """One style sheet."""

    _template = Template("{% macro header(this, kwargs) %}<style>{{ this.place }}</style>{% endmacro %}")


class Script(Insert):
    """One script in the head: a library."""

    _template = Template("{% macro header(this, kwargs) %}<script>{{ this.place }}</script>{% endmacro %}")


class Body(Insert):
    """Plain markup around the map; holds no data."""

    _template = Template("{% macro html(this, kwargs) %}{{ this.place }}{% endmacro %}")


class Data(Insert):
    """The data as one block that no browser runs."""

    _template = Template(
        '{% macro html(this, kwargs) %}<script type="application/json" id="sheet-data">{{ this.place }}</script>'
        "{% endmacro %}"
    )


class Start(Insert):
    """The page's own script, handed the folium map."""

    _template = Template(
        "{% macro script(this, kwargs) %}\n(function () {\n'use strict';\n{{ this.place }}\n"
        "startSheet({{ this.ground_map.get_name() }}, JSON.parse(document.getElementById('sheet-data').textContent));\n"
        "}());{% endmacro %}"
    )

    def __init__(self, ground_map: GroundMap) -> None:
        super().__init__("\n".join([kernels_script(), *(asset(name) for name in SCRIPTS)]))
        self.ground_map = ground_map


def numbered_ids(*elements: Any) -> None:
    """Give elements, and all below them, ids by counting: branca draws them at random."""
    numbers = itertools.count(1)
    for element in elements:
        for one in _all_of(element):
            one._id = f"{next(numbers):04d}"


def _all_of(element: Element) -> Iterator[Element]:
    yield element
    for child in element._children.values():
        yield from _all_of(child)
