"""What files in TOML that a person writes share: reading, strict sections, faults in a line."""

import re
import tomllib
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any, Final, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from norms.errors import NormsError
from norms.vocabulary import Sex
from pipelines.import_tables import read_handicap
from pipelines.text_tables import CellFault

NAME: Final = r"^[a-z0-9][a-z0-9_-]{0,63}$"
Refusal = Callable[[str], NormsError]
Model = TypeVar("Model", bound=BaseModel)

_BARE_PLUS: Final = re.compile(r"^\s*(\w*handicap\w*|above|to)\s*=\s*\+", re.MULTILINE)


def read_toml(file: Path, refused: Refusal) -> tuple[str, dict[str, Any]]:
    """Text and content of a TOML file.

    Parameters
    ----------
    file : Path
    refused : callable
        Makes the refusal of a message.

    Raises
    ------
    NormsError
        If the file cannot be read, is not TOML, or states a plus handicap as a plain number.
    """
    try:
        text = file.read_text(encoding="utf-8")
        stated = tomllib.loads(text)
    except OSError as error:
        raise refused(f"{file}: cannot be read ({error.strerror}): check the path") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise refused(f"{file}: is not a TOML file: {error}") from error
    if bare := _BARE_PLUS.search(text):
        # TOML reads +2 as 2: what the person meant as better than scratch would turn round.
        raise refused(f'{file}: {bare[1]}: write a plus handicap in quotes, e.g. "+2.0"')
    return text, stated


def checked(model: type[Model], stated: object, place: str, refused: Refusal) -> Model:
    """What a file states, as a model; refused with its first fault.

    Parameters
    ----------
    model : type
    stated : object
    place : str
        Words before the key at fault.
    refused : callable
    """
    try:
        return model.model_validate(stated)
    except ValidationError as error:
        fault = error.errors()[0]
        where = [".".join(map(str, fault["loc"]))] if fault["loc"] else []
        raise refused(f"{place}{': '.join([*where, fault['msg']])}; correct it") from error


def handicap_value(value: object) -> object:
    """A handicap given as words, e.g. "+2.4", as its number; anything else as it is.

    Raises
    ------
    ValueError
        If the words are no handicap.
    """
    try:
        return read_handicap(value) if isinstance(value, str) else value
    except CellFault as fault:
        raise ValueError(str(fault)) from fault


def _plain_day(value: object) -> object:
    if isinstance(value, datetime):
        raise ValueError("a day without a time is needed, e.g. 2025-03-01")
    return value


HandicapIndex = Annotated[float, BeforeValidator(handicap_value)]
Day = Annotated[date, BeforeValidator(_plain_day)]


class Section(BaseModel):
    """A section with no key but its own, and no value of another type."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class GolferRules(Section):
    """Which golfers: sex, age, and either levels or a range of handicap."""

    sex: Sex | None = None
    age_from: int | None = None
    age_to: int | None = None
    levels: list[str] = Field(default_factory=list)
    handicap_above: HandicapIndex | None = None
    handicap_to: HandicapIndex | None = None


class SwingRules(GolferRules):
    """Which of their swings: labs and days."""

    labs: list[str] = Field(default_factory=list)
    recorded_from: Day | None = None
    recorded_to: Day | None = None
