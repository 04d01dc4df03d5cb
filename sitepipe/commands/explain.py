"""``sitepipe explain``: what a layer is, what its numbers mean, and where the method comes from."""

from __future__ import annotations

import difflib
from typing import Annotated

import typer

from sitepipe.commands import console
from sitepipe.commands.site_folder import AsJson
from sitepipe.errors import SettingsError


def explain(
    layer: Annotated[
        str | None, typer.Argument(metavar="LAYER", help="Name of a layer; without it, all names.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Say what a map layer is, its unit, how to read it and who found the method."""
    from sitepipe.answers.layers import declared_layers

    known = declared_layers()
    if layer is None:
        if as_json:
            console.say_data({name: _as_data(name) for name in known})
            return
        for name, found in known.items():
            console.say(f"{name}: {found.title} [{found.unit}]")
        return
    if layer not in known:
        close = difflib.get_close_matches(layer, known, n=1, cutoff=0.5)
        nearest = f"; did you mean {close[0]!r}?" if close else ""
        raise SettingsError(f"{layer!r} is not a layer{nearest}. 'sitepipe explain' lists them all")
    if as_json:
        console.say_data(_as_data(layer))
        return
    found = known[layer]
    console.say(f"{found.title} ({layer})", heading=True)
    console.say(f"Unit: {found.unit}")
    console.say(f"Meaning: {found.meaning}")
    console.say(f"Source: {found.source}")
    console.say(f"File: layers/{layer}.tif")


def _as_data(name: str) -> dict[str, str]:
    from sitepipe.answers.layers import declared_layers

    found = declared_layers()[name]
    return {
        "layer": name,
        "title": found.title,
        "unit": found.unit,
        "meaning": found.meaning,
        "source": found.source,
        "file": f"layers/{name}.tif",
    }
