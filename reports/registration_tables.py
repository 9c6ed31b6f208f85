"""Rows and sentences for a terminal about averages that are registered within phases."""

from collections.abc import Iterable

from norms.cohort.phase_registration import RegisteredCohort
from norms.vocabulary import AXES
from reports.quantities import percent_of, plural, quantity
from reports.tables import Rows


def registration_table(cohorts: Iterable[RegisteredCohort], *, unit: str = "in") -> Rows:
    """Variance between golfers that registration removed, and how far the mean moved by it."""
    rows: Rows = [
        [
            "group",
            "golfers",
            *(f"{axis}, variance removed" for axis in AXES),
            *(f"{axis}, mean moved at most" for axis in AXES),
        ]
    ]
    for one in cohorts:
        removed = [percent_of(float(share)) for share in one.registered.removed_share]
        moved = [quantity(float(value), "cm", unit) for value in one.mean_moved_cm]
        rows.append([one.label, f"{one.golfers:,}", *removed, *moved])
    return rows


def registration_sentences(cohorts: Iterable[RegisteredCohort]) -> list[str]:
    """What registration removed from each group, to stand wherever its averages are shown."""
    return [
        f"{one.label}, {plural(one.golfers, 'golfer')}. {one.registered.sentence()}"
        for one in cohorts
    ]
