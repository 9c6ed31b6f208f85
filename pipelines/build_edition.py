"""From the swings in a store to a frozen edition of norms."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from norms.cohort.edition import amended
from norms.cohort.edition import build_edition as build
from norms.cohort.lab_terms import terms_words
from norms.cohort.measurement_annexes import with_measurement
from norms.errors import CohortRefused
from norms.records import Edition
from norms.statistics.one_thread import on_one_thread
from norms.swing.catalogue import CATALOGUE
from pipelines.audit import edition_said
from pipelines.codes import check_edition_name
from pipelines.cohort_file import take_cohorts
from pipelines.edition_annexes import add_annexes
from pipelines.exclude import standing_exclusions
from pipelines.lab_standing import LabStanding, lab_standing, noise_by_club
from pipelines.roles import NOT_STATED
from pipelines.settings import settings_of
from pipelines.store import Store

LABELS: Final = {info.name: info.label for info in CATALOGUE}


@on_one_thread
def build_edition(
    store: Store, name: str, *, cohorts: Path | None = None, who: str = NOT_STATED
) -> Edition:
    """Build norms from the swings of a store and keep them under a name.

    Swings of a session that is out of control, of a lab without a kept profile, and of a lab that
    too few golfers link to the reference lab are left out; the other labs' swings are put in the
    terms of the reference lab. What a person excluded is left out, too. The noise budget, and what
    stands beside the bands, are kept with the edition.

    Parameters
    ----------
    store : Store
        Open for writing.
    name : str
    cohorts : Path, optional
        TOML of named cohorts to build besides club and level; by default those the store kept
        from an earlier build.
    who : str
        Role, for the log.

    Returns
    -------
    Edition

    Raises
    ------
    CohortRefused
        If no swing may enter norms.
    StoreRefused
        If the name is taken by an edition with other numbers.
    """
    check_edition_name(name, store.edition_names())
    settings = settings_of(store)
    labs = lab_standing(store)
    _refuse_if_none_is_left(labs)
    exclusions = standing_exclusions(store)
    edition = build(
        name,
        labs.norms_pool,
        store.golfers(),
        settings.levels,
        smallest_cell=settings.smallest_cell,
        cohorts=take_cohorts(store, cohorts),
        exclusions=exclusions,
    )
    edition = add_annexes(store, _with_labs(edition, labs), labs.norms_pool, exclusions)
    edition = with_measurement(edition, noise_by_club(labs.counted_pool), labs.terms)
    with store.act("build", who=who, details=edition_said(edition), silent_unchanged=True):
        store.save_edition(edition, datetime.now(UTC))
    return edition


def _refuse_if_none_is_left(labs: LabStanding) -> None:
    left_out = labs.admission.left_out
    if left_out and not labs.norms_pool.swings:
        lost = "; ".join(f"{count} swings: {rule}" for rule, count in left_out.items())
        raise CohortRefused(
            f"no swing may enter norms ({lost}); see what norms check says of the labs",
            code="empty",
        )


def _with_labs(edition: Edition, labs: LabStanding) -> Edition:
    """The edition with what was done about labs: among its parameters, so under its hash."""
    known = [
        {"club": club, "lab": lab, "label": f"{lab} is the reference lab, {club}"}
        for club, lab in labs.admission.reference.items()
    ]
    known += [
        {"club": one.effect.club, "lab": one.effect.lab, "label": terms_words(one, LABELS)}
        for one in labs.terms
    ]
    return amended(
        edition,
        parameters={**edition.parameters, "labs": known},
        attrition={**labs.admission.left_out, **edition.attrition},
    )
