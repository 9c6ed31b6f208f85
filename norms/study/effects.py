"""One effect as a study states it: slope, interval, smallest detectable size, E-value."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.records.study import Part
from norms.records.study_answer import Effect
from norms.statistics.mixed_models import Estimates
from norms.statistics.power import smallest_detectable
from norms.statistics.sensitivity import e_value_of_difference

FloatArray = NDArray[np.float64]

CONFIDENCE: Final = 0.95
UNTOLD: Final[dict[Part, str]] = {
    "within": "does not vary within any golfer",
    "between": "golfers do not differ in it, or covariates hold it already",
}
NOT_CONVERGED: Final = "the fit did not converge, so that no effect is stated"


def effect_of(part: Part, one: Estimates | None, values: FloatArray, outcome: FloatArray) -> Effect:
    """An effect from its estimate, or with the reason where it cannot be told.

    Parameters
    ----------
    part : {"within", "between"}
    one : Estimates or None
        Of one model; None where the column cannot be told or the fit did not converge.
    values, outcome : ndarray, shape (s,)
        This part of the feature and of the outcome: their spreads scale E-values.
    """
    spread = float(np.std(values)) if values.size else 0.0
    if one is None:
        names = (
            "slope", "standard_error", "freedom", "low", "high", "p_value", "adjusted_p",
            "smallest_detectable", "e_value", "e_value_limit",
        )  # fmt: skip
        said = NOT_CONVERGED if spread > 1e-12 and part == "within" else UNTOLD[part]
        return Effect(part=part, spread=spread, reason=said, **dict.fromkeys(names))
    low, high = one.interval(CONFIDENCE)
    scale = spread / max(float(np.std(outcome)), 1e-12)
    e_value = e_value_of_difference(
        float(one.value[0]) * scale, float(one.standard_error[0]) * scale
    )
    return Effect(
        part=part,
        slope=float(one.value[0]),
        standard_error=float(one.standard_error[0]),
        freedom=float(one.freedom[0]),
        low=float(low[0]),
        high=float(high[0]),
        p_value=float(one.p_value[0]),
        adjusted_p=None,
        spread=spread,
        smallest_detectable=float(smallest_detectable(one.standard_error, one.freedom)[0]),
        e_value=e_value.estimate,
        e_value_limit=e_value.limit,
    )
