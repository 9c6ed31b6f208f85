"""The cohort file: named cohorts, in TOML that a person reads and edits.

::

    [[cohort]]
    name = "women_driver_to_20"      # small letters, digits, _ and -
    title = "Women to 20, driver"    # words for a page
    club = "driver"
    sex = "female"                   # female or male
    age_from = 18                    # years, both ends included
    age_to = 64
    levels = ["scratch", "to_5"]     # of the academy's table; or a range of handicap:
    handicap_above = "+2.0"          # over this one (plus handicaps in quotes) ...
    handicap_to = 20.0               # ... up to this one, included
    labs = ["North bay"]
    recorded_from = 2025-03-01
    recorded_to = 2026-02-28
    largest_filled_share = 0.10      # of any phase

Only name and club must be stated. Consent to norms is always required and cannot be switched off.
"""

import re
import tomllib
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any, Final

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from norms.cohort.definitions import (
    check_definition,
    check_names,
    definition_document,
    definition_of,
)
from norms.errors import CohortRefused, NormsError
from norms.records import CohortDefinition, Level
from norms.vocabulary import Sex
from pipelines.import_tables import read_handicap
from pipelines.settings import levels_of
from pipelines.store import Store
from pipelines.text_tables import CellFault

COHORTS_KEY: Final = "cohorts"
_BARE_PLUS: Final = re.compile(r"^\s*(handicap_\w+)\s*=\s*\+", re.MULTILINE)


def _handicap(value: object) -> object:
    try:
        return read_handicap(value) if isinstance(value, str) else value
    except CellFault as fault:
        raise ValueError(str(fault)) from fault


def _plain_day(value: object) -> object:
    if isinstance(value, datetime):
        raise ValueError("a day without a time is needed, e.g. 2025-03-01")
    return value


HandicapIndex = Annotated[float, BeforeValidator(_handicap)]
Day = Annotated[date, BeforeValidator(_plain_day)]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class _CohortSection(_Section):
    name: str
    club: str = Field(min_length=1)
    title: str | None = None
    sex: Sex | None = None
    age_from: int | None = None
    age_to: int | None = None
    levels: list[str] = []
    handicap_above: HandicapIndex | None = None
    handicap_to: HandicapIndex | None = None
    labs: list[str] = []
    recorded_from: Day | None = None
    recorded_to: Day | None = None
    largest_filled_share: float | None = None

    def definition(self, levels: Mapping[str, Level]) -> CohortDefinition:
        unknown = [key for key in self.levels if key not in levels]
        if unknown:
            raise CohortRefused(
                f"cohort {self.name!r}: levels: {unknown[0]!r} is none of {', '.join(levels)}",
                code="definition",
            )
        facts = self.model_dump() | {
            "key": self.name,
            "levels": tuple(levels[key] for key in self.levels),
            "labs": tuple(self.labs),
        }
        definition = CohortDefinition(**facts)
        check_definition(definition)
        return definition


class _CohortFile(_Section):
    cohort: list[_CohortSection] = []


def read_cohorts(file: Path, levels: Sequence[Level]) -> tuple[CohortDefinition, ...]:
    """Read named cohorts from a file.

    Parameters
    ----------
    file : Path
    levels : sequence of Level
        The academy's table.

    Raises
    ------
    CohortRefused
        Naming the file, the cohort and the key at fault.
    """
    try:
        text = file.read_text(encoding="utf-8")
        stated = tomllib.loads(text)
    except OSError as error:
        raise _refused(f"{file}: cannot be read ({error.strerror}): check the path") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise _refused(f"{file}: is not a TOML file: {error}") from error
    if bare := _BARE_PLUS.search(text):
        # TOML reads +2 as 2: what the person meant as better than scratch would turn round.
        raise _refused(f'{file}: {bare[1]}: write a plus handicap in quotes, e.g. "+2.0"')
    table = {level.key: level for level in levels}
    try:
        sections = _CohortFile.model_validate(stated)
        definitions = tuple(section.definition(table) for section in sections.cohort)
        check_names(definitions)
    except ValidationError as error:
        raise _refused(f"{file}: {_fault_words(error, stated)}; correct it") from error
    except (NormsError, ValueError) as error:
        raise _refused(f"{file}: {error}; correct it") from error
    return definitions


def keep_cohorts(store: Store, cohorts: Sequence[CohortDefinition]) -> None:
    """Keep named cohorts in a store, in place of those it had."""
    store.set_setting(COHORTS_KEY, [definition_document(one) for one in cohorts])


def cohorts_of(store: Store) -> tuple[CohortDefinition, ...]:
    """Named cohorts of a store."""
    kept: Any = store.setting(COHORTS_KEY) or []
    return tuple(definition_of(one) for one in kept)


def take_cohorts(store: Store, file: Path | None) -> tuple[CohortDefinition, ...]:
    """Cohorts of a file, which the store then keeps; without a file, those it kept."""
    if file is None:
        return cohorts_of(store)
    cohorts = read_cohorts(file, levels_of(store))
    keep_cohorts(store, cohorts)
    return cohorts


def _fault_words(error: ValidationError, stated: Mapping[str, Any]) -> str:
    """The first fault, with the cohort's name or number and the key."""
    fault = error.errors()[0]
    place = list(fault["loc"])
    words = [str(part) for part in place]
    if len(place) >= 2 and isinstance(place[1], int):
        section = stated[str(place[0])][place[1]]
        name = section.get("name") if isinstance(section, dict) else None
        words = [f"{place[0]} {name!r}" if name else f"{place[0]} {place[1] + 1}"]
        words += [str(part) for part in place[2:]]
    said = fault["msg"].removeprefix("Value error, ")
    if fault["type"] == "extra_forbidden":
        said = "is no key of this file"
    return f"{': '.join(words)}: {said[0].lower()}{said[1:]}"


def _refused(message: str) -> CohortRefused:
    return CohortRefused(message, code="cohort_file")
