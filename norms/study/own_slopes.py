"""Whether golfers differ in their own within-golfer slopes, and the fit that says so."""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from norms.records.study import StudyPlan
from norms.statistics.mixed_diagnostics import FittedModel
from norms.statistics.mixed_models import MixedFits
from norms.statistics.mixed_slopes import SlopeFit, fit_random_slope
from norms.statistics.within_between import Parts
from norms.study.design import Design

FloatArray = NDArray[np.float64]

SLOPE_LEVEL: Final = 0.20
"""A random slope is kept from this p value of its likelihood ratio on: a lenient test, because
leaving out a real one makes the within effect look surer than it is (Matuschek and others 2017,
J. Mem. Lang. 94:305; from memory)."""
SWINGS_FOR_SLOPE: Final = 3
GOLFERS_FOR_SLOPE: Final = 20


def own_slopes(
    plan: StudyPlan, design: Design, fits: MixedFits, parts: Parts, place: int
) -> tuple[SlopeFit | None, str]:
    """The fit with a random slope where the data bear it, and what was fitted, in words."""
    robust = "; errors within golfers robust by golfer"
    intercept = f"random intercept per golfer, REML{robust}"
    if fits.singular[place]:
        intercept = (
            "singular: golfers do not differ beyond their swings once covariates are in; the "
            "fallback is an ordinary regression on swings, and between golfers the degrees of "
            "freedom count golfers"
        )
    seen = np.isfinite(parts.within[:, place])
    told = np.isfinite(fits.fixed[place])
    counts = np.bincount(design.golfers[seen])
    repeated = int((counts >= SWINGS_FOR_SLOPE).sum())
    within_told = bool(told[design.shared.shape[1]])
    if plan.random_slope == "never" or fits.singular[place] or not within_told:
        return None, intercept
    if repeated < GOLFERS_FOR_SLOPE:
        return None, f"{intercept}; no random slope: {repeated} golfers have 3 swings or more"
    whole = np.column_stack([design.shared, parts.within[:, place], parts.between[:, place]])
    fit = fit_random_slope(
        design.outcome_mps[seen],
        whole[np.ix_(seen, told)],
        parts.within[seen, place],
        design.golfers[seen],
    )
    if fit.singular:
        return None, f"{intercept}; random slope left out: its variance is nil"
    if not fit.converged or not np.isfinite(fit.freedom).all():
        return None, f"{intercept}; random slope left out: its fit did not converge"
    ratio = max(0.0, 2.0 * (fit.log_likelihood - float(fits.log_likelihood[place])))
    # Half and half of chi-squared with 1 and 2 degrees of freedom (Stram and Lee 1994).
    p_value = 0.5 * float(stats.chi2.sf(ratio, 1) + stats.chi2.sf(ratio, 2))
    if p_value > SLOPE_LEVEL:
        return None, f"{intercept}; no random slope needed (p {p_value:.2f})"
    return fit, f"random intercept and random slope per golfer, REML{robust}"


def with_own_slopes(model: FittedModel, slope: SlopeFit) -> FittedModel:
    """The model with the estimates of the fit that has a random slope."""
    return replace(
        model,
        fixed=slope.fixed,
        group_variance=float(slope.random_covariance[0, 0]),
        residual_variance=slope.residual_variance,
    )


def mean_random_variance(slope: SlopeFit, within: FloatArray) -> float:
    """Mean variance over swings of intercept and slope together."""
    scatter = slope.random_covariance
    return float(scatter[0, 0] + scatter[1, 1] * np.mean(within**2))
