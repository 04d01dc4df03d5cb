"""Every number a user may change, with its unit, its range and its reason; read over a preset of ``configs/``."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar, get_args, get_origin

from pydantic import Field, ValidationError

from sitepipe.errors import SettingsError, did_you_mean
from sitepipe.settings.drawn import DrawnSettings
from sitepipe.settings.ground import GroundSettings, SurveySettings, TerrainSettings
from sitepipe.settings.output import ExportSettings, Output, PageSettings, PrintSettings
from sitepipe.settings.planting import PlantingSettings
from sitepipe.settings.section import Length, MonthDay, Section, Share, Temperature
from sitepipe.settings.sun import SeasonSettings, SunSettings
from sitepipe.settings.uses import (
    Criterion,
    KeepClearSettings,
    MoundUse,
    PathUse,
    ScoringSettings,
    UseSettings,
    WetPlantingUse,
)
from sitepipe.settings.water import (
    DrainageSettings,
    ObservationSettings,
    SoilSettings,
    StormSettings,
    UncertaintySettings,
    WaterTableSettings,
    WetnessSettings,
)
from sitepipe.settings.works import (
    HoopHouseSettings,
    JobsSettings,
    MaterialsSettings,
    MoundSettings,
    PathSettings,
    TippingSettings,
    TrellisSettings,
)
from sitepipe.units import Units

__all__ = [
    "Criterion",
    "DrainageSettings",
    "DrawnSettings",
    "ExportSettings",
    "GroundSettings",
    "HoopHouseSettings",
    "JobsSettings",
    "KeepClearSettings",
    "Length",
    "MaterialsSettings",
    "MonthDay",
    "MoundSettings",
    "MoundUse",
    "ObservationSettings",
    "Output",
    "PageSettings",
    "PathSettings",
    "PathUse",
    "PlantingSettings",
    "PrintSettings",
    "ScoringSettings",
    "SeasonSettings",
    "Section",
    "Settings",
    "Share",
    "SoilSettings",
    "StormSettings",
    "SunSettings",
    "SurveySettings",
    "Temperature",
    "TerrainSettings",
    "TippingSettings",
    "TrellisSettings",
    "UncertaintySettings",
    "UseSettings",
    "WaterTableSettings",
    "WetPlantingUse",
    "WetnessSettings",
    "checked",
    "make_settings",
    "presets",
    "read_settings",
    "read_toml",
    "settle",
]

Checked = TypeVar("Checked", bound=Section)


class Settings(Section):
    """Everything that a run may be told; each table has defaults that the run states."""

    name: str = Field(default="Site", min_length=1, max_length=200)
    elevation: Path | None = None
    parcel: Path | None = None
    levels: Path | None = None
    holes: Path | None = None
    plants: Path | None = None
    works: Path | None = None
    changes: Path | None = None
    stock: Path | None = None
    surface: Path | None = None
    surface_unit: Literal["m", "ft", "us-ft"] | None = None
    latitude: Annotated[float, Field(ge=-80.0, le=84.0)] | None = None
    longitude: Annotated[float, Field(ge=-180.0, le=180.0)] | None = None
    preset: str = "wet-lawn"
    units: Units = Units.METRIC
    write: tuple[Output, ...] = tuple(Output)
    ground: GroundSettings = GroundSettings()
    survey: SurveySettings = SurveySettings()
    drawn: DrawnSettings = DrawnSettings()
    season: SeasonSettings = SeasonSettings()
    drainage: DrainageSettings = DrainageSettings()
    soil: SoilSettings = SoilSettings()
    storm: StormSettings = StormSettings()
    uncertainty: UncertaintySettings = UncertaintySettings()
    water_table: WaterTableSettings = WaterTableSettings()
    mound: MoundSettings = MoundSettings()
    materials: MaterialsSettings = MaterialsSettings()
    sun: SunSettings = SunSettings()
    hoop_house: HoopHouseSettings = HoopHouseSettings()
    trellis: TrellisSettings = TrellisSettings()
    path: PathSettings = PathSettings()
    tipping: TippingSettings = TippingSettings()
    jobs: JobsSettings = JobsSettings()
    planting: PlantingSettings = PlantingSettings()
    terrain: TerrainSettings = TerrainSettings()
    wetness: WetnessSettings = WetnessSettings()
    observations: ObservationSettings = ObservationSettings()
    scoring: ScoringSettings = ScoringSettings()
    keep_clear: KeepClearSettings = KeepClearSettings()
    print: PrintSettings = PrintSettings()
    exports: ExportSettings = ExportSettings()
    page: PageSettings = PageSettings()

    def without_proposals(self) -> Settings:
        """Return them with nothing proposed beside what was drawn."""
        tables = {kind: getattr(self, kind) for kind in ("mound", "hoop_house", "trellis", "path", "tipping")}
        bare = {kind: table.model_copy(update={"propose": False}) for kind, table in tables.items()}
        return self.model_copy(update=bare)


def presets() -> dict[str, Path]:
    """Return the presets that ship with the program, by name."""
    packaged = Path(str(resources.files("sitepipe"))) / "_configs"
    folder = packaged if packaged.is_dir() else Path(__file__).resolve().parents[2] / "configs"
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}


def read_settings(path: Path) -> Settings:
    """Read a site's settings over the preset that it names.

    Raises
    ------
    SettingsError
        If the file cannot be read as TOML, names an unknown key or preset, or holds a value out of range.
    """
    return settle(read_toml(path), path.name)


def settle(own: Mapping[str, Any], source: str) -> Settings:
    """Check settings over the preset that they name; ``source`` is the file to name in an error."""
    name = own.get("preset", Settings.model_fields["preset"].default)
    known = presets()
    if name not in known:
        raise SettingsError(
            f"{source}: preset is {name!r}; it must be one of {', '.join(known)}{did_you_mean(str(name), known)}"
        )
    return make_settings(_merged(read_toml(known[name]), own), source)


def make_settings(values: Mapping[str, Any], source: str) -> Settings:
    """Check settings given as nested mappings; ``source`` is the file to name in an error."""
    return checked(Settings, values, source)


def checked(model: type[Checked], values: Mapping[str, Any], source: str) -> Checked:
    """Make a section of a mapping; ``source`` is the file to name in an error."""
    try:
        return model.model_validate(dict(values))
    except ValidationError as error:
        raise SettingsError(_first_fault(error, model, source)) from error


def read_toml(path: Path) -> dict[str, Any]:
    """Read a file of settings as it stands; raise if it is missing or no TOML."""
    if path.exists() and not path.is_file():
        raise SettingsError(f"{path.name} is a folder, a pipe or a device; it must be a plain file")
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError as error:
        raise SettingsError(f"{path} is missing; a site folder needs one, see 'sitepipe new'") from error
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(f"{path.name} cannot be read as UTF-8 text: {error}") from error
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"{path.name} is not valid TOML: {error}") from error
    except RecursionError as error:
        raise SettingsError(f"{path.name} is not valid TOML: brackets are nested too deep. Close them") from error


def _merged(base: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    merged = dict(base)
    for key, value in own.items():
        below = merged.get(key)
        merged[key] = _merged(below, value) if isinstance(below, dict) and isinstance(value, dict) else value
    return merged


def _first_fault(error: ValidationError, model: type[Section], source: str) -> str:
    fault = error.errors()[0]
    where = ".".join(str(piece) for piece in fault["loc"])
    if fault["type"] == "extra_forbidden":
        section: Any = model
        for piece in fault["loc"][:-1]:
            is_list_of_tables = get_origin(section) is dict
            section = get_args(section)[1] if is_list_of_tables else section.model_fields[str(piece)].annotation
        known = dict.fromkeys(section.model_fields)
        hint = did_you_mean(str(fault["loc"][-1]), known)
        return f"{source}: {where} is not a setting{hint}; out/run.json lists those in force"
    message = fault["msg"].removeprefix("Value error, ")
    if fault["type"] == "value_error":
        return f"{source}: {where}: {message}"
    return f"{source}: {where} is {fault['input']!r}: {message[0].lower()}{message[1:]}"
