"""``sitepipe verify``: the drainage again through independent libraries."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sitepipe.commands import console
from sitepipe.commands.site_folder import SITE_HELP, read_site_folder

if TYPE_CHECKING:
    from sitepipe.drainage.second_opinion import SecondOpinion


def verify(
    site: Annotated[Path, typer.Argument(metavar="SITE", help=SITE_HELP)],
    as_json: Annotated[bool, typer.Option("--json", help="Print it for a program to read.")] = False,
) -> None:
    """Work the drainage out again through independent libraries and say on how many cells they agree."""
    settings = read_site_folder(site)
    with console.progress() as tell:
        tell("Reading the heights and the drawing")
        from sitepipe.drainage.stage import trace_drainage
        from sitepipe.reading.site import read_site
        from sitepipe.reading.source import open_folder
        from sitepipe.window import reached_sides

        found = read_site(open_folder(site, settings), reached_sides)
        tell("Following the water")
        drainage = trace_drainage(found, settings)
        tell("Asking other libraries, which takes longer")
        from sitepipe.drainage.second_opinion import ask_libraries, small_map

        opinions, missing = ask_libraries(drainage)
    if as_json:
        _print_data(opinions, missing, drainage.outflow_cells)
        return
    console.say(f"{found.name}: {drainage.outflow_cells:,} cells drained; as many leave as are known.")
    for opinion in opinions:
        console.say()
        _say(opinion)
        console.say("Where they differ ('o' under a quarter of the cells, '#' more), north at the top:")
        for line in small_map(opinion.differs, drainage.known):
            console.say(line)
    for sentence in missing:
        console.say()
        console.say(sentence)


def _say(opinion: SecondOpinion) -> None:
    console.say(f"{opinion.library} {opinion.release}", heading=True)
    console.say(f"Filled heights agree on {opinion.level_agrees:.2%} of the cells, to a tenth of a millimetre.")
    console.say(f"Water goes to the same neighbour on {opinion.receiver_agrees:.2%} of them.")
    console.say(
        f"Where it does not: {opinion.as_steep:.2%} of the cells are as steep both ways, on {opinion.ours_steeper:.2%} "
        f"ours is the steeper way, on {opinion.theirs_steeper:.2%} theirs is."
    )
    console.say(opinion.verdict)


def _print_data(opinions: tuple[SecondOpinion, ...], missing: tuple[str, ...], cells: int) -> None:
    told = {
        "cells_drained": cells,
        "opinions": [
            {
                "library": opinion.library,
                "release": opinion.release,
                "share_of_filled_heights_that_agree": opinion.level_agrees,
                "share_of_directions_that_agree": opinion.receiver_agrees,
                "share_as_steep": opinion.as_steep,
                "share_ours_steeper": opinion.ours_steeper,
                "share_theirs_steeper": opinion.theirs_steeper,
                "share_of_water_that_leaves_theirs": opinion.leaves,
                "share_of_water_that_leaves_ours": opinion.ours_leaves,
                "verdict": opinion.verdict,
            }
            for opinion in opinions
        ],
        "not_asked": list(missing),
    }
    console.say_bytes(f"{json.dumps(told, indent=2, ensure_ascii=False)}\n".encode())
