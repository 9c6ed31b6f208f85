"""How each session of each lab went: gaps, filters, events, warnings, rejections, and its state."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import TypeVar

import numpy as np

from norms.cohort.lab_control import FEWEST_GOLFERS
from norms.records import (
    LabControl,
    RejectedFile,
    SessionHold,
    SessionQuality,
    SessionRelease,
    SwingQuality,
)
from norms.records.lab_check import SessionState
from norms.records.lab_quality import REPEATED_GOLFERS
from norms.vocabulary import PHASES

Session = tuple[str, date | None]
Thing = TypeVar("Thing", SwingQuality, RejectedFile)


def session_qualities(
    swings: Iterable[SwingQuality],
    rejected: Iterable[RejectedFile],
    controls: Sequence[LabControl],
    holds: Iterable[SessionHold],
    releases: Iterable[SessionRelease],
) -> tuple[SessionQuality, ...]:
    """Every session, by lab and day; rejections without a day stand last of their lab.

    Parameters
    ----------
    swings : iterable of SwingQuality
    rejected : iterable of RejectedFile
    controls : sequence of LabControl
    holds : iterable of SessionHold
        Of all time; one that was released no longer holds.
    releases : iterable of SessionRelease
    """
    of_swings = _grouped(swings)
    of_files = _grouped(rejected)
    held: dict[Session, SessionHold] = {(one.lab, one.recorded_on): one for one in holds}
    freed: dict[Session, SessionRelease] = {(one.lab, one.recorded_on): one for one in releases}
    repeated, judged = repeated_golfers(controls), judged_sessions(controls)
    found = []
    for session in sorted(of_swings.keys() | of_files.keys(), key=_order):
        state, reason = _state(session, held, freed, session in judged)
        found.append(
            _summary(
                session,
                of_swings.get(session, []),
                of_files.get(session, []),
                repeated.get(session, 0),
                state,
                reason,
            )
        )
    return tuple(found)


def out_of_control(controls: Iterable[LabControl]) -> dict[tuple[str, date], str]:
    """Reason by session that some chart of its lab calls out, clubs together."""
    reasons: dict[tuple[str, date], list[str]] = {}
    for control in controls:
        for day, out, reason in zip(control.sessions, control.out, control.reasons, strict=True):
            if out:
                reasons.setdefault((control.lab, day), []).append(f"{control.club}: {reason}")
    return {session: "; ".join(told) for session, told in sorted(reasons.items())}


def repeated_golfers(controls: Iterable[LabControl]) -> dict[Session, int]:
    """By session, the most golfers of any club who were in the lab on another day too."""
    most: dict[Session, int] = {}
    for control in controls:
        for day, count in zip(control.sessions, control.repeated_golfers, strict=True):
            session = (control.lab, day)
            most[session] = max(most.get(session, 0), int(count))
    return most


def judged_sessions(controls: Iterable[LabControl]) -> set[Session]:
    """Sessions that a chart would call out: by an object, or by golfers enough."""
    return {
        (control.lab, day)
        for control in controls
        for day, count in zip(control.sessions, control.repeated_golfers, strict=True)
        if control.basis != REPEATED_GOLFERS or count >= FEWEST_GOLFERS
    }


def filter_words(swing: SwingQuality) -> str:
    """The filter of a swing in words, e.g. ``"12 Hz, fixed"``."""
    if swing.filtering is None:
        return "not kept"
    return f"{swing.filtering.cutoff_hz:.3g} Hz, {swing.filtering.cutoff_method}"


def event_words(swing: SwingQuality) -> list[str]:
    """Each event and how it was found, e.g. ``"top: club reversal"``."""
    return [
        f"{event}: {mark.method}{' (stand-in)' if mark.stand_in else ''}"
        for event, mark in swing.events.items()
    ]


def _grouped(things: Iterable[Thing]) -> dict[Session, list[Thing]]:
    groups: dict[Session, list[Thing]] = {}
    for thing in things:
        groups.setdefault((thing.lab, thing.recorded_on), []).append(thing)
    return groups


def _order(session: Session) -> tuple[str, date]:
    return session[0], session[1] or date.max


def _state(
    session: Session,
    held: Mapping[Session, SessionHold],
    freed: Mapping[Session, SessionRelease],
    judged: bool,
) -> tuple[SessionState, str]:
    if session in held and session in freed:
        release = freed[session]
        return "released", (
            f"{held[session].reason}; released by {release.who} on "
            f"{release.released_at.date().isoformat()}: {release.why}"
        )
    if session in held:
        return "held back", held[session].reason
    return ("in control" if judged else "not judged"), ""


def _summary(
    session: Session,
    swings: Sequence[SwingQuality],
    files: Sequence[RejectedFile],
    repeated: int,
    state: SessionState,
    reason: str,
) -> SessionQuality:
    shares = [swing.filled_share for swing in swings]
    return SessionQuality(
        lab=session[0],
        recorded_on=session[1],
        golfers=len({swing.golfer for swing in swings}),
        swings=len(swings),
        warned=sum(swing.warned for swing in swings),
        rejected=len(files),
        filled_share=np.mean(shares, axis=0) if shares else np.full(len(PHASES), np.nan),
        rates=_counts(f"{swing.rate_hz:g} Hz" for swing in swings),
        filters=_counts(filter_words(swing) for swing in swings),
        methods=_counts(words for swing in swings for words in event_words(swing)),
        warnings=_counts(
            code
            for swing in swings
            for code in {note.code for note in swing.notices if note.severity == "warning"}
        ),
        rejections=_counts(file.code for file in files),
        repeated_golfers=repeated,
        state=state,
        reason=reason,
    )


def _counts(words: Iterable[str]) -> dict[str, int]:
    """Counts by word, the most frequent first, equals by name."""
    return dict(sorted(Counter(words).items(), key=lambda item: (-item[1], item[0])))
