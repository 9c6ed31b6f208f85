"""How strong an unmeasured confounder would have to be to explain an association away."""

from dataclasses import dataclass
from math import exp, sqrt
from typing import Final

SHARE: Final = 0.91
"""ln of the approximate risk ratio for one standard deviation of a continuous outcome."""
SHARE_OF_LIMIT: Final = 1.78
"""0.91 x 1.96, as VanderWeele and Ding round it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EValue:
    """E-value of an estimate and of the limit of its interval nearest to no effect.

    Attributes
    ----------
    estimate, limit : float
        Least risk ratio that a confounder would need with both sides; 1 where the interval holds
        no effect already.
    """

    estimate: float
    limit: float


def e_value_of_ratio(risk_ratio: float) -> float:
    """E-value of a risk ratio (VanderWeele and Ding 2017, Ann. Intern. Med. 167:268)."""
    ratio = risk_ratio if risk_ratio >= 1.0 else 1.0 / risk_ratio
    return ratio + sqrt(ratio * (ratio - 1.0))


def e_value_of_difference(difference_sd: float, standard_error_sd: float) -> EValue:
    """E-value of a difference of means in standard deviations of the outcome.

    Parameters
    ----------
    difference_sd : float
        Difference of the outcome that goes with one stated contrast of the exposure.
    standard_error_sd : float
    """
    size = abs(difference_sd)
    nearest = exp(SHARE * size - SHARE_OF_LIMIT * standard_error_sd)
    return EValue(
        estimate=e_value_of_ratio(exp(SHARE * size)),
        limit=1.0 if nearest <= 1.0 else e_value_of_ratio(nearest),
    )
