"""Do groups need norms of their own? The answers in words, with their evidence."""

from collections import Counter
from typing import Final

from norms.cohort.annex_contents import partition_answers, withheld_findings
from norms.records import Edition, FeaturePartition, PartitionAnswer
from norms.records.partition import PartitionVerdict
from norms.swing.catalogue import BY_NAME
from reports.phrases import phrase
from reports.quantities import (
    DASH,
    digits,
    handicap_words,
    node_words,
    number,
    percent_of,
    plural,
    unit_words,
)
from reports.sentences import sentence_case

_SMALLEST_P: Final = 0.001
ANSWERS: Final[dict[str, str]] = {
    "own": "Own norms needed",
    "shared": "May share norms",
    "undecided": "Undecided",
}
_QUESTIONS: Final[dict[PartitionVerdict, str]] = {
    "own": "need norms of their own",
    "shared": "may share norms",
    "undecided": "are undecided",
}


def partition_section(edition: Edition, unit: str) -> dict[str, object] | None:
    """Every question the edition asked, answered or not.

    Returns
    -------
    dict or None
        None for an edition without annexes.
    """
    found = partition_answers(edition)
    reasons = withheld_findings(edition, "partition")
    if not found and not reasons:
        return None
    return {
        "answers": [_answer(answer, unit) for answer in found.values()],
        "unasked": [f"{sentence_case(why)}." for why in reasons.values()],
        "words": _words(next(iter(found.values()), None)),
    }


def _words(answer: PartitionAnswer | None) -> list[str]:
    if answer is None:
        return []
    overall = percent_of(answer.level * answer.questions)
    return [
        "Own: the difference is beyond chance and large enough to matter. Shared: its interval "
        "shows that it is too small to matter. Undecided: neither is shown; that nothing was "
        "found in few golfers is no proof of likeness.",
        f"{plural(answer.questions, 'question')} were asked together. Each is held to its part "
        f"(Bonferroni) of a {overall} chance that any answer “own” is false, curves and features "
        "together: golfers are relabelled, and the largest difference of all nodes, means and "
        "spreads, each over its own error, is what chance has to reach. Spreads are compared "
        "beyond the noise that each golfer’s own number of swings leaves.",
        "Groups are compared over all levels: where their handicaps differ, that may be the "
        "reason, and no difference says why it is there.",
    ]


def _answer(answer: PartitionAnswer, unit: str) -> dict[str, object]:
    curves = answer.curves
    return {
        "question": sentence_case(answer.question),
        "answer": ANSWERS[answer.verdict],
        "groups": "; ".join(
            _group_words(label, count, handicap)
            for label, count, handicap in zip(
                answer.groups, answer.golfers, answer.median_handicaps, strict=True
            )
        )
        + (", each golfer compared with themselves" if answer.paired else ""),
        "features": _feature_counts(answer),
        "curves": f"The curves: {ANSWERS[curves.verdict].lower()}. Largest difference "
        f"{number(curves.largest_t, 2)} errors ({curves.axis}, {node_words(curves.node)}) against "
        f"{number(curves.critical_t, 2)} by chance, p {_p_relation(curves.p_value)}; largest "
        f"difference {number(curves.largest_difference_sd, 2)} sd, at most "
        f"{number(curves.possible_difference_sd, 2)} sd possible.",
        "labels": answer.groups,
        "rows": [_feature_row(feature, unit) for feature in answer.features],
    }


def _group_words(label: str, golfers: int, handicap: float | None) -> str:
    known = "" if handicap is None else f", median handicap {handicap_words(handicap)}"
    return f"{label}: {plural(golfers, 'golfer')}{known}"


def _feature_counts(answer: PartitionAnswer) -> str:
    counts = Counter(feature.verdict for feature in answer.features)
    parts = [
        f"{counts[verdict]} {words}" for verdict, words in _QUESTIONS.items() if counts[verdict]
    ]
    return f"Of {plural(len(answer.features), 'feature')}, {', '.join(parts)}."


def _feature_row(feature: FeaturePartition, unit: str) -> dict[str, object]:
    kind = BY_NAME[feature.feature].unit
    return {
        "subject": phrase(feature.feature).subject,
        "unit": unit_words(kind, unit),
        "answer": feature.verdict,
        "groups": [
            f"{digits(mean, kind, unit)} (sd {digits(sd, kind, unit)})"
            for mean, sd in zip(feature.means, feature.sds, strict=True)
        ],
        "z": f"{_finite(feature.z)} / {_finite(feature.z_critical)}",
        "outside": f"{_shares(feature.below)}; {_shares(feature.above)}",
        "p": f"{_p_words(feature.mean_p)}; {_p_words(feature.spread_p)}",
    }


def _shares(pair: tuple[float, float]) -> str:
    return ", ".join(number(100.0 * share, 1) for share in pair)


def _finite(value: float) -> str:
    return number(value, 2) if abs(value) < float("inf") else DASH


def _p_relation(p: float) -> str:
    return _p_words(p) if p < _SMALLEST_P else f"= {_p_words(p)}"


def _p_words(p: float) -> str:
    if p != p:
        return DASH
    return f"< {_SMALLEST_P:g}" if p < _SMALLEST_P else number(p, 3)
