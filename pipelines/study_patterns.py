"""Membership of patterns for a study: from a table, or from an edition that found patterns."""

from pathlib import Path
from typing import Final

from norms.cohort.frozen_shapes import frozen_shapes
from norms.cohort.own_shapes import memberships_of
from norms.errors import StudyRefused
from pipelines.import_tables import read_code
from pipelines.store import Store
from pipelines.study_file import CohortSection
from pipelines.text_tables import CellFault, Column, read_text_table, refuse_faults

Memberships = dict[str, dict[str, float]]
"""By pattern, by swing or golfer, from 0 to 1."""


def edition_patterns(store: Store, edition: str, cohort: CohortSection) -> Memberships:
    """Memberships of the golfers of an edition in the patterns it found.

    Parameters
    ----------
    store : Store
    edition : str
    cohort : CohortSection
        Of one club: patterns are found club by club.

    Raises
    ------
    StoreRefused
        If the store has no such edition.
    StudyRefused
        If the study is of several clubs, or the edition found no patterns of its club.
    """
    if len(cohort.clubs) != 1:
        raise StudyRefused(
            "model.edition: patterns are found club by club; name exactly one club under cohort",
            code="study_file",
        )
    club = cohort.clubs[0]
    frozen = store.edition(edition)
    patterns = frozen_shapes(frozen).patterns.get(club)
    if patterns is None or not patterns.found:
        why = patterns.reason if patterns else "it was built without looking for them"
        raise StudyRefused(
            f"model.edition: edition {edition} has no patterns of {club}: {why}",
            code="no_patterns",
        )
    memberships = memberships_of(frozen, club)
    return {
        f"{pattern.key}, {pattern.name}": {
            code: shares[place] for code, shares in memberships.items()
        }
        for place, pattern in enumerate(patterns.found)
    }


def _read_membership(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 <= value <= 1.0:
        raise CellFault("allowed is a share from 0 to 1")
    return value


def _may(name: str) -> Column:
    return Column(name=name, read=read_code, needed=False, filled=False)


PATTERN_COLUMNS: Final = (
    _may("swing"),
    _may("golfer"),
    Column(name="pattern", read=read_code),
    Column(name="membership", read=_read_membership, needed=False, filled=False, number=True),
)


def read_patterns(file: Path) -> dict[str, dict[str, float]]:
    """Membership by pattern and by swing, or golfer, from a table.

    Parameters
    ----------
    file : Path
        CSV with columns swing or golfer, pattern, and where memberships are shared between
        patterns, membership. Whoever is in the table but not named for a pattern has none of it.

    Raises
    ------
    TableRefused
    """
    table = read_text_table(file, PATTERN_COLUMNS)
    who = "swing" if "swing" in table.columns else "golfer"
    if who not in table.columns:
        table.fault(1, "swing", "", "a column swing or a column golfer is needed")
    table.refuse_repeats(who, "pattern")
    refuse_faults([table])
    subjects = sorted({row.values[who] for row in table.rows if row.values[who]})
    found = {
        name: dict.fromkeys(subjects, 0.0)
        for name in sorted({row.values["pattern"] for row in table.rows})
    }
    for row in table.rows:
        if row.values[who]:
            share = row.values.get("membership")
            found[row.values["pattern"]][row.values[who]] = 1.0 if share is None else share
    return found
