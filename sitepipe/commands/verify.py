"""``sitepipe verify``: the drainage again through an independent library."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sitepipe.commands import console
from sitepipe.commands.site_folder import AsJson, SiteFolder, read_site_folder, write_whole

if TYPE_CHECKING:
    from sitepipe.drainage.record import Drainage
    from sitepipe.drainage.second_opinion import SecondOpinion
    from sitepipe.site import Site


def verify(
    site: SiteFolder,
    as_json: AsJson = False,
) -> None:
    """Work the drainage out again through an independent library, and say and draw where they differ."""
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
        tell("Asking another library")
        from sitepipe.drainage.second_opinion import ask_library

        opinion = ask_library(drainage)
    if as_json:
        _print_data(opinion, drainage.outflow_cells)
        return
    picture = site / "verify.png"
    _draw(picture, found, drainage, opinion)
    console.say(f"{found.name}: {drainage.outflow_cells:,} cells drained; as many leave as are known.")
    console.say(
        f"{opinion.library} {opinion.release} fills {opinion.level_agrees:.1%} of the cells to the same height and "
        f"sends the water of {opinion.receiver_agrees:.1%} to the same neighbour. {opinion.verdict}"
    )
    console.say(f"Where they differ, in black on the ground: {picture}")


def _draw(picture: Path, site: Site, drainage: Drainage, opinion: SecondOpinion) -> None:
    """Draw the cells on which the two differ on the relief; ground without heights is left clear."""
    import numpy as np

    from sitepipe.mapping.picture import grey_png
    from sitepipe.mapping.relief import relief_tone

    tone = np.nan_to_num(255.0 * (0.4 + 0.6 * relief_tone(np.asarray(site.elevation), site.grid.cell)))
    tone[opinion.differs] = 0.0
    write_whole(picture, grey_png(tone.astype(np.uint8), np.where(drainage.known, 255, 0).astype(np.uint8)))


def _print_data(opinion: SecondOpinion, cells: int) -> None:
    told = {
        "cells_drained": cells,
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
    console.say_data(told)
