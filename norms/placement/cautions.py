"""The sentences that must stand beside a placement: what was taken as a stand-in, and how sure."""

from collections.abc import Sequence
from itertools import chain
from typing import Final, Literal

from norms.cohort.bands import golfers_needed
from norms.cohort.definitions import describe
from norms.records import CohortDefinition, Golfer, Swing
from norms.vocabulary import EVENTS

Asked = Literal["level", "cohort"]

JUNIOR_YEARS: Final = 17
"""A golfer is taken as a junior through the calendar year of the 17th birthday."""

ONE_SWING: Final = (
    "One swing only, held against golfers' means: another swing of the same golfer may place "
    "differently, and a single swing falls far out more often than a mean of several."
)
JUNIOR: Final = (
    "The golfer is a junior, and the peers may be mostly adults: a difference may be growth. Let "
    "no junior train toward these numbers; changes of swing and of training load belong with a "
    "qualified coach, and pain with a licensed health professional."
)
FEET_LINE: Final = (
    "The target line was not declared: the line through the feet at address stands in for it, so "
    "part of a sway may show as thrust and the other way round."
)

_SAID_BY_THE_EVENTS: Final = ("finish_at_end",)


def caution_sentences(
    swing: Swing,
    *,
    golfer: Golfer | None,
    declared: float | None,
    on_roster: float | None,
    definition: CohortDefinition,
    asked: Asked | None,
    unmet: Sequence[str],
    peers: int,
    percents: Sequence[float],
    confidence: float,
) -> tuple[str, ...]:
    """Cautions of one placement, those about the choice of peers first.

    Parameters
    ----------
    swing : Swing
    golfer : Golfer or None
    declared, on_roster : float or None
        Handicap index declared for the placement, and as the roster has it on the day.
    definition : CohortDefinition
        Of the peers.
    asked : {"level", "cohort"} or None
        What the peers were chosen by, where they were asked for.
    unmet : sequence of str
        Rules of a cohort that was asked for and that the golfer does not, or may not, meet.
    peers : int
        Golfers in the cell, the placed golfer left out.
    percents : sequence of float
        Percentiles of the edition.
    confidence : float
        Of their intervals.

    Returns
    -------
    tuple of str
    """
    return tuple(
        chain(
            _about_choice(declared, on_roster, definition, asked),
            _about_fit(definition, unmet),
            _about_peers(peers, percents, confidence),
            [ONE_SWING],
            [JUNIOR] if _is_junior(golfer, swing.label.recorded_on.year) else [],
            [FEET_LINE] if swing.axes_source == "feet_line" else [],
            _about_events(swing),
            _about_notices(swing),
        )
    )


def _about_choice(
    declared: float | None,
    on_roster: float | None,
    definition: CohortDefinition,
    asked: Asked | None,
) -> list[str]:
    if asked == "cohort":
        return [f"Held against a cohort that was asked for: {definition.label}."]
    all_levels = definition.level is None
    if asked == "level":
        who = "golfers of all levels" if all_levels else "a level that was asked for"
        return [f"Held against {who}, not against the level of the golfer's own handicap."]
    if all_levels:
        return ["No handicap known: held against golfers of all levels."]
    if declared is not None and on_roster is not None and declared != on_roster:
        return [
            f"The declared handicap {_handicap(declared)} was used; the roster has "
            f"{_handicap(on_roster)} on the day of the swing."
        ]
    return []


def _about_fit(definition: CohortDefinition, unmet: Sequence[str]) -> list[str]:
    if not unmet:
        return []
    return [
        "The golfer does not belong to this cohort, or is not known to, by its definition "
        f"({', '.join(describe(definition)[1:])}): {'; '.join(unmet)}."
    ]


def _about_peers(peers: int, percents: Sequence[float], confidence: float) -> list[str]:
    needed = golfers_needed(percents, confidence)
    most = max(needed.values())
    if peers >= most:
        return []
    outer = [f"{p:g}" for p in percents if needed[p] > peers]
    return [
        f"Few peers: {peers}. Percentiles {', '.join(outer)} are not shown; "
        f"all of them need {most} golfers."
    ]


def _is_junior(golfer: Golfer | None, year: int) -> bool:
    born = golfer.birth_year if golfer else None
    return born is not None and born >= year - JUNIOR_YEARS


def _about_events(swing: Swing) -> list[str]:
    sentences = []
    for event in EVENTS:
        mark = swing.events.mark(event)
        if mark.stand_in:
            sure = f", believed to within {mark.uncertainty_s * 1000:.0f} ms"
            sentences.append(
                f"The {event} is a stand-in: found by {mark.method}"
                f"{sure if mark.uncertainty_s > 0 else ''}."
            )
    return sentences


def _about_notices(swing: Swing) -> list[str]:
    return [
        f"{notice.message[:1].upper()}{notice.message[1:].rstrip('.')}."
        for notice in swing.notices
        if notice.severity == "warning" and notice.code not in _SAID_BY_THE_EVENTS
    ]


def _handicap(index: float) -> str:
    return f"+{-index:.1f}" if index < 0 else f"{index:.1f}"
