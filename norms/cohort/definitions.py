"""Cohort definitions: checked, said in words, and as plain values that a store or a file keeps."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, asdict, fields
from datetime import date
from typing import Any, Final

from norms.errors import CohortRefused
from norms.records import CohortDefinition, Level
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST, SEXES

NAME_PATTERN: Final = re.compile(r"[a-z0-9][a-z0-9_-]{0,63}")
"""A name is a plain word, so that it can stand on a command line and never looks like the key
``club/level`` of an edition's own cells."""

OLDEST: Final = 120


def check_definition(definition: CohortDefinition) -> None:
    """Refuse a named cohort that contradicts itself or that nobody could belong to.

    Raises
    ------
    CohortRefused
        Naming the cohort and the key at fault.
    """
    for key, why in _faults(definition):
        raise CohortRefused(f"cohort {definition.name!r}: {key}: {why}", code="definition")


def check_names(definitions: Sequence[CohortDefinition]) -> None:
    """Refuse named cohorts of which two have the same name.

    Raises
    ------
    CohortRefused
    """
    names = [definition.name for definition in definitions]
    for name in names:
        if names.count(name) > 1:
            raise CohortRefused(
                f"cohort {name!r}: name: stands twice; give each cohort its own name",
                code="definition",
            )


def _faults(definition: CohortDefinition) -> list[tuple[str, str]]:
    d = definition
    low, high = HANDICAP_LOWEST, HANDICAP_HIGHEST
    faults = [
        ("name", "small letters, digits, _ and - only, so that it can be typed", not _is_name(d)),
        ("club", "is empty; name the club as the captures do", not d.club),
        ("sex", f"{d.sex!r} is none of {', '.join(SEXES)}", d.sex not in (None, *SEXES)),
        ("age", _range_words(d.age_from, d.age_to), _crossed(d.age_from, d.age_to)),
        ("age", f"ages run from 0 to {OLDEST} years", _beyond((d.age_from, d.age_to), 0, OLDEST)),
        (
            "handicap",
            _range_words(d.handicap_above, d.handicap_to),
            _crossed(d.handicap_above, d.handicap_to) or _equal(d.handicap_above, d.handicap_to),
        ),
        (
            "handicap",
            f"handicaps run from {low:g} (a plus handicap of {-low:g}) to {high:g}",
            _beyond((d.handicap_above, d.handicap_to), low, high),
        ),
        (
            "levels",
            "stated beside a handicap range; state one of the two",
            bool(d.levels) and (d.handicap_above, d.handicap_to) != (None, None),
        ),
        (
            "recorded",
            _range_words(d.recorded_from, d.recorded_to),
            _crossed(d.recorded_from, d.recorded_to),
        ),
        (
            "largest_filled_share",
            "is a share from 0 to 1",
            _beyond((d.largest_filled_share,), 0.0, 1.0),
        ),
    ]
    return [(key, why) for key, why, wrong in faults if wrong]


def _is_name(definition: CohortDefinition) -> bool:
    name = definition.name
    return name is not None and name == definition.key and bool(NAME_PATTERN.fullmatch(name))


def _crossed(low: Any, high: Any) -> bool:
    return low is not None and high is not None and low > high


def _equal(low: Any, high: Any) -> bool:
    return low is not None and low == high


def _beyond(values: Sequence[float | None], low: float, high: float) -> bool:
    return any(value is not None and not low <= value <= high for value in values)


def _range_words(low: object, high: object) -> str:
    return f"from {low} to {high} holds nobody; exchange or correct the two"


def describe(definition: CohortDefinition) -> tuple[str, ...]:
    """What a definition asks for, one short phrase per rule, in the order the rules apply."""
    d = definition
    levels = d.levels or ((d.level,) if d.level else ())
    phrases = [
        "consent to norms",
        f"club {d.club}",
        " or ".join(level.label for level in levels) if levels else None,
        d.sex,
        _span("age", d.age_from, d.age_to, "years"),
        _handicap_words(d.handicap_above, d.handicap_to),
        f"recorded at {' or '.join(d.labs)}" if d.labs else None,
        _span("recorded", d.recorded_from, d.recorded_to),
        None
        if d.largest_filled_share is None
        else f"at most {100 * d.largest_filled_share:g} % of any phase filled",
    ]
    return tuple(phrase for phrase in phrases if phrase)


def _span(word: str, low: object, high: object, unit: str = "") -> str | None:
    ends = {
        (True, True): f"{word} {low} to {high}",
        (True, False): f"{word} from {low}",
        (False, True): f"{word} up to {high}",
    }
    words = ends.get((low is not None, high is not None))
    return f"{words} {unit}".strip() if words else None


def _handicap_words(above: float | None, to: float | None) -> str | None:
    over = None if above is None else f"over {_handicap(above)}"
    upto = None if to is None else f"up to {_handicap(to)}"
    ends = ", ".join(end for end in (over, upto) if end)
    return f"handicap {ends}" if ends else None


def _handicap(index: float) -> str:
    return f"+{-index:g}" if index < 0 else f"{index:g}"


def definition_document(definition: CohortDefinition) -> dict[str, Any]:
    """A definition as plain JSON values; what it does not state is left out.

    Key, club and level always stand, so that the hash of an edition without named cohorts does
    not change as definitions learn new words.
    """
    document: dict[str, Any] = {
        "key": definition.key,
        "club": definition.club,
        "level": None if definition.level is None else asdict(definition.level),
    }
    for field in fields(definition):
        value = getattr(definition, field.name)
        if field.name not in document and field.default is not MISSING and value != field.default:
            document[field.name] = _plain(value)
    return document


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [asdict(item) if isinstance(item, Level) else item for item in value]
    return value


def definition_of(document: Mapping[str, Any]) -> CohortDefinition:
    """The definition that `definition_document` made a document of.

    Raises
    ------
    TypeError
        If the document holds a key that no definition has.
    """
    facts = dict(document)
    if facts.get("level") is not None:
        facts["level"] = Level(**facts["level"])
    if "levels" in facts:
        facts["levels"] = tuple(Level(**level) for level in facts["levels"])
    if "labs" in facts:
        facts["labs"] = tuple(facts["labs"])
    for day in ("recorded_from", "recorded_to"):
        if facts.get(day) is not None:
            facts[day] = date.fromisoformat(facts[day])
    return CohortDefinition(**facts)
