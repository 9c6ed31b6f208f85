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

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from pydantic import Field, ValidationError

from norms.cohort.definitions import (
    check_definition,
    check_names,
    definition_document,
    definition_of,
)
from norms.errors import CohortRefused, NormsError
from norms.records import CohortDefinition, Level
from pipelines.settings import levels_of
from pipelines.store import Store
from pipelines.toml_file import Section, SwingRules, fault_words, first_fault, read_toml

COHORTS_KEY: Final = "cohorts"


class _CohortSection(SwingRules):
    name: str
    club: str = Field(min_length=1)
    title: str | None = None
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


class _CohortFile(Section):
    cohort: list[_CohortSection] = Field(default_factory=list)


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
    _, stated = read_toml(file, _refused)
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
    with store.act("cohorts", details={"cohorts": len(cohorts)}, silent_unchanged=True):
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
    fault = first_fault(error)
    place = list(fault["loc"])
    words = [str(part) for part in place]
    if len(place) >= 2 and isinstance(place[1], int):
        section = stated[str(place[0])][place[1]]
        name = section.get("name") if isinstance(section, dict) else None
        words = [f"{place[0]} {name!r}" if name else f"{place[0]} {place[1] + 1}"]
        words += [str(part) for part in place[2:]]
    return f"{': '.join(words)}: {fault_words(_CohortFile, fault)}"


def _refused(message: str) -> CohortRefused:
    return CohortRefused(message, code="cohort_file")
