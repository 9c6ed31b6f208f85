"""What a fitted random-intercept model says of itself: residuals, influence, variance explained."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import stats

FloatArray = NDArray[np.float64]

FAR: Final = 3.0
"""Residual standard deviations from which a residual is counted as far."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FittedModel:
    """One random-intercept model and its data.

    Attributes
    ----------
    outcome : ndarray, shape (s,)
    design : ndarray, shape (s, p)
        Columns that the fit could tell.
    groups : ndarray of int, shape (s,)
        Codes from 0, every one of them present.
    fixed : ndarray, shape (p,)
    group_variance, residual_variance : float
    """

    outcome: FloatArray
    design: FloatArray
    groups: NDArray[np.int64]
    fixed: FloatArray
    group_variance: float
    residual_variance: float

    @property
    def ratio(self) -> float:
        """Group variance over residual variance."""
        return self.group_variance / self.residual_variance

    def group_effects(self) -> FloatArray:
        """Best linear unbiased predictions of the groups' intercepts, shape (g,)."""
        counts = np.bincount(self.groups)
        sums = np.bincount(self.groups, self.outcome - self.design @ self.fixed)
        return np.asarray(self.ratio / (1.0 + counts * self.ratio) * sums, dtype=np.float64)

    def residuals(self) -> FloatArray:
        """What fixed effects and group intercepts leave, in residual standard deviations."""
        left = self.outcome - self.design @ self.fixed - self.group_effects()[self.groups]
        return np.asarray(left / np.sqrt(self.residual_variance), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResidualFacts:
    """Shape of residuals and of group intercepts.

    Attributes
    ----------
    skewness, excess_kurtosis : float
        Of residuals; 0 and 0 for a normal distribution.
    far_share : float
        Share of residuals beyond three standard deviations; 0.0027 for a normal distribution.
    spread_trend : float
        Rank correlation of absolute residuals with fitted values; 0 for an even spread.
    group_skewness : float
    """

    skewness: float
    excess_kurtosis: float
    far_share: float
    spread_trend: float
    group_skewness: float


def residual_facts(model: FittedModel) -> ResidualFacts:
    """Shape of the residuals of a fitted model."""
    residuals, effects = model.residuals(), model.group_effects()
    fitted = model.design @ model.fixed + effects[model.groups]
    varied = np.ptp(effects) > 0.0
    even = np.ptp(fitted) == 0.0
    return ResidualFacts(
        skewness=float(stats.skew(residuals)),
        excess_kurtosis=float(stats.kurtosis(residuals)),
        far_share=float(np.mean(np.abs(residuals) > FAR)),
        spread_trend=0.0 if even else float(stats.spearmanr(np.abs(residuals), fitted)[0]),
        group_skewness=float(stats.skew(effects)) if varied else 0.0,
    )


def estimates_without_each_group(model: FittedModel) -> FloatArray:
    """Fixed effects with each group left out in turn, shape (g, p).

    The variances are kept as the whole data gave them, so that no fit is repeated.
    """
    ratio, x = model.ratio, model.design
    counts = np.bincount(model.groups).astype(np.float64)
    order = np.argsort(model.groups, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(model.groups[order]) > 0])
    columns = np.column_stack([x, model.outcome])[order]
    sums = np.add.reduceat(columns, starts)
    squares = np.add.reduceat(columns[:, :, None] * columns[:, None, :], starts)
    weight = (ratio / (1.0 + counts * ratio))[:, None, None]
    shares = squares - weight * sums[:, :, None] * sums[:, None, :]
    left = shares.sum(axis=0) - shares
    # A pseudo-inverse: without one group a column of the others may have nothing left to tell.
    return np.asarray(
        np.einsum("gij,gj->gi", np.linalg.pinv(left[:, :-1, :-1], hermitian=True), left[:, :-1, -1])
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """Shares of the outcome's variance.

    Attributes
    ----------
    marginal : float
        Explained by all fixed effects.
    conditional : float
        Explained by fixed effects and random effects together.
    parts : tuple of float
        Explained by each column asked for, were it alone to vary.
    """

    marginal: float
    conditional: float
    parts: tuple[float, ...]


def variance_explained(
    model: FittedModel, columns: tuple[int, ...] = (), *, random_variance: float | None = None
) -> Explained:
    """Variance explained, after Nakagawa and Schielzeth (2013, Methods Ecol. Evol. 4:133).

    Parameters
    ----------
    model : FittedModel
    columns : tuple of int
        Columns whose own share is asked for (Rights and Sterba 2019, Psychol. Methods 24:309).
    random_variance : float, optional
        Mean variance of the random effects where there are more than intercepts (Johnson 2014,
        Methods Ecol. Evol. 5:944); the group variance by default.
    """
    random = model.group_variance if random_variance is None else random_variance
    fixed = float(np.var(model.design @ model.fixed, ddof=1))
    total = fixed + random + model.residual_variance
    parts = tuple(
        float(model.fixed[c] ** 2 * np.var(model.design[:, c], ddof=1)) / total for c in columns
    )
    return Explained(marginal=fixed / total, conditional=(fixed + random) / total, parts=parts)
