"""Palette: the plants that may be proposed, each value with its source, and a user's own list over it."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Sequence
from enum import StrEnum
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeAlias

from pydantic import BeforeValidator, ConfigDict, Field, TypeAdapter, ValidationError, model_validator
from pydantic.dataclasses import dataclass

from sitepipe.errors import InputError
from sitepipe.site import OwnPlant

Layer = Literal["canopy", "shrub", "herb", "ground cover", "climber", "edging"]
"""Where in a mixed bed a kind grows; roots and vegetables count as herbs."""

WetClass = Literal["W1", "W2", "W3", "W4"]
"""Own design classes: W1 needs a mound, W2 wants 30 to 45 cm of drained soil, W3 stands spring saturation, W4 water."""


class Host(StrEnum):
    """What harms some plants from afar."""

    NUT_TREE = "walnut or hickory"
    WHITE_PINE = "white pine"
    JUNIPER = "juniper or red cedar"


HARDY_FORMS = ("shrub", "tree", "vine", "fern", "grass")
OWN_LIST = "the user's list"
_LARGEST_LIST = 1 << 20


def _split(separator: str | None) -> BeforeValidator:
    def split(text: object) -> object:
        return tuple(word.strip() for word in text.split(separator) if word.strip()) if isinstance(text, str) else text

    return BeforeValidator(split)


def _column(name: str, least: float, most: float) -> Any:
    """Return a number's column; outside the range a value is a mistake (common practice, no source)."""
    return Field(default=None, alias=name, ge=least, le=most, allow_inf_nan=False)


@dataclass(frozen=True, slots=True, config=ConfigDict(populate_by_name=True, str_strip_whitespace=True))
class Plant:
    """One kind of plant; a field with an alias is the column of that name, and an empty cell is not known.

    Parameters
    ----------
    indicator, indicator_region, indicator_source : str
        Wetland indicator status; empty where unrated. Never used as a crop's tolerance.
    wet_classes : tuple of str
        Classes that it does well in.
    aerated : float or None
        Least depth of soil that must stay drained in the growing season. [m]
    least_sun, crop_sun, most_sun : float or None
        Hours of direct sun it lives with, crops with, and can bear. [h/day]
    coldest : float or None
        Lowest temperature it survives. [degC]
    height, spread, in_row, row, roots : float or None
        Grown height and width, spacing in and between rows, root room. [m]
    waits : bool
        Whether it must wait until a mound has settled.
    acidity : str
        Range of soil pH that it wants, empty where it asks for none.
    climbs : str
        How it climbs, empty where it does not.
    edge : bool
        Whether it keeps an edge.
    runs : bool
        Whether it spreads by runners or suckers into what stands beside it.
    juglone : str
        ``bears`` or ``suffers`` the poison of walnuts and hickories, empty where not known.
    rust : str
        On what else a rust of it lives: ``white pine`` or ``juniper``.
    family, frost, days, succession_weeks, warm_season
        Of vegetables: botanical family, the frost it bears, days from sowing or planting to harvest, weeks to the next
        sowing (0 where there is one a year), whether it waits for warm ground.
    status : str
        ``may``, ``ask`` (the local list first), ``never`` (invasive), ``hazard``, ``keep away``.
    """

    latin: Annotated[str, Field(min_length=1)]
    common: Annotated[str, Field(min_length=1)]
    form: str = "herb"
    indicator: Literal["", "OBL", "FACW", "FAC", "FACU", "UPL"] = ""
    indicator_region: str = "unstated"
    indicator_source: str = OWN_LIST
    wet_classes: Annotated[tuple[WetClass, ...], _split(None)] = ()
    aerated: float | None = _column("aerated_m", 0.0, 3.0)
    tolerance_source: str = OWN_LIST
    least_sun: float | None = _column("least_sun_h", 0.0, 12.0)
    crop_sun: float | None = _column("crop_sun_h", 0.0, 12.0)
    most_sun: float | None = _column("most_sun_h", 0.0, 16.0)
    light_source: str = OWN_LIST
    coldest: float | None = _column("min_temp_c", -70.0, 15.0)
    coldest_source: str = Field(default=OWN_LIST, alias="min_temp_source")
    height: float | None = _column("height_m", 0.02, 60.0)
    spread: float | None = _column("spread_m", 0.05, 40.0)
    in_row: float | None = _column("in_row_m", 0.02, 20.0)
    between_rows: float | None = _column("row_m", 0.02, 20.0)
    size_source: str = OWN_LIST
    roots: float | None = _column("root_m", 0.05, 3.0)
    waits: bool = Field(default=True, alias="waits_for_settling")
    increase_by: str = ""
    uses: Annotated[tuple[str, ...], _split(";")] = ()
    acidity: str = Field(default="", alias="ph")
    use_note: str = ""
    status: Literal["may", "ask", "never", "hazard", "keep away"] = "may"
    caution: str = ""
    caution_source: str = ""
    layer: Layer = "herb"
    climbs: str = ""
    edge: bool = False
    runs: bool = False
    juglone: Literal["", "bears", "suffers"] = ""
    rust: Literal["", "white pine", "juniper"] = ""
    family: str = ""
    frost: str = ""
    days: float | None = _column("days", 10.0, 400.0)
    succession_weeks: float | None = _column("succession_weeks", 0.0, 52.0)
    warm_season: bool = False
    layer_source: str = OWN_LIST

    @property
    def is_annual(self) -> bool:
        """Whether it is sown or planted anew each year and no winter asks anything of it."""
        return self.form == "vegetable"

    @property
    def suffers_from(self) -> frozenset[Host]:
        """What must not stand near it."""
        rust = {"white pine": {Host.WHITE_PINE}, "juniper": {Host.JUNIPER}}.get(self.rust, set())
        return frozenset(rust | ({Host.NUT_TREE} if self.juglone == "suffers" else set()))

    @property
    def is_known(self) -> bool:
        """Whether it is known how wet it may stand: what is not is planted where the grower says so, never proposed."""
        return bool(self.wet_classes)

    @property
    def room(self) -> float:
        """Ground that one plant takes, 0 where its spacing is not known. [m2]."""
        return (self.in_row or 0.0) * (self.row or 0.0)

    @property
    def row(self) -> float | None:
        """Spacing between rows, as in the row where the list gives none. [m]."""
        return self.between_rows if self.between_rows is not None else self.in_row

    @model_validator(mode="after")
    def _must_be_hardy(self) -> Self:
        if self.coldest is not None and self.coldest > 0.0 and self.form in HARDY_FORMS:
            raise ValueError(
                f"min_temp_c of {self.latin} is {self.coldest:g}; a hardy {self.form} survives frost: "
                "correct it or leave it empty"
            )
        return self


Own: TypeAlias = "tuple[tuple[Plant, OwnPlant], ...]"
"""The grower's plants with their kinds."""


def rotated_families(palette: Sequence[Plant]) -> tuple[str, ...]:
    """Return the families of vegetables that hand their troubles on from one kind to another: those of two or more."""
    counts = Counter(plant.family for plant in palette if plant.is_annual and plant.family)
    return tuple(sorted(family for family, kinds in counts.items() if kinds > 1))


def read_palette(own: Path | None = None, replaces: bool = False) -> tuple[Plant, ...]:
    """Read the packaged palette, with the user's own list over it.

    Parameters
    ----------
    own : path or None
        A CSV with the columns of the packaged ``palette.csv``; ``latin`` and ``common`` are needed, every other
        column may be left out. A row whose Latin name is already there replaces it.
    replaces : bool
        Whether the own list stands alone.

    Returns
    -------
    tuple of Plant
        In the order of the lists.

    Raises
    ------
    InputError
        If a row lacks a name, a number is impossible, or a word is not one of the known ones.
    """
    packaged = resources.files("sitepipe.planting").joinpath("palette.csv").read_text(encoding="utf-8")
    plants = {} if replaces and own is not None else {plant.latin: plant for plant in _rows(packaged, "palette.csv")}
    if own is not None:
        plants.update({plant.latin: plant for plant in _rows(_text_of(own), own.name)})
    if not plants:
        raise InputError(f"{own.name if own else 'palette.csv'} holds no plants; give at least one row")
    return tuple(plants.values())


def _text_of(path: Path) -> str:
    try:
        if path.stat().st_size > _LARGEST_LIST:
            raise InputError(f"{path.name} is larger than 1 MiB; a list of plants has a few hundred lines")
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path.name} cannot be read as UTF-8 text: {error}; check planting.palette") from error


def _rows(text: str, source: str) -> list[Plant]:
    reader = csv.DictReader(io.StringIO(text))
    return [_plant(row, f"{source} line {line}") for line, row in enumerate(reader, start=2) if any(row.values())]


def _plant(row: dict[str, str], where: str) -> Plant:
    filled = {column: cell.strip() for column, cell in row.items() if column and (cell or "").strip()}
    if not (filled.get("latin") and filled.get("common")):
        raise InputError(f"{where}: a plant needs a latin and a common name")
    try:
        return _PLANT.validate_python(filled)
    except ValidationError as error:
        raise InputError(f"{where}: {_fault(error)}") from error


def _fault(error: ValidationError) -> str:
    fault = error.errors()[0]
    if fault["type"] == "value_error":
        return fault["msg"].removeprefix("Value error, ")
    column, value = fault["loc"][0], fault["input"]
    if fault["type"] == "literal_error":
        return f"{column} is {value!r}; it must be one of {fault['ctx']['expected']}"
    if fault["type"] in ("greater_than_equal", "less_than_equal"):
        (bound,) = fault["ctx"].values()
        return f"{column} is {value}; it must be {'at least' if 'ge' in fault['ctx'] else 'at most'} {bound:g}"
    return f"{column} is {value!r}; write a number (yes or no for waits_for_settling), or leave it empty if unknown"


_PLANT: TypeAdapter[Plant] = TypeAdapter(Plant)
