"""The check page session by session, down to one swing."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from norms.cohort.session_quality import filter_words
from norms.records import SessionQuality, SwingQuality
from norms.vocabulary import PHASE_NAMES, PHASES
from reports.quantities import DASH, number, plural
from reports.sentences import sentence_case


def state_words(session: SessionQuality) -> str:
    """A session's state with what it rests on."""
    if session.state == "in control":
        return f"in control, {session.repeated_golfers} measured again"
    return session.state


def filled_words(shares: np.ndarray[Any, Any]) -> str:
    """Shares of filled samples by phase, e.g. "0 / 2 / 0 %"."""
    if not np.isfinite(shares).all():
        return DASH
    return " / ".join(number(100.0 * share, 0) for share in shares) + " %"


def day_words(session: SessionQuality) -> str:
    """The day of a session, or that it is not known."""
    return session.recorded_on.isoformat() if session.recorded_on else "day not known"


def told_words(session: SessionQuality) -> str:
    """Warnings and rejections of a session with their counts."""
    told = [
        f"{code.replace('_', ' ')} {count}"
        for codes in (session.warnings, session.rejections)
        for code, count in codes.items()
    ]
    return ", ".join(told) or DASH


def session_groups(sessions: Sequence[SessionQuality]) -> list[dict[str, object]]:
    """Sessions lab by lab, with what they were filtered with and what went wrong."""
    groups = []
    for lab in sorted({one.lab for one in sessions}):
        own = [one for one in sessions if one.lab == lab]
        methods = Counter[str]()
        filters = Counter[str]()
        for one in own:
            methods.update(one.methods)
            filters.update(one.filters)
        groups.append(
            {
                "title": f"{lab}: {plural(len(own), 'session')}",
                "open": len(own) == 1,
                "words": f"Filter: {_counted(filters)}. Filled by phase: "
                f"{', '.join(PHASE_NAMES[phase] for phase in PHASES)}.",
                "rows": [_session_row(one) for one in own],
                "methods": [(words, f"{count:,}") for words, count in sorted(methods.items())],
            }
        )
    return groups


def _session_row(session: SessionQuality) -> dict[str, str]:
    return {
        "day": day_words(session),
        "golfers": f"{session.golfers:,}",
        "swings": f"{session.swings:,}",
        "warned": f"{session.warned:,}",
        "rejected": f"{session.rejected:,}",
        "filled": filled_words(session.filled_share),
        "filter": ", ".join(session.filters) or DASH,
        "told": told_words(session),
        "state": state_words(session),
    }


def _counted(counts: Counter[str]) -> str:
    return "; ".join(f"{words} ({count:,})" for words, count in counts.most_common()) or DASH


def swing_facts(swing: SwingQuality) -> dict[str, object]:
    """How one swing was measured, line by line."""
    rows = [
        ("Golfer, club", f"{swing.golfer}, {swing.club}"),
        ("Session", f"{swing.lab}, {swing.recorded_on.isoformat()}"),
        ("File", swing.source),
        ("Rate and filter", f"{swing.rate_hz:g} Hz, {filter_words(swing)}"),
        ("Pelvis and axes", f"{swing.pelvis_method}, {swing.axes_source.replace('_', ' ')}"),
        ("Filled, by phase", filled_words(swing.filled_share)),
    ]
    if swing.filtering is not None:
        bound = ", ".join(number(float(one), 1) for one in swing.filtering.rate_bound_cm_s)
        rows.append(("Rates known to within", f"{bound} cm/s (sway, thrust, lift)"))
    for event, mark in swing.events.items():
        rows.append(
            (
                sentence_case(event),
                f"{mark.time_s:.3f} s by {mark.method}{', a stand-in' if mark.stand_in else ''}; "
                f"known to within {1000 * mark.uncertainty_s:.0f} ms, confidence {mark.confidence}",
            )
        )
    for note in swing.notices:
        rows.append((sentence_case(note.severity), sentence_case(note.message)))
    return {"title": swing.swing, "rows": rows}
