"""Rows for a terminal about averages that are registered within phases."""

from collections.abc import Iterable

from norms.cohort.phase_registration import RegisteredCohort
from norms.vocabulary import AXES, PHASE_NAMES, PHASES
from reports.quantities import DASH, percent_of, quantity
from reports.tables import Rows


def registration_table(cohorts: Iterable[RegisteredCohort], *, unit: str = "in") -> Rows:
    """Variance between golfers that registration removed, and how far the mean moved by it."""
    rows: Rows = [
        [
            "group",
            "golfers",
            *(f"{axis}, variance removed" for axis in AXES),
            "most in",
            *(f"{axis}, mean moved at most" for axis in AXES),
        ]
    ]
    for one in cohorts:
        removed = [percent_of(float(share)) for share in one.registered.removed_share]
        moved = [quantity(float(value), "cm", unit) for value in one.mean_moved_cm]
        by_phase = one.registered.removed_share_by_phase.max(axis=1)
        most = PHASE_NAMES[PHASES[int(by_phase.argmax())]] if by_phase.max() > 0 else DASH
        rows.append([one.label, f"{one.golfers:,}", *removed, most, *moved])
    return rows


def registration_lead() -> list[str]:
    """What the table says, to stand wherever registered averages are shown."""
    return [
        "Registered within phases: the shares of the variance between golfers that aligning their "
        "timing takes away (below zero: adds), and how far the averages move by it. Nothing of it "
        "is kept."
    ]
