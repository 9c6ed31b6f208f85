"""Components of a club's curves: a basis frozen with an edition, and what is noise in its terms.

Letters: c components, l levels, w parts of the signed map and the overall deviation.
"""

from dataclasses import dataclass

import numpy as np

from norms.records._arrays import FloatArray, freeze_fields
from norms.vocabulary import AXES, NODES


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HandicapTrend:
    """How the mean scores of golfers go with handicap, and how golfers of one handicap differ.

    Attributes
    ----------
    golfers : int
        Golfers with a handicap.
    low, high : float
        Range of handicap that the golfers support.
    centre, scale : float
        Handicap h enters as (h - centre) / scale.
    coefficients : ndarray, shape (3, c)
        Of 1, x and x squared.
    covariance : ndarray, shape (c, c)
        Of golfers' scores about the trend.
    """

    golfers: int
    low: float
    high: float
    centre: float
    scale: float
    coefficients: FloatArray
    covariance: FloatArray

    def __post_init__(self) -> None:
        c = self.coefficients.shape[-1]
        freeze_fields(self, {"coefficients": (3, c), "covariance": (c, c)})

    def scores_at(self, handicaps: FloatArray) -> FloatArray:
        """Mean scores at handicaps, shape (h, c)."""
        x = (np.asarray(handicaps) - self.centre) / self.scale
        scores: FloatArray = np.stack([np.ones_like(x), x, x**2], axis=-1) @ self.coefficients
        return scores


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Components:
    """Multivariate functional principal components of the golfers' mean curves of one club.

    Frozen: a golfer who comes later is projected on the same basis and moves no one's score.

    Attributes
    ----------
    club : str
    golfers, swings : int
        Behind the basis.
    rule : str
        How the number of components was chosen.
    held : float
        Share of the weighted variance between golfers that the components hold.
    mean_cm : ndarray, shape (3, 301)
    axis_weights, node_weights : ndarray, shapes (3,) and (301,)
        Of the inner product: one over each axis's integrated variance, and the trapezoid rule.
    functions : ndarray, shape (c, 3, 301)
    eigenvalues : ndarray, shape (c,)
        Variance of golfers' scores, falling.
    day_covariance, swing_covariance : ndarray, shape (c, c)
        Within a golfer: of days about the golfer, and of swings about the day.
    swings_per_golfer : float
        Harmonic mean.
    levels : tuple of str
    level_shifts : ndarray, shape (l, c)
        Mean scores by level, levels of few golfers drawn toward none.
    part_names : tuple of w str
        Quantities of the signed map and the overall deviation.
    part_day_sd_cm, part_swing_sd_cm : ndarray, shape (w,)
        Their spread between days and between swings of a golfer; NaN where it cannot be told.
    trend : HandicapTrend or None
        None where too few golfers have a handicap.
    """

    club: str
    golfers: int
    swings: int
    rule: str
    held: float
    mean_cm: FloatArray
    axis_weights: FloatArray
    node_weights: FloatArray
    functions: FloatArray
    eigenvalues: FloatArray
    day_covariance: FloatArray
    swing_covariance: FloatArray
    swings_per_golfer: float
    levels: tuple[str, ...]
    level_shifts: FloatArray
    part_names: tuple[str, ...]
    part_day_sd_cm: FloatArray
    part_swing_sd_cm: FloatArray
    trend: HandicapTrend | None = None

    def __post_init__(self) -> None:
        c, w = len(self.eigenvalues), len(self.part_names)
        freeze_fields(
            self,
            {
                "mean_cm": (len(AXES), NODES),
                "axis_weights": (len(AXES),),
                "node_weights": (NODES,),
                "functions": (c, len(AXES), NODES),
                "eigenvalues": (c,),
                "day_covariance": (c, c),
                "swing_covariance": (c, c),
                "level_shifts": (len(self.levels), c),
                "part_day_sd_cm": (w,),
                "part_swing_sd_cm": (w,),
            },
        )

    def scores(self, curves_cm: FloatArray) -> FloatArray:
        """Scores of curves, shape (..., 3, 301) to (..., c)."""
        weights = self.axis_weights[:, None] * self.node_weights
        scores: FloatArray = np.tensordot(
            (curves_cm - self.mean_cm) * weights, self.functions, axes=([-2, -1], [1, 2])
        )
        return scores

    def curve_cm(self, scores: FloatArray) -> FloatArray:
        """The curves that scores stand for, shape (..., c) to (..., 3, 301)."""
        curves: FloatArray = self.mean_cm + np.tensordot(scores, self.functions, axes=1)
        return curves

    def effect_cm(self, component: int, spreads: float = 1.5) -> tuple[FloatArray, FloatArray]:
        """What a component does: the mean curves, less and plus so many spreads of its score."""
        reach = spreads * np.sqrt(self.eigenvalues[component]) * self.functions[component]
        return self.mean_cm - reach, self.mean_cm + reach

    def noise(self, swings: int, days: int = 1) -> FloatArray:
        """Covariance of the scores of a mean of swings about the golfer's own, shape (c, c)."""
        noise: FloatArray = self.day_covariance / days + self.swing_covariance / swings
        return noise

    def level_shift(self, level: str | None) -> FloatArray:
        """Mean scores of a level, zero where it is not known, shape (c,)."""
        if level is None or level not in self.levels:
            return np.zeros(len(self.eigenvalues))
        shift: FloatArray = self.level_shifts[self.levels.index(level)]
        return shift
