"""Hours of work: from what is moved, how far, how steep and how wet; common practice where no source is named."""

from __future__ import annotations

from sitepipe.settings import JobsSettings
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.jobs.materials import LOGS, barrow_hours, count_barrows
from sitepipe.works.mounds.record import Mound
from sitepipe.works.rows.record import Arch, Trellis
from sitepipe.works.water.record import Swale
from sitepipe.works.ways.record import Path

HOUSE_HOURS = 0.7
"""For each square metre of hoop house, pad and swale included: common practice, no source. [h/m2]"""
POST_HOURS = 1.5
"""For one post, dug by hand, set and braced: common practice, no source. [h/post]"""
DRIVEN, BENT = 0.5, 1.0
"""For one post of an arch, driven, and for one panel, bent and tied by two: common practice, no source. [h]"""
PLANT_HOURS = 0.3
"""For each square metre of bed, to set out, plant, water and mulch: common practice, no source. [h/m2]"""
EDGE_HOURS = 0.05
"""For each metre of path, to mow, peg and edge it: common practice, no source. [h/m]"""
SHAPING = 3.0
"""Fill raked and trodden to shape by one person, 2 to 4 m3/h: common practice, no source. [m3/h]"""
SAWING = 1.0
"""For each cubic metre of logs and brush: some 40 cuts of a minute or two with a bow saw: common practice. [h/m3]"""
TURNING = 3.0
"""Sod cut and turned over by one person, 2 to 4 m2/h: common practice, no source. [m2/h]"""
CUTTING = 10.0
"""Brush 2 m tall cut and dragged by one person, 5 to 15 m2/h: common practice, no source. [m2/h]"""
BEFORE_BUILDING = 10.0
"""To ask, stake, clear the outlet, take the first load and look again, in the first year: as those jobs add up. [h]"""
UPHILL = 5.0
"""A rise of 1 in 10 makes the way with a barrow half as long again: own choice. [1]"""


def path_hours(path: Path, way: float, jobs: JobsSettings) -> float:
    """Hours to wheel, rake, dig, and edge one path; ``way`` is to its middle. [m], [h]."""
    wheeled = barrow_hours(count_barrows(path.chips, jobs.barrow), way * (1.0 + UPHILL * path.steepest), jobs)
    return wheeled + path.chips / jobs.spreading + path.cut / jobs.digging + EDGE_HOURS * float(path.line.length)


def mound_hours(mound: Mound, way: float, steepest: float, wetness: float, jobs: JobsSettings) -> float:
    """Hours to saw, wheel, tip and shape one mound.

    Parameters
    ----------
    way : float
        From where chips are tipped, one way. [m]
    steepest : float
        Greatest rise per run on it. [1]
    wetness : float
        Of the ground that it stands on; the wettest takes twice as long to work on (x 1.3 to 2). [0 to 1]
    """
    wheeled = barrow_hours(mound.barrows, way * (1.0 + UPHILL * steepest), jobs)
    sawn = SAWING * sum(volume for name, volume in mound.materials if name == LOGS)
    return wheeled + sawn + mound.volume / SHAPING * (1.0 + wetness)


def planting_hours(mound: Mound) -> float:
    """Hours to plant a mound's top. [h]."""
    return PLANT_HOURS * mound.crest_length * mound.top_width


def house_hours(house: HoopHouse) -> float:
    """Hours to build a hoop house on its pad. [h]."""
    return HOUSE_HOURS * house.length * house.width


def row_hours(row: Trellis) -> float:
    """Hours to set a trellis. [h]."""
    return POST_HOURS * row.posts


def arch_hours(arch: Arch) -> float:
    """Hours to set an arch. [h]."""
    return DRIVEN * arch.posts + BENT * arch.panels


def swale_hours(swale: Swale, jobs: JobsSettings) -> float:
    """Hours to dig a swale. [h]."""
    return swale.dug / jobs.digging
