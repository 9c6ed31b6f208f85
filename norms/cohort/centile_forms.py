"""The candidate forms of a centile model, their fits, and the record a fit becomes."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from norms.cohort.centile_design import FAMILIES, fit_terms, spline_columns
from norms.cohort.centile_diagnostics import diagnose
from norms.cohort.centile_inputs import Batch, CentileGolfers, scale_responses
from norms.records.centiles import CentilePlan, Centiles, CentileTerm, TermKind
from norms.statistics.location_scale_shape.penalised_fit import Fit, fit
from norms.statistics.location_scale_shape.problem import Term
from norms.statistics.location_scale_shape.robust import sandwich

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A family with a stated dependence of its shape on handicap; location and scale are smooth."""

    name: str
    family: Literal["sinh_arcsinh", "lms"]
    shapes: tuple[TermKind, ...]

    def terms(self, plan: CentilePlan, *, covariates: bool) -> tuple[CentileTerm, ...]:
        """Terms of all parameters, in the family's order."""
        names = FAMILIES[self.family].PARAMETERS
        segments = (plan.location_segments, plan.scale_segments)
        smooth = [
            CentileTerm(parameter=name, kind="spline", segments=count, covariates=covariates)
            for name, count in zip(names[:2], segments, strict=True)
        ]
        shapes = [
            CentileTerm(parameter=name, kind=kind)
            for name, kind in zip(names[2:], self.shapes, strict=True)
        ]
        return (*smooth, *shapes)


FORMS = (
    Form(name="normal", family="sinh_arcsinh", shapes=("fixed", "fixed")),
    Form(name="skewed", family="sinh_arcsinh", shapes=("constant", "fixed")),
    Form(name="skewed, free tails", family="sinh_arcsinh", shapes=("constant", "constant")),
    Form(name="skew along handicap", family="sinh_arcsinh", shapes=("linear", "constant")),
    Form(name="lms", family="lms", shapes=("constant",)),
    Form(name="lms, power along handicap", family="lms", shapes=("linear",)),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FormFit:
    """One form fitted to those of a table's responses that it can take.

    Attributes
    ----------
    form : Form
    rows : ndarray of int, shape (r,)
        Rows of the table.
    batch : Batch
    fitted : Fit
    criterion : ndarray, shape (r,)
        Bayesian information criterion in the responses' own unit; infinite where the fit did not
        converge.
    """

    form: Form
    rows: IntArray
    batch: Batch
    fitted: Fit
    criterion: FloatArray


def fit_form(
    table: FloatArray,
    form: Form,
    golfers: CentileGolfers,
    plan: CentilePlan,
    *,
    pooled: bool = False,
    smoothing: FloatArray | None = None,
    start: FloatArray | None = None,
) -> FormFit | None:
    """Fit one form to every response that the family can take; None where there is none.

    Parameters
    ----------
    table : ndarray, shape (r, n)
        NaN where a golfer lacks a response.
    form : Form
    golfers : CentileGolfers
    plan : CentilePlan
    pooled : bool
        Whether all responses share smoothing parameters.
    smoothing, start : ndarray, optional
        Passed on to the penalised fit.
    """
    family = FAMILIES[form.family]
    positive = np.nanmin(table, axis=1) > 0
    rows = np.flatnonzero(positive) if family.POSITIVE_ONLY else np.arange(len(table))
    if not len(rows):
        return None
    batch = scale_responses(table[rows], form.family, golfers)
    terms = form.terms(plan, covariates=bool(golfers.names))
    fitted = fit(
        batch.y,
        family,
        fit_terms(terms, golfers.handicaps, golfers.scaled, golfers.ends),
        weights=batch.weights,
        pools=np.zeros(len(rows), dtype=np.int64) if pooled else None,
        smoothing=smoothing,
        start=start,
    )
    criterion = _information_criterion(fitted, batch)
    return FormFit(form=form, rows=rows, batch=batch, fitted=fitted, criterion=criterion)


def _information_criterion(fitted: Fit, batch: Batch) -> FloatArray:
    """Bayesian information criterion in the responses' own unit, shape (r,)."""
    likelihood = fitted.log_likelihood - batch.effective * np.log(batch.unit)
    size = fitted.freedom.sum(axis=1)
    criterion = -2.0 * likelihood + np.log(batch.effective) * size
    return np.where(fitted.converged, criterion, np.inf)


def make_record(
    names: tuple[str, ...],
    result: FormFit,
    at: IntArray,
    golfers: CentileGolfers,
    plan: CentilePlan,
    criterion: Mapping[str, float],
    withheld: Mapping[str, str] | None = None,
) -> Centiles:
    """The record of some responses of a fit, in their own unit.

    Parameters
    ----------
    names : tuple of str
    result : FormFit
    at : ndarray of int
        Which of the fit's responses. More than one only where no golfer lacks any.
    golfers : CentileGolfers
    plan : CentilePlan
    criterion : Mapping of str to float
        Criterion of all candidates.
    withheld : Mapping of str to str, optional
        Reasons for responses of the same table that have no fit.
    """
    form, batch, fitted = result.form, result.batch, result.fitted
    terms = form.terms(plan, covariates=bool(golfers.names))
    present = np.asarray(batch.present[at].all(axis=0))
    coefficients, inverse, robust = _own_unit(result, at, terms, golfers)
    scores = _scores(result, at, terms, golfers)[:, present]
    return Centiles(
        names=names,
        family=form.family,
        form=form.name,
        terms=terms,
        plan=plan,
        handicap_low=golfers.ends[0],
        handicap_high=golfers.ends[1],
        covariate_names=golfers.names,
        covariate_low=golfers.low,
        covariate_high=golfers.high,
        golfers=np.full(len(at), golfers.count(present)),
        effective_golfers=batch.effective[at],
        coefficients=coefficients,
        inverse_information=inverse,
        robust_covariance=robust,
        smoothing=fitted.smoothing[at],
        freedom=fitted.freedom[at],
        criterion=criterion,
        support=golfers.support(present, plan),
        diagnostics=diagnose(
            scores, golfers.handicaps[present], golfers.weights[present], fitted.freedom[at]
        ),
        withheld=withheld or {},
    )


def _scores(
    result: FormFit, at: IntArray, terms: tuple[CentileTerm, ...], golfers: CentileGolfers
) -> FloatArray:
    """Golfers' scores z under their own fit, shape (r, n)."""
    designs = [
        term.design for term in fit_terms(terms, golfers.handicaps, golfers.scaled, golfers.ends)
    ]
    cuts = np.cumsum([design.shape[1] for design in designs])[:-1]
    pieces = np.split(result.fitted.coefficients[at], cuts, axis=1)
    eta = tuple(piece @ design.T for piece, design in zip(pieces, designs, strict=True))
    return FAMILIES[result.form.family].score(result.batch.y[at], eta)


def _own_unit(
    result: FormFit, at: IntArray, terms: tuple[CentileTerm, ...], golfers: CentileGolfers
) -> tuple[FloatArray, FloatArray, FloatArray | None]:
    """Coefficients, inverse information and sandwich turned back from the fit's scale.

    The splines' basis functions sum to one, so a shift of the predictor is the same shift of each
    of their coefficients.
    """
    batch, fitted, family = result.batch, result.fitted, FAMILIES[result.form.family]
    designs = fit_terms(terms, golfers.handicaps, golfers.scaled, golfers.ends)
    location, scale = spline_columns(terms[0]), spline_columns(terms[1])
    first_scale = designs[0].design.shape[1]
    factor = np.ones_like(fitted.coefficients[at])
    added = np.zeros_like(factor)
    if family.POSITIVE_ONLY:
        added[:, :location] = np.log(batch.unit[at])[:, None]
    else:
        factor[:, :first_scale] = batch.unit[at][:, None]
        added[:, :location] = batch.shift[at][:, None]
        added[:, first_scale : first_scale + scale] = np.log(batch.unit[at])[:, None]
    square = factor[:, :, None] * factor[:, None, :]
    robust = None
    if golfers.weighted or golfers.clusters is not None:
        robust = square * _sandwich(result, at, golfers, designs)
    return fitted.coefficients[at] * factor + added, square * fitted.covariance[at], robust


def _sandwich(
    result: FormFit, at: IntArray, golfers: CentileGolfers, designs: tuple[Term, ...]
) -> FloatArray:
    weights = result.batch.weights
    return sandwich(
        result.batch.y[at],
        FAMILIES[result.form.family],
        designs,
        result.fitted.at(at),
        weights=None if weights is None else weights[at],
        clusters=golfers.clusters,
    )
