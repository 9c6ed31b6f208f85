"""What a standard can ask for: features, and means of stretches of curve, and their error."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from norms.errors import StandardRefused
from norms.records import Cohort, FloatArray, MeasurementError
from norms.records.standard import Quantity, QuantityErrors
from norms.statistics.reliability import smallest_detectable_change
from norms.swing.catalogue import BY_NAME, FEATURE_NAMES, FeatureUnit
from norms.vocabulary import AXES, EVENT_NODES, NODES_PER_PHASE, PHASE_NAMES, PHASES, Axis

_PERCENT_NODES: Final = NODES_PER_PHASE - 1


def feature_quantity(name: str) -> Quantity:
    """A feature as something to ask for.

    Raises
    ------
    StandardRefused
        If the catalogue has no such feature.
    """
    if name not in FEATURE_NAMES:
        raise StandardRefused(
            f"{name!r} is no feature; there are {', '.join(FEATURE_NAMES)}", code="unknown_feature"
        )
    return Quantity(feature=name)


def stretch_quantity(axis: Axis, first: str, last: str) -> Quantity:
    """The mean of a curve between two points of the phase axis, both included.

    Parameters
    ----------
    axis : {"sway", "thrust", "lift"}
    first, last : str
        An event (``"start"``, ``"top"``, ``"impact"``, ``"finish"``) or a phase and its percent,
        e.g. ``"downswing 50"``.

    Raises
    ------
    StandardRefused
        If a point is not understood, or the last does not come after the first.
    """
    if axis not in AXES:
        raise StandardRefused(f"axis {axis!r} is none of {', '.join(AXES)}", code="stretch")
    nodes = phase_node(first), phase_node(last)
    if not nodes[0] < nodes[1]:
        raise StandardRefused(
            f"a stretch from {first!r} to {last!r} is empty; exchange the two", code="stretch"
        )
    return Quantity(axis=axis, first_node=nodes[0], last_node=nodes[1])


def stretch_from_words(words: str) -> Quantity:
    """A stretch as one word of a command, e.g. ``"lift:top:downswing 50"``.

    Raises
    ------
    StandardRefused
    """
    parts = words.split(":")
    axis = next((axis for axis in AXES if parts[0] == axis), None)
    if len(parts) != 3 or axis is None:
        raise StandardRefused(
            f"{words!r} is no stretch; write axis, first and last point with colons between, "
            'e.g. "lift:top:downswing 50"',
            code="stretch",
        )
    return stretch_quantity(axis, parts[1], parts[2])


def phase_node(point: str) -> int:
    """Node of an event, or of a phase and its percent.

    Raises
    ------
    StandardRefused
        If the words are neither.
    """
    if point in EVENT_NODES:
        return EVENT_NODES[point]
    phase, _, percent = point.rpartition(" ")
    by_words = {words: place for place, words in enumerate(PHASES)} | {
        words: place for place, words in enumerate(PHASE_NAMES.values())
    }
    if phase in by_words and percent.isdigit() and int(percent) <= _PERCENT_NODES:
        return by_words[phase] * _PERCENT_NODES + int(percent)
    raise StandardRefused(
        f"{point!r} is no point of a swing; write {', '.join(EVENT_NODES)}, or a phase and its "
        'percent, e.g. "downswing 50"',
        code="stretch",
    )


def point_words(node: int) -> str:
    """Words of a node: the event, or phase and percent."""
    for event, at in EVENT_NODES.items():
        if node == at:
            return event
    return f"{PHASE_NAMES[PHASES[node // _PERCENT_NODES]]} {node % _PERCENT_NODES}"


def quantity_unit(quantity: Quantity) -> FeatureUnit:
    """Unit inside; a stretch is a length."""
    return "cm" if quantity.feature is None else BY_NAME[quantity.feature].unit


def quantity_label(quantity: Quantity) -> str:
    """Short words for a message, e.g. ``"mean lift, top to downswing 50"``."""
    if quantity.feature is not None:
        return BY_NAME[quantity.feature].label
    first, last = point_words(quantity.first_node), point_words(quantity.last_node)
    return f"mean {quantity.axis}, {first} to {last}"


def stretch_mean(curves_cm: FloatArray, quantity: Quantity) -> FloatArray:
    """Mean of a stretch for curves of shape (..., 3, 301), shape (...)."""
    axis = AXES.index(quantity.axis) if quantity.axis else 0
    part = curves_cm[..., axis, quantity.first_node : quantity.last_node + 1]
    return np.asarray(part.mean(axis=-1))


def cohort_values(cohort: Cohort, quantities: Sequence[Quantity]) -> FloatArray:
    """The golfers' means of each quantity, shape (n, d); NaN where a golfer has none."""
    values = np.full((len(cohort.golfers), len(quantities)), np.nan)
    for place, quantity in enumerate(quantities):
        if quantity.feature is None:
            values[:, place] = stretch_mean(cohort.curves_cm, quantity)
        elif quantity.feature in cohort.feature_names:
            column = cohort.feature_names.index(quantity.feature)
            values[:, place] = cohort.features[:, column]
    return values


def quantity_errors(error: MeasurementError, quantities: Sequence[Quantity]) -> QuantityErrors:
    """Measurement error of each quantity for one swing, from a club's noise budget.

    Parameters
    ----------
    error : MeasurementError
    quantities : sequence of d Quantity

    Returns
    -------
    QuantityErrors

    Notes
    -----
    The standard deviation of the mean of a stretch is at most the mean of the nodes' standard
    deviations (Minkowski), which is taken: as if the whole stretch moved as one.
    """
    factors = _caution_factors(error)
    rows = [_one(error, quantity, factors) for quantity in quantities]
    swing, day, factor, individuality = np.array(rows, dtype=float).reshape(-1, 4).T
    return QuantityErrors(
        swing_sd=swing,
        day_sd=day,
        caution_factor=factor,
        individuality=individuality,
        confidence=error.confidence,
    )


def planned_error(errors: QuantityErrors, swings: int, days: int) -> FloatArray:
    """Standard error of a mean of ``swings`` swings spread evenly over ``days`` days, shape (d,).

    Where the day's part is not known it is left out; NaN where the swing's is not.
    """
    counts, squares = np.full(1, float(swings)), np.full(1, swings * swings / days)
    return np.asarray(mean_error_of(errors, counts, squares)[0])


def mean_error_of(
    errors: QuantityErrors, swings: FloatArray, squared_day_counts: FloatArray
) -> FloatArray:
    """Standard error of means, shape (n, d).

    Parameters
    ----------
    errors : QuantityErrors
    swings : ndarray, shape (n,) or (n, d)
        Swings of each mean.
    squared_day_counts : ndarray, same shape
        Sum over days of the squared number of swings: n_d swings of N on day d carry the day's
        own deviation with weight n_d / N.
    """
    counts = np.atleast_2d(np.asarray(swings, dtype=float).T).T
    squares = np.atleast_2d(np.asarray(squared_day_counts, dtype=float).T).T
    day = np.nan_to_num(errors.day_sd)
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = errors.swing_sd**2 / counts + day**2 * squares / counts**2
    return np.asarray(np.sqrt(variance) * errors.caution_factor)


def smallest_change(errors: QuantityErrors, error_of_mean: FloatArray) -> FloatArray:
    """Smallest detectable change between two means of this standard error."""
    return np.asarray(smallest_detectable_change(error_of_mean, errors.confidence))


def _caution_factors(error: MeasurementError) -> FloatArray:
    """Upper limit of the standard error over its value, by feature; 1 where there is none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        between = error.sem_between.high / error.sem_between.value
        within = error.sem_within.high / error.sem_within.value
    factors = np.where(np.isfinite(between), between, within)
    return np.asarray(np.where(np.isfinite(factors), np.maximum(factors, 1.0), 1.0))


def _one(
    error: MeasurementError, quantity: Quantity, factors: FloatArray
) -> tuple[float, float, float, float]:
    if quantity.feature is None:
        return _stretch(error, quantity, factors)
    if quantity.feature not in error.feature_names:
        return (np.nan, np.nan, 1.0, np.nan)
    at = error.feature_names.index(quantity.feature)
    swing, day = float(error.swing_sd[at]), float(error.day_sd[at])
    if np.isnan(swing):
        # One swing a day: what is known of both together, as the error of a single swing.
        swing = float(error.sem_between.value[at])
    return swing, day, float(factors[at]), float(error.individuality[at])


def _stretch(
    error: MeasurementError, quantity: Quantity, factors: FloatArray
) -> tuple[float, float, float, float]:
    golfer, day, swing = (
        float(stretch_mean(sd, quantity))
        for sd in (error.golfer_node_sd_cm, error.day_node_sd_cm, error.swing_node_sd_cm)
    )
    within = float(np.hypot(np.nan_to_num(day), swing))
    of_axis = [
        factor
        for name, factor in zip(error.feature_names, factors, strict=True)
        if BY_NAME[name].axis == quantity.axis
    ]
    individuality = within / golfer if golfer > 0 else np.inf
    return swing, day, float(max(of_axis, default=1.0)), individuality
