"""Linear models with a random intercept per group, for many sets of columns at once.

``y = X b + group + residual``, by restricted (REML) or full maximum likelihood (ML), with
Satterthwaite's degrees of freedom. Dimension letters: s observations, c models, p fixed effects.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from norms.statistics._mixed_likelihood import Profile, best_theta, profile
from norms.statistics._mixed_moments import Moments, gather_moments

FloatArray = NDArray[np.float64]
Method = Literal["reml", "ml"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Estimates:
    """Estimates of one combination of fixed effects in c models.

    Attributes
    ----------
    value, standard_error, freedom, p_value : ndarray, shape (c,)
        NaN where the data cannot tell the combination.
    """

    value: FloatArray
    standard_error: FloatArray
    freedom: FloatArray
    p_value: FloatArray

    def interval(self, confidence: float = 0.95) -> tuple[FloatArray, FloatArray]:
        """Lower and upper limit of the two-sided interval, shape (c,) each."""
        reach = stats.t.ppf(0.5 + confidence / 2.0, self.freedom) * self.standard_error
        return self.value - reach, self.value + reach


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixedFits:
    """Fits of c random-intercept models.

    Attributes
    ----------
    fixed : ndarray, shape (c, p)
        NaN for a column that the others of its model already hold.
    covariance : ndarray, shape (c, p, p)
        Of the fixed effects; zero rows for such a column.
    group_variance, residual_variance : ndarray, shape (c,)
    log_likelihood : ndarray, shape (c,)
        Restricted for REML; constants included.
    converged : ndarray of bool, shape (c,)
    singular : ndarray of bool, shape (c,)
        The group variance is zero: the fit is an ordinary regression on observations.
    observations, groups : ndarray, shape (c,)
    group_level : ndarray of bool, shape (c, p)
        Columns that do not vary within groups.
    method : {"reml", "ml"}
    covariance_slopes : ndarray, shape (c, 2, p, p)
        Derivatives of the covariance by residual variance and by variance ratio.
    parameter_covariance : ndarray, shape (c, 2, 2)
        Asymptotic covariance of those two, from the observed information.
    """

    fixed: FloatArray
    covariance: FloatArray
    group_variance: FloatArray
    residual_variance: FloatArray
    log_likelihood: FloatArray
    converged: NDArray[np.bool_]
    singular: NDArray[np.bool_]
    observations: FloatArray
    groups: FloatArray
    group_level: NDArray[np.bool_]
    method: Method
    covariance_slopes: FloatArray
    parameter_covariance: FloatArray

    def combination(self, weights: ArrayLike) -> Estimates:
        """Estimate ``weights @ fixed`` in every model.

        Degrees of freedom are Satterthwaite's (1946, Biometrics Bulletin 2:110) as for mixed
        models by Fai and Cornelius (1996). Where the fit is singular they are the counted ones:
        groups minus group-level columns where such a column is involved.

        Parameters
        ----------
        weights : array_like, shape (p,)
        """
        w = np.asarray(weights, dtype=np.float64)
        used = w != 0.0
        value = self.fixed[:, used] @ w[used]
        variance = np.einsum("i,cij,j->c", w, self.covariance, w)
        slopes = np.einsum("i,cmij,j->cm", w, self.covariance_slopes, w)
        spread = np.einsum("cm,cmk,ck->c", slopes, self.parameter_covariance, slopes)
        with np.errstate(divide="ignore", invalid="ignore"):
            freedom = np.where(spread > 0, 2.0 * variance**2 / spread, np.nan)
        freedom = np.where(self.singular, self._counted_freedom(used), freedom)
        # Never fewer than one: below, the approximation has no meaning.
        freedom = np.where(np.isfinite(value), np.maximum(freedom, 1.0), np.nan)
        error = np.where(np.isfinite(value), np.sqrt(variance), np.nan)
        with np.errstate(divide="ignore", invalid="ignore"):
            p_value = np.asarray(2.0 * stats.t.sf(np.abs(value / error), freedom))
        return Estimates(value=value, standard_error=error, freedom=freedom, p_value=p_value)

    def effect(self, column: int) -> Estimates:
        """Estimate of one fixed effect in every model."""
        return self.combination(np.eye(self.fixed.shape[1])[column])

    def _counted_freedom(self, used: NDArray[np.bool_]) -> FloatArray:
        columns = np.isfinite(self.fixed).sum(axis=1)
        between = self.groups - self.group_level.sum(axis=1)
        involved = (self.group_level & used).any(axis=1)
        counted: FloatArray = np.where(involved, between, self.observations - columns)
        return counted


def fit_random_intercepts(
    outcome: ArrayLike,
    shared: ArrayLike,
    own: ArrayLike,
    groups: ArrayLike,
    *,
    method: Method = "reml",
) -> MixedFits:
    """Fit a random intercept per group to one outcome with c sets of columns.

    The cost of a fit does not grow with the data once its sums are taken, and the sums are linear
    in observations.

    Parameters
    ----------
    outcome : array_like, shape (s,)
    shared : array_like, shape (s, p0)
        Columns of every model, the intercept among them; centred columns keep the most digits.
    own : array_like, shape (s, c, k)
        Columns of each model's own; p = p0 + k. An observation with a NaN in its outcome, a
        shared column or a column of the model's own is left out of that model.
    groups : array_like, shape (s,)
        Labels.
    method : {"reml", "ml"}

    Returns
    -------
    MixedFits
        All NaN, not converged, for a model with fewer observations than columns plus two or fewer
        than two groups.

    References
    ----------
    Laird and Ware (1982), Biometrics 38:963; Patterson and Thompson (1971), Biometrika 58:545.
    """
    y = np.asarray(outcome, dtype=np.float64)
    columns = np.asarray(shared, dtype=np.float64)
    own_columns = np.asarray(own, dtype=np.float64)
    codes = np.unique(np.asarray(groups), return_inverse=True)[1].astype(np.int64)
    if not (len(y) == len(columns) == len(own_columns) == len(codes)):
        raise ValueError("outcome, shared, own and groups: one entry per observation is needed")
    constant, shift = _level(y, columns)
    moments = gather_moments(y - shift, columns, own_columns, codes)
    enough = (moments.observations >= moments.columns + 2) & (moments.groups >= 2)
    fits = _fits(moments, method) if enough.all() else _with_gaps(moments, enough, method)
    if constant is None:
        return fits
    fixed = fits.fixed.copy()
    fixed[:, constant] += shift / columns[0, constant]
    return replace(fits, fixed=fixed)


def _level(y: FloatArray, shared: FloatArray) -> tuple[int | None, float]:
    """Place of an intercept and the outcome's mean, which is taken off before squares are summed.

    Squares of an outcome far from zero would swallow the digits of its spread.
    """
    seen = np.isfinite(y)
    if not seen.any():
        return None, 0.0
    flat = np.flatnonzero((np.ptp(shared, axis=0) == 0.0) & (shared[0] != 0.0))
    return (int(flat[0]), float(y[seen].mean())) if flat.size else (None, 0.0)


def _fits(moments: Moments, method: Method) -> MixedFits:
    restricted = method == "reml"
    theta, converged = best_theta(moments, restricted=restricted)
    state = profile(moments, theta, restricted=restricted)
    singular = theta <= 0.0
    unit = moments.scale[:, -1:] / moments.scale[:, :-1]
    units = np.where(moments.aliased, 0.0, unit)
    both = units[:, :, np.newaxis] * units[:, np.newaxis, :]
    variance = state.residual_variance
    slopes = np.stack([state.inverse, variance[:, None, None] * state.inverse_slope], axis=1)
    residual_variance = variance * moments.scale[:, -1] ** 2
    return MixedFits(
        fixed=np.where(moments.aliased, np.nan, state.fixed * unit),
        covariance=variance[:, np.newaxis, np.newaxis] * state.inverse * both,
        group_variance=theta * residual_variance,
        residual_variance=residual_variance,
        log_likelihood=-state.deviance / 2.0,
        converged=converged,
        singular=singular,
        observations=moments.observations,
        groups=moments.groups,
        group_level=moments.group_level,
        method=method,
        covariance_slopes=slopes * both[:, np.newaxis],
        parameter_covariance=_parameter_covariance(state, singular),
    )


def _parameter_covariance(state: Profile, singular: NDArray[np.bool_]) -> FloatArray:
    """Covariance of residual variance and theta: twice the inverse Hessian of the deviance."""
    variance = state.residual_variance
    hessian = np.empty((len(variance), 2, 2))
    hessian[:, 0, 0] = state.freedom / variance**2
    hessian[:, 0, 1] = hessian[:, 1, 0] = -state.squares_slope / variance**2
    hessian[:, 1, 1] = state.squares_curvature / variance + state.determinants_curvature
    hessian[singular] = np.eye(2)  # the ratio stands at its bound: counted freedom is used
    return np.asarray(2.0 * np.linalg.inv(hessian), dtype=np.float64)


def _with_gaps(moments: Moments, enough: NDArray[np.bool_], method: Method) -> MixedFits:
    """Fits of the models with enough data, NaN in the places of the others."""
    c, p = moments.aliased.shape
    kept = np.flatnonzero(enough)
    part = Moments(
        sizes=moments.sizes,
        groups_of_size=moments.groups_of_size[kept],
        total=moments.total[kept],
        by_size=moments.by_size[kept],
        scale=moments.scale[kept],
        aliased=moments.aliased[kept],
        group_level=moments.group_level[kept],
        observations=moments.observations[kept],
    )
    fits = _fits(part, method)

    def spread(values: NDArray[np.generic], empty: object) -> NDArray[np.generic]:
        whole = np.full((c, *values.shape[1:]), empty, dtype=values.dtype)
        whole[kept] = values
        return whole

    numbers = {
        name: spread(getattr(fits, name), np.nan)
        for name in (
            "fixed", "covariance", "group_variance", "residual_variance", "log_likelihood",
            "covariance_slopes", "parameter_covariance",
        )
    }  # fmt: skip
    marks = {name: spread(getattr(fits, name), False) for name in ("converged", "singular")}
    return MixedFits(
        **numbers,  # type: ignore[arg-type]
        **marks,  # type: ignore[arg-type]
        observations=moments.observations,
        groups=moments.groups,
        group_level=moments.group_level.reshape(c, p),
        method=method,
    )
