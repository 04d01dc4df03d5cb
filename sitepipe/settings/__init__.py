"""Every number a user may change, with its unit, its range and its reason."""

from __future__ import annotations

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
from sitepipe.settings.whole import Settings, checked, make_settings, presets, read_settings, read_toml, settle
from sitepipe.settings.works import (
    HoopHouseSettings,
    JobsSettings,
    MaterialsSettings,
    MoundSettings,
    PathSettings,
    TippingSettings,
    TrellisSettings,
)

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
