"""What centiles are fitted to: golfers' handicaps and covariates, and scaled responses."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from norms.cohort.centile_design import FAMILIES
from norms.cohort.centile_support import find_support
from norms.errors import CohortRefused
from norms.records.centiles import CentilePlan, CentileSupport
from norms.vocabulary import HANDICAP_HIGHEST, HANDICAP_LOWEST

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class CentileGolfers:
    """Handicaps, covariates, weights and clusters of the rows, checked once."""

    def __init__(
        self,
        handicaps: ArrayLike,
        covariates: ArrayLike | None,
        covariate_names: Sequence[str],
        weights: ArrayLike | None,
        clusters: Sequence[Hashable] | None,
    ) -> None:
        self.handicaps = np.asarray(handicaps, dtype=np.float64)
        n = len(self.handicaps)
        shape = (n, len(covariate_names))
        self.covariates = np.zeros(shape) if covariates is None else np.asarray(covariates, float)
        self.names = tuple(covariate_names)
        self.weights = np.ones(n) if weights is None else np.asarray(weights, dtype=np.float64)
        self.clusters: IntArray | None = None
        if clusters is not None:
            numbers = {label: i for i, label in enumerate(dict.fromkeys(clusters))}
            self.clusters = np.array([numbers[label] for label in clusters])
        self.weighted = bool(np.ptp(self.weights) > 0) if n else False
        self._check(n, shape)
        self.ends = (float(self.handicaps.min()), float(self.handicaps.max()))
        self.low, self.high = self.covariates.min(axis=0), self.covariates.max(axis=0)
        same = [name for name, flat in zip(self.names, self.high <= self.low, strict=True) if flat]
        if same:
            raise CohortRefused(
                f"covariates {', '.join(same)}: every golfer has the same value; leave them out",
                code="covariate_constant",
            )
        self.scaled = (self.covariates - self.low) / (self.high - self.low)

    def _check(self, n: int, shape: tuple[int, int]) -> None:
        if self.covariates.shape != shape or self.weights.shape != (n,) or not n:
            raise ValueError(f"covariates or weights do not fit {n} golfers and {self.names}")
        if self.clusters is not None and len(self.clusters) != n:
            raise ValueError(f"clusters: {len(self.clusters)} for {n} rows")
        inside = (self.handicaps >= HANDICAP_LOWEST) & (self.handicaps <= HANDICAP_HIGHEST)
        if not (inside.all() and np.isfinite(self.covariates).all() and (self.weights > 0).all()):
            raise ValueError("handicaps +10 to 54, finite covariates, positive weights are needed")

    def count(self, rows: NDArray[np.bool_]) -> int:
        """Golfers among some rows."""
        return int(rows.sum() if self.clusters is None else len(np.unique(self.clusters[rows])))

    def support(self, rows: NDArray[np.bool_], plan: CentilePlan) -> CentileSupport:
        """Where the golfers of some rows stand."""
        clusters = None if self.clusters is None else self.clusters[rows]
        return find_support(self.handicaps[rows], self.covariates[rows], plan, clusters)

    def response_weights(self, present: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
        """Weights by response, summing to Kish's effective number, and that number."""
        w = self.weights * present
        total, squares = w.sum(axis=1), (w * w).sum(axis=1)
        return w * (total / squares)[:, None], total * total / squares


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batch:
    """Responses on the scale on which they are fitted.

    ``y`` has shape (r, n); missing values are filled and carry weight 0. The response is
    ``shift + unit y``.
    """

    y: FloatArray
    shift: FloatArray
    unit: FloatArray
    weights: FloatArray | None
    effective: FloatArray
    present: NDArray[np.bool_]


def scale_responses(values: FloatArray, family: str, golfers: CentileGolfers) -> Batch:
    """Responses of shape (r, n) brought to spread one (positive family: to median one)."""
    present = np.isfinite(values)
    middle = np.nanmedian(values, axis=1)
    shift = np.zeros_like(middle) if FAMILIES[family].POSITIVE_ONLY else middle
    unit = middle if FAMILIES[family].POSITIVE_ONLY else np.nanstd(values, axis=1)
    filled = np.where(present, values, middle[:, None])
    weights, effective = golfers.response_weights(present)
    plain = present.all() and not golfers.weighted
    return Batch(
        y=(filled - shift[:, None]) / unit[:, None],
        shift=shift,
        unit=unit,
        weights=None if plain else weights,
        effective=effective,
        present=present,
    )
