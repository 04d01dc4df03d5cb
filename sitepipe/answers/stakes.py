"""How a stake is set out, in words: two tapes, the side, the height of its top."""

from __future__ import annotations

from sitepipe.analysis import Analysis
from sitepipe.answers.names import tame
from sitepipe.saying import say_length, say_level
from sitepipe.units import Units
from sitepipe.works.built import Stake
from sitepipe.works.mounds.record import Mound

SIDES = (
    "Left and right: stand at the first point and look to the second. A stake that others are taped from comes before "
    "them in the list."
)
WEAK_ANGLE = 30.0
"""Tapes that meet at less than this hold a stake badly. [deg]"""


def all_stakes(analysis: Analysis) -> list[tuple[str, Stake]]:
    """Return every stake in its turn, with the thing that it sets out; next best places for the hoop house last."""
    plan = analysis.plan
    chosen = [
        *((f"mound {mound.number}", stake) for mound in plan.mounds for stake in mound.stakes),
        *(("hoop house", stake) for house in plan.hoop_houses for stake in house.stakes),
        *((f"trellis {trellis.number}", stake) for trellis in plan.trellises for stake in trellis.stakes),
    ]
    others = [(f"hoop house {house.number}", stake) for house in plan.other_hoop_houses for stake in house.stakes]
    return [*sorted(chosen, key=lambda one: one[1].order), *others]


def tapes(stake: Stake, units: Units) -> tuple[str, str, str, str]:
    """Say the two tapes of a stake, its side, and the height of its top."""
    first, second = (f"{say_length(far, units)} from {tame(name)}" for name, far in stake.from_points)
    return first, second, stake.side.value, say_level(stake.height, units)


def foot(mound: Mound, units: Units) -> str:
    """Say where a mound ends, seen from its two stakes."""
    return f"The foot lies {say_length(mound.base_width / 2.0, units)} from the line between A and B, all round."
