"""Who stands out in a cohort, in what respect, and by which rule: a list for a person to decide."""

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.errors import CohortRefused
from norms.records import Cohort
from norms.records.screening import OutlierFlag, OutlierReason, Screening
from norms.statistics.depth import functional_boxplot, modified_band_depth
from norms.statistics.outliers import REED_RATIO, Fences, dixon_reed, symmetrised_fences
from norms.vocabulary import AXES

FloatArray = NDArray[np.float64]

FEWEST_GOLFERS: Final = 8
"""Fewer have no octiles for the symmetrising transform to go by."""

NORMAL_MAD: Final = 1.4826
"""Standard deviations of a normal distribution to its median absolute deviation."""

_FENCES: Final = "Tukey fences after a Yeo-Johnson transform to symmetry"
_BOXPLOT: Final = "functional boxplot, modified band depth"
_REED: Final = "Dixon's ratio by Reed's rule"

_CURVE_WORDS: Final[dict[OutlierReason, str]] = {
    "level": "the whole {axis} curve lies apart from the others'",
    "shape": "{axis} moves differently from the others' (their level set aside)",
}


def screen_cohort(
    cohort: Cohort, *, noise_cm: float, timing_features: Collection[str]
) -> Screening:
    """List golfers whose curves or features stand out. Flags; removes nothing.

    At every node a golfer's outlyingness is the distance from the golfers' median in robust
    standard deviations. Its mean along the phase is the golfer's level, its spread about that
    mean the golfer's shape, axis by axis: the two parts of directional outlyingness. Levels and
    log shapes beyond their fences are flagged, and so is a curve that leaves the fences of its
    functional boxplot, with the one of the two reasons that applies more. When a golfer moves is
    not in curves on phase nodes: features of time answer for that.

    Parameters
    ----------
    cohort : Cohort
    noise_cm : float
        Smallest spread of a node that counts as movement: the lab's noise, above 0.
    timing_features : collection of str
        Features that say when rather than how far.

    Raises
    ------
    CohortRefused
        With fewer than 8 golfers.

    References
    ----------
    Dai and Genton (2019), Comput. Stat. Data Anal. 131:50 (directional outlyingness: mean and
    variation); Sun and Genton (2011), J. Comput. Graph. Stat. 20:316 (functional boxplot).
    """
    if len(cohort.golfers) < FEWEST_GOLFERS:
        raise CohortRefused(
            f"{cohort.definition.label}: {len(cohort.golfers)} golfers are too few to tell who "
            f"stands out; {FEWEST_GOLFERS} are needed",
            code="too_few_golfers",
        )
    curve_flags = list(_curve_flags(cohort, noise_cm))
    feature_flags = list(_feature_flags(cohort, timing_features))
    order = {golfer: place for place, golfer in enumerate(cohort.golfers)}
    return Screening(
        cohort_key=cohort.definition.key,
        golfers=cohort.golfers,
        depth=modified_band_depth(cohort.curves_cm),
        noise_cm=noise_cm,
        flags=tuple(sorted(curve_flags + feature_flags, key=lambda flag: order[flag.golfer])),
    )


def outlyingness(curves_cm: FloatArray, noise_cm: float) -> tuple[FloatArray, FloatArray]:
    """Level and shape of each golfer's curves among the others', in robust standard deviations.

    Parameters
    ----------
    curves_cm : ndarray, shape (n, 3, 301)
    noise_cm : float
        Floor of a node's robust standard deviation.

    Returns
    -------
    level : ndarray, shape (n, 3)
        Mean outlyingness along the phase, signed as the axis is.
    shape : ndarray, shape (n, 3)
        Its standard deviation along the phase.
    """
    departure = curves_cm - np.median(curves_cm, axis=0)
    spread = NORMAL_MAD * np.median(np.abs(departure), axis=0)
    departure /= np.maximum(spread, noise_cm)
    return departure.mean(axis=-1), departure.std(axis=-1)


def _curve_flags(cohort: Cohort, noise_cm: float) -> Iterator[OutlierFlag]:
    level, shape = outlyingness(cohort.curves_cm, noise_cm)
    for a, axis in enumerate(AXES):
        curves = cohort.curves_cm[:, a]
        outside = functional_boxplot(curves, modified_band_depth(curves)).outside
        scores = _AxisScores.judged(level[:, a], shape[:, a])
        for i, golfer in enumerate(cohort.golfers):
            fenced = scores.reasons(i)
            for reason in fenced:
                yield _curve_flag(golfer, axis, reason, _FENCES, scores, i)
            if outside[i] and not fenced:
                yield _curve_flag(golfer, axis, scores.likelier_reason(i), _BOXPLOT, scores, i)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _AxisScores:
    """Level and shape of all golfers on one axis, with where the fences begin to point."""

    level: FloatArray
    shape: FloatArray
    level_fences: Fences
    shape_limit: float

    @classmethod
    def judged(cls, level: FloatArray, shape: FloatArray) -> "_AxisScores":
        # A spread is skewed and positive: its logarithm is what the fences are for.
        log_shape = np.log(np.maximum(shape, np.finfo(np.float64).tiny))
        return cls(
            level=level,
            shape=shape,
            level_fences=symmetrised_fences(level),
            shape_limit=float(np.exp(symmetrised_fences(log_shape).high)),
        )

    def reasons(self, golfer: int) -> tuple[OutlierReason, ...]:
        level = self.level_fences.outside(self.level[golfer])
        shape = self.shape[golfer] > self.shape_limit
        both: tuple[tuple[OutlierReason, bool], ...] = (("level", bool(level)), ("shape", shape))
        return tuple(reason for reason, applies in both if applies)

    def likelier_reason(self, golfer: int) -> OutlierReason:
        """The reason whose score goes the larger part of the way to its fence."""
        value = self.level[golfer]
        fence = self.level_fences.high if value >= 0 else self.level_fences.low
        way_to_level = value / fence if fence else np.inf
        way_to_shape = self.shape[golfer] / self.shape_limit
        return "level" if way_to_level >= way_to_shape else "shape"


def _curve_flag(
    golfer: str, axis: str, reason: OutlierReason, method: str, scores: _AxisScores, i: int
) -> OutlierFlag:
    if reason == "level":
        value, low, high = float(scores.level[i]), scores.level_fences.low, scores.level_fences.high
    else:
        value, low, high = float(scores.shape[i]), -np.inf, scores.shape_limit
    return OutlierFlag(
        golfer=golfer,
        subject=axis,
        reason=reason,
        method=method,
        value=value,
        low=low,
        high=high,
        message=f"{golfer}: {_CURVE_WORDS[reason].format(axis=axis)}, by {method}; look at the "
        "captures before deciding",
    )


def _feature_flags(cohort: Cohort, timing_features: Collection[str]) -> Iterator[OutlierFlag]:
    for name, values in zip(cohort.feature_names, cohort.features.T, strict=True):
        if np.isfinite(values).sum() < FEWEST_GOLFERS:
            continue
        reason: OutlierReason = "timing" if name in timing_features else "level"
        fences = symmetrised_fences(values)
        flag = _feature_flagger(cohort, name, values, reason)
        fenced = np.flatnonzero(fences.outside(values))
        yield from (flag(int(i), _FENCES, fences.low, fences.high) for i in fenced)
        low_ratio, high_ratio = dixon_reed(values)
        for i, ratio in ((np.nanargmin(values), low_ratio), (np.nanargmax(values), high_ratio)):
            if ratio >= REED_RATIO and i not in fenced:
                yield flag(int(i), _REED, -np.inf, np.inf)


def _feature_flagger(
    cohort: Cohort, name: str, values: FloatArray, reason: OutlierReason
) -> Callable[[int, str, float, float], OutlierFlag]:
    def flag(i: int, method: str, low: float, high: float) -> OutlierFlag:
        return OutlierFlag(
            golfer=cohort.golfers[i],
            subject=name,
            reason=reason,
            method=method,
            value=float(values[i]),
            low=low,
            high=high,
            message=f"{cohort.golfers[i]}: {name} of {values[i]:.3g} stands apart, by {method}; "
            "look at the captures before deciding",
        )

    return flag
