"""What more golfers would buy an edition, and whom to recruit next."""

from collections.abc import Sequence
from datetime import date

from norms.cohort.plan import PLANNED_GOLFERS, Plan, plan_edition
from pipelines.exclude import excluded_golfers
from pipelines.store import Store

PLANNED_FEATURES = ("sway_travel", "thrust_late_rise", "lift_rise")
"""One of each axis; any feature of the catalogue can be asked for instead."""


def plan_cohort(
    store: Store,
    edition: str,
    *,
    cohort: str | None = None,
    features: Sequence[str] = PLANNED_FEATURES,
    golfers: Sequence[int] = PLANNED_GOLFERS,
) -> Plan:
    """Plan recruiting for an edition of a store; who is left out of norms is not to be recruited.

    Parameters
    ----------
    store : Store
    edition : str
    cohort : str, optional
        Key of the group whose interval widths are foreseen; by default the first to recruit for.
    features : sequence of str
    golfers : sequence of int
        Numbers of golfers to foresee.

    Raises
    ------
    StoreRefused
        If the store has no such edition.
    CohortRefused
        If the edition has no such group or feature, or came without its golfers.
    """
    frozen = store.edition(edition)
    out = excluded_golfers(store)
    return plan_edition(
        frozen,
        {code: golfer for code, golfer in store.golfers().items() if code not in out},
        _day(store, frozen.evidence.get("compared_on")),
        cohort=cohort,
        features=features,
        golfers=golfers,
    )


def _day(store: Store, compared_on: object) -> date:
    """The edition's own newest day of recording; of editions that do not say, the store's."""
    if isinstance(compared_on, str):
        return date.fromisoformat(compared_on)
    return max(store.swing_pool().recorded_on)
