"""What files in TOML that a person writes share: reading, strict sections, faults in a line."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any, Final, TypeVar, get_args

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from norms.errors import NormsError
from norms.vocabulary import Sex
from pipelines.bounded import BeyondReason, NotReadable, read_toml_file, short_words
from pipelines.import_tables import read_handicap
from pipelines.limits import past_day_fault, planned_day_fault
from pipelines.text_tables import CellFault

NAME: Final = r"^[a-z0-9][a-z0-9_-]{0,63}$"
LONGEST_FAULT: Final = 500
"""Characters of a fault: a validator may repeat what somebody wrote."""
Refusal = Callable[[str], NormsError]
Model = TypeVar("Model", bound=BaseModel)

_NO_KEY: Final = ("extra_forbidden", "unexpected_keyword_argument")
# Bounded everywhere: long lines of one letter would else be gone through again and again.
_BARE_PLUS: Final = re.compile(
    r"^[ \t]{0,99}(\w{0,30}handicap\w{0,30}|above|to)[ \t]{0,99}=[ \t]{0,99}\+", re.MULTILINE
)


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
        If the file cannot be read, is not TOML, is larger, deeper or longer than a person writes,
        or states a plus handicap as a plain number.
    """
    try:
        text, stated = read_toml_file(file)
    except OSError as error:
        raise refused(f"{file}: cannot be read ({error.strerror}): check the path") from error
    except NotReadable as fault:
        raise refused(f"{file}: is not a TOML file: {fault}") from fault
    except BeyondReason as fault:
        raise refused(f"{file}: {fault}") from fault
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
        fault = first_fault(error)
        where = [".".join(short_words(str(one)) for one in fault["loc"])] if fault["loc"] else []
        said = fault_words(model, fault)
        raise refused(f"{place}{': '.join([*where, said])}; correct it") from error


def first_fault(error: ValidationError) -> Mapping[str, Any]:
    """The fault to tell a person: a key that is none, since a misspelt one is missing as well."""
    faults = error.errors()
    return next((one for one in faults if one["type"] in _NO_KEY), faults[0])


def fault_words(model: type[BaseModel], fault: Mapping[str, Any]) -> str:
    """What is wrong of one fault of a model's; an unknown key with those there are."""
    if fault["type"] in _NO_KEY:
        allowed = ", ".join(allowed_keys(model, fault["loc"][:-1]))
        return f"is no key of this file; allowed here: {allowed}"
    if fault["type"] == "missing":
        return "is missing; state it"
    said: str = short_words(fault["msg"].removeprefix("Value error, "), LONGEST_FAULT)
    return f"{said[0].lower()}{said[1:]}"


def allowed_keys(model: type[BaseModel], place: Sequence[str | int]) -> list[str]:
    """Keys that a section of a file may hold, as a person writes them.

    Parameters
    ----------
    model : type
        Of the whole file.
    place : sequence of str or int
        Keys and numbers that lead to the section; what names no field, such as the name of an
        entry, leads no further.
    """
    here: list[type] = [model]
    for part in place:
        named = [field for one in here for field in _fields(one) if field[0] == part]
        here = [inner for _, annotation in named for inner in _models(annotation)] or here
    return list(dict.fromkeys(key for one in here for key, _ in _fields(one)))


def _fields(model: type) -> list[tuple[str, Any]]:
    if issubclass(model, BaseModel):
        return [(one.alias or name, one.annotation) for name, one in model.model_fields.items()]
    return [(one.name, one.type) for one in fields(model)] if is_dataclass(model) else []


def _models(annotation: Any) -> list[type]:
    """Sections that an annotation speaks of, in a list, a table or a choice as well."""
    if isinstance(annotation, type) and (
        issubclass(annotation, BaseModel) or is_dataclass(annotation)
    ):
        return [annotation]
    return [inner for part in get_args(annotation) for inner in _models(part)]


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


def _in_the_past(day: date) -> date:
    if fault := past_day_fault(day):
        raise ValueError(f"{day} {fault}")
    return day


def _within_plans(day: date) -> date:
    if fault := planned_day_fault(day):
        raise ValueError(f"{day}: {fault}")
    return day


HandicapIndex = Annotated[float, BeforeValidator(handicap_value)]
Day = Annotated[date, BeforeValidator(_plain_day)]
PastDay = Annotated[Day, AfterValidator(_in_the_past)]
PlannedDay = Annotated[Day, AfterValidator(_within_plans)]


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
    recorded_from: PastDay | None = None
    recorded_to: PlannedDay | None = None
