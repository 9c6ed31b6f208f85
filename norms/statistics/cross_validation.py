"""Prediction judged on groups that the model has not seen, against a baseline.

Every group counts once, however many observations it has. Dimension letters: s observations,
b columns of the baseline, d columns that are to add something.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FOLDS: Final = 10
INNER_FOLDS: Final = 5
PENALTIES: Final = np.logspace(-3.0, 3.0, 13)
"""Ridge penalties tried, in units of the training groups."""
RESAMPLES: Final = 2_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prediction:
    """Out-of-sample predictions, and how good they are.

    Attributes
    ----------
    baseline, model : ndarray, shape (s,)
        Predicted outcome of every observation, from folds that do not hold its group.
    baseline_rmse, model_rmse, baseline_r2, model_r2 : float
        Over observations, each group's together weighing one; r2 is against the mean of the
        training groups.
    rmse_gain, r2_gain : tuple of 3 floats
        How much the model is better, with the limits of its interval over resampled groups.
    model_r2_limits, model_rmse_limits : tuple of 2 floats
    folds : int
    """

    baseline: FloatArray
    model: FloatArray
    baseline_rmse: float
    model_rmse: float
    baseline_r2: float
    model_r2: float
    rmse_gain: tuple[float, float, float]
    r2_gain: tuple[float, float, float]
    model_r2_limits: tuple[float, float]
    model_rmse_limits: tuple[float, float]
    folds: int


def group_folds(groups: ArrayLike, folds: int, rng: np.random.Generator) -> IntArray:
    """Fold of every observation; all observations of a group are in one fold.

    Raises
    ------
    ValueError
        If there are fewer groups than folds, or fewer than two folds.
    """
    codes = np.unique(np.asarray(groups), return_inverse=True)[1]
    count = int(codes.max(initial=-1)) + 1
    if folds < 2 or count < folds:
        raise ValueError(f"folds: {folds} of {count} groups; at least 2, at most one a group")
    fold_of_group = rng.permutation(np.arange(count) % folds)
    return np.asarray(fold_of_group[codes], dtype=np.int64)


def check_split(training: ArrayLike, held_out: ArrayLike) -> None:
    """Refuse a split that has a group on both sides: its prediction would be remembered.

    Raises
    ------
    ValueError
        Naming the first such group.
    """
    both = np.intersect1d(np.asarray(training), np.asarray(held_out))
    if both.size:
        raise ValueError(
            f"split: group {both[0]} is on both sides, in training and held out; "
            "split by group, not by observation"
        )


def predict_held_out(
    outcome: ArrayLike,
    baseline: ArrayLike,
    added: ArrayLike,
    groups: ArrayLike,
    rng: np.random.Generator,
    *,
    folds: int = FOLDS,
    fold_of: ArrayLike | None = None,
) -> Prediction:
    """Do added columns predict the outcome of unseen groups better than the baseline?

    The baseline is least squares; the added columns enter by ridge regression on top of it, with
    the penalty chosen inside the training groups alone. Missing added values take the mean of the
    training observations.

    Parameters
    ----------
    outcome : array_like, shape (s,)
    baseline : array_like, shape (s, b)
        With the intercept; no missing value.
    added : array_like, shape (s, d)
        NaN where missing.
    groups : array_like, shape (s,)
    rng : numpy.random.Generator
    folds : int
    fold_of : array_like of int, shape (s,), optional
        Folds made elsewhere.

    Raises
    ------
    ValueError
        If a fold shares a group with the others, or there are too few groups.
    """
    y, base = np.asarray(outcome, dtype=np.float64), np.asarray(baseline, dtype=np.float64)
    extra = np.asarray(added, dtype=np.float64)
    codes = np.unique(np.asarray(groups), return_inverse=True)[1]
    fold = group_folds(codes, folds, rng) if fold_of is None else np.asarray(fold_of)
    weight = 1.0 / np.bincount(codes)[codes]
    predictions = np.empty((3, len(y)))
    for held in np.unique(fold):
        out, train = fold == held, fold != held
        check_split(codes[train], codes[out])
        penalty = _best_penalty(y, base, extra, codes, weight, train, rng)
        for row, strength in ((0, np.inf), (1, penalty)):
            fit = _ridge(y[train], base[train], extra[train], weight[train], strength)
            predictions[row, out] = fit.predict(base[out], extra[out])
        predictions[2, out] = np.average(y[train], weights=weight[train])
    return _judged(y, predictions, codes, weight, rng, len(np.unique(fold)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ridge:
    centre: FloatArray
    scale: FloatArray
    base: FloatArray
    added: FloatArray

    def predict(self, base: FloatArray, added: FloatArray) -> FloatArray:
        return np.asarray(
            base @ self.base + _standard(added, self.centre, self.scale) @ self.added,
            dtype=np.float64,
        )


def _standard(added: FloatArray, centre: FloatArray, scale: FloatArray) -> FloatArray:
    return np.where(np.isfinite(added), (added - centre) / scale, 0.0)


def _ridge(
    y: FloatArray, base: FloatArray, added: FloatArray, weight: FloatArray, penalty: float
) -> _Ridge:
    seen = np.isfinite(added) * weight[:, np.newaxis]
    mass = np.maximum(seen.sum(axis=0), 1e-12)
    filled = np.where(np.isfinite(added), added, 0.0)
    centre = (seen * filled).sum(axis=0) / mass
    scale = np.sqrt((seen * (filled - centre) ** 2).sum(axis=0) / mass)
    scale = np.where(scale > 0.0, scale, 1.0)
    b = base.shape[1]
    root = np.sqrt(weight)[:, np.newaxis]
    if np.isinf(penalty):
        found = np.asarray(np.linalg.lstsq(base * root, y * root[:, 0], rcond=None)[0], float)
        return _Ridge(centre=centre, scale=scale, base=found, added=np.zeros(added.shape[1]))
    x = np.column_stack([base, _standard(added, centre, scale)]) * root
    held = np.r_[np.full(b, 1e-10), np.full(added.shape[1], penalty * weight.sum())]
    found = np.asarray(np.linalg.solve(x.T @ x + np.diag(held), x.T @ (y * root[:, 0])))
    return _Ridge(centre=centre, scale=scale, base=found[:b], added=found[b:])


def _best_penalty(
    y: FloatArray,
    base: FloatArray,
    added: FloatArray,
    codes: IntArray,
    weight: FloatArray,
    train: NDArray[np.bool_],
    rng: np.random.Generator,
) -> float:
    rows = np.flatnonzero(train)
    inner = group_folds(codes[rows], min(INNER_FOLDS, len(np.unique(codes[rows]))), rng)
    losses = np.zeros(len(PENALTIES))
    for held in np.unique(inner):
        fit_on, judge_on = rows[inner != held], rows[inner == held]
        for place, penalty in enumerate(PENALTIES):
            fit = _ridge(y[fit_on], base[fit_on], added[fit_on], weight[fit_on], penalty)
            error = y[judge_on] - fit.predict(base[judge_on], added[judge_on])
            losses[place] += (weight[judge_on] * error**2).sum()
    return float(PENALTIES[np.argmin(losses)])


def _judged(
    y: FloatArray,
    predictions: FloatArray,
    codes: IntArray,
    weight: FloatArray,
    rng: np.random.Generator,
    folds: int,
) -> Prediction:
    squares = np.stack([np.bincount(codes, weight * (y - row) ** 2) for row in predictions])
    count = squares.shape[1]
    drawn = rng.multinomial(count, np.full(count, 1.0 / count), size=RESAMPLES)
    means = squares.mean(axis=1)
    resampled = squares @ drawn.T / count
    rmse, many_rmse = np.sqrt(means), np.sqrt(resampled)
    r2, many_r2 = 1.0 - means / means[2], 1.0 - resampled / resampled[2]
    return Prediction(
        baseline=predictions[0],
        model=predictions[1],
        baseline_rmse=float(rmse[0]),
        model_rmse=float(rmse[1]),
        baseline_r2=float(r2[0]),
        model_r2=float(r2[1]),
        rmse_gain=(float(rmse[0] - rmse[1]), *_limits(many_rmse[0] - many_rmse[1])),
        r2_gain=(float(r2[1] - r2[0]), *_limits(many_r2[1] - many_r2[0])),
        model_r2_limits=_limits(many_r2[1]),
        model_rmse_limits=_limits(many_rmse[1]),
        folds=folds,
    )


def _limits(values: FloatArray) -> tuple[float, float]:
    low, high = np.quantile(values, (0.025, 0.975))
    return float(low), float(high)
