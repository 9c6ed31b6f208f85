"""Findings, the whole swing and changes in words: every sentence is made of one record alone."""

from typing import Final

from norms.records.findings import Finding
from norms.records.golfer_place import (
    LookAlikes,
    MapPart,
    NearestHandicap,
    PatternPlace,
    ProfileMap,
    TypicalityPlace,
)
from norms.records.progress import FeatureChange
from norms.swing.catalogue import BY_NAME
from norms.units import cm_to
from norms.vocabulary import AXIS_ENDS, PHASE_NAMES
from reports.phrases import phrase
from reports.quantities import (
    handicap_words,
    number,
    percent_of,
    plural,
    quantity,
)
from reports.sentences import change_amount, value_words

NOTHING: Final = (
    "Nothing stands out: no feature lies farther from the peers than chance over all features, "
    "and this golfer's own noise, would put it."
)
NOT_JUDGED: Final = (
    "What to look at first is not judged: that needs the golfers' own values, which stayed in the "
    "other academy."
)
MARKS: Final[dict[str, str]] = {"above": "▲", "below": "▼"}


def finding_head(finding: Finding, unit: str) -> str:
    """Subject and value of a finding, e.g. "Forward travel 4.1 in"."""
    value = value_words(finding.feature, finding.value, unit)
    return f"{phrase(finding.feature).subject} {value}"


def finding_words(finding: Finding, group: str) -> str:
    """The rest of its sentence: count, strength, how many swings, and the golfer's noise."""
    comparative = phrase(finding.feature).comparative(finding.value, upward=finding.side == "above")
    every = finding.beyond == finding.peers
    share = f"all {finding.peers}" if every else f"{finding.beyond} of {finding.peers}"
    noise = (
        "the golfer's own noise is not known"
        if finding.error is None
        else "beyond the golfer's own noise"
    )
    return (
        f"{comparative} than {share} {group}. {finding.strength.capitalize()} "
        f"(p {p_words(finding.p)}), {noise}, from {plural(finding.swings, 'swing')}."
    )


def finding_mark(finding: Finding) -> str:
    """Triangle on the finding's side of the peers' middle, doubled where very unusual."""
    return MARKS[finding.side] * (2 if finding.strength == "very unusual" else 1)


def p_words(p: float) -> str:
    """A p value, never as zero."""
    return "below 0.001" if p < 0.001 else number(p, 3 if p < 0.1 else 2)


def typicality_sentence(place: TypicalityPlace, group: str) -> str:
    """E.g. "More unusual than 57 of 60 golfers at this level (p 0.066), …"."""
    seen = "one swing" if place.swings == 1 else f"up to {place.swings} swings"
    if place.more_unusual_than == 0:
        start = f"Not more unusual than any of {place.peers} {group}"
    elif place.more_unusual_than == place.peers:
        start = f"More unusual than all {place.peers} {group}"
    else:
        start = f"More unusual than {place.more_unusual_than} of {place.peers} {group}"
    return f"{start} (p {p_words(place.p)}), each seen by {seen}."


def overall_sentence(profile: ProfileMap, unit: str) -> str:
    """Overall deviation, its index and the smallest change of it."""
    text = f"Overall deviation {length(profile.overall_cm, unit)}"
    if profile.index is not None:
        text += f", index {number(profile.index, 0)} (100 is usual, 10 less for each spread above)"
    if profile.overall_detectable_cm is not None:
        needed = length(profile.overall_detectable_cm, unit)
        text += f". Only a change of {needed} or more would be more than noise"
    return text + "."


def whole_shares(profile: ProfileMap) -> list[int]:
    """The nine shares as whole percents that still add to 100 (largest remainders)."""
    shares = [part.share_pct for part in profile.parts]
    whole = [int(share) for share in shares]
    by_remainder = sorted(range(len(shares)), key=lambda at: whole[at] - shares[at])
    for at in by_remainder[: round(sum(shares)) - sum(whole)]:
        whole[at] += 1
    return whole


def largest_part_sentence(profile: ProfileMap, unit: str) -> str:
    """Where most of the difference lies."""
    share, part = max(
        zip(whole_shares(profile), profile.parts, strict=True), key=lambda pair: pair[1].share_pct
    )
    kind = (
        "mostly too far to one side"
        if abs(part.signed_cm) >= part.shape_cm
        else "mostly another shape"
    )
    return (
        f"The largest share, {share} %, is {part.axis} in the "
        f"{PHASE_NAMES[part.phase]}: {kind}, {signed_words(part, unit)} on average."
    )


def signed_words(part: MapPart, unit: str) -> str:
    """The signed part with its direction, e.g. "0.8 in toward target"."""
    text = number(abs(cm_to(part.signed_cm, unit)), 1)
    if not text.strip("0."):
        return f"0.0 {unit}"
    return f"{text} {unit} {AXIS_ENDS[part.axis][0 if part.signed_cm > 0 else 1]}"


def nearest_sentence(nearest: NearestHandicap) -> str:
    """The handicap whose typical curves are nearest, with its interval."""
    low = ("below " if nearest.low_open else "") + handicap_words(round(nearest.low, 1))
    high = handicap_words(round(nearest.high, 1)) + (" and above" if nearest.high_open else "")
    if nearest.low_open and nearest.high_open:
        return (
            "No handicap's typical curves are nearer than another's: the curves go with any "
            f"handicap that {nearest.golfers} golfers support."
        )
    return (
        f"The typical curves of handicap {handicap_words(round(nearest.handicap, 1))} are nearest "
        f"(90 % interval {low} to {high}, {nearest.golfers} golfers)."
    )


def pattern_sentences(place: PatternPlace, swings: int) -> tuple[str, ...]:
    """Probabilities of patterns, or why there are none, and whether any fits."""
    if not place.names:
        what = "This swing" if swings == 1 else "The mean of the swings"
        fit = f"{what} fits the cloud badly" if place.none_fits else f"{what} lies within the cloud"
        return (place.reason, f"{fit} (p {p_words(place.fit_p)}).")
    ranked = sorted(zip(place.probabilities, place.names, strict=True), reverse=True)
    said = "; ".join(f"{name} {percent_of(share)}" for share, name in ranked if share >= 0.005)
    if place.none_fits:
        return (f"None of the patterns fits (p {p_words(place.fit_p)}). Nearest: {said}.",)
    return (f"Pattern: {said}.",)


def moved_words(change_cm: float | None, unit: str) -> str:
    """How much nearer to the group's mean a golfer came, as rounded for the reader."""
    if change_cm is None:
        return "no later session"
    text = number(abs(cm_to(change_cm, unit)), 1)
    if not text.strip("0."):
        return "as before"
    return f"{text} {unit} {'nearer' if change_cm < 0 else 'farther'}"


def look_alike_sentence(alike: LookAlikes, unit: str) -> str:
    """What became of the golfers who swing alike, as a group; counts what their rows say."""
    if alike.withheld is not None:
        return f"Look-alikes are not shown: {alike.withheld}."
    moved = [
        moved_words(one.next_change_cm, unit)
        for one in alike.group
        if one.next_change_cm is not None
    ]
    start = f"The {len(alike.group)} earlier golfers whose curves are nearest."
    if not moved:
        return f"{start} None of them has a later session."
    nearer, farther = (sum(text.endswith(end) for text in moved) for end in ("nearer", "farther"))
    return (
        f"{start} Of {len(moved)} with a later session, from their first to their last {nearer} "
        f"came nearer to the group's mean, {farther} went farther from it and "
        f"{len(moved) - nearer - farther} stayed as before; that says nothing of why."
    )


def change_words(change: FeatureChange, unit: str) -> str:
    """The verdict on a change with its bars, e.g. "Real: …"."""
    feature = change.feature
    if change.needed is None or change.expected_low is None or change.expected_high is None:
        return "Cannot be judged: the noise of this feature is not known."
    low, high = (
        change_amount(feature, end, unit) for end in (change.expected_low, change.expected_high)
    )
    needed = quantity(change.needed, BY_NAME[feature].unit, unit)
    bars = f"needed {needed}; with nothing done {low} to {high}"
    if change.verdict == "not enough swings":
        return f"Not enough swings: take {change.more_swings} more ({bars})."
    return f"{change.verdict.capitalize()} ({bars})."


def length(value_cm: float, unit: str) -> str:
    """A length with one decimal and its unit."""
    return f"{number(cm_to(value_cm, unit), 1)} {unit}"
