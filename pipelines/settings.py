"""The academy's own choices, kept in its store: levels, smallest cell, units shown."""

from pathlib import Path
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from norms.cohort.bands import PRIVACY_MINIMUM
from norms.cohort.levels import DEFAULT_LEVELS, check_levels
from norms.errors import NormsError
from norms.records import Level
from pipelines.store import Store
from pipelines.toml_file import checked, handicap_value, read_toml

SETTINGS_KEY: Final = "academy"
"""All choices stand under one key of the store, so that they change together."""


class Settings(BaseModel):
    """Choices of the academy; what a store or a file does not state has its default.

    Attributes
    ----------
    levels : tuple of Level
        Table of levels that gives every golfer exactly one.
    smallest_cell : int
        Fewest golfers of whom any number is shown; not below the minimum for privacy.
    length_unit : {"in", "cm"}
        Unit in which lengths are shown.
    speed_unit : {"mph", "mps"}
        Unit in which speeds of ball and club are shown.
    erased_from_editions : {"recompute", "withdraw"}
        What becomes of a frozen edition when a golfer whom it counted is erased.
    health_readers : tuple of str
        Roles that may read the words of notes on health; where none is named, any role that says
        so in the log.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    levels: tuple[Level, ...] = DEFAULT_LEVELS
    smallest_cell: int = Field(PRIVACY_MINIMUM, ge=PRIVACY_MINIMUM, strict=True)
    length_unit: Literal["in", "cm"] = "in"
    speed_unit: Literal["mph", "mps"] = "mph"
    erased_from_editions: Literal["recompute", "withdraw"] = "recompute"
    health_readers: tuple[str, ...] = ()

    @field_validator("levels", mode="before")
    @classmethod
    def _bounds_as_written(cls, levels: object) -> object:
        if not isinstance(levels, list):
            return levels
        bounds = ("above", "to")
        return [
            {**one, **{key: handicap_value(one[key]) for key in bounds if key in one}}
            if isinstance(one, dict)
            else one
            for one in levels
        ]

    @field_validator("levels")
    @classmethod
    def _one_level_for_everyone(cls, levels: tuple[Level, ...]) -> tuple[Level, ...]:
        try:
            check_levels(levels)
        except NormsError as refusal:
            raise ValueError(refusal.message) from refusal
        return levels


def read_settings(file: Path) -> Settings:
    """Read settings from a TOML file.

    Parameters
    ----------
    file : Path
        Keys as in `Settings`; levels as ``[[levels]]`` tables with key, label, above, to, kind.

    Raises
    ------
    NormsError
        With code ``settings``, naming the file and the key at fault.
    """
    _, stated = read_toml(file, _refused)
    return _settings(stated, str(file))


def settings_of(store: Store) -> Settings:
    """Settings of a store."""
    return _settings(store.setting(SETTINGS_KEY) or {}, store.path)


def keep_settings(store: Store, settings: Settings) -> None:
    """Keep settings in a store."""
    store.set_setting(SETTINGS_KEY, settings.model_dump(mode="json"))


def levels_of(store: Store) -> tuple[Level, ...]:
    """The academy's table of levels."""
    return settings_of(store).levels


def shown_unit(store: Store) -> Literal["in", "cm"]:
    """Unit in which lengths are shown."""
    return settings_of(store).length_unit


def _settings(stated: object, name: str) -> Settings:
    return checked(Settings, stated, f"{name}: setting ", _refused)


def _refused(message: str) -> NormsError:
    return NormsError(message, code="settings")
