"""What a penalised fit is about: a family, a term for each parameter, and responses.

All responses share the designs, so the weighted cross products of design columns for all of them
are one matrix product for each pair of parameters.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_ELEMENTS_AT_ONCE = 24_000
"""Responses are taken in blocks of about this many values, so that work arrays stay in cache."""
_START_SMOOTHING = 10.0


class Family(Protocol):
    """What the fit needs of a family; the modules beside this one provide it."""

    NAME: str
    PARAMETERS: tuple[str, ...]
    POSITIVE_ONLY: bool

    def start_response(self, y: FloatArray) -> FloatArray:
        """What a least-squares start of the location is fitted to."""
        ...

    def start_shape(self) -> tuple[float, ...]:
        """Shape parameters where iterations begin."""
        ...

    def log_density(self, y: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
        """Log density at ``y``."""
        ...

    def derivatives(
        self, y: FloatArray, eta: tuple[FloatArray, ...]
    ) -> tuple[FloatArray, list[FloatArray], dict[tuple[int, int], FloatArray]]:
        """Log density with its first and second derivatives in the parameters."""
        ...

    def score(self, y: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
        """Standard normal score of ``y``."""
        ...

    def score_gradient(self, y: FloatArray, eta: tuple[FloatArray, ...]) -> list[FloatArray]:
        """Derivatives of the score in each parameter."""
        ...

    def score_slope(self, y: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
        """Derivative of the score in ``y``."""
        ...

    def value_at(self, z: FloatArray, eta: tuple[FloatArray, ...]) -> FloatArray:
        """Value whose score is ``z``."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Term:
    """The linear predictor of one parameter.

    Attributes
    ----------
    design : ndarray, shape (n, c_j)
        No columns: the parameter stays at the value 0 of its predictor.
    penalty : ndarray, shape (c_j, c_j)
        Multiplied by the smoothing parameter; all zeros where nothing is smoothed.
    rank : int
        Rank of ``penalty``.
    prior : ndarray, shape (c_j, c_j)
        Fixed penalty: the precision of a weak normal prior about zero, which keeps a likelihood
        without bound (a scale shrinking onto one golfer) from running away.
    least_smoothing : float
        Lower limit of the smoothing parameter, for the same reason.
    """

    design: FloatArray
    penalty: FloatArray
    prior: FloatArray
    rank: int = 0
    least_smoothing: float = 0.01


class Problem:
    """Responses, family and designs, with the products of design columns computed once."""

    def __init__(
        self,
        responses: FloatArray,
        family: Family,
        terms: tuple[Term, ...],
        weights: FloatArray | None,
    ) -> None:
        self.y, self.family, self.terms, self.weights = responses, family, terms, weights
        ends = np.cumsum([0, *(term.design.shape[1] for term in terms)])
        self.parts = [slice(int(a), int(b)) for a, b in pairwise(ends)]
        self.columns = int(ends[-1])
        self.free = [j for j, term in enumerate(terms) if term.design.shape[1]]
        self.products = {
            (i, j): _column_products(terms[i].design, terms[j].design)
            for i in self.free
            for j in self.free
            if i <= j
        }

    def eta(self, rows: IntArray, beta: FloatArray) -> tuple[FloatArray, ...]:
        """Linear predictors, each of shape (rows, n)."""
        return tuple(
            beta[:, part] @ term.design.T if j in self.free else np.zeros_like(self.y[rows])
            for j, (part, term) in enumerate(zip(self.parts, self.terms, strict=True))
        )

    def evaluate(
        self, rows: IntArray, beta: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Log likelihood, gradient and information of some responses at ``beta``."""
        count = max(1, _ELEMENTS_AT_ONCE // self.y.shape[1])
        blocks = [slice(a, a + count) for a in range(0, len(rows), count)]
        parts = [self._evaluate_block(rows[block], beta[block]) for block in blocks]
        value, gradient, information = (np.concatenate(kind) for kind in zip(*parts, strict=True))
        return value, gradient, information

    def _evaluate_block(
        self, rows: IntArray, beta: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        value, first, second = self.family.derivatives(self.y[rows], self.eta(rows, beta))
        weights = None if self.weights is None else self.weights[rows]
        if weights is not None:
            value = value * weights
        gradient = np.empty_like(beta)
        information = np.empty((len(rows), self.columns, self.columns))
        for i in self.free:
            slope = first[i] if weights is None else first[i] * weights
            gradient[:, self.parts[i]] = slope @ self.terms[i].design
        for (i, j), product in self.products.items():
            bend = second[i, j] if weights is None else second[i, j] * weights
            block = -(bend @ product).reshape(len(rows), self.terms[i].design.shape[1], -1)
            information[:, self.parts[i], self.parts[j]] = block
            information[:, self.parts[j], self.parts[i]] = block.transpose(0, 2, 1)
        return value.sum(axis=1), gradient, information

    def penalty(self, smoothing: FloatArray) -> FloatArray:
        """Penalty matrices, shape (rows, c, c), of smoothing parameters of shape (rows, k)."""
        total = np.zeros((len(smoothing), self.columns, self.columns))
        for j, (part, term) in enumerate(zip(self.parts, self.terms, strict=True)):
            total[:, part, part] = smoothing[:, j, None, None] * term.penalty + term.prior
        return total

    def start(self) -> FloatArray:
        """Smooth least-squares location, constant scale, shape of the family's start."""
        y = self.family.start_response(self.y)
        X, term = self.terms[0].design, self.terms[0]
        w = np.ones_like(y) if self.weights is None else self.weights
        beta = np.zeros((len(y), self.columns))
        gram = (w @ _column_products(X, X)).reshape(len(y), X.shape[1], -1)
        gram = gram + _START_SMOOTHING * term.penalty + 1e-8 * np.eye(X.shape[1])
        location = np.linalg.solve(gram, ((w * y) @ X)[..., None])[..., 0]
        beta[:, self.parts[0]] = location
        spread2 = (w * (y - location @ X.T) ** 2).sum(axis=1) / w.sum(axis=1)
        constants = (0.5 * np.log(np.maximum(spread2, 1e-12)), *self.family.start_shape())
        for j, constant in enumerate(constants, start=1):
            if j in self.free:
                beta[:, self.parts[j]] = np.multiply.outer(constant, _unit(self.terms[j].design))
        return beta


def _unit(design: FloatArray) -> FloatArray:
    """Coefficients whose predictor is one everywhere."""
    return np.asarray(np.linalg.lstsq(design, np.ones(len(design)), rcond=None)[0])


def _column_products(a: FloatArray, b: FloatArray) -> FloatArray:
    """Products of every column of ``a`` with every column of ``b``, shape (n, c_a c_b)."""
    products: FloatArray = (a[:, :, None] * b[:, None, :]).reshape(len(a), -1)
    return products


def check_problem(
    responses: FloatArray, family: Family, terms: tuple[Term, ...], weights: FloatArray | None
) -> None:
    """Refuse what `fit` cannot take; ValueError names what does not fit."""
    if len(terms) != len(family.PARAMETERS):
        raise ValueError(f"terms: {len(terms)} where one for each of {family.PARAMETERS} is needed")
    shapes = {term.design.shape[0] for term in terms}
    if responses.ndim != 2 or shapes != {responses.shape[1]}:
        raise ValueError(f"responses {responses.shape} do not fit designs of {shapes} rows")
    if weights is not None and (weights.shape != responses.shape or not np.all(weights >= 0)):
        raise ValueError("weights: one for each response and golfer, none negative, are needed")
    if not np.all(np.isfinite(responses)):
        raise ValueError("responses: all must be finite")
    if family.POSITIVE_ONLY and not np.all(responses > 0):
        raise ValueError(f"responses: the {family.NAME} family needs positive values")
