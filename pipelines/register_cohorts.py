"""Registered averages of an edition's groups, beside its norms and never among them."""

from norms.cohort.phase_registration import RegisteredCohort, register_cohort
from norms.records import Edition


def register_cohorts(edition: Edition) -> tuple[RegisteredCohort, ...]:
    """Register the golfers of every group that carries norms.

    Parameters
    ----------
    edition : Edition
        With its golfers' means: one that was built here, not one from elsewhere. It is not
        changed, and nothing is kept: bands are of curves as golfers swing them.

    Returns
    -------
    tuple of RegisteredCohort
        In the order of the edition; groups that are withheld are left out.
    """
    return tuple(
        register_cohort(cell.cohort)
        for cell in edition.cells
        if cell.bands is not None and cell.cohort.golfers
    )
