"""What is written: sheets, exports, the page."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

from sitepipe.settings.section import Section


class Output(StrEnum):
    """Results that a run writes beside summary.json and run.json, which it always writes."""

    PAGE = "page"
    SHEETS = "sheets"
    LAYERS = "layers"
    PLAN = "plan"
    TABLES = "tables"


class PrintSettings(Section):
    """The printed sheets; without a paper it is Letter where feet are said and A4 where metres are."""

    paper: Literal["letter", "a4"] | None = None


class ExportSettings(Section):
    """Files for other devices. They tell where the ground lies, so they are written only when asked for."""

    location: bool = False


class PageSettings(Section):
    """The shared page.

    ``share_location`` ties the map to the earth, so that a helper's phone can show where it stands; off, the file
    holds no coordinates at all. ``try_changes`` lets works be moved and drawn on the page, for which it carries
    the heights of the ground, the neighbours' too, to a tenth of a millimetre; off, it leaves them out.
    """

    share_location: bool = False
    try_changes: bool = True
