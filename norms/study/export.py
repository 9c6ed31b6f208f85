"""The analysis frame that an analyst takes into a notebook, without the academy's codes."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.records.study import StudyFrame, StudyPlan
from norms.statistics.within_between import within_and_between
from norms.swing.catalogue import BY_NAME

UNIT_WORDS: Final = {
    "cm": "cm",
    "cm_s": "cm/s",
    "s": "s",
    "pct": "% of the downswing",
    "ratio": "ratio",
    "share": "share, 0 to 1",
}
AGE_GROUP_YEARS: Final = 10
DictionaryRow = tuple[str, str, str]
"""Column, unit, meaning."""


def recoded(codes: Sequence[str], seed: int) -> dict[str, str]:
    """New identifiers by code, in an order drawn from the seed: R001, R002, ...

    They say which swings belong together and nothing else.
    """
    known = sorted(set(codes))
    order = np.random.default_rng([seed, len(known)]).permutation(len(known))
    width = max(3, len(str(len(known))))
    return {code: f"R{place + 1:0{width}d}" for code, place in zip(known, order, strict=True)}


def recoded_labs(labs: Sequence[str]) -> dict[str, str]:
    """New identifiers of labs by name: lab 1, lab 2, ... in the order of their names."""
    return {lab: f"lab {place + 1}" for place, lab in enumerate(sorted(set(labs)))}


def own_names(frame: StudyFrame, plan: StudyPlan) -> dict[str, str]:
    """The academy's own codes and lab names by the identifiers that stand in results for them."""
    new = {**recoded(frame.golfers, plan.seed), **recoded_labs(frame.labs)}
    return {identifier: name for name, identifier in new.items()}


def analysis_frame(
    frame: StudyFrame, plan: StudyPlan
) -> tuple[dict[str, NDArray[np.generic]], tuple[DictionaryRow, ...]]:
    """Columns of the analysis frame, one row per swing, and its data dictionary.

    Golfers and labs are recoded, swing codes and days stay behind, ages are rounded to ten
    years, heights and masses to 5. Every feature stands as it is, and taken apart within and
    between golfers as the study does it.

    Parameters
    ----------
    frame : StudyFrame
    plan : StudyPlan
        Its seed decides the new identifiers.
    """
    golfers = recoded(frame.golfers, plan.seed)
    labs = recoded_labs(frame.labs)
    order = np.argsort([golfers[code] for code in frame.golfers], kind="stable")
    columns: dict[str, NDArray[np.generic]] = {
        "golfer": np.array([golfers[code] for code in frame.golfers]),
        "lab": np.array([labs[lab] for lab in frame.labs]),
        "club": np.array(frame.clubs),
        "ball_speed_mps": frame.ball_speed_mps,
        "club_speed_mps": frame.club_speed_mps,
    }
    rows: list[DictionaryRow] = [
        ("golfer", "", "identifier of the golfer in this frame alone; the unit of every statistic"),
        ("lab", "", "identifier of the lab in this frame alone"),
        ("club", "", "club"),
        ("ball_speed_mps", "m/s", "ball speed; empty where not measured or impossible"),
        ("club_speed_mps", "m/s", "club speed; empty where not measured"),
    ]
    for name, values in frame.golfer_facts.items():
        column, unit, words, shown = _fact(name, values)
        columns[column] = shown
        rows.append((column, unit, words))
    parts = within_and_between(frame.features, frame.golfers, frame.clubs)
    for place, name in enumerate(frame.feature_names):
        unit = UNIT_WORDS.get(frame.feature_units[place], frame.feature_units[place])
        words = BY_NAME[name].definition if name in BY_NAME else frame.feature_labels[place]
        columns[name] = frame.features[:, place]
        columns[f"{name}_within"] = parts.within[:, place]
        columns[f"{name}_between"] = parts.between[:, place]
        rows += [
            (name, unit, words),
            (f"{name}_within", unit, f"{name} minus the golfer's mean with the same club"),
            (f"{name}_between", unit, f"golfer's mean of {name}, each club's mean taken out"),
        ]
    return {name: values[order] for name, values in columns.items()}, tuple(rows)


def _fact(name: str, values: NDArray[np.float64]) -> tuple[str, str, str, NDArray[np.float64]]:
    if name == "age":
        groups = np.floor(values / AGE_GROUP_YEARS) * AGE_GROUP_YEARS
        return "age_from", "years", "first year of the golfer's group of ten years of age", groups
    if name in ("height", "mass"):
        unit = {"height": "cm", "mass": "kg"}[name]
        return f"{name}_{unit}", unit, f"{name}, rounded to 5 {unit}", np.round(values / 5.0) * 5.0
    if name == "sex":
        return "male", "", "1 for men, 0 for women", values
    if name == "handicap":
        words = "handicap index on the day, rounded to whole strokes; better than 0 is negative"
        return "handicap", "strokes", words, np.round(values)
    return name, "", name, values
