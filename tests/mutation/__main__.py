"""Break the kernels one line at a time and count how many of the breaks the tests notice.

    .venv/bin/python -m tests.mutation                 forty mutants of each room
    .venv/bin/python -m tests.mutation drainage 300    three hundred of one room
    .venv/bin/python -m tests.mutation works 50 3      fifty others of one room: the third draw

Not part of CI: each mutant compiles what it touches again. The same numbers draw the same mutants, as long as the
source stays. Survivors are listed with their line; those that cannot change a result stand, with the reason, in
`explained.toml`. The command fails below 85 % killed, explained or not.
"""

from __future__ import annotations

import random
import sys
import tempfile
from pathlib import Path

from tests.mutation.explained import reason_for
from tests.mutation.mutants import mutants_of
from tests.mutation.trial import ROOT, Case, Room

LEAST_KILLED = 0.85
EACH = 40

KERNELS: dict[str, tuple[str, ...]] = {
    "terrain": ("slope", "smoothing", "outline", "scale", "low_ground"),
    "drainage": (
        "above",
        "banks",
        "cells",
        "descent",
        "multiple_flow",
        "drawn",
        "edges",
        "fill_spill_merge",
        "depression_filling",
        "hollows",
        "ponds",
        "routing",
        "storm",
    ),
    "sunlight": ("position", "sweep", "prisms", "accumulate", "finish", "rays", "tables"),
    "wetness": ("shallow_flow", "indicators", "blocks"),
    "scoring": ("membership", "criteria"),
    "works": ("mound_height", "volumes", "least_cost", "footprints", "path_lines", "raised_ground", "blocks"),
    "planting": ("match", "counts", "prevalence", "nursery"),
}
"""Rooms, and the files in them whose every line must matter to a test of the same room."""


def main(arguments: list[str]) -> int:
    """Draw mutants, run their rooms' tests, and say which survived."""
    rooms = [arguments[0]] if arguments else list(KERNELS)
    most = int(arguments[1]) if len(arguments) > 1 else EACH
    draw = int(arguments[2]) if len(arguments) > 2 else 0
    return max(_try_room(room, most, draw) for room in rooms)


def _try_room(name: str, most: int, draw: int) -> int:
    cases: list[Case] = [
        (file, mutant)
        for file in KERNELS[name]
        for mutant in mutants_of((ROOT / "sitepipe" / name / f"{file}.py").read_text(encoding="utf-8"))
    ]
    random.Random(7 + draw).shuffle(cases)
    drawn = cases[:most]
    print(f"{name}: {len(cases)} mutants can be made, {len(drawn)} are tried", flush=True)
    with tempfile.TemporaryDirectory() as scratch:
        room = Room(name, Path(scratch))
        survivors: list[Case] = []
        for case in drawn:
            alive = room.lets_live(*case)
            print("s" if alive else ".", end="", flush=True)
            if alive:
                survivors.append(case)
    print()
    unexplained = 0
    for file, mutant in sorted(survivors, key=lambda case: (case[0], case[1].line)):
        reason = reason_for(name, file, mutant.change)
        unexplained += not reason
        print(f"survived: sitepipe/{name}/{file}.py:{mutant.line}: {mutant.change}{reason and f'   ({reason})'}")
    killed = 1.0 - len(survivors) / max(len(drawn), 1)
    print(f"{name}: killed {len(drawn) - len(survivors)} of {len(drawn)}, {killed:.0%}; {unexplained} unexplained")
    return 0 if killed >= LEAST_KILLED else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
