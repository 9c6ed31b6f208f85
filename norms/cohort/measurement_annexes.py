"""What an edition knows about measurement, as annexes: its noise budgets and its labs' terms."""

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from norms.cohort.annex_making import annex_of
from norms.cohort.edition import MEASUREMENT, amended
from norms.records import Annex, Edition, Estimates, LabTerms, MeasurementError


def with_measurement(
    edition: Edition, noise: Mapping[str, MeasurementError], terms: Sequence[LabTerms]
) -> Edition:
    """The edition with its measurement under its content hash, as frozen as its bands.

    Parameters
    ----------
    edition : Edition
    noise : Mapping of str to MeasurementError
        By club; of fewer golfers than the edition's smallest cell it is withheld, and so is every
        feature that fewer golfers have.
    terms : sequence of LabTerms
        How other labs' swings are put in the terms of the reference lab.

    Returns
    -------
    Edition
    """
    smallest: Any = edition.parameters["smallest_cell"]
    annexes = [*edition.annexes]
    annexes += [_noise_annex(club, error, smallest) for club, error in sorted(noise.items())]
    annexes += [annex_of("lab_terms", f"{one.effect.club}, {one.effect.lab}", one) for one in terms]
    parameters = {**edition.parameters, MEASUREMENT: "noise budgets and labs' terms are annexes"}
    return amended(edition, annexes=tuple(annexes), parameters=parameters)


def _noise_annex(club: str, error: MeasurementError, smallest: int) -> Annex:
    if error.golfers < smallest:
        why = f"{error.golfers} golfers, where at least {smallest} may stand for a group"
        return Annex(kind="noise", subject=club, withheld=why)
    return annex_of("noise", club, without_rare_features(error, smallest))


def without_rare_features(error: MeasurementError, smallest_cell: int) -> MeasurementError:
    """A noise budget without the features that fewer golfers have than may stand for a group."""
    keep = error.feature_golfers >= smallest_cell
    names = [name for name, kept in zip(error.feature_names, keep, strict=True) if kept]
    left: dict[str, Any] = {"feature_names": tuple(names)}
    for field in fields(error):
        value = getattr(error, field.name)
        if isinstance(value, Estimates):
            left[field.name] = Estimates(
                value=value.value[keep], low=value.low[keep], high=value.high[keep]
            )
        elif isinstance(value, np.ndarray) and value.shape == keep.shape:
            left[field.name] = value[keep]
    return replace(error, **left)
