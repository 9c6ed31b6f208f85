"""The noise budget of a store: how far a swing, a day and a lab move each feature."""

from norms.records import MeasurementError
from pipelines.lab_standing import lab_standing, noise_by_club
from pipelines.store import Store


def noise_budget(store: Store) -> dict[str, MeasurementError]:
    """Measurement error by club of the swings that may enter norms.

    Parameters
    ----------
    store : Store

    Returns
    -------
    dict of str to MeasurementError
        Labs in the terms of their reference lab. A club without repeated swings is absent.
    """
    return noise_by_club(lab_standing(store, hold=False).norms_pool)
