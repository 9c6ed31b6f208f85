"""Rows of a study, or of a cohort of features alone, that may serve a purpose."""

import numpy as np

from norms.cohort.roll import PERSON_DECIDED
from norms.errors import StudyRefused
from norms.records.consent import Purpose
from norms.records.study import StudyFrame
from norms.study.coarsening import NOT_AGREED, rows_kept
from pipelines.consents import consenting
from pipelines.exclude import excluded_golfers, excluded_swings
from pipelines.store import Store


def agreed_rows(store: Store, frame: StudyFrame, purpose: Purpose, name: str) -> StudyFrame:
    """The rows of golfers who agreed to a purpose, without what a person left out.

    A cohort of features alone may be of other people: whoever is on no roster of this store is
    for the person who brought the table in to have asked.

    Parameters
    ----------
    store : Store
    frame : StudyFrame
    purpose : {"norms", "research"}
    name : str
        Of the study or cohort, for messages.

    Raises
    ------
    StudyRefused
        ``no_consent`` where nobody is left.
    """
    willing, roster = consenting(store, purpose), store.golfers()
    agreed = {code for code in frame.golfers if code in willing or code not in roster}
    if not agreed:
        raise StudyRefused(
            f"{name}: none of its {len(set(frame.golfers))} golfers agreed to {purpose}; ask them, "
            "and read their consents in (norms consents)",
            code="no_consent",
        )
    kept = _kept(frame, [code in agreed for code in frame.golfers], NOT_AGREED[purpose])
    golfers, swings = excluded_golfers(store), excluded_swings(store)
    counted = [
        golfer not in golfers and swing not in swings
        for golfer, swing in zip(kept.golfers, kept.swings, strict=True)
    ]
    if not any(counted):
        raise StudyRefused(
            f"{name}: every swing of it is left out by a person's decision (norms exclusions)",
            code="no_consent",
        )
    return _kept(kept, counted, PERSON_DECIDED)


def _kept(frame: StudyFrame, keep: list[bool], reason: str) -> StudyFrame:
    return rows_kept(frame, np.array(keep, dtype=bool), reason)
