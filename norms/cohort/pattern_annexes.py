"""Components, patterns and typicality fitted and kept as annexes of an edition."""

from collections.abc import Mapping
from dataclasses import asdict
from functools import partial
from typing import Any, Final

from norms.cohort.annex_making import annex_of, attempt
from norms.cohort.club_components import fit_club_components
from norms.cohort.club_swings import cohort_swings
from norms.cohort.edition import amended, club_cohorts
from norms.cohort.frozen_shapes import FrozenShapes, frozen_shapes
from norms.cohort.own_shapes import OWN_SHAPES, OwnShapes
from norms.cohort.pattern_description import NameOf
from norms.cohort.pattern_search import PatternChoices
from norms.cohort.patterns import find_patterns
from norms.cohort.roll import Roll
from norms.cohort.typicality import fit_typicality
from norms.records import Annex, Edition
from norms.records.components import Components
from norms.records.patterns import Patterns, Typicality
from norms.statistics.one_thread import on_one_thread

NO_COMPONENTS: Final = "there are no components of this club's curves"


@on_one_thread
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
    own = OwnShapes()
    for cohort in club_cohorts(edition):
        club = cohort.definition.club
        swings = cohort_swings(roll, cohort.definition)
        found = attempt(partial(fit_club_components, cohort, swings, handicaps.get(club, {})))
        annexes.append(annex_of("components", club, found))
        if not isinstance(found, Components):
            annexes.append(Annex(kind="patterns", subject=club, withheld=NO_COMPONENTS))
            continue
        earlier = _earlier(previous, before, club)
        patterns = find_patterns(cohort, swings, found, choices, name_of, earlier)
        annexes.append(annex_of("patterns", club, own.without_golfers(cohort, patterns)))
    smallest: Any = edition.parameters["smallest_cell"]
    for cell in edition.cells:
        made = attempt(
            partial(
                fit_typicality,
                cell.cohort,
                cohort_swings(roll, cell.cohort.definition),
                smallest_cell=int(smallest),
                seed=choices.seed,
            )
        )
        if isinstance(made, Typicality):
            made = own.without_golfer_columns(cell.cohort, made)
        annexes.append(annex_of("typicality", cell.cohort.definition.key, made))
    parameters = {**edition.parameters, "patterns": asdict(choices)}
    return amended(
        edition,
        annexes=tuple(annexes),
        parameters=parameters,
        evidence={**edition.evidence, OWN_SHAPES: own.evidence()},
    )


def _earlier(
    previous: Edition | None, shapes: FrozenShapes | None, club: str
) -> tuple[str, Components, Patterns] | None:
    if previous is None or shapes is None or club not in shapes.patterns:
        return None
    return previous.name, shapes.components[club], shapes.patterns[club]
