"""From a club's golfers to their centiles by handicap, with the covariates that the data bear."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.centile_cross_check import cross_check
from norms.cohort.fit_centiles import fit_curve_centiles, fit_feature_centiles
from norms.cohort.roll import Roll
from norms.errors import CohortRefused
from norms.records import Cohort, Golfer
from norms.records.centile_readings import CentileCrossCheck
from norms.records.centiles import CentilePlan, Centiles
from norms.records.club_centiles import ClubCentiles
from norms.vocabulary import HANDICAP_HIGHEST

FloatArray = NDArray[np.float64]

COVARIATES: Final = ("female", "age")
"""Women 1, men 0; age in years, reached in the year of the edition's newest recording."""

Chosen = tuple[int, ...]
"""Columns of ``COVARIATES`` that a fit takes."""

_CURVE_STEP: Final = 20
"""Every such node of the curves is asked whether it bears a covariate."""
_CHECKED_STEP: Final = 50
"""Every such node of the curves is held against quantile regression."""
_FEWEST_COMPARED: Final = 20


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CentileRows:
    """Golfers of a cohort who have a handicap, and what else their centiles may depend on.

    Attributes
    ----------
    places : ndarray of int, shape (n,)
        Of the golfers in the cohort.
    handicaps : ndarray, shape (n,)
    covariates : ndarray, shape (n, 2)
        Columns as in ``COVARIATES``; NaN where unknown.
    """

    places: NDArray[np.intp]
    handicaps: FloatArray
    covariates: FloatArray


def club_handicaps(roll: Roll, club: str) -> dict[str, float]:
    """Handicap of each golfer of a club: the mean over their swings, each as of its day.

    A golfer without a handicap on any of these days, and a playing professional, is left out.
    """
    found: dict[str, list[float]] = defaultdict(list)
    of_club = roll.clubs == club
    for code, index in zip(roll.golfers[of_club], roll.facts.handicaps[of_club], strict=True):
        if np.isfinite(index):
            found[str(code)].append(float(index))
    return {code: float(np.mean(indices)) for code, indices in found.items()}


def covariates_of(golfer: Golfer, day: date) -> tuple[float, float]:
    """Values of ``COVARIATES`` for one golfer; NaN where unknown."""
    sex = {"female": 1.0, "male": 0.0}.get(golfer.sex or "", np.nan)
    age = np.nan if golfer.birth_year is None else float(day.year - golfer.birth_year)
    return sex, age


def centile_rows(
    cohort: Cohort, handicaps: Mapping[str, float], golfers: Mapping[str, Golfer], day: date
) -> CentileRows:
    """Rows of a fit: golfers of the cohort in its order, those without a handicap left out."""
    places = [place for place, code in enumerate(cohort.golfers) if code in handicaps]
    codes = [cohort.golfers[place] for place in places]
    return CentileRows(
        places=np.array(places, dtype=np.intp),
        handicaps=np.array([handicaps[code] for code in codes], dtype=float),
        covariates=np.array(
            [covariates_of(golfers[code], day) for code in codes], dtype=float
        ).reshape(len(codes), len(COVARIATES)),
    )


def fit_club_centiles(cohort: Cohort, rows: CentileRows, plan: CentilePlan) -> ClubCentiles:
    """Centiles of every feature and curve of a cohort by handicap.

    Each feature, and the curves together, take the covariates that lower the extended Bayesian
    information criterion of a least-squares cubic of handicap; golfers of whom a covariate is
    not known are then left out of that fit.

    Parameters
    ----------
    cohort : Cohort
        All golfers of a club, each with the mean of their swings: one golfer, one vote.
    rows : CentileRows
    plan : CentilePlan

    Raises
    ------
    CohortRefused
        If there are too few golfers for any fit.

    References
    ----------
    Chen and Chen (2008), Biometrika 95:759 (the extended criterion: the penalty of a covariate
    grows with the number of features in which it is looked for).
    """
    if not rows.places.size:
        raise CohortRefused(
            f"centiles by handicap, {cohort.definition.club}: no golfer has a handicap; use "
            "percentiles by level",
            code="too_few_golfers",
        )
    values, curves = cohort.features[rows.places], cohort.curves_cm[rows.places]
    features: dict[str, Centiles] = {}
    withheld: dict[str, str] = {}
    checks: dict[str, CentileCrossCheck] = {}
    for chosen, columns in _columns_by_covariates(values, rows, plan).items():
        names = [cohort.feature_names[column] for column in columns]
        known, stated = _stated(rows, chosen)
        fitted, refused = fit_feature_centiles(
            values[known][:, columns], names, rows.handicaps[known], plan=plan, **stated
        )
        features |= fitted
        withheld |= refused
        for column, name in zip(columns, names, strict=True):
            if name in fitted:
                checks |= _cross_check(fitted[name], name, values[:, column], rows, chosen)
    chosen = _curve_covariates(curves, rows, plan)
    known, stated = _stated(rows, chosen)
    axes = fit_curve_centiles(curves[known], rows.handicaps[known], plan=plan, **stated)
    for axis, axis_curves in zip(axes, curves.swapaxes(0, 1), strict=True):
        for name in axis.names:
            node = int(name.split("@")[1])
            if node % _CHECKED_STEP == 0:
                checks |= _cross_check(axis, name, axis_curves[:, node], rows, chosen)
    return ClubCentiles(
        club=cohort.definition.club,
        cohort_key=cohort.definition.key,
        golfers=len(rows.places),
        without_handicap=len(cohort.golfers) - len(rows.places),
        plan=plan,
        features={name: features[name] for name in cohort.feature_names if name in features},
        withheld=withheld,
        curves=axes,
        cross_checks=checks,
    )


def _cross_check(
    centiles: Centiles, name: str, values: FloatArray, rows: CentileRows, chosen: Chosen
) -> dict[str, CentileCrossCheck]:
    """By the response's name; empty where too few golfers are at supported handicaps."""
    known, _ = _stated(rows, chosen)
    covariates = rows.covariates[known][:, list(chosen)]
    try:
        found = cross_check(centiles, values[known], rows.handicaps[known], covariates, name=name)
    except CohortRefused:
        return {}
    return {name: found}


def _stated(rows: CentileRows, chosen: Chosen) -> tuple[NDArray[np.bool_], dict[str, Any]]:
    """Golfers of whom the chosen covariates are known, and the covariates as a fit takes them."""
    columns = list(chosen)
    known = np.asarray(np.isfinite(rows.covariates[:, columns]).all(axis=1))
    if not chosen:
        return known, {}
    names = [COVARIATES[column] for column in chosen]
    return known, {
        "covariates": rows.covariates[known][:, columns],
        "covariate_names": names,
    }


def _curve_covariates(curves: FloatArray, rows: CentileRows, plan: CentilePlan) -> Chosen:
    nodes = curves[:, :, _CURVE_STEP::_CURVE_STEP].reshape(len(curves), -1)
    table = _criteria(nodes, rows, _candidates(rows, plan))
    return min(table, key=lambda chosen: float(table[chosen].mean()))


def _columns_by_covariates(
    values: FloatArray, rows: CentileRows, plan: CentilePlan
) -> dict[Chosen, list[int]]:
    """Columns of features by the covariates that they bear."""
    candidates = _candidates(rows, plan)
    table = _criteria(values, rows, candidates)
    best = np.array([table[chosen] for chosen in candidates]).argmin(axis=0)
    columns: dict[Chosen, list[int]] = defaultdict(list)
    for column, place in enumerate(best):
        columns[candidates[place]].append(column)
    return columns


def _candidates(rows: CentileRows, plan: CentilePlan) -> list[Chosen]:
    """Sets of covariates that the golfers could bear, the empty one first."""
    female, age = rows.covariates.T
    both_sexes = min(np.count_nonzero(female == sex) for sex in (0.0, 1.0)) >= plan.fewest_near
    ages = np.unique(age[np.isfinite(age)]).size > 1
    known = np.isfinite(rows.covariates)
    possible = [
        column
        for column, offered in enumerate((both_sexes, ages))
        if offered and np.count_nonzero(known[:, column]) >= plan.fewest_golfers
    ]
    together = np.count_nonzero(known.all(axis=1)) >= plan.fewest_golfers
    both = [tuple(possible)] if len(possible) == len(COVARIATES) and together else []
    return [(), *((column,) for column in possible), *both]


def _criteria(
    values: FloatArray, rows: CentileRows, candidates: Sequence[Chosen]
) -> dict[Chosen, FloatArray]:
    """Extended Bayesian information criterion of each set of covariates by column, shape (d,).

    The same golfers, those with every covariate in question, stand behind all of them. A column
    that too few of these have keeps to handicap alone.
    """
    asked = sorted({column for chosen in candidates for column in chosen})
    known = np.isfinite(rows.covariates[:, asked]).all(axis=1)
    cubic = (rows.handicaps / HANDICAP_HIGHEST)[:, None] ** np.arange(4)
    criteria = {chosen: np.full(values.shape[1], float(len(chosen))) for chosen in candidates}
    for column, y in enumerate(values.T):
        here = known & np.isfinite(y)
        n = np.count_nonzero(here)
        if n < _FEWEST_COMPARED:
            continue
        penalty = np.log(n) + 2.0 * np.log(values.shape[1])
        for chosen in candidates:
            design = np.column_stack([cubic, rows.covariates[:, list(chosen)]])[here]
            left = y[here] - design @ np.linalg.lstsq(design, y[here], rcond=None)[0]
            squares = max(float(left @ left), np.finfo(np.float64).tiny)
            criteria[chosen][column] = n * np.log(squares / n) + len(chosen) * penalty
    return criteria
