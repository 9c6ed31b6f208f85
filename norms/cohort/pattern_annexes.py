"""Components, patterns and typicality as annexes of an edition, and out of them again."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from typing import Any, Final, TypeVar

from norms.cohort.club_components import fit_club_components
from norms.cohort.club_swings import cohort_swings
from norms.cohort.edition import content_hash
from norms.cohort.pattern_description import NameOf
from norms.cohort.patterns import PatternChoices, find_patterns
from norms.cohort.roll import Roll
from norms.cohort.typicality import fit_typicality
from norms.errors import CohortRefused
from norms.records import Annex, Cohort, Edition
from norms.records.annex import AnnexKind
from norms.records.components import Components
from norms.records.patterns import Patterns, Typicality
from norms.records.plain import put_together, take_apart

Found = TypeVar("Found")

NO_COMPONENTS: Final = "there are no components of this club's curves"


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenShapes:
    """What an edition knows of the shapes of swings, ready to be applied to newcomers.

    Attributes
    ----------
    components : Mapping of str to Components
        By club.
    patterns : Mapping of str to Patterns
        By club.
    typicality : Mapping of str to Typicality
        By cohort key.
    """

    components: Mapping[str, Components]
    patterns: Mapping[str, Patterns]
    typicality: Mapping[str, Typicality]


def with_shapes(
    edition: Edition,
    roll: Roll,
    handicaps: Mapping[str, Mapping[str, float]],
    name_of: NameOf,
    choices: PatternChoices,
    previous: Edition | None = None,
) -> Edition:
    """The edition with components, patterns and typicality, and a hash over all of it.

    Parameters
    ----------
    edition : Edition
    roll : Roll
        Of the same pool, roster, levels and exclusions.
    handicaps : Mapping of str to Mapping
        By club, then by golfer.
    name_of : callable
        Makes plain names of patterns.
    choices : PatternChoices
    previous : Edition or None
        To keep keys and names of patterns.

    Returns
    -------
    Edition
        What cannot be had is an annex too, with the reason.
    """
    before = frozen_shapes(previous) if previous is not None else None
    annexes = [*edition.annexes]
    for cohort in _club_cohorts(edition):
        club = cohort.definition.club
        swings = cohort_swings(roll, cohort.definition)
        found = _attempt(partial(fit_club_components, cohort, swings, handicaps.get(club, {})))
        annexes.append(_annex("components", club, found))
        if not isinstance(found, Components):
            annexes.append(Annex(kind="patterns", subject=club, withheld=NO_COMPONENTS))
            continue
        earlier = _earlier(previous, before, club)
        patterns = find_patterns(cohort, swings, found, choices, name_of, earlier)
        annexes.append(_annex("patterns", club, patterns))
    smallest: Any = edition.parameters["smallest_cell"]
    for cell in edition.cells:
        made = _attempt(
            partial(
                fit_typicality,
                cell.cohort,
                cohort_swings(roll, cell.cohort.definition),
                smallest_cell=int(smallest),
                seed=choices.seed,
            )
        )
        annexes.append(_annex("typicality", cell.cohort.definition.key, made))
    parameters = {**edition.parameters, "patterns": asdict(choices)}
    return replace(
        edition,
        annexes=tuple(annexes),
        parameters=parameters,
        content_hash=content_hash(edition.cells, parameters, annexes),
    )


def frozen_shapes(edition: Edition) -> FrozenShapes:
    """Components, patterns and typicality of an edition; empty where it was built without."""
    return FrozenShapes(
        components=_found(edition.annexes, "components", Components),
        patterns=_found(edition.annexes, "patterns", Patterns),
        typicality=_found(edition.annexes, "typicality", Typicality),
    )


def _club_cohorts(edition: Edition) -> list[Cohort]:
    """For each club, the golfers of every level."""
    return [
        cell.cohort
        for cell in edition.cells
        if cell.cohort.definition.level is None and cell.cohort.definition.name is None
    ]


def _earlier(
    previous: Edition | None, shapes: FrozenShapes | None, club: str
) -> tuple[str, Components, Patterns] | None:
    if previous is None or shapes is None or club not in shapes.patterns:
        return None
    return previous.name, shapes.components[club], shapes.patterns[club]


def _attempt(make: Callable[[], object]) -> object:
    try:
        return make()
    except CohortRefused as refusal:
        return refusal


def _annex(kind: AnnexKind, subject: str, found: object) -> Annex:
    if isinstance(found, CohortRefused):
        return Annex(kind=kind, subject=subject, withheld=found.message)
    document, arrays = take_apart(found)
    return Annex(kind=kind, subject=subject, document=document, arrays=arrays)


def _found(annexes: Sequence[Annex], kind: AnnexKind, record: type[Found]) -> dict[str, Found]:
    return {
        annex.subject: put_together(record, annex.document, annex.arrays)
        for annex in annexes
        if annex.kind == kind and annex.withheld is None
    }
