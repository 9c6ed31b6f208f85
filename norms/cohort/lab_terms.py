"""Swings of one lab in the terms of another: the stated model of a lab's effect.

Feature by feature the lab effect's verdict decides: alike values stay, others are shifted, or
shifted and scaled, and where the labs differ by more than can be corrected, or cannot be compared,
the lab's values of the feature are kept apart: they do not enter norms. Curves lose the mean
difference of the golfers measured in both labs, on every axis of which a feature is not alike.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from norms.records import FeatureValues, FloatArray, LabEffect, LabTerms, Swing, SwingPool
from norms.vocabulary import AXES, NODES


def lab_terms(pool: SwingPool, effect: LabEffect) -> LabTerms:
    """How swings of ``effect.lab`` are put in the reference lab's terms.

    Parameters
    ----------
    pool : SwingPool
        The swings the effect was estimated from.
    effect : LabEffect
    """
    shift = np.zeros((len(AXES), NODES))
    moved = {
        name.split("_")[0]
        for name, verdict in zip(effect.feature_names, effect.verdicts, strict=True)
        if verdict != "alike"
    }
    if moved & set(AXES):
        difference = _mean_difference_cm(pool, effect)
        for place, axis in enumerate(AXES):
            if axis in moved:
                shift[place] = difference[place]
    return LabTerms(effect=effect, curve_shift_cm=shift)


def in_reference_terms(pool: SwingPool, terms: Iterable[LabTerms]) -> SwingPool:
    """The pool with each lab's swings in the terms of its reference lab.

    Parameters
    ----------
    pool : SwingPool
    terms : iterable of LabTerms
        At most one for each lab and club.

    Returns
    -------
    SwingPool
        A feature kept apart is NaN for the lab's swings.
    """
    features, curves = pool.features.copy(), pool.curves_cm.copy()
    labs, clubs = np.array(pool.labs, dtype=str), np.array(pool.clubs, dtype=str)
    for one in terms:
        rows = (labs == one.effect.lab) & (clubs == one.effect.club)
        features[rows] = adjusted_features(features[rows], one.effect)
        curves[rows] -= one.curve_shift_cm
    return replace(pool, features=features, curves_cm=curves)


def swing_in_reference_terms(swing: Swing, terms: LabTerms) -> Swing:
    """One swing of the lab as the reference lab would have measured it.

    Parameters
    ----------
    swing : Swing
    terms : LabTerms
        Of the swing's lab and club.

    Returns
    -------
    Swing
        A feature kept apart is missing, with the reason.
    """
    effect = terms.effect
    row = np.array([[swing.features.values.get(name, np.nan) for name in effect.feature_names]])
    adjusted = dict(
        zip(effect.feature_names, adjusted_features(row, effect)[0].tolist(), strict=True)
    )
    values, missing = dict(swing.features.values), dict(swing.features.missing)
    for name in effect.feature_names:
        if name in values and np.isfinite(adjusted[name]):
            values[name] = adjusted[name]
        elif name in values:
            del values[name]
            missing[name] = f"{effect.lab} and {effect.reference} are kept apart in it"
    spread = {name: sd for name, sd in swing.features.uncertainty.items() if name in values}
    curve = replace(swing.curve, values_cm=swing.curve.values_cm - terms.curve_shift_cm)
    features = FeatureValues(values=values, missing=missing, uncertainty=spread)
    return replace(swing, features=features, curve=curve)


def terms_words(terms: LabTerms, labels: Mapping[str, str]) -> str:
    """What is done with a lab's features, in one sentence.

    Parameters
    ----------
    terms : LabTerms
    labels : Mapping of str to str
        Words by feature; one that is not there goes by its name.
    """
    effect = terms.effect
    told = []
    for one, words in (
        ("adjust_shift", "shifted"),
        ("adjust_shift_and_scale", "shifted and scaled"),
        ("apart", "kept apart"),
    ):
        of_verdict = zip(effect.feature_names, effect.verdicts, strict=True)
        told.append((words, [labels.get(name, name) for name, given in of_verdict if given == one]))
    parts = [f"{', '.join(names)} {words}" for words, names in told if names]
    done = "; ".join(parts) or "no feature changed"
    return (
        f"{effect.lab} in terms of {effect.reference}, {effect.club}, by {effect.golfers} golfers "
        f"measured in both: {done}{'; the others alike' if parts else ''}"
    )


def adjusted_features(values: FloatArray, effect: LabEffect) -> FloatArray:
    """Features of ``effect.lab``, shape (s, d), by the verdicts; NaN where kept apart."""
    verdicts = np.array(effect.verdicts)
    moved = np.isin(verdicts, ("adjust_shift", "adjust_shift_and_scale"))
    shift = np.where(moved, effect.shift, 0.0)
    scale = np.where(verdicts == "adjust_shift_and_scale", effect.scale, 1.0)
    centre = np.where(moved, effect.centre, 0.0)
    adjusted = centre + (values - centre - shift) / scale
    return np.asarray(np.where(verdicts == "apart", np.nan, adjusted))


def _mean_difference_cm(pool: SwingPool, effect: LabEffect) -> FloatArray:
    """Lab minus reference, mean over the golfers measured in both, shape (3, 301)."""
    labs, golfers = np.array(pool.labs, dtype=str), np.array(pool.golfers, dtype=str)
    of_club = np.array(pool.clubs, dtype=str) == effect.club
    here, there = (of_club & (labs == lab) for lab in (effect.lab, effect.reference))
    both = np.intersect1d(golfers[here], golfers[there])
    return _mean_of_golfers(pool, here, both) - _mean_of_golfers(pool, there, both)


def _mean_of_golfers(pool: SwingPool, rows: np.ndarray, both: np.ndarray) -> FloatArray:
    golfers = np.array(pool.golfers, dtype=str)
    chosen = np.flatnonzero(rows & np.isin(golfers, both))
    _, code, counts = np.unique(golfers[chosen], return_inverse=True, return_counts=True)
    weights = 1.0 / (counts[code] * len(both))
    return np.asarray(np.tensordot(weights, pool.curves_cm[chosen], axes=1))
