"""The whole answer in the order in which people ask."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from sitepipe.analysis import Analysis
from sitepipe.answers import exclusions, ground_water, plants, stock, sun, water, ways, works
from sitepipe.answers.cautions import Caution, cautions_of
from sitepipe.answers.impact import say_impact
from sitepipe.answers.mounds import say_mounds
from sitepipe.answers.names import tame, without_controls
from sitepipe.answers.trial import say_change
from sitepipe.drainage.record import OpenEdge
from sitepipe.saying import say_area, say_length
from sitepipe.scoring.record import Reason
from sitepipe.site import Site
from sitepipe.units import Units


@dataclass(frozen=True, slots=True)
class Passage:
    """A heading and the sentences under it."""

    heading: str
    sentences: tuple[str, ...]


def title(site: Site, units: Units) -> str:
    """Say the site in a few words."""
    error = say_length(site.ground.vertical_error, units)
    return f"{tame(site.name)}: {say_area(site.parcel.area, units)}; heights good to {error}."


def opening(site: Site, units: Units) -> str:
    """Say the site in one sentence: name, size, how good its heights are."""
    ground = site.ground
    return (
        f"{tame(site.name)}: {say_area(site.parcel.area, units)}. Heights from {tame(ground.source)}, "
        f"good to {say_length(ground.vertical_error, units)} ({without_controls(ground.error_source)})."
    )


def report(analysis: Analysis) -> tuple[Passage, ...]:
    """Return the answers as passages, empty ones left out."""
    passages = (
        Passage("Before you start", tuple(_said(caution) for caution in cautions_of(analysis))),
        Passage("Where water stands", water.standing(analysis)),
        Passage("Where it comes from", water.coming_in(analysis)),
        Passage("Where it leaves", water.leaving(analysis)),
        Passage("Where the sun reaches", sun.sunlight(analysis)),
        Passage("What belongs where", works.ground_for_uses(analysis)),
        Passage("Mounds", say_mounds(analysis)),
        Passage("Plants", plants.plants(analysis)),
        Passage("Paths", ways.paths(analysis)),
        Passage("Hoop house and trellises", works.structures(analysis)),
        Passage("What it takes", works.chips(analysis)),
        Passage("The change that was tried", tuple(say_change(analysis))),
        Passage("What it does to the water", (*say_impact(analysis), *works.drain_instead(analysis))),
        Passage("Notes", (*works.notes(analysis), *plants.notes_of(analysis.planting, analysis.settings.planting))),
        Passage(
            "Look at this",
            (
                *water.warnings(
                    analysis.site, [edge.side for edge in analysis.drainage.questions if isinstance(edge, OpenEdge)]
                ),
                *_undrawn(analysis),
                *ground_water.unused_observations(analysis),
                *ground_water.notes(analysis.water_table, analysis.settings.units),
                *(water.asked(question, analysis) for question in analysis.drainage.questions),
            ),
        ),
        Passage("Taken for granted", taken_for_granted(analysis)),
    )
    return tuple(passage for passage in passages if passage.sentences)


def taken_for_granted(analysis: Analysis) -> tuple[str, ...]:
    """Say what was taken for granted: what there is to build with first."""
    first = stock.taken_for_granted(analysis.site, analysis.settings)
    return (*first, *analysis.site.assumptions, *sun.assumptions(analysis), *water.assumptions(analysis))


def _said(caution: Caution) -> str:
    """Return a caution as one paragraph; a title that asks keeps its own mark."""
    return f"{caution.title}{'' if caution.title.endswith('?') else '.'} {caution.text}"


def _undrawn(analysis: Analysis) -> tuple[str, ...]:
    found = [one.outline for one in analysis.scores.exclusions if one.reason is Reason.UNDRAWN]
    return exclusions.undrawn(shapely.union_all(found), analysis.site, analysis.settings.units)
