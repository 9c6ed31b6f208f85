"""The academy's own choices, kept in its store: levels, smallest cell, units shown."""

import unicodedata
from pathlib import Path
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from norms.cohort.bands import PRIVACY_MINIMUM
from norms.cohort.levels import DEFAULT_LEVELS, check_levels
from norms.errors import NormsError
from norms.records import Level
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST
from pipelines.bounded import short_words
from pipelines.limits import (
    LARGEST_SMALLEST_CELL,
    LONGEST_NAME,
    LONGEST_SENTENCE,
    MOST_CLUBS,
    MOST_LEVELS,
)
from pipelines.roles import NOT_STATED
from pipelines.store import Store
from pipelines.toml_file import checked, handicap_value, read_toml

SETTINGS_KEY: Final = "academy"
"""All choices stand under one key of the store, so that they change together."""


class ClubName(BaseModel):
    """A club as the academy names it, and how else captures may spell it."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    also: tuple[str, ...] = Field(default=(), max_length=MOST_CLUBS)

    @field_validator("name")
    @classmethod
    def _as_captures_have_it(cls, name: str) -> str:
        return " ".join(name.lower().replace("-", " ").split())


def plain_club(club: str) -> str:
    """A club's name for comparing: in small letters, nothing but letters and digits."""
    folded = unicodedata.normalize("NFKC", club).casefold()
    return "".join(letter for letter in folded if letter.isalnum())


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
    clubs : tuple of ClubName
        Clubs that captures may name beside those of which the store has swings.
    one_person : str or None
        Why the role that puts a standard up for review may approve it as well.
    health_readers : tuple of str
        Roles that may read the words of notes on health; where none is named, any role that says
        so in the log.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    levels: tuple[Level, ...] = DEFAULT_LEVELS
    smallest_cell: int = Field(
        PRIVACY_MINIMUM, ge=PRIVACY_MINIMUM, le=LARGEST_SMALLEST_CELL, strict=True
    )
    length_unit: Literal["in", "cm"] = "in"
    speed_unit: Literal["mph", "mps"] = "mph"
    erased_from_editions: Literal["recompute", "withdraw"] = "recompute"
    clubs: tuple[ClubName, ...] = Field((), max_length=MOST_CLUBS)
    one_person: str | None = Field(None, min_length=1, max_length=LONGEST_SENTENCE, pattern=r"\S")

    @field_validator("clubs", mode="before")
    @classmethod
    def _names_alone(cls, clubs: object) -> object:
        if not isinstance(clubs, list):
            return clubs
        return [{"name": one} if isinstance(one, str) else one for one in clubs]

    @field_validator("clubs")
    @classmethod
    def _each_spelling_once(cls, clubs: tuple[ClubName, ...]) -> tuple[ClubName, ...]:
        owner: dict[str, str] = {}
        for club in clubs:
            for word in dict.fromkeys(map(plain_club, (club.name, *club.also))):
                if not word:
                    raise ValueError(f"club {club.name!r}: a spelling has no letter or digit")
                if word in owner:
                    raise ValueError(
                        f"{owner[word]!r} and {club.name!r} share a spelling; keep it with one"
                    )
                owner[word] = club.name
        return clubs

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
        if len(levels) > MOST_LEVELS:
            raise ValueError(f"{len(levels)} levels, at most {MOST_LEVELS} are allowed")
        for level in levels:
            for words in (level.key, level.label):
                if len(words) > LONGEST_NAME or not words.isprintable() or not words.strip():
                    raise ValueError(
                        f"{short_words(words)!r}: a key or label of 1 to {LONGEST_NAME} printable "
                        "characters is needed"
                    )
            for bound in (level.above, level.to):
                if bound is not None and not HANDICAP_LOWEST <= bound <= HANDICAP_HIGHEST:
                    raise ValueError(
                        f"{level.key!r}: handicaps run from {HANDICAP_LOWEST:g} to "
                        f"{HANDICAP_HIGHEST:g}, and {bound:g} is none"
                    )
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


def keep_settings(
    store: Store, settings: Settings, *, who: str = NOT_STATED, why: str = ""
) -> None:
    """Keep settings in a store; who, a role, and why are for the log."""
    details: dict[str, object] = {"one_person": settings.one_person}
    with store.act("settings", who=who, why=why, details=details):
        store.set_setting(SETTINGS_KEY, settings.model_dump(mode="json"))


def change_settings(
    store: Store, settings: Settings, *, who: str = NOT_STATED, why: str = ""
) -> None:
    """Keep settings in a store; one that lets one role put up and approve is signed and logged.

    Raises
    ------
    NormsError
        ``settings_unsigned``.
    """
    # Not by `settings_of`: what an earlier version let be set may be what is now put right.
    kept = store.setting(SETTINGS_KEY)
    before = kept.get("one_person") if isinstance(kept, dict) else None
    if settings.one_person != before:
        who, why = " ".join(who.split()), " ".join(why.split())
        if who in ("", NOT_STATED) or not why:
            raise NormsError(
                "setting one_person: whether one role may put up and approve a standard is "
                "changed with who and why; state --who, by role, and --why",
                code="settings_unsigned",
            )
    keep_settings(store, settings, who=who, why=why)


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
