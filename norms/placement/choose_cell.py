"""Which cell of an edition a swing is held against."""

from collections.abc import Sequence

from norms.cohort.levels import ALL_LEVELS, level_for, level_of
from norms.errors import CohortRefused
from norms.records import CohortNorms, Edition, Golfer, Level, Swing


def choose_cell(
    swing: Swing,
    edition: Edition,
    *,
    golfer: Golfer | None = None,
    handicap: float | None = None,
    level: str | None = None,
    cohort: str | None = None,
) -> CohortNorms:
    """The cohort asked for, else the cell of the swing's club and of a level.

    Parameters
    ----------
    swing : Swing
    edition : Edition
    golfer : Golfer or None
    handicap : float or None
        Declared for the day.
    level, cohort : str or None
        At most one of them.

    Raises
    ------
    CohortRefused
        If the edition does not know the club, the level or the cohort, the cohort is of another
        club, both are asked for, or the handicap is impossible.
    """
    club = swing.label.club
    if cohort is not None:
        if level is not None:
            raise CohortRefused(
                f"level {level!r} and cohort {cohort!r} are both asked for; ask for one of them",
                code="level_and_cohort",
            )
        return _of_club(cohort_cell(edition, cohort), edition, club)
    of_club = {
        definition.level.key if definition.level else ALL_LEVELS: cell
        for cell in edition.cells
        if (definition := cell.cohort.definition).club == club and definition.name is None
    }
    if not of_club:
        clubs = sorted({cell.cohort.definition.club for cell in edition.cells})
        raise CohortRefused(
            f"edition {edition.name} has no norms for club {club!r}; it has {', '.join(clubs)}",
            code="unknown_club",
        )
    levels = [cell.cohort.definition.level for cell in of_club.values()]
    key = level
    if key is None:
        key = _level_key(swing, [one for one in levels if one], golfer, handicap)
    if key not in of_club:
        raise CohortRefused(
            f"edition {edition.name} has no level {key!r} for {club}; it has "
            f"{', '.join(sorted(of_club))}",
            code="unknown_level",
        )
    return of_club[key]


def cohort_cell(edition: Edition, key: str) -> CohortNorms:
    """The cell of a cohort by its key.

    Raises
    ------
    CohortRefused
        If the edition has no such cohort; named cohorts are listed first.
    """
    cell = edition.cell(key)
    if cell is None:
        definitions = [one.cohort.definition for one in edition.cells]
        keys = [one.key for one in sorted(definitions, key=lambda one: (one.name is None, one.key))]
        raise CohortRefused(
            f"edition {edition.name} has no cohort {key!r}; it has {', '.join(keys)}",
            code="unknown_cohort",
        )
    return cell


def _of_club(cell: CohortNorms, edition: Edition, club: str) -> CohortNorms:
    definition = cell.cohort.definition
    if definition.club == club:
        return cell
    fitting = [
        one.cohort.definition.key for one in edition.cells if one.cohort.definition.club == club
    ]
    raise CohortRefused(
        f"cohort {definition.key!r} is of swings with {definition.club}, and this one is with "
        f"{club}; edition {edition.name} has for it {', '.join(fitting) or 'nothing'}",
        code="other_club",
    )


def _level_key(
    swing: Swing, levels: Sequence[Level], golfer: Golfer | None, handicap: float | None
) -> str:
    if handicap is not None:
        return level_for(handicap, levels).key
    if golfer is not None:
        return level_of(golfer, swing.label.recorded_on, levels).key
    return ALL_LEVELS
