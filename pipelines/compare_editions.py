"""Two editions of a store held against one another."""

import numpy as np

from norms.cohort.compare import EditionComparison
from norms.cohort.compare import compare_editions as compare
from pipelines.store import Store


def compare_editions(
    store: Store, first: str, second: str, *, seed: int = 0, false_alarm_rate: float = 0.05
) -> EditionComparison:
    """Say what moved from one edition to another, and whether more than sampling error.

    Parameters
    ----------
    store : Store
    first, second : str
        Names of editions.
    seed : int
        Of the relabellings.
    false_alarm_rate : float
        Chance of any finding when nothing moved.

    Raises
    ------
    StoreRefused
        If the store lacks one of them.
    CohortRefused
        If one came from elsewhere without its golfers.
    """
    return compare(
        store.edition(first),
        store.edition(second),
        np.random.default_rng(seed),
        false_alarm_rate=false_alarm_rate,
    )
