"""A study's rows as they may leave the academy: codes replaced, no dates, ages and builds coarse.

A curve is as personal as a gait: whoever holds both this table and a recording of a golfer can
find the golfer in it. It is for research under an agreement, not for publication.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.cohort.bands import PRIVACY_MINIMUM
from norms.records.study import StudyFrame

FloatArray = NDArray[np.float64]

AGE_STEP: Final = 5.0
YOUNGEST, OLDEST = 10.0, 75.0
"""Ages below and above are given as these."""
BUILD_STEPS: Final = {"height": 5.0, "mass": 5.0}
"""Centimetres and kilograms."""
HANDICAP_STEP: Final = 2.0
NOT_AGREED: Final[Mapping[str, str]] = {
    "norms": "golfer did not agree to norms",
    "research": "golfer did not agree to research",
}
IDENTIFYING: Final = ("sex", "age", "height", "mass", "handicap")


def coarse_age(ages: FloatArray) -> FloatArray:
    """Lower end of the five years that each age lies in, cut at 10 and 75; NaN stays NaN."""
    return np.clip(np.floor(ages / AGE_STEP) * AGE_STEP, YOUNGEST, OLDEST)


def coarse_frame(
    frame: StudyFrame, rng: np.random.Generator, smallest_group: int = PRIVACY_MINIMUM
) -> StudyFrame:
    """Rows without codes, their golfers numbered at random, with facts that single out nobody.

    Parameters
    ----------
    frame : StudyFrame
        Of golfers who agreed to research.
    rng : numpy.random.Generator
        Its state is to be forgotten: who knows it can undo the numbering.
    smallest_group : int
        A golfer who shares sex and age with fewer golfers, counting themself, loses both; each
        other fact that fewer share is taken out for them.

    Returns
    -------
    StudyFrame
        Golfers ``"G1"`` on and swings ``"S1"`` on, rows in order of these; height and mass to
        5 cm and 5 kg, handicap to 2.
    """
    codes = np.array(frame.golfers)
    people = rng.permutation(np.unique(codes))
    number = {str(code): place + 1 for place, code in enumerate(people)}
    numbers = np.array([number[code] for code in frame.golfers], dtype=np.int64)
    order = np.lexsort((rng.permutation(numbers.size), numbers))
    return replace(
        _rows(replace(frame, golfer_facts=_facts(frame, smallest_group)), order),
        swings=tuple(f"S{place + 1}" for place in range(order.size)),
        golfers=tuple(f"G{numbers[row]}" for row in order),
    )


def rows_kept(frame: StudyFrame, keep: NDArray[np.bool_], reason: str) -> StudyFrame:
    """The rows where ``keep``, shape (s,), is true; the others are counted under a reason."""
    if keep.all():
        return frame
    left_out = dict(frame.left_out)
    left_out[reason] = left_out.get(reason, 0) + int(np.count_nonzero(~keep))
    return replace(_rows(frame, np.flatnonzero(keep)), left_out=left_out)


def _rows(frame: StudyFrame, rows: NDArray[np.intp]) -> StudyFrame:
    def chosen(words: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(words[row] for row in rows)

    return replace(
        frame,
        swings=chosen(frame.swings),
        golfers=chosen(frame.golfers),
        clubs=chosen(frame.clubs),
        labs=chosen(frame.labs),
        ball_speed_mps=frame.ball_speed_mps[rows],
        club_speed_mps=frame.club_speed_mps[rows],
        golfer_facts={name: values[rows] for name, values in frame.golfer_facts.items()},
        features=frame.features[rows],
        curves_cm=None if frame.curves_cm is None else frame.curves_cm[rows],
        rates_cm_s=None if frame.rates_cm_s is None else frame.rates_cm_s[rows],
    )


def _facts(frame: StudyFrame, smallest_group: int) -> dict[str, FloatArray]:
    """Facts of each row, coarse, and NaN where they would single a golfer out."""
    facts = {name: values.copy() for name, values in frame.golfer_facts.items()}
    if "age" in facts:
        facts["age"] = coarse_age(facts["age"])
    for name, step in (*BUILD_STEPS.items(), ("handicap", HANDICAP_STEP)):
        if name in facts:
            facts[name] = np.round(facts[name] / step) * step
    pair = [name for name in ("sex", "age") if name in facts]
    if pair:
        rare = _rare([facts[name] for name in pair], frame.golfers, smallest_group)
        for name in pair:
            facts[name][rare] = np.nan
    for name in set(IDENTIFYING) & facts.keys():
        facts[name][_rare([facts[name]], frame.golfers, smallest_group)] = np.nan
    return facts


def _rare(
    facts: list[FloatArray], golfers: tuple[str, ...], smallest_group: int
) -> NDArray[np.bool_]:
    """Rows whose combination of facts fewer golfers than the smallest group have."""
    # As text, because NaN, itself a fact that can be rare, is not equal to itself.
    combined = [" ".join(map(str, row)) for row in zip(*facts, strict=True)]
    sharing = Counter(fact for fact, _ in set(zip(combined, golfers, strict=True)))
    return np.array([sharing[fact] < smallest_group for fact in combined], dtype=bool)
