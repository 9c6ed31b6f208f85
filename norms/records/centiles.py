"""Centiles by handicap: fitted coefficients, where golfers support them, and how well they fit.

Letters: r responses that share family and design (one feature, or the nodes of one axis), c
coefficients, k parameters of the family, g covariates, h handicaps, q percentiles.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from norms.records._arrays import FloatArray, frozen_array, set_field

IntArray = NDArray[np.int64]

SMALLEST_GROUP = 5
"""Fewer golfers than this are never shown as a group."""

TermKind = Literal["spline", "linear", "constant", "fixed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CentileTerm:
    """How one parameter of the family depends on handicap.

    Attributes
    ----------
    parameter : str
    kind : {"spline", "linear", "constant", "fixed"}
        ``"fixed"`` holds the predictor at 0.
    segments : int
        Knot intervals of a spline.
    covariates : bool
        Whether the covariates shift this parameter.
    """

    parameter: str
    kind: TermKind
    segments: int = 0
    covariates: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CentilePlan:
    """Decisions taken before the data are seen.

    Attributes
    ----------
    location_segments, scale_segments : int
        Knot intervals of the location's and the log scale's spline.
    window_strokes : float
        Half-width of the window of handicap in which golfers count as near.
    fewest_near : int
        Golfers within the window without whom there is no centile.
    fewest_each_side : int
        Of these, golfers needed at or below and at or above the handicap, and golfers of the
        same group (sex, club …): the smallest number the academy lets stand for a group.
    fewest_golfers : int
        Golfers in all without whom nothing is fitted.
    spread_floor_cm : float
        Standard deviation under which a node of a curve has no centiles: every curve is zero at
        address by definition, and below the lab's noise its spread says nothing of golfers.

    Raises
    ------
    ValueError
        If a count or width is not positive, or fewer than 5 golfers may stand for a group.
    """

    location_segments: int = 10
    scale_segments: int = 5
    window_strokes: float = 4.0
    fewest_near: int = 20
    fewest_each_side: int = 5
    fewest_golfers: int = 60
    spread_floor_cm: float = 0.05

    def __post_init__(self) -> None:
        if self.fewest_each_side < SMALLEST_GROUP:
            raise ValueError(f"fewest_each_side: at least {SMALLEST_GROUP} golfers are needed")
        if min(self.location_segments, self.scale_segments) < 1 or not self.window_strokes > 0:
            raise ValueError("segments and window_strokes: positive values are needed")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CentileSupport:
    """Where golfers stand behind the centiles.

    Attributes
    ----------
    handicaps : ndarray, shape (h,)
        Rising grid from +10 (-10.0) to 54.
    golfers : ndarray of int, shape (h,)
        Golfers within ``window_strokes`` of each handicap.
    groups : ndarray, shape (u, g)
        Rows of covariate values that are groups (0/1 columns); NaN in columns that are not.
    group_golfers : ndarray of int, shape (u, h)
    supported : ndarray of bool, shape (u, h)
        Whether centiles of that group are shown at that handicap.
    window_strokes : float
    fewest_near, fewest_each_side : int
        The rule; see `CentilePlan`.
    """

    handicaps: FloatArray
    golfers: IntArray
    groups: FloatArray
    group_golfers: IntArray
    supported: NDArray[np.bool_]
    window_strokes: float
    fewest_near: int
    fewest_each_side: int

    def __post_init__(self) -> None:
        h, u = len(self.handicaps), len(self.groups)
        set_field(self, "handicaps", frozen_array("handicaps", self.handicaps, (h,)))
        set_field(self, "groups", frozen_array("groups", self.groups, (u, None)))
        for name, shape, dtype in (
            ("golfers", (h,), "int64"),
            ("group_golfers", (u, h), "int64"),
            ("supported", (u, h), "bool"),
        ):
            set_field(self, name, frozen_array(name, getattr(self, name), shape, dtype=dtype))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CentileDiagnostics:
    """How the golfers' scores z agree with the standard normal they should follow.

    Attributes
    ----------
    percents : tuple of float
        q percentiles for the centile error.
    share_below_pct : ndarray, shape (r, 4, q)
        Percent of golfers below each fitted centile: all, then lower, middle and upper third of
        handicap.
    third_edges : tuple of 2 floats
        Handicaps between the thirds.
    worm_scores : ndarray, shape (w,)
        Normal scores at which worms are given.
    worm : ndarray, shape (r, b, w)
        Golfers' score minus normal score in b bins of handicap with equally many golfers.
    worm_half_width : ndarray, shape (w,)
        Pointwise 95 % limits of a worm are 0 plus and minus this.
    worm_cubic : ndarray, shape (r, b, 4)
        Coefficients of 1, x, x^2, x^3 of a cubic through each worm: level, spread, skewness,
        kurtosis left over; noticeable beyond 0.10, 0.10, 0.05, 0.03 (van Buuren & Fredriks 2001).
    q : ndarray, shape (r, 4)
        Q statistics for mean, variance, skewness, kurtosis (Royston & Wright 2000).
    q_freedom : ndarray, shape (r, 4)
    q_p : ndarray, shape (r, 4)
        Upper tail probability; NaN where no degree of freedom is left.
    """

    percents: tuple[float, ...]
    share_below_pct: FloatArray
    third_edges: tuple[float, float]
    worm_scores: FloatArray
    worm: FloatArray
    worm_half_width: FloatArray
    worm_cubic: FloatArray
    q: FloatArray
    q_freedom: FloatArray
    q_p: FloatArray

    def __post_init__(self) -> None:
        r, w = len(self.q), len(self.worm_scores)
        bins = len(self.worm[0]) if r else 0
        shapes: dict[str, tuple[int | None, ...]] = {
            "share_below_pct": (r, 4, len(self.percents)),
            "worm_scores": (w,),
            "worm": (r, bins, w),
            "worm_half_width": (w,),
            "worm_cubic": (r, bins, 4),
            "q": (r, 4),
            "q_freedom": (r, 4),
            "q_p": (r, 4),
        }
        for name, shape in shapes.items():
            set_field(self, name, frozen_array(name, getattr(self, name), shape))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Centiles:
    """A fitted location-scale-shape model of handicap, ready to be applied to a newcomer.

    Attributes
    ----------
    names : tuple of str
        r responses: a feature's name, or nodes ``"sway@1"`` … ``"sway@300"`` of one axis.
    family : {"sinh_arcsinh", "lms"}
    form : str
        Name of the form of the family that was chosen.
    terms : tuple of k CentileTerm
    plan : CentilePlan
        What was decided before the data were seen.
    handicap_low, handicap_high : float
        Range of the spline basis: the golfers' own range.
    covariate_names : tuple of str
    covariate_low, covariate_high : ndarray, shape (g,)
        Range of each covariate among the golfers.
    golfers : ndarray of int, shape (r,)
        Golfers who have the response.
    effective_golfers : ndarray, shape (r,)
        After weights: Kish's effective number.
    coefficients : ndarray, shape (r, c)
        In the response's own unit.
    inverse_information : ndarray, shape (r, c, c)
        Inverse of the penalised observed information.
    robust_covariance : ndarray, shape (r, c, c), or None
        Sandwich covariance, where rows carried weights or several rows were one golfer's.
    smoothing : ndarray, shape (r, k)
    freedom : ndarray, shape (r, k)
        Effective degrees of freedom of each parameter.
    criterion : Mapping of str to float
        Bayesian information criterion of each candidate form (smallest chosen), summed over
        the responses it was taken on.
    withheld : Mapping of str to str
        Reason by name, for nodes of the axis that are not among ``names``.
    support : CentileSupport
    diagnostics : CentileDiagnostics
    """

    names: tuple[str, ...]
    family: Literal["sinh_arcsinh", "lms"]
    form: str
    terms: tuple[CentileTerm, ...]
    plan: CentilePlan
    handicap_low: float
    handicap_high: float
    covariate_names: tuple[str, ...]
    covariate_low: FloatArray
    covariate_high: FloatArray
    golfers: IntArray
    effective_golfers: FloatArray
    coefficients: FloatArray
    inverse_information: FloatArray
    robust_covariance: FloatArray | None
    smoothing: FloatArray
    freedom: FloatArray
    criterion: Mapping[str, float]
    support: CentileSupport
    diagnostics: CentileDiagnostics
    withheld: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        r, k, g = len(self.names), len(self.terms), len(self.covariate_names)
        c = self.coefficients.shape[-1]
        set_field(self, "golfers", frozen_array("golfers", self.golfers, (r,), dtype="int64"))
        shapes: dict[str, tuple[int | None, ...]] = {
            "covariate_low": (g,),
            "covariate_high": (g,),
            "effective_golfers": (r,),
            "coefficients": (r, c),
            "inverse_information": (r, c, c),
            "smoothing": (r, k),
            "freedom": (r, k),
        }
        if self.robust_covariance is not None:
            shapes["robust_covariance"] = (r, c, c)
        for name, shape in shapes.items():
            set_field(self, name, frozen_array(name, getattr(self, name), shape))
        set_field(self, "criterion", dict(self.criterion))
        set_field(self, "withheld", dict(self.withheld))

    @property
    def covariance(self) -> FloatArray:
        """Covariance of the coefficients: the sandwich where there is one."""
        return (
            self.inverse_information if self.robust_covariance is None else self.robust_covariance
        )
